/**
 * Yield and loss from the fruit to the bottle, beside the official tables, and
 * what a bottle cost.
 *
 * @module
 */
import { papers } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { printButton } from '../view/paper.js';
import { chooser } from './chooser.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function yieldPage(app, at, go) {
  const node = h('div', { class: 'stack' });
  const noted = drawer(app, { kind: 'cost noted', title: 'Note hours, energy or money', save: 'Save the cost' });
  const refresh = async () => {
    const view = await app.ask('view', { what: 'yield', year: at.season ?? '', hour: at.hour ?? '' }).catch((error) => {
      if (!at.hour) throw error;
      return go({ hour: '' });
    });
    if (!view) return;
    const [losses, classes, official, lots, ...costs] = papers(app, view.blocks);
    const hour = h('input', { id: 'hour', inputmode: 'decimal', value: at.hour ?? '', onchange: () => go({ hour: hour.value.trim() }) });
    show(node, h('div', { class: 'row unprinted' }, chooser('Year', view.years, view.year, (season) => go({ season }), 'All years'),
      h('div', { class: 'field choose' }, h('label', { for: 'hour' }, 'An hour without a price costs'), hour), printButton()),
    h('article', { class: 'paper two even' }, h('div', { class: 'stack' }, losses, official, classes), h('div', { class: 'stack' }, costs, lots)),
    noted.hidden ? null : h('section', { class: 'leaf unprinted', 'aria-label': 'Costs' }, noted));
  };
  await refresh();
  return { node, refresh };
}
