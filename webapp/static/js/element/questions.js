/**
 * <gb-questions>: what the book asks, each question with the entries it is
 * about, to open one by one.
 *
 * @module
 */
import { h, show } from '../view/dom.js';

/** @typedef {{text: string, hint: string, entries: string[]}} Question */

export class Questions extends HTMLElement {
  /** @param {Question[]} questions */
  set questions(questions) {
    this.hidden = questions.length === 0;
    show(this,
      h('h2', {}, questions.length === 1 ? 'The book asks' : `The book asks ${questions.length} things`),
      h('ul', { class: 'questions' }, questions.map(({ text, hint, entries }) => h('li', {},
        h('p', {}, text),
        hint ? h('p', { class: 'help' }, hint) : null,
        h('p', { class: 'row' }, entries.map((address) => h('button', {
          type: 'button', class: 'quiet',
          onclick: () => this.dispatchEvent(new CustomEvent('openentry', { bubbles: true, detail: address })),
        }, address)))))));
  }
}

customElements.define('gb-questions', Questions);
