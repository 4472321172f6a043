/**
 * The office: every vessel, the day's entries, what the book asks, and the
 * registers.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { caution } from '../view/caution.js';
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { withOffset } from '../view/field.js';

const cautions = [
  'A figure here is as good as what was written in the rooms: before anything is opened, moved or entered, look at the vessel itself.',
  'Heads and other set-aside spirit stand on the vessel list like any other: they are not for drinking.',
];

/** @type {import('../main.js').Room} */
export const office = {
  key: 'office',
  name: 'Office',
  purpose: 'Vessels, entries, corrections',
  open: async (app) => {
    const left = h('div', {});
    const right = h('div', {});
    let day = withOffset(new Date()).slice(0, 10);
    const date = h('input', { type: 'date', id: 'day', value: day, onchange: () => { day = date.value || day; refresh(); } });
    const entries = h('div', {});
    const refresh = async () => {
      const view = await app.engine.call('view', { what: 'office', day });
      show(entries, blocks(app, view.entries));
      show(right, blocks(app, view.blocks), caution(cautions));
    };
    const step = (by) => {
      const [year, month, of] = day.split('-').map(Number);
      day = withOffset(new Date(year, month - 1, of + by, 12)).slice(0, 10);
      date.value = day;
      refresh();
    };
    const more = (kind, title, save) => drawer(app, { kind, title, save });
    show(left,
      h('section', { class: 'leaf', 'aria-label': 'The day' },
        h('div', { class: 'field' }, h('label', { for: 'day' }, 'Day'),
          h('div', { class: 'row day' }, h('button', { type: 'button', class: 'quiet', 'aria-label': 'The day before', onclick: () => step(-1) }, '‹'), date,
            h('button', { type: 'button', class: 'quiet', 'aria-label': 'The day after', onclick: () => step(1) }, '›'))),
        entries),
      h('section', { class: 'leaf', 'aria-label': 'Registers' },
        more('vessel registered', 'Register a vessel', 'Save the vessel'),
        more('instrument registered', 'Register an instrument', 'Save the instrument'),
        more('product registered', 'Register a product', 'Save the product'),
        more('person registered', 'Register a person', 'Save the person'),
        more('book opened', 'The house and its convention', 'Save the house'),
        more('question settled', 'Settle a question', 'Save the answer'),
        more('month closed', 'Close a month', 'Close the month')));
    await refresh();
    return { node: h('div', { class: 'room' }, left, right), refresh };
  },
};
