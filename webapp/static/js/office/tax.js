/**
 * Tax: what removals owe, by return, with the rates and where they stand.
 *
 * @module
 */
import { papers } from '../view/blocks.js';
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { printButton } from '../view/paper.js';
import { bigFigure, working } from '../view/working.js';
import { chooser } from './chooser.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function taxPage(app, at, go) {
  const node = h('div', { class: 'stack' });
  const refresh = async () => {
    const view = await app.ask('view', { what: 'tax', year: at.year ?? '', before: at.before ?? '' }).catch((error) => {
      if (!at.before) throw error;
      return go({ before: '' });
    });
    if (!view) return;
    const group = h('input', { id: 'group', inputmode: 'decimal', value: at.before ?? '', onchange: () => go({ before: group.value.trim() }) });
    const [products, ...rest] = [view.blocks[1], ...view.blocks.filter((_, index) => index !== 1)];
    show(node,
      h('div', { class: 'row unprinted' }, chooser('Year', view.years, view.year, (year) => go({ year })),
        view.result ? h('div', { class: 'field choose' }, h('label', { for: 'group' }, 'The group’s taxed PG before'), group) : null, printButton()),
      h('article', { class: 'paper two even' },
        h('div', { class: 'stack' },
          h('section', { class: 'leaf', 'aria-label': 'The tax' }, bigFigure(view.result, ''), working(view.result), h('ul', { class: 'says' }, view.says.map((one) => h('li', {}, one))),
            h('p', { class: 'worksheet' }, view.worksheet)),
          returns(app, view)),
        h('div', { class: 'stack' }, products ? papers(app, [products]) : null, papers(app, rest.filter(Boolean)), lines(app))));
  };
  await refresh();
  return { node, refresh };
}

function returns(app, { periods }) {
  if (periods.length === 0) return null;
  return h('section', { class: 'leaf', 'aria-label': 'Returns' }, h('h2', {}, 'Returns, with the days they are due'), h('ul', { class: 'things' }, periods.map(({ title, due, says, tax, filed, proposal }) => h('li', {},
    h('div', { class: 'thing-head' }, h('b', {}, title), h('b', {}, tax)),
    h('p', {}, `Due ${due}.`, filed ? [' Filed: ', h('button', { type: 'button', class: 'link', onclick: () => app.openEntry(filed) }, filed)] : proposal ? ' Not filed, as far as this phone knows.' : ' Not over yet.'),
    h('p', { class: 'help' }, says),
    proposal ? drawer(app, { kind: proposal.kind, title: 'It was filed', save: 'Save the filing', values: proposal.values, draft: `return ${title}` }) : null))));
}

/** What the house says of the law and of its own returns, as entries. */
function lines(app) {
  const made = [
    ['grouping defined', 'Define a line of a state’s return', 'Save the line'],
    ['group share agreed', 'The controlled group’s share for a year', 'Save the share'],
    ['tax rate changed', 'A rate changed', 'Save the rates'],
    ['registration ended', 'A line is no longer used', 'Save it'],
  ].map(([kind, title, save]) => drawer(app, { kind, title, save, draft: `tax ${kind}` }));
  return made.every(({ hidden }) => hidden) ? null : h('section', { class: 'leaf unprinted', 'aria-label': 'Rates and lines' }, h('h2', {}, 'Rates and lines of your own'),
    h('p', { class: 'help' }, 'Rates are dated entries with the law they stand in. The last that covers a day is used on it, and nothing before it changes.'), made);
}
