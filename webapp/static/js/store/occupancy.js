/**
 * Occupancy: which vessel is free when, and where a harvest meets its limit.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { planned } from './plan.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function occupancyPage(app, at, go) {
  const vessels = h('div', {});
  const coming = h('div', {});
  let view;
  const refresh = async () => {
    view = await app.ask('view', { what: 'occupancy' });
    show(vessels, blocks(app, view.blocks));
    show(coming, blocks(app, [{ table: view.expected }]));
  };
  await refresh();
  const harvest = await planned(app, { kind: 'plan harvest', title: 'Harvest plan', first: ['batches', 'days', 'charge', 'weeks'], values: view.values, wanting: 'How often the still runs: what becomes the limit, and when, stands here.' }, 'harvest', at, go);
  return {
    node: h('div', { class: 'two' }, h('div', { class: 'stack' }, vessels),
      h('div', { class: 'stack' }, coming, h('section', { class: 'leaf', 'aria-label': 'What is to come' },
        drawer(app, { kind: 'delivery expected', title: 'A delivery is expected', save: 'Save what is to come', folded: ['supplier', 'note'], tapped: ['material'], onsaved: () => go({}) })), harvest)),
    refresh,
  };
}
