/**
 * <gb-questions>: what the book asks, each question with the entries it is
 * about, to open one by one, and a way to settle it.
 *
 * @module
 */
import { h, show } from '../view/dom.js';

/**
 * As the engine gives it; without an id it cannot be settled by an entry.
 *
 * @typedef {{id: string, kind: string, text: string, entries: string[]|null, proposal?: {kind: string, values: Record<string, any>}}} Question
 */

export class Questions extends HTMLElement {
  /** @param {Question[]} questions */
  set questions(questions) {
    const many = questions.length > 3;
    show(this, h('details', { open: !many }, h('summary', {}, h('h2', {}, questions.length === 1 ? 'The book asks' : `The book asks ${questions.length} things`)),
      h('ul', { class: 'questions' }, questions.map((question) => h('li', {},
        h('p', {}, h('b', {}, question.kind), '. ', question.text),
        h('p', { class: 'row' },
          (question.entries ?? []).map((address) => this.button(address, 'openentry', address)),
          question.id ? this.button('Settle it', 'settle', question) : null))))));
  }

  button(words, event, detail) {
    return h('button', { type: 'button', class: 'quiet', onclick: () => this.dispatchEvent(new CustomEvent(event, { bubbles: true, detail })) }, words);
  }
}

customElements.define('gb-questions', Questions);
