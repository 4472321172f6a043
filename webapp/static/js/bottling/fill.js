/**
 * Fill checks: what the filler is told, the weight to fill, the bottles weighed
 * now, and the control chart with what law and handbook make of the run.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { corner, h, show } from '../view/dom.js';
import { entryForm } from '../view/form.js';
import { bigFigure } from '../view/working.js';
import { chooser } from '../office/chooser.js';

const strengths = [{ label: 'Strength by', ways: [{ label: 'the tank', keys: [] }, { label: 'hydrometer', keys: ['indicated', 'temp'] }, { label: 'known strength', keys: ['strength'] }] }];

/** @type {import('../view/pages.js').PageMaker} */
export async function fillPage(app) {
  const told = h('section', { class: 'leaf', 'aria-label': 'The filler', 'aria-live': 'polite' });
  const checking = corner();
  const right = h('div', {});
  let wanted = await app.log.get('bottling');

  const choose = async (address) => {
    wanted = address;
    await app.log.put('bottling', address);
    await refresh();
  };
  const refresh = async () => {
    const view = await app.ask('view', { what: 'fill', run: wanted ?? '' });
    const { run, runs } = view;
    if (!run) return show(told, h('p', { class: 'wanting' }, 'No bottling is open. Open one on the page ‘Run’, then weigh its bottles here.'));
    show(told, h('p', { class: 'help' }, run.title),
      runs.length > 1 ? chooser('Bottling', runs.map(({ address, title }) => ({ value: address, label: title })), run.address, choose) : null,
      h('p', { class: 'ready' }, view.told), view.why.length > 0 ? h('ul', { class: 'says' }, view.why.map((sentence) => h('li', {}, sentence))) : null,
      view.now ? h('div', {}, bigFigure(view.now, '')) : null);
    await checking.furnish(`${run.address} ${view.checks}`, async () => (await entryForm(app, {
      kind: 'fill checked', title: 'Check bottles off the line', save: 'Save the check', first: ['bottles'], ways: strengths, fixed: { bottling: run.address }, values: { bottles: [{}, {}, {}] },
      folded: ['density', 'line', 'hydrometer', 'thermometer', 'indicated_correction', 'temp_correction', 'note'], tapped: ['action'], draft: `fill ${run.address}`,
      wanting: 'Weigh each bottle empty and full, the closure with both or with neither: the contents stand here.',
    })).node);
    show(right, blocks(app, view.blocks));
    return undefined;
  };
  await refresh();
  return { node: h('div', { class: 'room fills' }, h('div', {}, told, checking.node), right), refresh };
}
