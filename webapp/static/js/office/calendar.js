/**
 * Due dates, as a list and as a file for a calendar.
 *
 * @module
 */
import { h, show } from '../view/dom.js';
import { fileButton, printButton } from '../view/paper.js';
import { kept } from '../view/table.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function calendarPage(app) {
  const paper = h('article', { class: 'paper leaf' });
  let ics = '';
  const refresh = async () => {
    const view = await app.ask('view', { what: 'calendar' });
    ics = view.ics;
    show(paper, kept(app, view.table),
      h('p', { class: 'help' }, 'Returns and reports by the rules of 27 CFR as built in; a state’s own days are not in it. Check them against what applies to you.'));
  };
  await refresh();
  return {
    node: h('div', { class: 'stack' }, h('div', { class: 'row unprinted' }, fileButton('Keep as a calendar (.ics)', 'gaugebook-due.ics', 'text/calendar', () => ics), printButton()), paper),
    refresh,
  };
}
