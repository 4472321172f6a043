/**
 * What laboratories found, vessel by vessel and lot by lot, each figure beside
 * its limit.
 *
 * @module
 */
import { chooser } from '../office/chooser.js';
import { blocks } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { entryForm } from '../view/form.js';
import { printButton } from '../view/paper.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function laboratoryPage(app, at, go) {
  const right = h('div', { class: 'stack' });
  const form = await entryForm(app, {
    kind: 'laboratory result received', title: 'A laboratory’s report', save: 'Save the result',
    ways: [{ label: 'It is about', ways: [{ label: 'a vessel', keys: ['vessel'] }, { label: 'a lot', keys: ['lot'] }] }],
    first: ['made_of'], folded: ['laboratory', 'document', 'sampled', 'volatile_acid', 'note'], wanting: 'What was found: its limits stand here.',
  });
  const refresh = async () => {
    const view = await app.ask('view', { what: 'laboratory', about: at.about ?? '' });
    show(right, view.choices.length > 0 ? h('div', { class: 'row unprinted' }, chooser('Vessel or lot', view.choices, view.about, (about) => go({ about }), 'all of them'), printButton()) : null,
      h('div', { class: 'paper stack' }, view.blocks.length > 0 ? blocks(app, view.blocks) : h('p', { class: 'wanting' }, 'No laboratory’s result is kept yet.')),
      h('p', { class: 'help' }, 'A limit that is from memory says so: read the law before you rely on it. Limits in brackets are of something else and only for comparison.'));
  };
  await refresh();
  return { node: h('div', { class: 'room' }, h('div', {}, form.node), right), refresh };
}
