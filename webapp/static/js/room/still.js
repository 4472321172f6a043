/**
 * The still room: the reading that is wanted now, and below and beside it the
 * run (still/run.js): its cuts, strength over what was collected, what is still
 * to come, what the instruments and the balance say. Two stills have two runs;
 * one is shown at a time, and a run that has ended can be looked at again.
 *
 * @module
 */
import { corner, h, show } from '../view/dom.js';
import { entryForm } from '../view/form.js';
import { taps } from '../view/taps.js';
import { absent, fetched } from '../rooms.js';

const figures = { first: ['indicated', 'temp'], wanting: 'Read the hydrometer and its thermometer: the true strength stands here.' };
const instruments = ['hydrometer', 'thermometer', 'indicated_correction', 'temp_correction'];
const ofColumn = ['column', 'coolant', 'plates'];

/** What the room fetches after its reading. */
export const more = () => import('../still/run.js');

/** @type {import('../rooms.js').Open} */
export async function open(app) {
  const chooser = corner();
  const now = h('div', {});
  const reading = corner();
  const below = h('div', { class: 'corner' });
  const right = h('div', {});
  let form = null;
  let words = null;
  /** @type {import('../still/run.js').Run|undefined} */
  let beside;
  let coming; // of it
  let wanted = await app.log.get('run');
  let end = ''; // where hearts are wished to end

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

  const furnish = async (view) => {
    const { runs, run, ended } = view;
    const open = run && !run.ended ? run : null;
    await chooser.furnish(JSON.stringify([runs, ended, run?.address]), () => (runs.length > 1 || ended.length > 0 ? runChooser(runs, ended, run?.address, choose) : null));
    show(now, open ? h('p', { class: 'ready' }, open.stands || `Collecting: ${open.into}`) : null);
    await reading.furnish(open?.address ?? '', async () => {
      form = await (open ? drawForm(open, view.noses) : entryForm(app, { kind: 'reading', title: 'A reading', ...figures, folded: instruments }));
      return form.node;
    });
    if (form.repeat) form.repeat.hidden = !open?.last;
    words?.mark();
  };

  /** What stands below the reading and beside it. */
  const furnishRest = async (view) => {
    coming ??= fetched(more).then((module) => module?.runOf(app, { choose, wish, wished: () => end }));
    beside = await coming;
    if (!beside) {
      coming = undefined;
      return show(below, absent('The run', refresh).node);
    }
    await beside.furnish(view);
    if (!below.contains(beside.left)) {
      show(below, beside.left);
      show(right, beside.right);
    }
  };

  const refresh = async () => {
    const view = await look();
    await furnish(view);
    await furnishRest(view);
  };

  const wish = async (run, figure) => {
    end = figure;
    await app.log.put(endOf(run), end);
    await refresh();
  };

  const drawForm = async (run, noses) => {
    const made = await entryForm(app, {
      kind: 'draw read', title: run.title, save: 'Save the reading', ...figures, fixed: { run: run.address }, draft: `draw read ${run.address}`,
      folded: [...instruments, ...(run.column ? [] : ofColumn), 'note'], sticky: ['hydrometer', 'thermometer', 'plates'],
      again: () => look().then((view) => view.run?.last), onsaved: () => beside?.again(),
    });
    words = taps(made.byKey.get('nose'), noses, 'Words for nose and taste');
    made.node.addEventListener('input', () => words.mark());
    words.mark();
    return made;
  };

  let view = await look();
  if (view.run?.ended && view.runs.length > 0) { // a run goes on: that one is wanted
    wanted = view.runs.at(-1).address;
    view = await look();
  }
  await furnish(view);
  return { node: h('div', { class: 'room' }, h('div', {}, chooser.node, now, reading.node, below), right), rest: () => furnishRest(view), refresh };
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
