/**
 * The still room: the reading that is wanted now, the run's lines, the cuts.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { caution } from '../view/caution.js';
import { corner, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';

const figures = { first: ['indicated', 'temp'], wanting: 'Read the hydrometer and its thermometer: the true strength stands here.' };
const instruments = ['hydrometer', 'thermometer', 'indicated_correction', 'temp_correction'];

/** @type {import('../main.js').Room} */
export const stillRoom = {
  key: 'still',
  name: 'Still room',
  purpose: 'Readings, cuts, receivers',
  open: async (app) => {
    const chooser = corner();
    const reading = corner();
    const cuts = corner();
    const rest = corner();
    const actions = h('section', { class: 'leaf', 'aria-label': 'The run' }, cuts.node, rest.node);
    const left = h('div', {}, chooser.node, reading.node, actions);
    const right = h('div', {});
    let form = null;
    let wanted = await app.log.get('run');

    const choose = async (address) => {
      wanted = address;
      await app.log.put('run', address);
      await refresh();
    };
    const look = () => app.engine.call('view', { what: 'still', run: wanted ?? '' });
    const start = () => drawer(app, {
      kind: 'run started', title: 'Start a run', save: 'Start the run', first: ['still', 'charge'], folded: ['way', 'class', 'note', 'first'], onsaved: choose,
    });

    const refresh = async () => {
      const view = await look();
      const { runs, run } = view;
      await chooser.furnish(JSON.stringify([runs, run?.address]), () => (runs.length > 1 ? runChooser(runs, run.address, choose) : null));
      await reading.furnish(run?.address ?? '', async () => {
        form = await (run ? drawForm(run) : entryForm(app, { kind: 'reading', title: 'A reading', ...figures, folded: instruments }));
        return form.node;
      });
      if (form.repeat) form.repeat.hidden = !run?.last;
      await cuts.furnish(JSON.stringify([run?.address, run?.collecting]), () => (run
        ? run.cuts.map(({ fraction, words }) => drawer(app, {
          kind: 'receiver changed', title: words, save: `Save: ${words.toLowerCase()}`, fixed: { run: run.address, fraction }, draft: `cut ${run.address} ${fraction}`, folded: ['note'],
        }))
        : h('p', { class: 'help' }, 'No run is open. Start one to keep readings as its lines.')));
      await rest.furnish(run?.address ?? '', () => [run ? runDrawers(run) : null, start()]);
      show(right, blocks(app, view.blocks), caution(view.cautions));
    };

    const drawForm = (run) => entryForm(app, {
      kind: 'draw read', title: run.title, save: 'Save the reading', ...figures, fixed: { run: run.address }, draft: `draw read ${run.address}`,
      folded: [...instruments, 'column', 'coolant', 'plates', 'nose', 'note'], sticky: ['hydrometer', 'thermometer', 'plates'],
      again: () => look().then((view) => view.run?.last),
    });

    const runDrawers = (run) => [
      drawer(app, {
        kind: 'receiver gauged', title: 'Gauge a receiver', save: 'Save the gauge', fixed: { run: run.address }, draft: `receiver gauged ${run.address}`,
        wanting: 'Volume or weight, and the strength: what was collected stands here.', folded: ['account', 'name', 'note'],
      }),
      drawer(app, { kind: 'run ended', title: 'End the run', save: 'End the run', fixed: { run: run.address }, draft: `run ended ${run.address}` }),
    ];

    await refresh();
    return { node: h('div', { class: 'room' }, left, right), refresh };
  },
};

function runChooser(runs, address, choose) {
  return h('div', { class: 'field' }, h('label', { for: 'choose-run' }, 'Run'),
    h('select', { id: 'choose-run', onchange: (event) => choose(event.target.value) },
      runs.map((run) => h('option', { value: run.address, selected: run.address === address }, run.title))));
}
