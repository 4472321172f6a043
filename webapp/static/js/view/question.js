/**
 * One question of the book, and the two ways to settle it: the entry that the
 * book proposes, or a word of a person.
 *
 * @module
 */
import { h } from './dom.js';
import { entryForm } from './form.js';

/**
 * @param {import('../main.js').App} app
 * @param {import('../element/questions.js').Question} question
 * @param {() => void} back
 */
export async function questionPage(app, question, back) {
  const { id, kind, text, entries, proposal } = question;
  const settle = await entryForm(app, {
    kind: 'question settled', title: 'Settle it by a word', save: 'Save the answer', fixed: { question: id }, draft: `settle ${id}`, onsaved: back,
  });
  const propose = proposal ? await entryForm(app, {
    kind: proposal.kind, title: `Settle it by an entry: ${proposal.kind}`, save: 'Save the entry', draft: `propose ${id}`, values: proposal.values, onsaved: back,
  }) : null;
  return {
    node: h('div', { class: 'room' },
      h('div', {}, h('section', { class: 'leaf' }, h('h2', {}, kind), h('p', {}, text),
        h('p', { class: 'row' }, (entries ?? []).map((address) => h('button', { type: 'button', class: 'quiet', onclick: () => app.openEntry(address) }, address)))),
      h('button', { type: 'button', class: 'quiet', onclick: back }, 'Back to the room')),
      h('div', {}, propose ? propose.node : null, settle.node)),
    refresh: async () => {},
  };
}
