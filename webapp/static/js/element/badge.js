/**
 * <gb-badge>: how many entries are only on this phone, in words and shape,
 * always in sight. A tap opens what is known about the office.
 *
 * @module
 */
import { h, s, show } from '../view/dom.js';

/**
 * What the badge tells. Every word of it comes from exchange.js.
 *
 * @typedef {{only: number, state: 'idle'|'working'|'failing', words: string, action: string}} Standing
 */

export class Badge extends HTMLElement {
  connectedCallback() {
    if (this.button) return;
    this.icon = h('span', { class: 'badge-shape' });
    this.words = h('span', {});
    this.more = h('p', { class: 'badge-more', id: 'badge-more', role: 'status' });
    this.now = h('button', { type: 'button', class: 'quiet', onclick: () => this.dispatchEvent(new CustomEvent('sendnow', { bubbles: true })) }, 'Send now');
    this.panel = h('div', { class: 'badge-panel', hidden: true }, this.more, this.now);
    this.button = h('button', {
      type: 'button', class: 'badge', 'aria-expanded': 'false', 'aria-controls': 'badge-more',
      onclick: () => this.open(this.panel.hidden),
    }, this.icon, this.words);
    this.replaceChildren(this.button, this.panel);
    this.addEventListener('keydown', (event) => {
      if (event.key !== 'Escape') return;
      if (this.panel.contains(document.activeElement)) this.button.focus(); // the panel goes, the focus stays
      this.open(false);
    });
    document.addEventListener('click', (event) => { if (!this.contains(/** @type {Node} */ (event.target))) this.open(false); });
    this.words.textContent = 'Counting…';
  }

  /** @param {boolean} open */
  open(open) {
    this.panel.hidden = !open;
    this.button.setAttribute('aria-expanded', String(open));
  }

  /** @param {Standing} standing */
  set standing({ only, state, words }) {
    if (only === undefined) return; // not counted yet: it must not say that all is at the office
    this.dataset.only = String(only);
    this.dataset.state = state;
    this.words.textContent = only === 0 ? 'All at the office' : `${only} only on this phone`;
    this.more.textContent = words;
    show(this.icon, shape(only === 0 ? 'all' : state));
  }
}

/** A tick in a square, an arrow on its way, or a full drop that waits. */
function shape(state) {
  const lines = {
    all: ['M3 3h14v14H3z', 'M6 10l3 3 5-6'],
    working: ['M10 17V4', 'M5 9l5-5 5 5'],
    idle: ['M10 2c4 5 6 7 6 10a6 6 0 0 1-12 0c0-3 2-5 6-10z'],
    failing: ['M10 2c4 5 6 7 6 10a6 6 0 0 1-12 0c0-3 2-5 6-10z', 'M10 8v4', 'M10 15v.2'],
  }[state];
  return s('svg', { viewBox: '0 0 20 20', width: 20, height: 20, 'aria-hidden': 'true', class: `shape-${state}` }, lines.map((d) => s('path', { d })));
}

customElements.define('gb-badge', Badge);
