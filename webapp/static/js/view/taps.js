/**
 * Words under a thumb beneath a field of words: each tap puts one in or takes
 * it out again. What is typed there by hand stays.
 *
 * @module
 */
import { h } from './dom.js';

const apart = /\s*,\s*/;

/**
 * @param {import('./field.js').Field} field
 * @param {string[]} words
 * @param {string} label
 */
export function taps(field, words, label) {
  const held = () => field.get().split(apart).filter(Boolean);
  const buttons = words.map((word) => h('button', {
    type: 'button', class: 'tap', 'aria-pressed': 'false',
    onclick: () => {
      const now = held();
      field.set((now.includes(word) ? now.filter((one) => one !== word) : [...now, word]).join(', '));
      field.node.dispatchEvent(new Event('input', { bubbles: true }));
    },
  }, word));
  const mark = () => {
    const now = held();
    buttons.forEach((button, at) => button.setAttribute('aria-pressed', String(now.includes(words[at]))));
  };
  field.node.after(h('div', { class: 'field wide taps-under', role: 'group', 'aria-label': label }, h('div', { class: 'taps' }, buttons)));
  return { mark };
}
