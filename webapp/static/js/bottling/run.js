/**
 * The run: opened on a tank, with what it will give and what it will be short
 * of, the goods it draws, and a square for each station's phone.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { corner, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';
import { chooser } from '../office/chooser.js';
import { stationPosts } from './posts.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function runPage(app) {
  const head = corner();
  const opening = corner();
  const drawing = corner();
  const right = h('div', {});
  const posts = stationPosts(app);
  let wanted = await app.log.get('bottling');

  const choose = async (address) => {
    wanted = address;
    await app.log.put('bottling', address);
    await refresh();
  };
  const refresh = async () => {
    const view = await app.ask('view', { what: 'run', run: wanted ?? '' });
    const { runs, run, draws } = view;
    await head.furnish(JSON.stringify([runs, run?.address]), () => (run ? h('section', { class: 'leaf', 'aria-label': 'The run' }, h('h2', {}, run.title),
      runs.length > 1 ? chooser('Bottling', runs.map(({ address, title }) => ({ value: address, label: title })), run.address, choose) : null, posts.node) : null));
    posts.show(view);
    await drawing.furnish(JSON.stringify(draws), () => (draws.length === 0 ? null : h('section', { class: 'leaf', 'aria-label': 'Draw goods' }, h('h2', {}, 'Draw dry goods for the line'),
      draws.map(({ title, values }) => drawer(app, { kind: 'goods issued', title, save: 'Save the draw', first: ['pieces'], folded: ['weight', 'volume', 'for', 'bottling', 'note'], values, draft: `draw ${values.bottling} ${values.lot}` })))));
    await opening.furnish(run?.address ?? '', () => open(view));
    show(right, blocks(app, view.blocks));
  };
  const open = async (view) => {
    const shape = {
      kind: 'bottling opened', title: 'Open a bottling', save: 'Open the bottling', first: ['product', 'tank'], values: view.begin,
      folded: ['label_strength', 'bottle', 'per_case', 'note'], wanting: 'The product, and the tank gauged now: the bottles to expect stand here.', onsaved: choose,
    };
    const checks = h('details', { class: 'drawer' }, h('summary', {}, 'Before the first bottle'), h('ul', {}, view.checks.map((check) => h('li', {}, check))));
    return h('section', { class: 'leaf', 'aria-label': 'A run' }, view.run ? drawer(app, { ...shape, title: 'Open another bottling' }) : (await entryForm(app, { ...shape })).node, checks);
  };

  await refresh();
  return { node: h('div', { class: 'room' }, h('div', {}, head.node, drawing.node, opening.node), right), refresh };
}
