/**
 * <gb-quantity>: a figure as read, and its unit. The unit is switched in
 * place: by a button where there are two or three, by a list where there are more.
 * Its value is one string, digits and unit, exactly as typed; whether it is a
 * number is for the engine to say.
 *
 * @module
 */
import { h, freshId } from '../view/dom.js';

/** @typedef {{symbol: string, name: string}} Unit */

export class QuantityField extends HTMLElement {
  /** @param {{label: string, name: string, units: Unit[], unit?: string, need?: boolean, help?: string}} described */
  describe({ label, name, units, unit, need, help }) {
    const id = freshId('quantity');
    this.units = units;
    this.label = label;
    this.input = h('input', {
      id, name, type: 'text', inputmode: 'decimal', autocomplete: 'off', enterkeyhint: 'next', spellcheck: 'false',
      required: Boolean(need), 'aria-describedby': `${id}-words`,
    });
    this.words = h('p', { id: `${id}-words`, class: 'field-words' }, help);
    this.help = help ?? '';
    const title = h('label', { for: id }, label, need ? h('span', { class: 'needed' }, ' needed') : null);
    this.choice = units.length > 3 ? this.list() : units.length > 1 ? this.button() : h('span', { class: 'unit' }, units[0]?.name ?? '');
    this.replaceChildren(title, h('span', { class: 'figure-row' }, this.input, this.choice), this.words);
    this.unit = unit ?? units[0]?.symbol ?? '';
    return this;
  }

  button() {
    return h('button', {
      type: 'button', class: 'unit',
      onclick: () => {
        const at = this.units.findIndex(({ symbol }) => symbol === this.unit);
        this.unit = this.units[(at + 1) % this.units.length].symbol;
        this.changed();
        this.input.focus();
      },
    });
  }

  list() {
    return h('select', { class: 'unit', 'aria-label': `Unit of ${this.label}`, onchange: () => { this.unit = this.choice.value; this.changed(); } },
      this.units.map(({ symbol, name }) => h('option', { value: symbol }, name)));
  }

  changed() {
    this.dispatchEvent(new CustomEvent('unit', { bubbles: true, detail: this.unit }));
    this.input.dispatchEvent(new Event('input', { bubbles: true }));
  }

  get unit() {
    return this.chosen;
  }

  set unit(symbol) {
    const at = this.units.findIndex((unit) => unit.symbol === symbol);
    if (at < 0) return;
    this.chosen = symbol;
    if (this.choice.tagName === 'SELECT') this.choice.value = symbol;
    else if (this.choice.tagName === 'BUTTON') {
      const next = this.units[(at + 1) % this.units.length];
      this.choice.textContent = this.units[at].name;
      this.choice.setAttribute('aria-label', `${this.label} is in ${this.units[at].name}; change to ${next.name}`);
    }
  }

  /** Digits and unit, '' where nothing is typed; a unit typed with the digits stands. */
  get value() {
    const typed = this.input.value.trim();
    if (typed === '') return '';
    return /[^\d.,+\-\u2212\s]/.test(typed) ? typed : typed + this.unit;
  }

  set value(text) {
    const unit = this.units.map(({ symbol }) => symbol).filter((symbol) => text.endsWith(symbol)).sort((a, b) => b.length - a.length)[0];
    this.input.value = unit ? text.slice(0, -unit.length) : text;
    if (unit) this.unit = unit;
  }

  /** @param {string} sentence what is wrong, '' for nothing */
  set fault(sentence) {
    this.input.setAttribute('aria-invalid', String(sentence !== ''));
    this.words.classList.toggle('fault', sentence !== '');
    this.words.textContent = sentence || this.help;
  }

  focus() {
    this.input.focus();
  }
}

customElements.define('gb-quantity', QuantityField);
