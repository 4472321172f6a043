/**
 * Trace: from any lot or vessel both ways, as a picture and a list, and the
 * recall sheet.
 *
 * @module
 */
import { papers } from '../view/blocks.js';
import { corner, h, s, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { csvButton, printButton } from '../view/paper.js';
import { chooser } from './chooser.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function tracePage(app, at, go) {
  const node = h('div', { class: 'stack' });
  const mock = corner();
  const refresh = async () => {
    const view = await app.ask('view', { what: 'trace', lot: at.lot ?? '', year: at.begun ?? '' });
    await mock.furnish(view.recall.length > 0 ? view.lot : '', () => (view.recall.length > 0 ? h('section', { class: 'leaf unprinted', 'aria-label': 'Mock recall' },
      drawer(app, {
        kind: 'recall tried', title: 'Keep a mock recall of this lot', save: 'Save the mock recall', fixed: { lot: view.lot }, values: { found: view.found }, draft: `recall ${view.lot}`,
      })) : null));
    show(node, h('div', { class: 'row unprinted' }, view.years.length > 0 ? chooser('Begun in', view.years, view.year, (begun) => go({ begun, lot: '' })) : null, chooser('Lot, bottles or vessel', view.choices, view.lot, (lot) => go({ lot }), 'Choose what to trace'),
      view.recall.length > 0 ? [printButton(), csvButton(`recall-${view.lot}`, () => view.csv, 'Keep the recall sheet as CSV')] : null),
    view.title ? h('article', { class: 'paper two even' },
      h('div', { class: 'stack' }, h('section', { class: 'leaf', 'aria-label': 'The picture' }, h('h2', {}, view.title), h('p', { class: 'help' }, view.says), drawing(view.picture, (lot) => go({ lot })), ways(view.picture, (lot) => go({ lot }))),
        papers(app, view.recall), mock.node),
      h('div', { class: 'stack' }, papers(app, view.blocks)))
      : h('p', { class: 'wanting' }, 'Choose a lot of bottles, a vessel, a spirit, a mash, a fruit or a good: where it came from and what became of it stands here.'));
  };
  await refresh();
  return { node, refresh };
}

/** The lots in rows, from the fruit down to the bottle. A tap on a box traces that lot; the list beneath does the same for a keyboard. */
function drawing(picture, trace) {
  return s('svg', { viewBox: `0 0 ${picture.width} ${picture.height}`, role: 'img', 'aria-label': picture.summary, class: 'pedigree' },
    picture.lines.map((line) => s('line', { ...line, class: 'pedigree-line' })),
    picture.boxes.map(({ lot, x, y, wide, high, middle, words, here }) => s('g', { class: here ? 'here' : null, onclick: lot && !here ? () => trace(lot) : null },
      s('rect', { x, y, width: wide, height: high, rx: 3 }), words.map((one) => s('text', { x: middle, y: one.y, 'text-anchor': 'middle' }, one.text)))));
}

function ways(picture, trace) {
  const others = picture.boxes.filter(({ lot, here }) => lot && !here);
  if (others.length === 0) return null;
  return h('details', { class: 'unprinted' }, h('summary', {}, 'Trace one of these instead'), h('p', { class: 'row' },
    others.map(({ lot, words }) => h('button', { type: 'button', class: 'quiet', onclick: () => trace(lot) }, words.map(({ text }) => text).join(' ')))));
}
