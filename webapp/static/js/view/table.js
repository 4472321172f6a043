/**
 * A ruled table of the engine's words. The first cell of a row names it. On an
 * office's page it can be kept as a file.
 *
 * @module
 */
import { h } from './dom.js';
import { csvButton } from './paper.js';

/**
 * @typedef {{text: string, entry?: string, strong?: boolean}} Cell
 * @typedef {{title: string, columns: {label: string, figure?: boolean}[], rows: {cells: Cell[], note?: string, struck?: boolean}[], empty: string}} Table
 */

/** @param {import('../main.js').App} app @param {Table} table */
export const kept = (app, table) => [ruled(table, (address) => app.openEntry(address)),
  table.rows.length === 0 ? null : h('p', { class: 'keep unprinted' }, csvButton(fileName(table.title), async () => (await app.ask('csv', table)).csv, 'CSV', `Keep as CSV: ${table.title}`))];

const fileName = (title) => title.toLowerCase().split(/[^a-z0-9]+/u).filter(Boolean).slice(0, 6).join('-');

/** @param {Table} table @param {(address: string) => void} [openEntry] */
export function ruled(table, openEntry) {
  if (table.rows.length === 0) return h('p', { class: 'wanting' }, table.empty);
  return h('div', { class: 'scroll', tabindex: 0, role: 'region', 'aria-label': table.title }, h('table', { class: table.columns.length > 6 ? 'tight' : null },
    h('caption', {}, h('span', {}, table.title)),
    h('thead', {}, h('tr', {}, table.columns.map(({ label, figure }) => h('th', { scope: 'col', class: figure ? 'figure' : null }, label)))),
    h('tbody', {}, table.rows.map(({ cells, note, struck }) => [
      h('tr', { class: struck ? 'struck' : null }, cells.map((cell, at) => h(at === 0 ? 'th' : 'td', { scope: at === 0 ? 'row' : null, class: table.columns[at]?.figure ? 'figure' : null },
        cell.entry && openEntry ? h('button', { type: 'button', class: 'link', 'aria-label': `${cell.text}, entry ${cell.entry}`, onclick: () => openEntry(cell.entry) }, cell.text) : cell.text))),
      note ? h('tr', { class: 'note' }, h('td', { colspan: cells.length }, note)) : null,
    ]))));
}
