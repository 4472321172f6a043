/**
 * Today: what the building wants, room by room, and the day's entries.
 *
 * @module
 */
import { papers } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { withOffset } from '../view/field.js';
import { drawers } from './registers.js';

/** So many of a room's wishes stand open; the others are folded. */
const atOnce = 5;

/** @type {import('../view/pages.js').PageMaker} */
export async function todayPage(app, at, go) {
  const wants = h('section', { class: 'leaf', 'aria-label': 'What the building wants' });
  const right = h('div', { class: 'stack' });
  const entries = h('div', {});
  let day = withOffset(new Date()).slice(0, 10);
  const date = h('input', { type: 'date', id: 'day', value: day, onchange: () => { day = date.value || day; refresh(); } });
  const turn = (to) => {
    day = to;
    date.value = day;
    refresh();
  };
  let around = { before: day, after: day };
  const refresh = async () => {
    const view = await app.ask('view', { what: 'office', day });
    around = view;
    show(wants, h('h2', {}, 'What the building wants today'), view.wants.length === 0 ? h('p', { class: 'help' }, 'Nothing is due, as far as this phone knows.')
      : view.wants.map(({ room, wants: list }) => [h('h3', {}, room), wishes(app, list.slice(0, atOnce), go),
        list.length > atOnce ? h('details', {}, h('summary', {}, `${list.length - atOnce} more`), wishes(app, list.slice(atOnce), go)) : null]));
    show(entries, papers(app, view.entries));
    show(right, papers(app, view.blocks));
  };
  await refresh();
  return {
    node: h('div', { class: 'two' },
      h('div', { class: 'stack' }, wants,
        h('section', { class: 'leaf', 'aria-label': 'The day' },
          h('div', { class: 'field' }, h('label', { for: 'day' }, 'Day'),
            h('div', { class: 'row day' }, h('button', { type: 'button', class: 'quiet', 'aria-label': 'The day before', onclick: () => turn(around.before) }, '‹'), date,
              h('button', { type: 'button', class: 'quiet', 'aria-label': 'The day after', onclick: () => turn(around.after) }, '›'))),
          entries),
        h('section', { class: 'leaf', 'aria-label': 'Registers' }, drawers(app))),
      right),
    refresh,
  };
}

const wishes = (app, list, go) => h('ul', { class: 'wants-list' }, list.map((want) => wish(app, want, go)));

/** One thing that is due, with the way to where it is settled. */
function wish(app, { kind, says, on, late, go: to, act }, go) {
  const settle = async () => {
    if (to.room) {
      if (to.at) await app.log.put(to.room, { page: to.at, ...(to.about && { [to.about]: to.lot }) });
      else if (to.about) await app.log.put(to.about, to.lot);
      await app.enter(to.room);
    } else if (to.page) await go(to);
    else await app.openEntry(to.entry);
  };
  return h('li', {}, h('div', {}, h('b', {}, kind), h('span', { class: 'help' }, late ? ` late: was due ${on}` : ` due ${on}`), h('p', {}, says)),
    h('button', { type: 'button', class: 'quiet', 'aria-label': `${act}: ${says}`, onclick: settle }, act));
}
