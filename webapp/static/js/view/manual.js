/**
 * The field manual: a page a room, and a few for work that goes through
 * several. Its words and pictures are files beside the app that a phone keeps
 * once the app itself is kept; what is written in a room is told by the kinds
 * of entries themselves.
 *
 * @module
 */
import { caution } from './caution.js';
import { h, show } from './dom.js';

/**
 * Text in [brackets] names something that stands in the app.
 *
 * @typedef {{key: string, title: string, says: string, picture?: string, shows?: string, parts: {title: string, steps?: string[], notes?: string[]}[], cautions?: string[]}} Chapter
 */

const folder = new URL('../../manual/', import.meta.url);

/**
 * @param {import('../main.js').App} app
 * @param {string} key of the page to open, '' for the list of them
 * @param {() => void} back
 */
export async function manualPage(app, key, back) {
  const node = h('div', { class: 'manual' });
  const way = (words, act) => h('button', { type: 'button', class: 'quiet', onclick: act }, words);
  const leave = way('Back to where you were', back);
  let chapters = [];
  try {
    chapters = await (await fetch(new URL('manual.json', folder))).json();
  } catch {
    show(node, h('p', { role: 'status' }, 'The manual is not on this phone yet. Within reach of the office it comes by itself, and stays.'), leave);
    return { node, refresh: async () => {} };
  }
  const turn = (lay) => async (...which) => {
    await lay(...which);
    app.place.focus();
    window.scrollTo(0, 0);
  };
  const list = () => show(node,
    h('section', { class: 'leaf', 'aria-labelledby': 'manual-list' }, h('h2', { id: 'manual-list' }, 'Pages of the manual'), h('ul', { class: 'board' }, chapters.map((chapter) => h('li', {},
      h('button', { type: 'button', onclick: () => turn(open)(chapter) }, h('b', {}, chapter.title), h('span', { class: 'help' }, chapter.says)))))),
    leave);
  const open = async ({ key: of, title, says, picture, shows, parts, cautions }) => {
    const { kinds } = await app.ask('view', { what: 'manual', room: of });
    show(node,
      h('article', { class: 'leaf paper', 'aria-labelledby': 'manual-title' }, h('h2', { id: 'manual-title' }, title), h('p', {}, says),
        picture ? h('img', { src: new URL(picture, folder), alt: shows }) : null,
        parts.map((part) => [h('h3', {}, part.title), part.steps ? h('ol', {}, part.steps.map((step) => h('li', {}, marked(step)))) : null, (part.notes ?? []).map((note) => h('p', {}, marked(note)))]),
        kinds.length > 0 ? [h('h3', {}, 'Every entry of this room'), kinds.map(explained)] : null),
      cautions ? caution(cautions) : null,
      h('div', { class: 'row unprinted' }, way('All pages', () => turn(list)()), leave));
  };
  const chosen = chapters.find((one) => one.key === key);
  await (chosen ? open(chosen) : list());
  return { node, refresh: async () => {} };
}

/** @param {string} text */
function marked(text) {
  return text.split(/[[\]]/).map((part, at) => (at % 2 ? h('b', {}, part) : part));
}

/** What one kind of entry records, and what each of its fields wants. */
function explained({ name, help, needs, fields }) {
  return h('details', {}, h('summary', {}, name), h('p', {}, help), needs ? h('p', { class: 'help' }, `Needs: ${needs}`) : null,
    h('dl', { class: 'words' }, fields.map(({ label, help: says }) => h('div', {}, h('dt', {}, label), says ? h('dd', {}, says) : null))));
}
