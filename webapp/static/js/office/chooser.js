/**
 * A list to choose a month, a year or a thing from.
 *
 * @module
 */
import { freshId, h } from '../view/dom.js';

/**
 * @param {string} label
 * @param {(string|{value: string, label: string})[]} list
 * @param {string} chosen
 * @param {(value: string) => void} choose
 * @param {string} [none] what to show for no choice
 */
export function chooser(label, list, chosen, choose, none) {
  const id = freshId('choose');
  const options = list.map((one) => (typeof one === 'string' ? { value: one, label: one } : one));
  return h('div', { class: 'field choose' }, h('label', { for: id }, label), h('select', { id, onchange: (event) => choose(event.target.value) },
    none === undefined ? null : h('option', { value: '', selected: !chosen }, none),
    options.map((one) => (one.choices
      ? h('optgroup', { label: one.label }, one.choices.map(({ value, label: words }) => h('option', { value, selected: value === chosen }, words)))
      : h('option', { value: one.value, selected: one.value === chosen }, one.label)))));
}
