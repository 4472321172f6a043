/**
 * A form behind its title: made when it is opened, so that it offers what the
 * book holds then, and open at once where a draft is waiting in it.
 *
 * @module
 */
import { h, show } from './dom.js';
import { entryForm } from './form.js';

/**
 * @param {import('../main.js').App} app
 * @param {import('./form.js').Shape & {begin?: () => Partial<import('./form.js').Shape>}} shape begin: what the book knows when it is opened
 * @returns {HTMLDetailsElement}
 */
export function drawer(app, shape) {
  if (shape.save && !app.standing.may(shape.kind)) return h('details', { hidden: true }); // what keeps nothing needs no right
  const inside = h('div', {});
  const node = h('details', {
    class: 'drawer',
    ontoggle: async () => {
      if (node.open && !inside.hasChildNodes()) show(inside, (await entryForm(app, { ...shape, ...shape.begin?.(), bare: true })).node);
      else if (!node.open) show(inside);
    },
  }, h('summary', {}, shape.title), inside);
  app.log.draft(shape.draft ?? shape.kind).then((draft) => { if (draft) node.open = true; });
  return node;
}
