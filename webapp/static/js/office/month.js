/**
 * A month: its figures by the regulator's lines, what is not settled, the
 * record lists, and the entry that closes it.
 *
 * @module
 */
import { corner, h, show } from '../view/dom.js';
import { entryForm } from '../view/form.js';
import { csvButton, fileButton, printButton, signature } from '../view/paper.js';
import { kept } from '../view/table.js';
import { chooser } from './chooser.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function monthPage(app, at, go) {
  const node = h('div', { class: 'stack' });
  const paper = h('article', { class: 'paper stack' });
  const close = corner();
  let shown = '';
  const refresh = async () => {
    const view = await app.ask('view', { what: 'month', month: at.month ?? '' });
    at = { ...at, month: view.month }; // it stays in sight when it is closed
    const key = JSON.stringify(view);
    if (key === shown) return; // what is opened in it stays open
    shown = key;
    const file = (which) => async () => (await app.ask('view', { what: 'month as', month: view.month }))[which];
    show(paper, head(view), h('div', { class: 'two even' }, problems(app, view), sums(view)), view.forms.map((form) => formLeaf(app, view, form)),
      h('section', { class: 'leaf', 'aria-label': 'Record lists' }, h('h2', {}, 'Record lists'), view.records.map((list) => record(app, list))), signature());
    await close.furnish(view.closed ? 'closed' : view.digest + view.month, () => (view.closed ? null : closing(app, view)));
    show(node, h('div', { class: 'row unprinted' }, chooser('Month', view.months, view.month, (month) => go({ month })),
      printButton(), csvButton(`month-${view.month}`, file('csv')), fileButton('Keep as JSON', `month-${view.month}.json`, 'application/json', file('json'))),
    paper, close.node);
  };
  await refresh();
  return { node, refresh };
}

function head({ title, month, unit, standing, digest, worksheet, minds, closed }) {
  return h('section', { class: 'leaf', 'aria-label': 'The month' },
    h('h2', {}, `${month}${title ? `, ${title}` : ''}`),
    h('p', { class: 'ready', id: 'standing' }, closed ? 'Closed' : 'Open'),
    h('p', {}, standing, ` Figures in ${unit}.`),
    minds.length > 0 ? h('ul', { class: 'says unprinted' }, minds.map((one) => h('li', {}, one))) : null,
    h('p', { class: 'worksheet' }, worksheet),
    h('p', { class: 'help digest' }, `Digest of the figures: ${digest}`));
}

function sums({ summary }) {
  return h('section', { class: 'leaf', 'aria-label': 'How it adds up' }, h('h2', {}, 'Opening + in − out = closing'),
    h('dl', { class: 'sums' }, summary.lines.map(({ label, value }) => h('div', {}, h('dt', {}, label), h('dd', {}, value)))), h('p', {}, summary.title));
}

function problems(app, { problems: list }) {
  return h('section', { class: 'leaf', 'aria-label': 'What is not settled' }, h('h2', {}, list.length === 0 ? 'Every column foots' : `Before signing: ${list.length}`),
    list.length === 0 ? h('p', { class: 'help' }, 'Nothing waits for an answer.') : h('details', { open: list.length < 4 }, h('summary', {}, 'What is not settled, and why'),
      h('ul', { class: 'questions' }, list.map(({ where, says, cause, entries }) => h('li', {}, h('p', {}, h('b', {}, where), `: ${says}`),
        cause ? h('p', { class: 'help' }, `Probable cause: ${cause}`) : null,
        h('p', { class: 'row' }, entries.map((address) => h('button', { type: 'button', class: 'link', onclick: () => app.openEntry(address) }, address))))))));
}

/** One part of a form. Lines without any figure are put away on the screen, and stand on paper. */
function formLeaf(app, view, { title, columns, lines, notes }) {
  const opened = h('div', { class: 'opened unprinted' });
  const look = async (button, figure) => {
    const found = await app.ask('view', { what: 'figure', month: view.month, figure });
    const back = () => { show(opened); button.focus(); };
    const name = h('h3', { tabindex: '-1' }, found.title);
    show(opened, h('div', { class: 'figure-leaf' }, name,
      h('p', { class: 'big' }, h('strong', { class: 'big-figure' }, found.printed), ' ', h('span', { class: 'big-unit' }, found.unit)),
      h('p', { class: 'help' }, `Exactly ${found.exact}. `, found.says),
      [found.entries, found.lines].filter(Boolean).map((table) => kept(app, table)),
      h('button', { type: 'button', class: 'quiet', onclick: back }, 'Close this figure')));
    name.focus();
    opened.scrollIntoView({ block: 'nearest' });
  };
  const cell = ({ text, figure }, line, at) => h('td', { class: 'figure' }, figure
    ? h('button', { type: 'button', class: 'link', 'aria-label': `${text}, ${line.meaning}, ${columns[at]}: what it is made of`, onclick: (event) => look(event.currentTarget, figure) }, text)
    : h('span', { class: 'nil' }, text));
  const silent = lines.filter(({ nothing }) => nothing).length;
  const leaf = h('section', { class: 'leaf form', 'aria-label': title },
    h('div', { class: 'scroll', tabindex: 0, role: 'region', 'aria-label': title }, h('table', { class: 'lines' }, h('caption', {}, title),
      h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'Line'), h('th', { scope: 'col' }, 'What'), columns.map((name) => h('th', { scope: 'col', class: 'figure' }, name)))),
      h('tbody', {}, lines.map((line) => h('tr', { class: [line.nothing ? 'nothing' : '', line.sum ? 'sum' : ''].join(' ') },
        h('td', {}, line.number), h('th', { scope: 'row' }, line.meaning), line.cells.map((one, index) => cell(one, line, index))))))),
    silent > 0 ? h('button', { type: 'button', class: 'quiet unprinted', 'aria-pressed': 'false', onclick: (event) => event.currentTarget.setAttribute('aria-pressed', String(leaf.toggleAttribute('data-all'))) },
      `Also the ${silent} lines without a figure`) : null,
    notes.map((note) => h('p', { class: 'help' }, note)), opened);
  return leaf;
}

function record(app, list) {
  if (list.rows.length === 0) return h('p', { class: 'help' }, list.empty);
  return h('details', {}, h('summary', {}, `${list.title}: ${list.rows.length}`), kept(app, list));
}

/** The entry that closes the month: only a note is asked for, the figures are the book's. */
async function closing(app, { month, digest, minds }) {
  const form = await entryForm(app, {
    kind: 'month closed', title: `Close ${month} and sign for it`, save: `Close ${month}`, fixed: { month, digest }, draft: `close month ${month}`, bare: true,
  });
  return h('section', { class: 'leaf unprinted', 'aria-label': 'Close the month' }, h('h2', {}, 'Close and sign'),
    h('p', {}, `It is signed for as ${app.by || 'nobody: say how you sign first'}. The book keeps these figures as they stand; what is written of the month later counts as an adjustment in the first open one. Nothing is sent to anybody.`),
    minds.length > 0 ? h('p', { class: 'help' }, minds.join(' ')) : null, form.node);
}
