/**
 * Bench trials: the glasses that wait for marks, the family of trials, the
 * ranking once all are in, a trial made as large as a tank, and the approvals.
 *
 * @module
 */
import '../element/quantity.js';
import { chooser } from '../office/chooser.js';
import { blocks } from '../view/blocks.js';
import { corner, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { csvButton, printButton } from '../view/paper.js';
import { ruled } from '../view/table.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function trialsPage(app) {
  const glasses = corner();
  const right = h('div', {});
  const scaled = corner();
  const answer = h('div', { class: 'paper', 'aria-live': 'polite' });
  let scale = { trial: '', target: '', tank: '', ...(await app.log.get('scale')) };

  const reckon = async (change) => {
    scale = { ...scale, ...change };
    await app.log.put('scale', scale);
    await reckoned();
  };
  const reckoned = async () => {
    const view = await app.ask('view', { what: 'scale', ...scale });
    show(answer, view.wrong ? h('p', { class: 'fault', role: 'alert' }, view.wrong) : null,
      view.table ? [h('h3', {}, view.title), ruled(view.table), h('ul', { class: 'says' }, view.says.map((sentence) => h('li', {}, sentence))),
        h('div', { class: 'row unprinted' }, printButton(), csvButton('to-buy', () => view.csv))] : null);
  };
  const refresh = async () => {
    const view = await app.ask('view', { what: 'trials' });
    await glasses.furnish(JSON.stringify(view.waiting), () => (view.waiting.length > 0
      ? [view.waiting.map((glass) => marks(app, glass)), h('p', { class: 'help' }, view.kept)]
      : h('p', { class: 'wanting' }, 'No glass waits for marks.')));
    await scaled.furnish(JSON.stringify([view.scaled, view.tanks]), () => (view.scaled.length > 0 ? scaling(view, scale, reckon) : h('p', { class: 'wanting' }, 'Once a trial is made, it can be made as large as a tank here.')));
    show(right, h('section', { class: 'leaf', 'aria-labelledby': 'family' }, h('h2', { id: 'family' }, 'Trials and what was changed from them'),
      view.family.length > 0 ? kin(app, view.family) : h('p', { class: 'wanting' }, 'No trial was made yet.')), blocks(app, view.blocks),
    h('section', { class: 'leaf unprinted', 'aria-label': 'Approvals' }, drawer(app, { kind: 'approval recorded', title: 'Write where an approval stands', save: 'Save the approval', first: ['product', 'of', 'number', 'status'] })));
    await reckoned();
  };
  await refresh();
  const left = h('div', {},
    h('section', { class: 'leaf', 'aria-labelledby': 'glasses' }, h('h2', { id: 'glasses' }, 'Glasses to taste'), glasses.node),
    h('section', { class: 'leaf', 'aria-label': 'On the bench' },
      drawer(app, { kind: 'trial made', title: 'Put a trial together', save: 'Save the trial', first: ['name', 'product', 'from', 'tasters', 'strength'], folded: ['recipe', 'note'], sticky: ['product', 'tasters'] }),
      drawer(app, { kind: 'trial opened', title: 'Open one before all are in', save: 'Open it' })),
    h('section', { class: 'leaf', 'aria-labelledby': 'large' }, h('h2', { id: 'large' }, 'Make it as large as a tank'), scaled.node, answer));
  return { node: h('div', { class: 'room' }, left, right), refresh };
}

/** One glass: who tastes it taps the marks, and sees nobody else's. */
function marks(app, { trial, name, says }) {
  return [drawer(app, {
    kind: 'trial scored', title: `Taste ${name}`, save: 'Save the marks', fixed: { trial }, draft: `marks ${trial}`, values: { taster: app.by },
    first: ['taster', 'whole', 'words'], tapped: ['whole', 'nose', 'palate', 'finish'], folded: ['nose', 'palate', 'finish'],
  }), h('p', { class: 'help' }, says)];
}

/** The family, each generation further in. */
function kin(app, list) {
  return h('ul', { class: 'kin' }, list.map(({ trial, name, says, children }) => h('li', {},
    h('button', { type: 'button', class: 'link', 'aria-label': `${name}, entry ${trial}`, onclick: () => app.openEntry(trial) }, name), h('span', { class: 'help' }, ` ${says}`),
    children.length > 0 ? kin(app, children) : null)));
}

function scaling({ scaled, tanks, units }, scale, reckon) {
  const amount = document.createElement('gb-quantity').describe({
    label: 'How much is wanted', name: 'target', units,
    help: 'By volume, at the strength of the trial, or by weight.',
  });
  amount.className = 'field';
  amount.value = scale.target;
  let timer;
  amount.addEventListener('input', () => {
    clearTimeout(timer);
    timer = setTimeout(() => reckon({ target: amount.value }), 300);
  });
  return h('div', { class: 'stack' }, chooser('Trial', scaled, scale.trial, (trial) => reckon({ trial }), 'choose'), amount, chooser('Into the tank', tanks, scale.tank, (tank) => reckon({ tank }), 'none yet'));
}
