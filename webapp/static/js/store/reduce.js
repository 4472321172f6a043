/**
 * Reduce: water to a strength, at once or in stages, and the way back where it
 * was too much.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { corner, h } from '../view/dom.js';
import { bigFigure } from '../view/working.js';
import { entryDrawer, planned } from './plan.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function reducePage(app, at, go) {
  const under = corner();
  const refresh = async () => {
    const view = await app.ask('view', { what: 'reductions' });
    await under.furnish(JSON.stringify(view), () => view.under.map(({ title, result, blocks: list, then }) => h('section', { class: 'leaf', 'aria-label': title }, h('h2', {}, title),
      bigFigure(result, ''), then.map((entry) => entryDrawer(app, entry, title, false)), blocks(app, list))));
  };
  await refresh();
  const form = await planned(app, {
    kind: 'plan reduce', title: 'Reduce', first: ['vessel', 'strength'], folded: ['volume', 'into', 'with'],
    wanting: 'A vessel and a strength: the water stands here, by volume and by weight.',
  }, 'reduce', at, go, 'Water into spirit, slowly, stirring, with the vent open: it warms. Let it cool before you gauge it.');
  return { node: [under.node, form], refresh };
}
