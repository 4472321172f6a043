/**
 * The registers: what the house has and who works in it, one register at a
 * time, each with what adds to it and what ends in it. A name opens its entry,
 * where it is corrected.
 *
 * @module
 */
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';
import { printButton } from '../view/paper.js';
import { kept } from '../view/table.js';
import { chooser } from './chooser.js';

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
export async function registersPage(app, at, go) {
  const papers = [
    ['cases removed', 'Bottles left', 'Save the removal'],
    ['cases returned', 'Bottles came back', 'Save the return'],
    ['cost noted', 'Note a cost', 'Save the cost'],
    ['report filed', 'A report was filed', 'Save the filing'],
    ['device named', 'Name a phone', 'Save the phone'],
    ['vessel registered', 'Register a vessel', 'Save the vessel', { folded: ['wood', 'char', 'fills', 'row', 'tier'] }],
    ['book opened', 'The house and its convention', 'Save the house'],
    ['question settled', 'Settle a question', 'Save the answer'],
  ].map(([kind, title, save, more]) => drawer(app, { kind, title, save, ...more }));
  const paper = h('article', { class: 'paper leaf' });
  const here = async () => {
    const { registers } = await app.ask('view', { what: 'registers' });
    return { registers, register: registers.find(({ key }) => key === at.register) ?? registers[0] };
  };
  const { registers, register: first } = await here();
  const over = app.standing.may('registration ended') ? h('div', {}) : null;
  const refresh = async () => {
    const { register } = await here();
    show(paper, kept(app, register.table), register.help ? h('p', { class: 'help' }, register.help) : null,
      register.ended.rows.length > 0 ? h('details', {}, h('summary', {}, `No longer used: ${register.ended.rows.length}`), kept(app, register.ended)) : null);
    if (over && !over.querySelector('[open]')) show(over, ended(app, register));
  };
  await refresh();
  return {
    node: h('div', { class: 'stack' },
      h('div', { class: 'row unprinted' }, chooser('Register', registers.map(({ key, table }) => ({ value: key, label: table.title })), first.key, (register) => go({ register })), printButton()),
      h('div', { class: 'two even' },
        h('div', { class: 'stack' }, h('section', { class: 'leaf unprinted', 'aria-label': 'Changes' }, drawer(app, { kind: first.kind, title: first.act, save: first.save, draft: `register ${first.kind}` }), over), paper),
        h('section', { class: 'leaf unprinted', 'aria-label': 'The office’s papers' }, h('h2', {}, 'Papers and the house'), papers))),
    refresh,
  };
}

/** Says of one thing of a register that it is no longer used. */
function ended(app, { choices }) {
  if (choices.length === 0) return null;
  const form = h('div', {});
  const choose = async (entry) => show(form, entry ? (await entryForm(app, {
    kind: 'registration ended', title: 'No longer used', save: 'It is no longer used', fixed: { entry }, draft: `end ${entry}`, bare: true,
  })).node : null);
  return h('details', { class: 'drawer' }, h('summary', {}, 'One is no longer used'), chooser('Which', choices, '', choose, 'Choose one'), form);
}
