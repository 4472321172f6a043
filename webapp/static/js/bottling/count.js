/**
 * Counts, spoils, and the tank's bottles beside them.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { corner, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function countPage(app) {
  const chooser = corner();
  const counting = corner();
  const rest = corner();
  const left = h('div', {}, chooser.node, counting.node, h('section', { class: 'leaf', 'aria-label': 'The bottling' }, rest.node));
  const right = h('div', {});
  let wanted = await app.log.get('bottling');

  const choose = async (address) => {
    wanted = address;
    await app.log.put('bottling', address);
    await refresh();
  };
  const refresh = async () => {
    const view = await app.ask('view', { what: 'bottling', run: wanted ?? '' });
    const { runs, run } = view;
    await chooser.furnish(JSON.stringify([runs, run?.address]), () => (runs.length > 1 ? runChooser(runs, run.address, choose) : null));
    await counting.furnish(run?.address ?? '', async () => (run ? (await countForm(run)).node : null));
    await rest.furnish(run?.address ?? '', () => [run ? runDrawers(run) : h('p', { class: 'help' }, 'No bottling is open. Open one on the page ‘Run’ to count bottles.')]);
    show(right, blocks(app, view.blocks));
  };

  const countForm = (run) => entryForm(app, {
    kind: 'bottles counted', title: run.title, save: 'Save the count', first: ['cases', 'loose'], folded: ['per_case', 'note'], fixed: { bottling: run.address },
    sticky: ['station'], draft: `count ${run.address}`, wanting: 'Count full cases and loose bottles since the last count at this station.',
  });
  const runDrawers = (run) => [
    drawer(app, { kind: 'bottles spoiled', title: 'Spoiled bottles', save: 'Save the spoils', fixed: { bottling: run.address }, draft: `spoils ${run.address}` }),
    drawer(app, { kind: 'bottling closed', title: 'Close the bottling', save: 'Close the bottling', fixed: { bottling: run.address }, draft: `close ${run.address}` }),
  ];

  await refresh();
  return { node: h('div', { class: 'room' }, left, right), refresh };
}

function runChooser(runs, address, choose) {
  return h('div', { class: 'field' }, h('label', { for: 'choose-bottling' }, 'Bottling'),
    h('select', { id: 'choose-bottling', onchange: (event) => choose(event.target.value) },
      runs.map((run) => h('option', { value: run.address, selected: run.address === address }, run.title))));
}
