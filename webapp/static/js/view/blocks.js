/**
 * What a room reads out of the book, block by block, in the engine's order.
 *
 * @module
 */
import '../element/chart.js';
import '../element/questions.js';
import { h } from './dom.js';
import { kept, ruled } from './table.js';
import { bigFigure, working } from './working.js';

/**
 * Exactly one field is set.
 *
 * @typedef {{table?: import('./table.js').Table, chart?: import('../element/chart.js').ChartData,
 *   result?: import('./working.js').Result, facts?: {title: string, lines: {label: string, value: string}[]},
 *   questions?: import('../element/questions.js').Question[]}} Block
 */

const ruledFor = (app, table) => ruled(table, (address) => app.openEntry(address));

/** Blocks of an office's page: a table can be kept as a file. @param {import('../main.js').App} app @param {Block[]} list */
export const papers = (app, list) => blocks(app, list, kept);

/**
 * @param {import('../main.js').App} app
 * @param {Block[]} list
 * @param {typeof ruledFor} [lay] how a table is laid
 * @returns {HTMLElement[]}
 */
export function blocks(app, list, lay = ruledFor) {
  return list.map(({ table, chart, result, facts, questions }) => {
    if (table) return h('section', { class: 'leaf' }, lay(app, table));
    if (result) return h('section', { class: 'leaf' }, bigFigure(result, ''), working(result));
    if (facts) {
      return h('section', { class: 'leaf' }, h('h2', {}, facts.title),
        h('dl', { class: 'facts' }, facts.lines.map(({ label, value }) => h('div', {}, h('dt', {}, label), h('dd', {}, value)))));
    }
    const element = document.createElement(chart ? 'gb-chart' : 'gb-questions');
    element.className = 'leaf';
    if (chart) element.data = chart;
    else element.questions = questions;
    element.addEventListener('settle', (event) => app.openQuestion(event.detail));
    element.addEventListener('openentry', (event) => app.openEntry(event.detail));
    return element;
  });
}
