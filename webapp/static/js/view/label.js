/**
 * What is printed, cut out and stuck to a vessel: whose book it is in, its name,
 * and the code that opens it when it is scanned.
 *
 * @module
 */
import { h } from './dom.js';
import { square } from './square.js';

/**
 * @param {import('../main.js').App} app
 * @param {{vessel: string, name: string, says?: string}} one
 * @param {string} house
 * @returns {Promise<HTMLElement[]>}
 */
export async function labelOf(app, { vessel, name, says }, house) {
  const link = `${location.origin}/#vessel=${vessel}`;
  const { rows } = await app.ask('qr', { text: link });
  return [square(rows, link), h('p', {}, h('b', {}, name)), says ? h('p', {}, says) : null, h('p', { class: 'help' }, [house, vessel].filter(Boolean).join(', '))];
}
