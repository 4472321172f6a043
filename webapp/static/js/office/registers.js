/**
 * The registers: what the house has and who works in it.
 *
 * @module
 */
import { h } from '../view/dom.js';
import { drawer } from '../view/drawer.js';

/** The registers that every day may need. */
export function drawers(app) {
  return [
    ['vessel registered', 'Register a vessel', 'Save the vessel', { folded: ['wood', 'char', 'fills', 'row', 'tier'] }],
    ['instrument registered', 'Register an instrument', 'Save the instrument'],
    ['product registered', 'Register a product', 'Save the product'],
    ['person registered', 'Register a person', 'Save the person'],
    ['book opened', 'The house and its convention', 'Save the house'],
    ['question settled', 'Settle a question', 'Save the answer'],
  ].map(([kind, title, save, more]) => drawer(app, { kind, title, save, ...more }));
}

/** @type {import('../view/pages.js').PageMaker} */
export async function registersPage(app, at) {
  const rest = [
    ['cases removed', 'Bottles left', 'Save the removal'],
    ['cases returned', 'Bottles came back', 'Save the return'],
    ['cost noted', 'Note a cost', 'Save the cost'],
    ['report filed', 'A report was filed', 'Save the filing'],
    ['approval recorded', 'An approval', 'Save the approval'],
    ['customer registered', 'Register a customer', 'Save the customer'],
    ['supplier registered', 'Register a supplier', 'Save the supplier'],
    ['goods registered', 'Register a good', 'Save the good'],
    ['device named', 'Name a phone', 'Save the phone'],
    ['registration ended', 'Something is no longer used', 'Save it'],
  ];
  const check = drawer(app, { kind: 'instrument checked', title: 'An instrument was checked', save: 'Save the check', values: at.entry ? { instrument: at.entry } : undefined });
  if (at.entry) check.open = true;
  return {
    node: h('div', { class: 'two' },
      h('section', { class: 'leaf', 'aria-label': 'The house' }, h('h2', {}, 'The house'), check, drawers(app)),
      h('section', { class: 'leaf', 'aria-label': 'The office’s papers' }, h('h2', {}, 'Papers and people'),
        rest.map(([kind, title, save]) => drawer(app, { kind, title, save })),
        h('p', { class: 'help' }, 'Names of customers stay on the office’s own devices; nothing more is asked than the records need.'))),
    refresh: async () => {},
  };
}
