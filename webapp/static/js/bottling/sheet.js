/**
 * The paper of a run: its sheet, and the labels of its cases.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { makeField } from '../view/field.js';
import { printButton, signature } from '../view/paper.js';
import { square } from '../view/square.js';
import { chooser } from '../office/chooser.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function sheetPage(app, at, go) {
  const node = h('div', { class: 'stack' });
  const refresh = async () => {
    const view = await app.ask('view', { what: 'run sheet', run: at.run ?? '' });
    if (!view.run) return show(node, h('p', { class: 'help' }, 'No bottling was opened yet.'));
    return show(node, h('div', { class: 'row unprinted' }, chooser('Bottling', view.runs, view.run, (run) => go({ run })), printButton()),
      h('article', { class: 'paper stack' }, h('section', { class: 'leaf', 'aria-label': 'Run sheet' }, h('h2', {}, `Run sheet: ${view.title}`), h('p', {}, view.house), h('p', { class: 'help' }, view.says)),
        h('div', { class: 'sheet-blocks' }, blocks(app, view.blocks)), signature(['Counted by', 'Checked by', 'Date'])));
  };
  await refresh();
  return { node, refresh };
}

/** @type {import('../view/pages.js').PageMaker} */
export async function labelsPage(app, at, go) {
  const sheet = h('article', { class: 'paper labels' });
  const wrong = h('p', { class: 'fault', role: 'alert' });
  const serial = makeField({ key: 'serial', label: 'First number', type: 'count', help: 'The series goes on from the run before; type another where yours does.' });
  const cases = makeField({ key: 'cases', label: 'Cases', type: 'count', help: 'As many as were counted.' });
  const choose = h('div', {});
  const refresh = async () => {
    let view;
    try {
      view = await app.ask('view', { what: 'case labels', run: at.run ?? '', serial: serial.get(), cases: cases.get() });
    } catch (error) {
      wrong.textContent = error.message;
      return show(sheet);
    }
    wrong.textContent = '';
    if (!view.run) return show(sheet, h('p', { class: 'help' }, 'No bottling was opened yet.'));
    show(choose, chooser('Bottling', view.runs, view.run, (run) => go({ run })));
    const { rows } = await app.ask('qr', { text: `${location.origin}/${view.link}` });
    return show(sheet, h('p', { class: 'help unprinted' }, `${view.labels.length} labels from number ${view.serial}. ${view.says}`), h('ul', { class: 'case-labels' }, view.labels.map((one) => h('li', {},
      h('div', {}, h('b', { class: 'label-name' }, view.lines[0]), view.lines.slice(1).map((line) => h('span', {}, line)), one.says ? h('span', {}, one.says) : null),
      square(rows, 'the lot in the book'), h('b', { class: 'label-number' }, `No. ${one.serial}`)))));
  };
  await refresh();
  const form = h('form', { class: 'leaf unprinted', novalidate: true, 'aria-label': 'Labels for cases', oninput: refresh, onsubmit: (event) => event.preventDefault() },
    choose, h('div', { class: 'fields' }, serial.node, cases.node), wrong, printButton());
  return { node: h('div', { class: 'stack' }, form, sheet), refresh };
}
