/**
 * One station of the line, on the phone that lies there: a big button for a
 * case, loose bottles, spoils by a tap each, and a way to take the last one
 * back. A borrowed phone sees this page of the room and no other.
 *
 * @module
 */
import { corner, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { bigFigure } from '../view/working.js';
import { keepAwake } from '../view/awake.js';
import { chooser } from '../office/chooser.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function stationPage(app, at, go) {
  const place = corner();
  const node = h('section', { class: 'leaf station', 'aria-label': 'The station' }, place.node);
  let goal = (await app.log.get('goal')) ?? '';
  let loose = (await app.log.get('loose')) ?? 0;
  let run = app.standing.me?.run || (await app.log.get('bottling')) || '';
  let busy = false;
  let view = null;
  /** What changes while the page stays. */
  const figure = h('div', { class: 'across-table', 'aria-live': 'polite' });
  const beware = h('p', { class: 'beware' });
  const pace = h('p', { class: 'pace', role: 'status' });
  const wrong = h('p', { class: 'fault', role: 'alert' });
  const undo = h('button', { type: 'button', class: 'quiet undo', onclick: () => takeBack() });
  const many = h('output', { class: 'many', 'aria-label': 'Loose bottles' });
  const full = h('button', { type: 'button', class: 'main full', onclick: () => count({ cases: '1' }) });
  const spoils = h('div', { class: 'spoils' });

  const look = () => app.ask('view', { what: 'station', run, station: at.station ?? '', device: app.chain.device, goal });

  const write = async (kind, body) => {
    if (busy) return false; // a second tap while the first is being saved is a slip of the thumb
    busy = true;
    wrong.textContent = '';
    try {
      const address = await app.save({ kind, body });
      app.say(`Saved as ${address}`);
      return true;
    } catch (error) {
      wrong.textContent = error.message;
      return false;
    } finally {
      busy = false;
    }
  };
  const here = () => ({ bottling: view.run.address, station: view.station });
  const count = (what) => write('bottles counted', { ...here(), ...what });
  const spoil = (reason) => write('bottles spoiled', { ...here(), reason, bottles: '1' });
  const takeBack = () => view.last && write('entry voided', { entry: view.last.entry, why: 'taken back at the station' });
  const step = async (by) => {
    loose = loose + by < 0 ? 0 : loose + by;
    many.textContent = `${loose} loose`;
    await app.log.put('loose', loose);
  };
  const countLoose = async () => {
    if (loose > 0 && (await count({ loose: String(loose) }))) await step(-loose);
  };

  const lay = () => {
    const name = h('label', { for: 'station-goal' }, 'Cases at this station by the end of the day');
    const aim = h('input', { type: 'text', inputmode: 'numeric', id: 'station-goal', value: goal, autocomplete: 'off', onchange: async () => { goal = aim.value; await app.log.put('goal', goal); await refresh(); } });
    step(0);
    return [
      h('div', { class: 'row' }, chooser('Station', view.stations.map(({ station, name: words }) => ({ value: station, label: words })), view.station, (station) => go({ station })),
        app.standing.enters('store') ? runs() : null),
      figure, beware, pace,
      view.adds ? full : h('p', { class: 'help' }, 'The run does not say how many bottles a case holds: count them loose.'),
      h('div', { class: 'loose', role: 'group', 'aria-label': 'Loose bottles' },
        h('button', { type: 'button', 'aria-label': 'One bottle less', onclick: () => step(-1) }, '−'), many,
        h('button', { type: 'button', 'aria-label': 'One bottle more', onclick: () => step(1) }, '+'),
        h('button', { type: 'button', class: 'add', onclick: countLoose }, 'Count loose')),
      h('div', { role: 'group', 'aria-label': 'One bottle spoiled, by reason' }, h('p', { class: 'label' }, 'One bottle spoiled:'), spoils),
      undo, wrong,
      h('div', { class: 'ends' },
        h('details', { class: 'drawer' }, h('summary', {}, 'More'),
          drawer(app, {
            kind: 'bottles counted', title: 'Count a whole pallet', save: 'Count the pallet', first: ['cases', 'pallet'], folded: ['per_case', 'loose', 'note'],
            fixed: { bottling: view.run.address, station: view.station }, draft: `pallet ${view.run.address}`, wanting: 'Cases by layers and tiers, and the mark on the pallet.',
          }),
          h('div', { class: 'field' }, name, aim, h('p', { class: 'field-words' }, 'For who likes a goal. Left empty, none is shown.'))),
        h('button', { type: 'button', class: 'quiet', onclick: () => app.enter('phone') }, 'Hand back')),
    ];
  };
  const runs = () => (view.runs.length > 1 ? chooser('Bottling', view.runs.map(({ address, title }) => ({ value: address, label: title })), view.run.address, async (address) => {
    run = address;
    await app.log.put('bottling', address);
    await refresh();
  }) : null);

  const pick = () => [h('h2', {}, 'Where do you stand?'), h('p', { class: 'help' }, view.run.title), h('div', { class: 'places' }, view.stations.map(({ station, name, counted }) => h('button', {
    type: 'button', onclick: () => go({ station }),
  }, h('b', {}, name), h('span', { class: 'help' }, counted))))];

  const refresh = async () => {
    view = await look();
    if (!view.run) return place.furnish('none', () => h('p', { class: 'wanting' }, 'No run is open on this phone yet. It comes from the office by itself, within reach of it.'));
    if (!view.station) return place.furnish(`${JSON.stringify(view.stations)}`, pick);
    await place.furnish(`${view.run.address} ${view.station} ${view.runs.length}`, lay);
    show(figure, bigFigure(view.result, ''));
    beware.textContent = view.beware;
    pace.textContent = view.pace;
    show(full, h('b', {}, 'Case full'), h('span', {}, view.adds));
    show(spoils, view.spoils.map(({ reason, label, count: n }) => h('button', { type: 'button', 'aria-label': `${label}, ${n} so far`, onclick: () => spoil(reason) }, label, h('b', {}, n))));
    undo.disabled = !view.last;
    undo.textContent = view.last ? `Undo: ${view.last.says}` : 'Nothing to undo';
    return undefined;
  };
  await refresh();
  keepAwake(node);
  return { node, refresh };
}
