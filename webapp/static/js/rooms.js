/**
 * The doors of the building. What is behind one is fetched when it is opened:
 * a start fetches one room and not all of them.
 *
 * @module
 */
import { Absent, whole } from './engine.js';
import { h } from './view/dom.js';

/**
 * What opens a room: it gives what shows the room and a way to bring that up to
 * date with the book. It may leave to 'rest' what is not wanted first: that is
 * called once the room stands there.
 *
 * @typedef {{node: HTMLElement, rest?: () => Promise<void>, refresh: () => Promise<void>}} Shown
 * @typedef {(app: import('./main.js').App) => Promise<Shown>} Open
 *
 * A room: what the plan says of it, its module, and the engine that a phone which
 * stands in it begins with, where the pocket one would be asked in vain.
 *
 * @typedef {{key: string, name: string, purpose: string, size?: string, load: () => Promise<{open: Open, pages?: import('./view/pages.js').Offered[], more?: () => Promise<object>}>}} Room
 */

/** @type {Room[]} */
export const rooms = [
  { key: 'yard', name: 'Yard', purpose: 'Deliveries, preparation, goods', size: whole, load: () => import('./room/yard.js') },
  { key: 'mash', name: 'Mash room', purpose: 'Mashes, additions, sums', size: whole, load: () => import('./room/mash.js') },
  { key: 'ferment', name: 'Ferment hall', purpose: 'The board, daily checks', load: () => import('./room/ferment.js') },
  { key: 'still', name: 'Still room', purpose: 'Readings, cuts, receivers', load: () => import('./room/still.js') },
  { key: 'store', name: 'Spirit store', purpose: 'Gauges, moves, reductions', size: whole, load: () => import('./room/store.js') },
  { key: 'bottling', name: 'Bottling floor', purpose: 'Counts, spoils, what the tank gave', load: () => import('./room/bottling.js') },
  { key: 'office', name: 'Office', purpose: 'Today, month, tax, trace', size: whole, load: () => import('./room/office.js') },
  { key: 'phone', name: 'This phone', purpose: 'Its role, its end, hand back', load: () => import('./view/phone.js') },
];

/** Pages that any room leads to. */
export const sheets = {
  entry: () => import('./view/entry.js'),
  question: () => import('./view/question.js'),
  manual: () => import('./view/manual.js'),
};

/** The vessel that the page's address names, '' for none. */
export function vesselHere() {
  return new URLSearchParams(location.hash.slice(1)).get('vessel') ?? '';
}

/** Fetches what a phone that does not keep the app will not get without a network. */
export async function fetchAll() {
  await Promise.allSettled([...Object.values(sheets), () => import('./view/square.js')].map((load) => load())); // what could not be had says so when it is opened
  await fetch(new URL(`../${whole}`, import.meta.url)).then((response) => response.arrayBuffer()).catch(() => {});
  for (const { load } of rooms) {
    const { pages = [], more } = (await fetched(load)) ?? {};
    await Promise.allSettled([...pages.map(([, , page]) => page()), more?.()]);
  }
}

/**
 * The module, null where it cannot be had now.
 *
 * @template T
 * @param {() => Promise<T>} load
 * @returns {Promise<T|null>}
 */
export const fetched = (load) => load().catch((error) => {
  if (error instanceof TypeError) return null; // so every browser calls it
  throw error;
});

/**
 * What was made, null where the engine it needs cannot be had now.
 *
 * @template T
 * @param {Promise<T>} making
 * @returns {Promise<T|null>}
 */
export const made = (making) => making.catch((error) => {
  if (error instanceof Absent) return null;
  throw error;
});

/**
 * What stands in the place of what could not be fetched.
 *
 * @param {string} name
 * @param {() => void} again
 * @returns {Shown}
 */
export function absent(name, again) {
  return {
    node: h('section', { class: 'leaf' }, h('p', { class: 'fault', role: 'alert' }, `“${name}” is not on this phone yet, and the office cannot be reached. Come within its reach, then try again. Nothing that was written is lost.`),
      h('button', { type: 'button', class: 'main', onclick: again }, 'Try again')),
    refresh: async () => {},
  };
}
