/**
 * Gauges, moves, water, losses, and what every vessel holds.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function gaugePage(app) {
  const right = h('div', {});
  const gauge = await entryForm(app, {
    kind: 'spirit gauged', title: 'Gauge a vessel', save: 'Save the gauge', first: ['vessel'], sticky: ['hydrometer', 'thermometer'],
    folded: ['cause', 'note'], wanting: 'Volume and temperature, or weight: the contents stand here.',
  });
  const refresh = async () => {
    const view = await app.ask('view', { what: 'store' });
    show(right, blocks(app, view.blocks));
  };
  await refresh();
  const more = (kind, title, save, shape = {}) => drawer(app, { kind, title, save, ...shape });
  const left = h('div', {}, gauge.node, h('section', { class: 'leaf', 'aria-label': 'What else happens here' },
    more('spirit moved', 'Move spirit', 'Save the move', { first: ['from', 'to'], folded: ['account', 'note'], wanting: 'Without an amount, all of it moves.' }),
    more('water added', 'Add water', 'Save the water'),
    more('sample taken', 'Take a sample', 'Save the sample'),
    more('loss recorded', 'Record a loss', 'Save the loss'),
    more('gain recorded', 'Record a gain', 'Save the gain'),
    more('spirit received', 'Receive spirit', 'Save what came'),
    more('spirit destroyed', 'Destroy spirit', 'Save the destruction')));
  return { node: h('div', { class: 'room' }, left, right), refresh };
}
