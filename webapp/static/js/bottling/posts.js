/**
 * The stations of a run on its own screen: what each counted, which phones
 * stand there, and a square that takes another phone there. A phone that has
 * not joined becomes a counter of this run; one that has only opens the station.
 *
 * @module
 */
import { h, show } from '../view/dom.js';
import { withOffset } from '../view/field.js';
import { square } from '../view/square.js';
import { ask } from '../office/devices.js';

const lookAgainMs = 2500;

/** @param {import('../main.js').App} app */
export function stationPosts(app) {
  const list = h('ul', { class: 'posts' });
  const end = new Date();
  end.setHours(23, 59, 0, 0);
  const ends = h('input', { type: 'datetime-local', id: 'posts-end', value: withOffset(end).slice(0, 16) });
  const node = h('div', {}, h('h3', {}, 'Its stations'), list,
    h('details', {}, h('summary', {}, 'When the borrowed phones end'), h('div', { class: 'field' }, h('label', { for: 'posts-end' }, 'Their time ends'), ends)));
  const opened = new Map(); // station: the place of its square
  let view = null;

  const invite = async (station, place) => {
    const label = `Station ‘${station}’`; // several squares may be out at once: the label says which was taken
    let issued;
    let known;
    try {
      known = new Set((await ask('/devices/v1')).devices.map(({ name }) => name));
      issued = await ask('/devices/v1/invite', { role: 'counter', label, run: view.run.address, named: view.named, ends_ms: new Date(ends.value).getTime() });
    } catch (error) {
      return show(place, h('p', { class: 'fault', role: 'alert' }, error.message));
    }
    const link = `${issued.link}&station=${encodeURIComponent(station)}`;
    const { rows } = await app.ask('qr', { text: link });
    show(place, square(rows, link), h('p', {}, 'Scan it to stand at ', h('b', {}, station), '. Good for one new phone, until ', new Date(issued.until_ms).toLocaleTimeString([], { timeStyle: 'short' }), '; typed: ', h('b', { class: 'code' }, issued.code)),
      h('button', { type: 'button', class: 'quiet', onclick: () => show(place) }, 'Put it away'));
    const shown = place.firstChild;
    return wait(known, label, place, shown);
  };

  // A phone that took the code shows two words; so does this screen.
  const wait = (known, label, place, shown) => setTimeout(async () => {
    if (!shown.isConnected) return;
    const come = await ask('/devices/v1').then(({ devices }) => devices.find((one) => !known.has(one.name) && one.label === label), () => undefined); // out of reach: look again
    if (!come || !shown.isConnected) return void wait(known, label, place, shown);
    show(place, h('p', { role: 'status' }, 'It joined as ', h('b', {}, come.name), '. Its screen shows the words ', h('b', {}, come.words), '.'),
      h('div', { class: 'row' }, h('button', { type: 'button', onclick: () => show(place) }, 'The same words'),
        h('button', { type: 'button', onclick: () => { ask('/devices/v1/end', { device: come.name }).then(() => show(place), (error) => show(place, h('p', { class: 'fault' }, error.message))); } }, 'Other words: end it')));
  }, lookAgainMs);

  return {
    node,
    /** @param {{run: {address: string}|null, named: string[], stations: {station: string, name: string, counted: string, phones: string[]}[]}} now */
    show: (now) => {
      if (view?.run?.address !== now.run?.address) opened.clear();
      view = now;
      show(list, now.stations.map(({ station, name, counted, phones }) => {
        if (!opened.has(station)) opened.set(station, h('div', { class: 'shown' }));
        const place = opened.get(station);
        return h('li', {}, h('span', {}, h('b', {}, name), ' ', counted, phones.length > 0 ? h('span', { class: 'help' }, ` · ${phones.join(', ')}`) : null),
          h('button', { type: 'button', class: 'quiet', 'aria-label': `Square for ${station}`, onclick: () => invite(station, place) }, 'Square'), place);
      }));
    },
  };
}
