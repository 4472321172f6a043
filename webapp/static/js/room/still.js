/**
 * The still room: the reading that is wanted now, the cuts, and the run as it
 * is seen: strength over what was collected, what is still to come, what the
 * instruments and the balance say. Two stills have two runs; one is shown at a
 * time, and a run that has ended can be looked at again.
 *
 * @module
 */
import '../element/reminder.js';
import '../element/quantity.js';
import { blocks } from '../view/blocks.js';
import { caution } from '../view/caution.js';
import { corner, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';
import { ruled } from '../view/table.js';
import { taps } from '../view/taps.js';

const figures = { first: ['indicated', 'temp'], wanting: 'Read the hydrometer and its thermometer: the true strength stands here.' };
const instruments = ['hydrometer', 'thermometer', 'indicated_correction', 'temp_correction'];
const ofColumn = ['column', 'coolant', 'plates'];

/** @type {import('../rooms.js').Open} */
export async function open(app) {
  const chooser = corner();
  const now = h('div', {});
  const reading = corner();
  const cuts = corner();
  const rest = corner();
  const bell = corner();
  const aim = corner();
  const seen = h('div', { class: 'corner' });
  const actions = h('section', { class: 'leaf', 'aria-label': 'The run' }, cuts.node, rest.node);
  const left = h('div', {}, chooser.node, now, reading.node, actions, bell.node);
  const right = h('div', {}, aim.node, seen);
  let form = null;
  let words = null;
  let reminder = null;
  let wanted = await app.log.get('run');
  let over = await app.log.get('chart over');
  let end = '';

  const endOf = (run) => `hearts end ${run ?? ''}`;
  const choose = async (address) => {
    wanted = address;
    end = '';
    await app.log.put('run', address);
    await refresh();
  };
  const look = async () => {
    end ||= (await app.log.get(endOf(wanted))) ?? '';
    return app.ask('view', { what: 'still', run: wanted ?? '', end });
  };
  const start = (moments) => careful(drawer(app, {
    kind: 'run started', title: 'Start a run', save: 'Start the run', first: ['still', 'charge'], wanting: '',
    folded: ['first', 'class', 'botanicals', 'plates', 'reflux', 'steam', 'note'], tapped: ['way'], onsaved: choose,
  }), moments['at the charge']);

  const refresh = async () => {
    const view = await look();
    const { runs, run, ended, moments } = view;
    const open = run && !run.ended ? run : null;
    await chooser.furnish(JSON.stringify([runs, ended, run?.address]), () => (runs.length > 1 || ended.length > 0 ? runChooser(runs, ended, run?.address, choose) : null));
    show(now, open ? h('p', { class: 'ready' }, open.stands || `Collecting: ${open.into}`) : null);
    await reading.furnish(open?.address ?? '', async () => {
      form = await (open ? drawForm(open, view.noses) : entryForm(app, { kind: 'reading', title: 'A reading', ...figures, folded: instruments }));
      return form.node;
    });
    if (form.repeat) form.repeat.hidden = !open?.last;
    words?.mark();
    await cuts.furnish(JSON.stringify([open?.address, open?.collecting, open?.stands]), () => (open
      ? [open.cuts.map((cut) => cutDrawer(open, cut, moments['at the first cut'])), stopDrawer(open)]
      : h('p', { class: 'help' }, 'No run is open. Start one to keep readings as its lines.')));
    await rest.furnish(JSON.stringify([run?.address, run?.ended]), () => [run ? runDrawers(run, moments) : null, start(moments)]);
    await bell.furnish(open?.address ?? '', async () => {
      reminder = open ? document.createElement('gb-reminder').furnish((await app.log.get('reminder')) ?? {}, (kept) => app.log.put('reminder', kept)) : null;
      return reminder ? h('section', { class: 'leaf', 'aria-label': 'Reminder' }, reminder) : null;
    });
    await aim.furnish(JSON.stringify([open?.address, open?.end]), () => (open ? aimField(open) : null));
    const wish = aim.node.querySelector('gb-quantity');
    if (wish) wish.fault = open?.end_wrong ?? '';
    const list = blocks(app, view.blocks);
    for (const chart of list.filter(({ tagName }) => tagName === 'GB-CHART')) {
      chart.by = over;
      chart.addEventListener('by', ({ detail }) => { over = detail; app.log.put('chart over', over); });
    }
    show(seen, run?.ended ? h('h2', {}, `${run.title}, ended`) : null, list, older(app, view.older), caution(view.cautions));
  };

  const drawForm = async (run, noses) => {
    const made = await entryForm(app, {
      kind: 'draw read', title: run.title, save: 'Save the reading', ...figures, fixed: { run: run.address }, draft: `draw read ${run.address}`,
      folded: [...instruments, ...(run.column ? [] : ofColumn), 'note'], sticky: ['hydrometer', 'thermometer', 'plates'],
      again: () => look().then((view) => view.run?.last), onsaved: () => reminder?.again(),
    });
    words = taps(made.byKey.get('nose'), noses, 'Words for nose and taste');
    made.node.addEventListener('input', () => words.mark());
    words.mark();
    return made;
  };

  const cutDrawer = (run, { fraction, words: title }, sentences) => careful(drawer(app, {
    kind: 'receiver changed', title, save: `Save: ${title.toLowerCase()}`, fixed: { run: run.address, fraction }, draft: `cut ${run.address} ${fraction}`, folded: ['note'],
  }), run.collecting === 'heads' ? sentences : []);

  const stopDrawer = (run) => (run.stands
    ? drawer(app, { kind: 'run resumed', title: 'The run goes on', save: 'Save that it goes on', fixed: { run: run.address }, draft: `resumed ${run.address}`, folded: ['note'] })
    : drawer(app, { kind: 'run interrupted', title: 'Interrupt the run', save: 'Save the interruption', fixed: { run: run.address }, draft: `interrupted ${run.address}`, tapped: ['why'], folded: ['note'] }));

  const runDrawers = (run, moments) => [
    drawer(app, {
      kind: 'receiver gauged', title: 'Gauge a receiver', save: 'Save the gauge', fixed: { run: run.address }, draft: `receiver gauged ${run.address}`,
      wanting: 'Volume or weight, and the strength: what was collected stands here.', folded: ['account', 'name', 'note'],
    }),
    run.ended ? null : careful(drawer(app, { kind: 'run ended', title: 'End the run', save: 'End the run', fixed: { run: run.address }, draft: `run ended ${run.address}`, folded: ['note'] }), moments['at the end']),
  ];

  /** Where hearts are to end: a wish for the projection, kept on this phone. */
  const aimField = (run) => {
    const field = document.createElement('gb-quantity').describe({
      label: 'Hearts are to end at', name: 'hearts_end', units: run.end_units, unit: app.unitOf('hearts_end'), help: run.end_says || 'Then this says how much is still to come, and when.',
    });
    field.className = 'field';
    field.value = end || run.end;
    let timer;
    field.addEventListener('input', () => {
      clearTimeout(timer);
      timer = setTimeout(async () => {
        end = field.value;
        await app.log.put(endOf(run.address), end);
        await refresh();
      }, 500);
    });
    return h('section', { class: 'leaf', 'aria-label': 'Where hearts are to end' }, field);
  };

  const first = await look();
  if (first.run?.ended && first.runs.length > 0) wanted = first.runs.at(-1).address; // a run goes on: that one is wanted
  await refresh();
  return { node: h('div', { class: 'room' }, left, right), refresh };
}

/** A drawer with the cautions of its moment under its title. */
function careful(node, sentences) {
  if (sentences?.length) node.insertBefore(h('ul', { class: 'careful' }, sentences.map((sentence) => h('li', {}, sentence))), node.lastChild);
  return node;
}

/** The lines that the run's table leaves out, made when they are asked for. */
function older(app, table) {
  if (!table) return null;
  const inside = h('div', {});
  const node = h('details', { class: 'leaf', ontoggle: () => show(inside, node.open ? ruled(table, (address) => app.openEntry(address)) : null) },
    h('summary', {}, `${table.title} (${table.rows.length})`), inside);
  return node;
}

function runChooser(runs, ended, address, choose) {
  const options = (list) => list.map((run) => h('option', { value: run.address, selected: run.address === address }, run.title));
  const known = [...runs, ...ended].some((run) => run.address === address);
  return h('div', { class: 'field' }, h('label', { for: 'choose-run' }, 'Run'),
    h('select', { id: 'choose-run', onchange: (event) => { if (event.target.value) choose(event.target.value); } },
      known ? null : h('option', { value: '', selected: true }, runs.length > 0 ? 'choose' : 'look at a run that has ended'),
      runs.length > 0 ? h('optgroup', { label: 'Running' }, options(runs)) : null,
      ended.length > 0 ? h('optgroup', { label: 'Ended' }, options(ended)) : null));
}
