/**
 * Infuse and sweeten: one vessel, what goes into it, and which of its strengths
 * is the legal one.
 *
 * @module
 */
import { chooser } from '../office/chooser.js';
import { blocks } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function sweetenPage(app, at, go) {
  const top = h('div', {});
  const facts = h('div', { class: 'stack' });
  const refresh = async () => {
    const view = await app.ask('view', { what: 'sweeten', vessel: at.sweeten ?? '' });
    show(top, chooser('Vessel with spirit', view.choices, view.vessel, (sweeten) => go({ sweeten }), 'Choose a vessel'));
    show(facts, blocks(app, view.blocks));
  };
  await refresh();
  const vessel = at.sweeten ?? '';
  const more = (kind, title, save, { values, ...shape }) => drawer(app, { kind, title, save, values: { vessel, ...values }, draft: `${kind} ${vessel}`, ...shape });
  const solids = [{ label: 'Found as', ways: [{ label: 'residue', keys: ['sample', 'residue', 'apparent'] }, { label: 'solids', keys: ['solids'] }, { label: 'true strength', keys: ['strength'] }] }];
  return {
    node: h('div', { class: 'stack' }, top, h('section', { class: 'leaf', 'aria-label': 'What is done with it' },
      more('infusion begun', 'Lay fruit, herbs or spice in', 'Save the infusion', { first: ['vessel', 'parts'], folded: ['recipe', 'note'], wanting: 'What goes in and its weight: the strength at the end stands here.' }),
      more('infusion drained', 'Drain it', 'Save what ran off', { first: ['vessel', 'to'], folded: ['note'], wanting: 'Measure what ran off: what stays in the fruit stands here.' }),
      more('sugar added', 'Add sugar', 'Save the sugar', { first: ['vessel', 'what', 'weight'], folded: ['lot', 'goods', 'note'], wanting: 'The weight of the sugar: volume, strength and sweetness stand here.' }),
      more('solids measured', 'Measure what is dissolved', 'Save the solids', { first: ['vessel', 'way'], ways: solids, folded: ['note'], values: { way: 'evaporation', sample: '25mL' }, wanting: 'The residue of the sample and the hydrometer: the true strength stands here.' }),
      more('laboratory result received', 'A laboratory’s result came', 'Save the result', { folded: ['lot', 'made_of', 'note'] }),
      h('p', { class: 'help' }, 'Fruit swells and gives off its air: leave room and an open vent. Drained fruit holds spirit and burns: a closed metal vessel, away from heat.')), facts),
    refresh,
  };
}
