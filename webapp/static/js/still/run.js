/**
 * What stands below the reading and beside it: the cuts, the run's own entries,
 * the reminder; the wish for the end of hearts, and the run as it is seen, line
 * by line and drawn. A start draws the reading first and fetches this after it.
 *
 * @module
 */
import '../element/quantity.js';
import '../element/reminder.js';
import { blocks } from '../view/blocks.js';
import { caution } from '../view/caution.js';
import { corner, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { ruled } from '../view/table.js';

/**
 * @typedef {{choose: (address: string) => Promise<void>, wish: (run: string, figure: string) => Promise<void>, wished: () => string}} Asked
 *   a run is chosen; its hearts are wished to end at a figure; what was wished, '' for nothing
 *
 * @typedef {{left: HTMLElement, right: HTMLElement, furnish: (view: any) => Promise<void>, again: () => void}} Run
 *   its two places, a way to bring them up to date, and a reading that was saved
 */

/**
 * @param {import('../main.js').App} app
 * @param {Asked} asked
 * @returns {Promise<Run>}
 */
export async function runOf(app, { choose, wish, wished }) {
  const cuts = corner();
  const rest = corner();
  const bell = corner();
  const aim = corner();
  const seen = h('div', { class: 'corner' });
  let reminder = null;
  let over = await app.log.get('chart over');

  const furnish = async (view) => {
    const { run, moments } = view;
    const open = run && !run.ended ? run : null;
    await cuts.furnish(JSON.stringify([open?.address, open?.collecting, open?.stands]), () => (open
      ? [open.cuts.map((cut) => cutDrawer(app, open, cut, moments['at the first cut'])), stopDrawer(app, open)]
      : h('p', { class: 'help' }, 'No run is open. Start one to keep readings as its lines.')));
    await rest.furnish(JSON.stringify([run?.address, run?.ended]), () => [run ? runDrawers(app, run, moments) : null, startDrawer(app, moments, choose)]);
    await bell.furnish(open?.address ?? '', async () => {
      reminder = open ? document.createElement('gb-reminder').furnish((await app.log.get('reminder')) ?? {}, (kept) => app.log.put('reminder', kept)) : null;
      return reminder ? h('section', { class: 'leaf', 'aria-label': 'Reminder' }, reminder) : null;
    });
    await aim.furnish(JSON.stringify([open?.address, open?.end]), () => (open ? aimField(app, open, wished() || open.end, wish) : null));
    const field = aim.node.querySelector('gb-quantity');
    if (field) field.fault = open?.end_wrong ?? '';
    const list = blocks(app, view.blocks);
    for (const chart of list.filter(({ tagName }) => tagName === 'GB-CHART')) {
      chart.by = over;
      chart.addEventListener('by', ({ detail }) => { over = detail; app.log.put('chart over', over); });
    }
    show(seen, run?.ended ? h('h2', {}, `${run.title}, ended`) : null, list, older(app, view.older), caution(view.cautions));
  };

  return {
    left: h('div', { class: 'corner' }, h('section', { class: 'leaf', 'aria-label': 'The run' }, cuts.node, rest.node), bell.node),
    right: h('div', { class: 'corner' }, aim.node, seen),
    furnish,
    again: () => reminder?.again(),
  };
}

/** A drawer with the cautions of its moment under its title. */
function careful(node, sentences) {
  if (sentences?.length) node.insertBefore(h('ul', { class: 'careful' }, sentences.map((sentence) => h('li', {}, sentence))), node.lastChild);
  return node;
}

function startDrawer(app, moments, choose) {
  return careful(drawer(app, {
    kind: 'run started', title: 'Start a run', save: 'Start the run', first: ['still', 'charge'], wanting: '',
    folded: ['first', 'class', 'botanicals', 'plates', 'reflux', 'steam', 'note'], tapped: ['way'], onsaved: choose,
  }), moments['at the charge']);
}

function cutDrawer(app, run, { fraction, words: title }, sentences) {
  return careful(drawer(app, {
    kind: 'receiver changed', title, save: `Save: ${title.toLowerCase()}`, fixed: { run: run.address, fraction }, draft: `cut ${run.address} ${fraction}`, folded: ['note'],
  }), run.collecting === 'heads' ? sentences : []);
}

function stopDrawer(app, run) {
  return run.stands
    ? drawer(app, { kind: 'run resumed', title: 'The run goes on', save: 'Save that it goes on', fixed: { run: run.address }, draft: `resumed ${run.address}`, folded: ['note'] })
    : drawer(app, { kind: 'run interrupted', title: 'Interrupt the run', save: 'Save the interruption', fixed: { run: run.address }, draft: `interrupted ${run.address}`, tapped: ['why'], folded: ['note'] });
}

function runDrawers(app, run, moments) {
  return [
    drawer(app, {
      kind: 'receiver gauged', title: 'Gauge a receiver', save: 'Save the gauge', fixed: { run: run.address }, draft: `receiver gauged ${run.address}`,
      wanting: 'Volume or weight, and the strength: what was collected stands here.', folded: ['account', 'name', 'note'],
    }),
    run.ended ? null : careful(drawer(app, { kind: 'run ended', title: 'End the run', save: 'End the run', fixed: { run: run.address }, draft: `run ended ${run.address}`, folded: ['note'] }), moments['at the end']),
  ];
}

/** Where hearts are to end: a wish for the projection, kept on this phone. */
function aimField(app, run, wished, wish) {
  const field = document.createElement('gb-quantity').describe({
    label: 'Hearts are to end at', name: 'hearts_end', units: run.end_units, unit: app.unitOf('hearts_end'), help: run.end_says || 'Then this says how much is still to come, and when.',
  });
  field.className = 'field';
  field.value = wished;
  let timer;
  field.addEventListener('input', () => {
    clearTimeout(timer);
    timer = setTimeout(() => wish(run.address, field.value), 500);
  });
  return h('section', { class: 'leaf', 'aria-label': 'Where hearts are to end' }, field);
}

/** The lines that the run's table leaves out, made when they are asked for. */
function older(app, table) {
  if (!table) return null;
  const inside = h('div', {});
  const node = h('details', { class: 'leaf', ontoggle: () => show(inside, node.open ? ruled(table, (address) => app.openEntry(address)) : null) },
    h('summary', {}, `${table.title} (${table.rows.length})`), inside);
  return node;
}
