/**
 * The building: the plan of the house, and its doors. It is the only menu.
 *
 * @module
 */
import { h } from './dom.js';

/**
 * @param {{key: string, name: string, purpose: string}[]} rooms
 * @param {string} here key of the room the phone stands in
 * @param {(key: string) => void} enter
 * @param {() => void} read opens the manual
 */
export function building(rooms, here, enter, read) {
  return h('section', { class: 'building', 'aria-labelledby': 'choose' },
    h('h2', { id: 'choose' }, 'Which room are you in?'),
    h('ul', { class: 'plan' }, rooms.map(({ key, name, purpose }) => h('li', {},
      h('button', { type: 'button', 'aria-current': key === here ? 'location' : null, onclick: () => enter(key) }, h('b', {}, name), h('span', { class: 'help' }, purpose))))),
    h('p', { class: 'help' }, 'Next time this phone opens in the room you choose.'),
    h('p', {}, h('button', { type: 'button', onclick: read }, 'Manual')));
}
