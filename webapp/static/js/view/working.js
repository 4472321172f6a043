/**
 * A figure, big, with its working one tap beneath.
 *
 * @module
 */
import { h } from './dom.js';

/**
 * As the engine gives it: the figure a person came for, the ones that go with
 * it, and how it was found.
 *
 * @typedef {{figure: string, unit: string, label: string, beside: {label: string, value: string}[],
 *   steps: {text: string, value: string}[], method?: string, says?: string[]}} Result
 */

/** @param {Result|null} result @param {string} wanting what to say where there is none yet */
export function bigFigure(result, wanting) {
  if (!result) return wanting ? h('p', { class: 'big' }, h('span', { class: 'big-label' }, wanting), h('strong', { class: 'big-figure none', 'aria-hidden': 'true' }, '–')) : null;
  return [
    h('p', { class: 'big' }, h('span', { class: 'big-label' }, result.label), ' ', h('strong', { class: 'big-figure' }, result.figure), ' ', h('span', { class: 'big-unit' }, result.unit)),
    h('dl', { class: 'beside' }, result.beside.map(({ label, value }) => h('div', {}, h('dt', {}, label), h('dd', {}, value)))),
    result.says ? h('ul', { class: 'says' }, result.says.map((sentence) => h('li', {}, sentence))) : null,
  ];
}

/** @param {{steps: {text: string, value: string}[], method?: string}|null} result */
export function working(result) {
  if (!result || result.steps.length === 0) return null;
  return h('details', { class: 'working' }, h('summary', {}, 'Working'),
    result.method ? h('p', { class: 'help' }, result.method) : null,
    h('ol', {}, result.steps.map(({ text, value }) => h('li', {}, text, value ? [' = ', h('b', {}, value)] : null))));
}
