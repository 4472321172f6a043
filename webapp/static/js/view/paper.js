/**
 * Taking things out of the page: as a file, and on paper. What is printed
 * stands in an element of class 'paper'; what is folded in it is opened first.
 *
 * @module
 */
import { h } from './dom.js';

addEventListener('beforeprint', () => document.querySelectorAll('.paper details').forEach((one) => { one.open = true; }));

/**
 * A button that keeps a text as a file on this phone.
 *
 * @param {string} words
 * @param {string} name of the file
 * @param {string} type
 * @param {() => string|Promise<string>} make
 * @param {string} [label] for who does not see what the button stands under
 */
export function fileButton(words, name, type, make, label) {
  return h('button', {
    type: 'button', class: 'quiet', 'aria-label': label ?? null, onclick: async () => {
      const url = URL.createObjectURL(new Blob([await make()], { type }));
      h('a', { href: url, download: name }).click();
      setTimeout(() => URL.revokeObjectURL(url), 10000);
    },
  }, words);
}

export const csvButton = (name, make, words = 'Keep as CSV', label) => fileButton(words, `${name}.csv`, 'text/csv', make, label);

export function printButton() {
  return h('button', { type: 'button', class: 'quiet', onclick: () => print() }, 'Print it');
}

/** Where a person signs on paper. @param {string[]} labels */
export function signature(labels = ['Signed', 'Title', 'Date']) {
  return h('dl', { class: 'signature printed' }, labels.map((label) => h('div', {}, h('dt', {}, label), h('dd', {}))));
}
