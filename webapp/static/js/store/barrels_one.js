/**
 * One barrel: what it holds, what it loses and will hold, its gauges, and what
 * is done to it, each form with this barrel in it.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { corner, freshId, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';

/** Which ways of measuring a form begins with: by weight, with the hydrometer or at the strength of the book. */
const weighed = [1, 0];
const byWeight = [1, 2];

/** @type {import('../view/pages.js').PageMaker} */
export async function barrelPage(app, at, go) {
  const head = h('div', { class: 'stack' });
  const holds = h('div', { class: 'stack' });
  const about = h('div', { class: 'stack' });
  const ahead = h('div', { class: 'stack', 'aria-live': 'polite' });
  const past = h('div', { class: 'stack' });
  const work = corner();
  const wishes = { day: '', target: '', humidity: (await app.log.get('humidity')) ?? '' };
  let view = null;

  const field = (key, label, help, properties) => {
    const id = freshId('wish');
    const below = h('p', { class: 'field-words' }, help);
    const input = h('input', { id, value: wishes[key], autocomplete: 'off', ...properties, onchange: async () => {
      wishes[key] = input.value;
      if (key === 'humidity') await app.log.put('humidity', input.value);
      await refresh();
    } });
    return { node: h('div', { class: 'field' }, h('label', { for: id }, label), input, below), input, say: (words) => {
      below.classList.toggle('fault', Boolean(words));
      below.textContent = words || help;
    } };
  };
  const fields = {
    day: field('day', 'On the day', 'A year from now, unless you say.', { type: 'date' }),
    target: field('target', 'Reaches a strength of', 'In the book’s own scale, unless you give a unit.', { inputmode: 'decimal' }),
    humidity: field('humidity', 'Humidity of the store, %', '65, unless you say. Kept on this phone.', { inputmode: 'decimal' }),
  };
  const forecast = h('section', { class: 'leaf unprinted', 'aria-label': 'The forecast' }, h('h2', {}, 'Look ahead'), h('div', { class: 'fields' }, Object.values(fields).map(({ node }) => node)));
  const limits = h('section', { class: 'leaf', 'aria-label': 'What the forecast rests on' });

  const refresh = async () => {
    view = await app.ask('view', { what: 'barrel', vessel: at.barrel, barrel: wishes }).catch(() => null);
    if (!view) { // not on this phone yet
      show(head, back(go), h('p', { class: 'wanting' }, `${at.barrel} is no barrel that this phone knows of (yet).`));
      forecast.hidden = limits.hidden = true;
      return;
    }
    show(head, back(go), h('h2', {}, view.name), view.wants.length > 0 ? h('ul', { class: 'careful' }, view.wants.map(({ says }) => h('li', {}, says))) : null);
    show(holds, blocks(app, view.holds));
    show(about, blocks(app, view.about));
    show(ahead, blocks(app, view.ahead));
    show(past, blocks(app, view.past));
    for (const [key, { say }] of Object.entries(fields)) say(view.wrong[key]);
    if (!fields.day.input.value) fields.day.input.value = view.day;
    forecast.hidden = !view.full;
    limits.hidden = view.says.length === 0;
    show(limits, h('details', { class: 'more' }, h('summary', {}, 'What the forecast rests on'), h('ul', {}, view.says.map((words) => h('li', {}, words)))));
    await work.furnish(`${view.full}`, () => drawers(app, at.barrel, () => view));
  };
  await refresh();
  return {
    node: [h('div', { class: 'two' },
      h('div', { class: 'stack' }, head, holds, h('section', { class: 'leaf unprinted', 'aria-label': 'What is done to it' }, work.node,
        h('button', { type: 'button', class: 'quiet', onclick: () => go({ sheet: 'yes', row: view?.row ?? '' }) }, 'Its label to print')), about),
      h('div', { class: 'stack' }, forecast, ahead, limits, past))],
    refresh,
  };
}

const back = (go) => h('div', { class: 'row unprinted' }, h('button', { type: 'button', class: 'quiet', onclick: () => go({ barrel: '' }) }, '‹ All barrels'));

/** What is done to a barrel. A form that was saved is put away. */
function drawers(app, barrel, now) {
  const { full } = now();
  const one = (kind, title, save, shape) => {
    const node = drawer(app, { kind, title, save, draft: `${title} ${barrel}`, folded: ['note'], onsaved: () => { node.open = false; }, ...shape });
    return node;
  };
  const moved = { folded: ['lost', 'lost_as', 'account', 'note'] };
  /** Its place or tare as the book has it when the form is opened. */
  const known = (keys, values) => () => ({ values: { ...values, ...Object.fromEntries(keys.map((key) => [key, now().fixed[key]])) } });
  const fill = (title, save) => one('spirit moved', title, save, {
    ...moved, first: ['from'], fixed: { to: barrel, purpose: 'fill a barrel' }, begin: known(['tare'], { ways: byWeight }), wanting: 'Gross weight, or volume and temperature: what goes in stands here.',
  });
  const weigh = (title, save) => one('spirit gauged', title, save, {
    fixed: { vessel: barrel }, begin: known(['tare'], { ways: weighed, cause: 'evaporation' }), sticky: ['hydrometer', 'thermometer'], wanting: 'Gross weight and hydrometer: the contents stand here.',
  });
  return [
    full ? weigh('Regauge it', 'Save the regauge') : fill('Fill it', 'Save the filling'),
    full ? fill('Top it up', 'Save the top-up') : null,
    full ? one('spirit moved', 'Dump it, all or a part', 'Save the dump', { ...moved, first: ['to'], fixed: { from: barrel, purpose: 'dump' }, wanting: 'Without an amount, all of it moves. Regauge it first, and what evaporated is booked.' }) : null,
    full ? one('loss recorded', 'It leaks', 'Save the leak', { fixed: { vessel: barrel, cause: 'leak' }, wanting: 'How much is gone; or regauge it, and say ‘down to the last gauge’.' }) : null,
    full ? one('sample taken', 'Take a sample', 'Save the sample', { fixed: { vessel: barrel } }) : null,
    full ? one('rest begun', 'Leave it to rest', 'Save the rest', { fixed: { vessel: barrel } }) : null,
    full ? one('spirit tasted', 'Taste it', 'Save the tasting', { fixed: { vessel: barrel }, folded: ['lot', 'taster', 'note'] }) : null,
    one('vessel moved', 'Move the barrel', 'Save its place', { fixed: { vessel: barrel }, begin: known(['location', 'row', 'tier']) }),
    one('vessel recoopered', 'It was re-coopered', 'Save the work', { fixed: { vessel: barrel } }),
    full ? null : one('vessel retired', 'Take it out of use', 'Save it', { fixed: { vessel: barrel }, tapped: ['why'] }),
  ];
}
