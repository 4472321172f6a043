/**
 * A QR code, from the rows of 0 and 1 that Go makes of a text.
 *
 * @module
 */
import { s } from './dom.js';

/**
 * @param {string[]} rows
 * @param {string} words what it says, for who cannot see it
 */
export function square(rows, words) {
  const path = rows.map((row, y) => [...row].map((dark, x) => (dark === '1' ? `M${x} ${y}h1v1h-1z` : '')).join('')).join('');
  return s('svg', { viewBox: `0 0 ${rows.length} ${rows.length}`, class: 'qr', role: 'img', 'aria-label': `QR code of ${words}`, width: '240', height: '240' },
    s('rect', { width: rows.length, height: rows.length, fill: '#fff' }), s('path', { d: path, fill: '#000' }));
}
