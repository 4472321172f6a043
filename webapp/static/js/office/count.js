/**
 * The sheet of a physical inventory, and the entries that settle it.
 *
 * @module
 */
import { papers } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { csvButton, printButton, signature } from '../view/paper.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function countPage(app) {
  const paper = h('article', { class: 'paper stack' });
  let csv = '';
  const refresh = async () => {
    const view = await app.ask('view', { what: 'count' });
    csv = view.csv;
    show(paper, h('section', { class: 'leaf', 'aria-label': 'The sheet' }, h('h2', {}, view.title),
      h('p', {}, 'Print it, walk the house, write what you find beside each line. Then gauge the vessels and count the cases here: a difference becomes a question with the entry that settles it.'),
      h('p', { class: 'worksheet' }, view.worksheet)), h('div', { class: 'two even' }, h('div', { class: 'stack' }, papers(app, view.blocks.slice(0, 3))), h('div', { class: 'stack' }, papers(app, view.blocks.slice(3)))), signature());
  };
  await refresh();
  return {
    node: h('div', { class: 'stack' }, h('div', { class: 'row unprinted' }, printButton(), csvButton('inventory', () => csv)),
      h('section', { class: 'leaf unprinted', 'aria-label': 'Settle it' },
        drawer(app, { kind: 'cases counted', title: 'Count cases', save: 'Save the count' }),
        drawer(app, { kind: 'spirit gauged', title: 'Gauge a vessel', save: 'Save the gauge' }),
        drawer(app, { kind: 'inventory taken', title: 'Sign for an inventory', save: 'Save the inventory' })), paper),
    refresh,
  };
}
