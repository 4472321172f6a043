/**
 * The barrels: the map of the store, its list in an order that is chosen, and
 * the way to one barrel's page and to a sheet of labels.
 *
 * @module
 */
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { ruled } from '../view/table.js';
import { chooser } from '../office/chooser.js';
import { barrelPage } from './barrels_one.js';
import { labelsPage } from './barrels_labels.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function barrelsPage(app, at, go) {
  if (at.sheet) return labelsPage(app, at, go);
  if (at.barrel) return barrelPage(app, at, go);
  const map = h('section', { class: 'leaf', 'aria-label': 'The map of the store' });
  const list = h('section', { class: 'leaf', 'aria-label': 'The list of the barrels' });
  const open = (barrel) => go({ page: 'barrels', barrel });
  const refresh = async () => {
    const view = await app.ask('view', { what: 'barrels', barrel: { row: at.row ?? '', sort: at.sort ?? '' } });
    show(map, h('h2', {}, 'The store'), h('p', {}, view.rows.length > 0 ? view.says : view.empty), view.rows.map((row) => rowOf(row, open, go)), view.rows.length > 0 ? legend() : null);
    show(list, h('div', { class: 'row' }, chooser('In order of', view.sorts, view.sort, (sort) => go({ sort })), chooser('Row', view.choices, view.row, (row) => go({ row }), 'All rows')),
      ruled(view.list, open), view.more ? h('p', { class: 'help' }, view.more) : null,
      h('button', { type: 'button', class: 'quiet', onclick: () => go({ sheet: 'yes' }) }, 'Labels to print'));
    list.hidden = view.rows.length === 0;
  };
  await refresh();
  const register = drawer(app, {
    kind: 'vessel registered', title: 'Register a barrel', save: 'Save the barrel', draft: 'barrel registered', first: ['name', 'serial'], values: { use: 'barrel' },
    sticky: ['use', 'capacity', 'wood', 'cooperage', 'char', 'location', 'row'], folded: ['half_width', 'note'],
  });
  return { node: h('div', { class: 'two even' }, h('div', { class: 'stack' }, map, h('section', { class: 'leaf', 'aria-label': 'The register' }, register)), list), refresh };
}

/** One row of the store: its tiers where it is open, else the way to it. */
function rowOf({ key, title, says, open: shown, tiers }, open, go) {
  if (!shown) return h('button', { type: 'button', class: 'quiet store-row', onclick: () => go({ row: key }) }, h('b', {}, title), ' ', h('span', { class: 'help' }, says));
  return h('section', { class: 'store-row', 'aria-label': title }, h('h3', {}, title, ' ', h('span', { class: 'help' }, says)),
    tiers.map((tier) => h('div', { class: 'tier' }, h('span', { class: 'help' }, tier.title), h('ul', { 'aria-label': tier.title || title }, tier.cells.map((cell) => h('li', {}, cellOf(cell, open)))))));
}

function cellOf({ vessel, short, word, says, look }, open) {
  return h('button', { type: 'button', class: 'cask', 'data-look': look || null, 'aria-label': `${short} ${word}, ${says}`, onclick: () => open(vessel) }, h('span', {}, short), ' ', h('b', {}, word));
}

function legend() {
  return h('details', { class: 'more' }, h('summary', {}, 'What a cell says'), h('p', { class: 'help' },
    'A cell is one barrel: the end of its name, and beneath it the age of its youngest spirit in days (d), months (m) or years (y) of wood. '
    + 'A thick edge wants something: ‘ask’, the book asks about it; ‘gauge’, it was not gauged for a year; ‘taste’, its rest is over. '
    + 'A dashed edge is empty. The highest tier stands first. Touch a cell to open the barrel.'));
}
