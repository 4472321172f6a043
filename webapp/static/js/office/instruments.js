/**
 * The register of instruments: corrections, last check, next check, and which
 * of them are in doubt.
 *
 * @module
 */
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { printButton } from '../view/paper.js';
import { ruled } from '../view/table.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function instrumentsPage(app, at) {
  const paper = h('article', { class: 'paper leaf' });
  const refresh = async () => {
    const { doubts, table } = await app.ask('view', { what: 'instruments' });
    show(paper, doubts.length > 0 ? [h('h2', {}, 'In doubt'), h('ul', { class: 'says' }, doubts.map((sentence) => h('li', {}, sentence))), h('p', {}, 'Each reading with one of them says so.')] : null,
      ruled(table, (address) => app.openEntry(address)),
      h('p', { class: 'help' }, 'A correction is added to every reading of the instrument from its check on; readings before keep the old one. A refractometer is set on water, a pH meter in its buffers.'));
  };
  await refresh();
  const check = drawer(app, { kind: 'instrument checked', title: 'An instrument was checked', save: 'Save the check', draft: 'instruments check', values: at.entry ? { instrument: at.entry } : undefined });
  if (at.entry) check.open = true;
  return {
    node: h('div', { class: 'stack' }, h('section', { class: 'leaf unprinted', 'aria-label': 'Checks' }, check,
      drawer(app, { kind: 'instrument registered', title: 'Register an instrument', save: 'Save the instrument', draft: 'instruments new' })), paper, h('div', { class: 'row unprinted' }, printButton())),
    refresh,
  };
}
