/**
 * Seasons: this year beside last and the one before.
 *
 * @module
 */
import { papers } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { printButton } from '../view/paper.js';
import { chooser } from './chooser.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function seasonsPage(app, at, go) {
  const node = h('div', { class: 'stack' });
  const refresh = async () => {
    const view = await app.ask('view', { what: 'seasons', year: at.summer ?? '' });
    if (view.years.length === 0) {
      show(node, h('p', { class: 'wanting' }, 'Nothing was made yet: seasons stand beside each other here.'));
      return;
    }
    const [first, second, ...rest] = papers(app, view.blocks);
    show(node, h('div', { class: 'row unprinted' }, chooser('Year', view.years, view.year, (summer) => go({ summer })), printButton()),
      h('article', { class: 'paper two even' }, h('div', { class: 'stack' }, first, second), h('div', { class: 'stack' }, rest)));
  };
  await refresh();
  return { node, refresh };
}
