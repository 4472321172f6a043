/**
 * One vessel: what it holds and of what, its age, its rest, its history, and
 * the label that opens it when it is scanned.
 *
 * @module
 */
import { papers } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { labelOf } from '../view/label.js';
import { printButton } from '../view/paper.js';
import { bigFigure } from '../view/working.js';
import { chooser } from './chooser.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function vesselPage(app, at, go) {
  const node = h('div', { class: 'stack' });
  const refresh = async () => {
    const view = await app.ask('view', { what: 'vessel', vessel: at.vessel ?? '' });
    const [facts, parts, fruit, history] = papers(app, view.blocks);
    const label = facts ? await vesselLabel(app, view) : null;
    show(node, h('div', { class: 'row unprinted' }, chooser('Vessel', view.choices, view.vessel, (vessel) => go({ vessel }), 'Choose a vessel'),
      facts ? [printButton(), h('button', { type: 'button', class: 'quiet', onclick: () => go({ page: 'trace', lot: view.vessel }) }, 'Trace what it holds')] : null),
    facts ? h('article', { class: 'paper two even' },
      h('div', { class: 'stack' }, view.result ? h('section', { class: 'leaf', 'aria-label': 'What it holds' }, bigFigure(view.result, '')) : null, facts, label),
      h('div', { class: 'stack' }, parts, fruit, history))
      : h('p', { class: 'wanting' }, 'Choose a vessel: what it holds, of what and how old it is stands here.'));
  };
  await refresh();
  return { node, refresh };
}

/** What is printed, cut out and stuck to the vessel. */
async function vesselLabel(app, { vessel, choices, house }) {
  const name = choices.find(({ value }) => value === vessel)?.label ?? vessel;
  return h('section', { class: 'leaf label', 'aria-label': 'Its label' }, h('h2', {}, 'Its label'), await labelOf(app, { vessel, name }, house), h('p', { class: 'help' }, 'Scanned, it opens the vessel.'));
}
