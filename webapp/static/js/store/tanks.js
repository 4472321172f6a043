/**
 * The tanks: what is in each and how old, what is ready to taste, and for one
 * of them the gauge, the move, the sample, the rest, the tasting and its own
 * table of dips.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { corner, freshId, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';
import { bigFigure } from '../view/working.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function tanksPage(app, at, go) {
  const ready = h('div', {});
  const board = h('section', { class: 'leaf', 'aria-labelledby': 'tanks' });
  const figure = h('section', { class: 'leaf', 'aria-label': 'The tank' });
  const gauge = corner();
  const rest = corner();
  const right = h('div', { class: 'stack' });
  const choose = async (tank, open = '') => {
    await go({ tank, open });
    document.querySelector('.chosen')?.scrollIntoView({ block: 'start' });
  };
  figure.classList.add('chosen');

  const refresh = async () => {
    const view = await app.ask('view', { what: 'tanks', vessel: at.tank ?? '' });
    const { vessel } = view;
    const due = view.ready.filter((one) => one.due);
    const later = view.ready.filter((one) => !one.due);
    show(ready, view.ready.length > 0 ? h('section', { class: 'leaf', 'aria-labelledby': 'ready' }, h('h2', { id: 'ready' }, 'Ready to taste'),
      due.length > 0 ? waiting(due, choose) : h('p', { class: 'help' }, `Nothing yet. ${later[0].says}.`),
      later.length > 0 ? h('details', {}, h('summary', {}, `Still resting (${later.length})`), waiting(later, choose)) : null) : null);
    show(board, h('h2', { id: 'tanks' }, 'The tanks'),
      view.tanks.length > 0 ? h('ul', { class: 'board' }, view.tanks.map((one) => h('li', {},
        h('button', { type: 'button', 'aria-current': one.vessel === vessel?.vessel ? 'true' : null, onclick: () => choose(one.vessel) },
          h('b', {}, one.name), h('span', {}, one.holds), h('span', { class: 'help' }, one.of), one.wants ? h('span', { class: 'wants' }, one.wants) : null))))
        : h('p', { class: 'wanting' }, 'No tank holds spirit, as far as this phone knows.'),
      view.empty.length > 0 ? h('p', { class: 'row' }, h('span', { class: 'help' }, 'Empty:'), view.empty.map(({ value, label }) => h('button', {
        type: 'button', class: 'quiet', 'aria-current': value === vessel?.vessel ? 'true' : null, onclick: () => choose(value),
      }, label))) : null);
    figure.hidden = !vessel;
    show(figure, vessel ? [bigFigure(vessel.result, ''), h('p', { class: 'help' }, vessel.says)] : null);
    await gauge.furnish(JSON.stringify([vessel?.vessel, vessel?.dips]), async () => (vessel ? (await gaugeForm(app, vessel)).node : null));
    await rest.furnish(JSON.stringify([vessel?.vessel, view.rests]), () => h('section', { class: 'leaf', 'aria-label': 'What else happens to the tank' },
      vessel ? drawers(app, vessel, view.rests, at.open) : null, tableDrawer(app, vessel)));
    show(right, vessel ? blocks(app, vessel.blocks) : null);
  };
  await refresh();
  return { node: h('div', { class: 'room' }, h('div', {}, ready, board, figure, gauge.node, rest.node), right), refresh };
}

function waiting(list, choose) {
  return h('ul', { class: 'wants-list' }, list.map((one) => h('li', {}, h('div', {}, one.due ? h('b', {}, one.says) : one.says, h('p', { class: 'help' }, one.note)),
    h('button', { type: 'button', class: 'quiet', onclick: () => choose(one.vessel, 'taste') }, `Taste ${one.name}`))));
}

function gaugeForm(app, { vessel, name, dips }) {
  return entryForm(app, {
    kind: 'spirit gauged', title: `Gauge ${name}`, save: 'Save the gauge', first: [], fixed: { vessel }, draft: `gauge ${vessel}`, sticky: ['hydrometer', 'thermometer'],
    values: dips ? { ways: [2] } : undefined, folded: ['cause', 'note'], wanting: 'Volume, weight or dip, and the temperature: the contents stand here.',
  });
}

function drawers(app, { vessel, name }, rests, open) {
  const more = (kind, title, save, shape = {}) => drawer(app, { kind, title, save, draft: `${kind} ${vessel}`, fixed: { vessel }, ...shape });
  const taste = more('spirit tasted', `Taste ${name}`, 'Save the tasting', {
    fixed: { vessel, lot: '' }, first: ['whole', 'next', 'words'], tapped: ['whole', 'nose', 'palate', 'finish', 'next'], folded: ['nose', 'palate', 'finish', 'taster'],
  });
  if (open === 'taste') taste.open = true;
  return [
    taste,
    more('spirit moved', 'Move it', 'Save the move', { fixed: { from: vessel }, first: ['to'], folded: ['account', 'note'], wanting: 'Without an amount, all of it moves.' }),
    more('sample taken', 'Take a sample', 'Save the sample', { tapped: ['purpose'] }),
    made(app, { kind: 'rest begun', title: 'Let it rest', save: 'Save the rest', draft: `rest ${vessel}`, fixed: { vessel }, first: ['until', 'for'] }, (form) => h('div', { class: 'taps', role: 'group', 'aria-label': 'Ready to taste in' },
      rests.map(({ value, label }) => h('button', { type: 'button', class: 'tap', onclick: () => { form.byKey.get('until').set(value); form.touched(); } }, label)))),
    more('loss recorded', 'Record a loss', 'Save the loss'),
  ];
}

/** A drawer whose form has something above it that fills it. */
function made(app, shape, above) {
  if (!app.standing.may(shape.kind)) return null;
  const inside = h('div', {});
  return h('details', {
    class: 'drawer', ontoggle: async ({ target }) => {
      if (!target.open) return show(inside);
      if (inside.hasChildNodes()) return;
      const form = await entryForm(app, { ...shape, bare: true });
      show(inside, above(form), form.node);
    },
  }, h('summary', {}, shape.title), inside);
}

/** The tank's own table: typed row by row, or pasted from a sheet. */
function tableDrawer(app, vessel) {
  const shape = vessel ? { title: `Put in the table of ${vessel.name}`, fixed: { vessel: vessel.vessel }, draft: `table ${vessel.vessel}`, first: ['rows'] } : { title: 'Put in a tank’s own table', first: ['vessel'] };
  return made(app, { kind: 'tank calibrated', save: 'Save the table', ...shape }, (form) => {
    const area = h('textarea', { id: freshId('pasted'), rows: '6', spellcheck: 'false', autocapitalize: 'off' });
    const said = h('div', { role: 'status' });
    const take = async () => {
      const { rows, wrong, says } = await app.ask('view', { what: 'dip rows', pasted: area.value });
      show(said, h('p', { class: wrong.length > 0 ? 'fault' : 'help' }, says), wrong.length > 0 ? h('ul', { class: 'says' }, wrong.map((sentence) => h('li', {}, sentence))) : null);
      if (wrong.length > 0) return;
      form.byKey.get('rows').set(rows);
      form.touched();
    };
    return h('div', { class: 'stack' }, h('div', { class: 'field wide' }, h('label', { for: area.id }, 'Paste the table'), area,
      h('p', { class: 'field-words' }, 'A row a line: the dip, then the volume. A first line may name the units: cm, L. Or add the rows one by one below.')),
    h('button', { type: 'button', class: 'quiet', onclick: take }, 'Take the rows'), said);
  });
}
