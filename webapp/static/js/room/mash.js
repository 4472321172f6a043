/**
 * The mash room: mashes, what goes into them, and the sums that are done with a
 * bucket in the other hand.
 *
 * @module
 */
import { chooser } from '../office/chooser.js';
import { blocks } from '../view/blocks.js';
import { caution } from '../view/caution.js';
import { corner, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';

/** Calculators keep nothing; what is typed in them stays until it is typed over. */
const sums = [
  ['strike', 'How hot the strike water', ['grain', 'grain_temp', 'water', 'target'], ['tun', 'tun_temp'], 'Grain, water and the rest: the water’s temperature stands here.'],
  ['dilute-wash', 'How much water to a wash', ['brix', 'target'], ['with'], 'The molasses, by weight or the wash wanted, and both extracts.'],
  ['cooling', 'How long it still cools', ['start', 'now', 'elapsed', 'coolant', 'target'], [], 'Two readings, the time between them and the coolant: the minutes left stand here.'],
  ['nutrient', 'How much nutrient', ['volume', 'brix'], ['demand', 'yan', 'nitrogen', 'abv'], 'Volume and Brix at the start: the dose stands here.'],
  ['acid', 'How much acid, from a titration', ['mash', 'sample', 'target'], [], 'Titrate a sample on the bench: the dose for the mash stands here. None is worked out blindly.'],
  ['enzyme', 'How much enzyme', ['fruit', 'per_tonne', 'temp'], [], 'The fruit, the maker’s dose and the mash’s temperature: the dose stands here.'],
  ['gravity', 'Correct a hydrometer or refractometer', [], [], 'A reading and its temperature: the extract at 20 °C stands here.'],
];
const eitherWay = {
  'dilute-wash': [{ label: 'Start from', ways: [{ label: 'the molasses', keys: ['weight'] }, { label: 'the wash wanted', keys: ['wash'] }] }],
  gravity: [{ label: 'Read with', ways: [{ label: 'hydrometer', keys: ['hydrometer', 'calibration'] }, { label: 'refractometer', keys: ['refractometer'] }] }],
};
const sweetness = [{ label: 'Sugar by', ways: [{ label: 'in Brix', keys: ['sugar'] }, { label: 'as gravity', keys: ['gravity'] }] }];

/** @type {import('../rooms.js').Open} */
export async function open(app) {
  const right = h('div', {});
  const which = corner();
  const reckoned = corner();
  let wanted = await app.log.get('sums for');
  const choose = async (address) => {
    wanted = address;
    await app.log.put('sums for', address);
    await refresh();
  };
  const mash = await entryForm(app, {
    kind: 'mash made', title: 'Make a mash', save: 'Save the mash', first: ['type', 'fermenter', 'parts', 'volume'], tapped: ['type', 'iodine'], ways: sweetness,
    folded: ['product', 'recipe', 'water', 'backset', 'strike_temp', 'rests', 'iodine', 'cooled_in', 'instrument', 'name', 'note'], wanting: 'What goes in: the alcohol to expect stands here.',
  });
  const left = h('div', {}, mash.node,
    h('section', { class: 'leaf', 'aria-label': 'Into a mash' }, h('h2', {}, 'Into a mash'),
      drawer(app, {
        kind: 'addition made', title: 'Add something', save: 'Save the addition', first: ['vessel', 'what', 'lot'], tapped: ['what'],
        ways: [{ label: 'Amount by', ways: [{ label: 'weight', keys: ['weight'] }, { label: 'volume', keys: ['volume'] }] }], sticky: ['vessel'],
        wanting: 'The fermenter and what goes in: what practice says stands here.',
      }),
      drawer(app, { kind: 'mash measured', title: 'Measure the volume again', save: 'Save the volume' }),
      drawer(app, { kind: 'recipe registered', title: 'Keep a recipe', save: 'Save the recipe' })),
    h('section', { class: 'leaf', 'aria-label': 'Sums' }, h('h2', {}, 'Sums'), which.node, reckoned.node));
  const refresh = async () => {
    const { mashes, ...view } = await app.ask('view', { what: 'mash' });
    const chosen = mashes.find(({ value }) => value === wanted);
    await which.furnish(JSON.stringify([mashes.map(({ value, label }) => [value, label]), chosen?.value]), () => (mashes.length > 0 ? chooser('For the mash in', mashes, chosen?.value ?? '', choose, 'none: all is typed') : null));
    await reckoned.furnish(chosen?.value ?? '', () => sums.map(([name, title, first, folded, wanting]) => drawer(app, {
      kind: `calc ${name}`, title, first, folded, wanting, ways: eitherWay[name] ?? [], values: chosen?.sums[name], draft: chosen ? `calc ${name} ${chosen.value}` : undefined,
    })));
    show(right, blocks(app, view.blocks), caution(view.cautions));
  };
  await refresh();
  return { node: h('div', { class: 'room' }, left, right), refresh };
}
