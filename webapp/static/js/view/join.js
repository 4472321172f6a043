/**
 * Joining a book: who writes, and the code the office shows.
 *
 * @module
 */
import { h } from './dom.js';
import { makeField } from './field.js';

/** @param {import('../main.js').App} app @param {{code?: string}} [given] */
export function joinForm(app, { code = '' } = {}) {
  const who = makeField({ key: 'by', label: 'How you sign', type: 'text', need: true, max_len: 64, help: 'Initials or a name; it stands on every entry you write.' });
  const key = makeField({ key: 'code', label: 'Code', type: 'text', need: true, max_len: 64, help: 'The office gives it when a phone is added. The demo, on its own machine, needs none.' });
  who.set(app.by);
  key.set(code);
  const wrong = h('p', { class: 'fault', role: 'alert' });
  const button = h('button', { type: 'submit', class: 'main' }, 'Join this book');
  const node = h('form', {
    class: 'leaf', novalidate: true, 'aria-labelledby': 'join-title',
    onsubmit: async (event) => {
      event.preventDefault();
      wrong.textContent = '';
      who.fault('');
      key.fault('');
      if (!who.get().trim()) {
        who.fault('Your initials are needed; type at least one letter.');
        return who.focus();
      }
      await app.sign(who.get().trim());
      app.exchange.now(key.get().trim());
    },
  },
  h('h2', { id: 'join-title' }, 'Join a book'),
  h('p', {}, 'This phone does not write in a book yet. Ask the office for a code. After that it works without a network.'),
  who.node, key.node, h('div', { class: 'act' }, wrong, button));
  return {
    node: h('div', { class: 'building' }, node),
    refresh: async () => {},
    problem: (sentence, working) => {
      wrong.textContent = sentence;
      button.disabled = working;
    },
  };
}
