/**
 * The still room: the reading that is wanted now, the run's lines, the cuts.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { caution } from '../view/caution.js';
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';

const cautions = [
  'Ethanol vapour burns and is heavier than air: no flame, spark or hot work here, and the ventilation stays on.',
  'Heads are not for drinking: they carry methanol and acetone, and what comes of stone fruit can carry hydrocyanic acid. Mark their receiver.',
  'Stillage and the still are hot enough to scald: let them cool before they are opened or drained.',
  'A still that cools while it is shut draws a vacuum and can collapse: open its vent first.',
  'Without coolant the condenser lets vapour into the room: if it stops, stop the heat.',
];

const figures = { first: ['indicated', 'temp'], wanting: 'Read the hydrometer and its thermometer: the true strength stands here.' };
const instruments = ['hydrometer', 'thermometer', 'indicated_correction', 'temp_correction'];

/** @type {import('../main.js').Room} */
export const stillRoom = {
  key: 'still',
  name: 'Still room',
  purpose: 'Readings, cuts, receivers',
  open: async (app) => {
    const left = h('div', {});
    const right = h('div', {});
    let at = null; // what the left side was furnished for
    let wanted = await app.log.get('run');

    const refresh = async () => {
      const view = await app.engine.call('view', { what: 'still', run: wanted ?? '' });
      const run = view.run;
      const furnished = JSON.stringify([view.runs, run?.address, run?.collecting, Boolean(run?.last)]);
      if (furnished !== at) {
        at = furnished;
        await furnish(view);
      }
      show(right, blocks(app, view.blocks), caution(cautions));
    };

    const choose = async (address) => {
      wanted = address;
      await app.log.put('run', address);
      await refresh();
    };

    const furnish = async ({ runs, run }) => {
      const start = drawer(app, {
        kind: 'run started', title: 'Start a run', save: 'Start the run', first: ['still', 'charge'], folded: ['way', 'class', 'note', 'first'],
        onsaved: (address) => choose(address),
      });
      if (!run) {
        const reading = await entryForm(app, { kind: 'reading', title: 'A reading', ...figures, folded: instruments });
        show(left, reading.node, h('p', { class: 'help' }, 'No run is open. Start one to keep readings as its lines.'), start);
        return;
      }
      const form = await entryForm(app, {
        kind: 'draw read', title: run.title, save: 'Save the reading', ...figures, fixed: { run: run.address }, draft: `draw read ${run.address}`,
        folded: [...instruments, 'column', 'coolant', 'plates', 'nose', 'note'], sticky: ['hydrometer', 'thermometer', 'plates'],
        again: run.last && (() => app.engine.call('view', { what: 'still', run: run.address }).then((view) => view.run.last)),
      });
      show(left,
        runs.length > 1 ? chooser(runs, run.address, choose) : null,
        form.node,
        h('section', { class: 'leaf', 'aria-label': 'The run' },
          run.cuts.map(({ fraction, words }) => drawer(app, {
            kind: 'receiver changed', title: words, save: `Save: ${words.toLowerCase()}`, fixed: { run: run.address, fraction }, draft: `cut ${run.address} ${fraction}`,
            folded: ['note'], onsaved: () => app.refresh(),
          })),
          drawer(app, {
            kind: 'receiver gauged', title: 'Gauge a receiver', save: 'Save the gauge', fixed: { run: run.address }, draft: `receiver gauged ${run.address}`,
            wanting: 'Volume or weight, and the strength: what was collected stands here.', gauge: true, folded: ['account', 'name', 'note'], values: { fraction: run.collecting },
          }),
          drawer(app, { kind: 'run ended', title: 'End the run', save: 'End the run', fixed: { run: run.address }, draft: `run ended ${run.address}`, onsaved: () => choose('') }),
          start));
    };

    await refresh();
    return { node: h('div', { class: 'room' }, left, right), refresh };
  },
};

function chooser(runs, address, choose) {
  return h('div', { class: 'field' }, h('label', { for: 'choose-run' }, 'Run'),
    h('select', { id: 'choose-run', onchange: (event) => choose(event.target.value) },
      runs.map((run) => h('option', { value: run.address, selected: run.address === address }, run.title))));
}
