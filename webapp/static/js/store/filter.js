/**
 * Filter: chilled, through sheets, and what stayed behind.
 *
 * @module
 */
import { h } from '../view/dom.js';
import { entryForm } from '../view/form.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function filterPage(app) {
  const form = await entryForm(app, {
    kind: 'spirit filtered', title: 'Filter', save: 'Save the filtering', first: ['vessel', 'to'], tapped: ['way'], folded: ['note'],
    wanting: 'Measure what came through: what stayed in the filter stands here.',
  });
  return {
    node: h('div', { class: 'stack' }, form.node, h('p', { class: 'help' }, 'A filter and its hoses stand under pressure: let it off before you open them. Earth the pump; cold spirit burns as warm spirit does, and wet sheets from it are put into a closed metal bin.')),
    refresh: async () => {},
  };
}
