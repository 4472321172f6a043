/**
 * A sheet of labels for the barrels of a row, to be printed and cut.
 *
 * @module
 */
import { chooser } from '../office/chooser.js';
import { h, show } from '../view/dom.js';
import { labelOf } from '../view/label.js';
import { printButton } from '../view/paper.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function labelsPage(app, at, go) {
  const node = h('div', { class: 'stack' });
  const refresh = async () => {
    const view = await app.ask('view', { what: 'barrel labels', barrel: { row: at.row ?? '' } });
    const labels = await Promise.all(view.labels.filter(({ vessel }) => !at.barrel || vessel === at.barrel).map((one) => oneLabel(app, one, view.house)));
    show(node, h('div', { class: 'row unprinted' }, h('button', { type: 'button', class: 'quiet', onclick: () => go({ sheet: '' }) }, '‹ Back'),
      at.barrel ? null : chooser('Row', view.choices, view.row, (row) => go({ row }), 'All rows'), printButton()),
    h('p', { class: 'help unprinted' }, at.barrel ? '' : view.more, ' Scanned, a label opens the barrel’s page on any phone of this book.'),
    labels.length > 0 ? h('ul', { class: 'cask-labels paper' }, labels) : h('p', { class: 'wanting' }, 'No barrel stands here.'));
  };
  await refresh();
  return { node, refresh };
}

/** One label; untouched it is printed. */
async function oneLabel(app, one, house) {
  const item = h('li', {}, await labelOf(app, one, house), h('label', { class: 'unprinted' },
    h('input', { type: 'checkbox', checked: true, onchange: (event) => item.classList.toggle('unprinted', !event.target.checked) }), ` Print ${one.name}`));
  return item;
}
