/**
 * A room's cautions: short, beside the work, never in its way.
 *
 * @module
 */
import { h } from './dom.js';

const always = 'This is a reminder, not a rule book: follow your local code, your fire marshal and licensed practice.';

/** @param {string[]} sentences @param {string} [title] */
export function caution(sentences, title = 'Caution in this room') {
  return h('details', { class: 'caution' }, h('summary', {}, title), h('ul', {}, [...sentences, always].map((sentence) => h('li', {}, sentence))));
}
