/**
 * A plan: a form that keeps nothing, what goes with its figure, and the entries
 * that do what was planned. Prepared once, they wait on this phone until each
 * was saved when it was done, whatever is typed into the plan meanwhile.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';

/**
 * @typedef {{title: string, kind: string, save: string, values: Record<string, any>, saved?: string}} Prepared
 */

/**
 * @param {import('../main.js').App} app
 * @param {import('../view/form.js').Shape} shape
 * @param {string} kept where the page keeps what was prepared
 * @param {import('../view/pages.js').At} at
 * @param {(to: Record<string, any>) => Promise<void>} go
 * @param {string} [minding] what to mind before the entries' work is done
 * @returns {Promise<HTMLElement>}
 */
export async function planned(app, shape, kept, at, go, minding) {
  const beside = h('div', { class: 'stack' });
  const act = h('div', { class: 'row' });
  let form;
  const take = async (list) => {
    await form.keep();
    await go({ [kept]: list });
    document.getElementById(`${kept}-entries`)?.scrollIntoView();
  };
  const button = (words, list) => h('button', { type: 'button', class: 'quiet', onclick: () => take(list) }, words);
  form = await entryForm(app, {
    ...shape,
    onanswer: ({ wrong, result, blocks: list, then, also }) => {
      const told = (wrong ?? []).filter(({ code, field }) => !result && (code !== 'missing' || field.includes('.')) && !form?.left.has(field.split(/[.[]/)[0])); // else it stands at its field
      const writes = (entries) => (entries ?? []).filter(({ kind }) => app.standing.may(kind));
      show(beside, blocks(app, list ?? []));
      show(act, told.map(({ sentence }) => h('p', { class: 'fault', role: 'status' }, sentence)), writes(then).length > 0 ? button(then.length === 1 ? 'Prepare its entry' : `Prepare its ${then.length} entries`, writes(then)) : null,
        writes(also).map((entry) => button(entry.title, [...(at[kept] ?? []), entry])));
    },
  });
  form.node.append(act);
  return h('div', { class: 'stack' }, entries(app, kept, at[kept] ?? [], go, minding), form.node, beside);
}

/** The prepared entries in their order; the first that is not saved stands open. */
function entries(app, kept, list, go, minding) {
  if (list.length === 0) return null;
  const first = list.find(({ saved }) => !saved);
  return h('section', { class: 'leaf', id: `${kept}-entries`, 'aria-label': 'Prepared entries' },
    h('h2', {}, first ? 'To do, in this order' : 'All of it is done'),
    first && minding ? h('p', { class: 'help' }, minding) : null,
    list.map((entry, place) => {
      if (entry.saved) {
        return h('p', {}, '✓ ', entry.title, ': ', h('button', { type: 'button', class: 'link', onclick: () => app.openEntry(entry.saved) }, entry.saved));
      }
      return entryDrawer(app, entry, `${kept} ${place}`, entry === first, (address) => go({ [kept]: list.map((one) => (one === entry ? { ...entry, saved: address } : one)) }));
    }),
    h('button', { type: 'button', class: 'quiet', onclick: () => go({ [kept]: undefined }) }, first ? 'Put these away' : 'Done'));
}

/** What is rarely said of a prepared entry is folded. */
const shapes = {
  'spirit moved': { first: ['from', 'to'], folded: ['account', 'purpose', 'lost', 'lost_as', 'note'] },
  'spirit gauged': { first: ['vessel'], folded: ['cause', 'note'] },
  'reduction planned': { folded: ['product', 'note'] },
};

/**
 * One prepared entry behind its title.
 *
 * @param {import('../main.js').App} app
 * @param {Prepared} entry
 * @param {string} place that tells its draft from others
 * @param {boolean} open
 * @param {(address: string) => void} [onsaved]
 */
export function entryDrawer(app, { title, kind, save, values }, place, open, onsaved) {
  const node = drawer(app, { kind, title, save, values, ...shapes[kind], draft: `${place} ${title}`, onsaved });
  node.open = open;
  return node;
}
