/**
 * Yield and loss from the fruit to the bottle, and what a bottle cost.
 *
 * @module
 */
import { papers } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { csvButton, printButton } from '../view/paper.js';
import { chooser } from './chooser.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function yieldPage(app, at, go) {
  const node = h('div', { class: 'stack' });
  const refresh = async () => {
    const view = await app.engine.call('view', { what: 'yield', year: at.season ?? '' });
    const [losses, classes, lots, costs] = papers(app, view.blocks);
    show(node, h('div', { class: 'row unprinted' }, chooser('Year', view.years, view.year, (season) => go({ season }), 'All years'), printButton(),
      csvButton('from-fruit-to-bottle', () => view.csv)),
    h('article', { class: 'paper two even' }, h('div', { class: 'stack' }, losses, classes), h('div', { class: 'stack' }, lots, costs)));
  };
  await refresh();
  return { node, refresh };
}
