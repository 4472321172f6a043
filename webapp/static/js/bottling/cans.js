/**
 * Cans and carbonation: the sums before the first lid, and the checks of gas and
 * strength that are written down.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { caution } from '../view/caution.js';
import { corner, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';
import { chooser } from '../office/chooser.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function cansPage(app, at, go) {
  const choose = corner();
  const check = corner();
  const sums = corner();
  const rest = h('div', { class: 'stack' });
  const refresh = async () => {
    const view = await app.ask('view', { what: 'cans', run: at.run ?? '' });
    await choose.furnish(JSON.stringify([view.runs, view.run]), () => (view.runs.length > 0 ? chooser('Bottling', view.runs, view.run, (run) => go({ run })) : null));
    await check.furnish(`${view.run} ${view.open}`, async () => [view.open ? (await checkForm(app, view)).node : null,
      h('section', { class: 'leaf', 'aria-label': 'A tank before the lids' }, drawer(app, {
        kind: 'carbonation checked', title: 'Check a tank before the first lid', save: 'Save the check of the tank', draft: 'check tank', fixed: { bottling: '' }, first: ['tank', 'temp', 'pressure', 'strength'], folded: ['sugar', 'hottest', 'rating', 'note'],
      }))]);
    await sums.furnish(JSON.stringify([view.run, view.drink]), () => worked(app, view));
    show(rest, blocks(app, view.blocks), caution(view.cautions, 'Caution with gas and cans'));
  };
  await refresh();
  return { node: h('div', { class: 'two even' }, h('div', { class: 'stack' }, choose.node, check.node, sums.node), rest), refresh };
}

function checkForm(app, { run, drink }) {
  return entryForm(app, {
    kind: 'carbonation checked', title: 'Gas and strength in the can', save: 'Save the check', draft: `carbonation ${run}`, fixed: { bottling: run, tank: '' },
    first: ['temp', 'pressure', 'strength'], folded: ['note'], values: { sugar: drink.sugar, rating: drink.rating }, sticky: ['sugar', 'hottest', 'rating'],
    wanting: 'Shake the can or the tank, let it stand, then read its pressure and its temperature.',
  });
}

/** What is worked out and kept nowhere. */
function worked(app, { drink }) {
  const sum = (name, title, keys) => drawer(app, {
    kind: `calc ${name}`, title, values: Object.fromEntries(keys.filter((key) => drink[key]).map((key) => [key, drink[key]])), draft: `sum ${name}`,
  });
  return h('section', { class: 'leaf', 'aria-label': 'Worked out' }, h('h2', {}, 'Before the first lid'),
    sum('mixed-drink', 'The recipe by weight, with its sugar', ['abv', 'sugar']),
    sum('co2', 'Gas in the drink, or the pressure to set', ['abv', 'sugar']),
    sum('can-pressure', 'The can at its hottest, against its rating', ['volumes', 'abv', 'sugar', 'rating']));
}
