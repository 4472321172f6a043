/**
 * The spirit store, page by page.
 *
 * @module
 */
import { pagedRoom } from '../view/pages.js';

const cautions = [
  'Ethanol vapour burns and gathers low, around hoses and open tanks: no flame or spark, bond and earth what you pump between.',
  'Never enter or lean into a tank: its vapour can take your breath and your senses.',
  'A full barrel weighs as much as three people: roll and lift with help and the right gear.',
  'Heads are not for drinking. Keep them marked and apart.',
];

/** @type {import('../view/pages.js').Offered[]} */
export const pages = [
  ['gauge', 'Gauge', async () => (await import('../store/gauge.js')).gaugePage],
  ['tanks', 'Tanks', async () => (await import('../store/tanks.js')).tanksPage],
  ['barrels', 'Barrels', async () => (await import('../store/barrels.js')).barrelsPage],
  ['blend', 'Blend', async () => (await import('../store/blend.js')).blendPage],
  ['reduce', 'Reduce', async () => (await import('../store/reduce.js')).reducePage],
  ['filter', 'Filter', async () => (await import('../store/filter.js')).filterPage],
  ['sweeten', 'Sweeten', async () => (await import('../store/sweeten.js')).sweetenPage],
  ['trials', 'Trials', async () => (await import('../store/trials.js')).trialsPage],
  ['laboratory', 'Laboratory', async () => (await import('../store/laboratory.js')).laboratoryPage],
  ['occupancy', 'Occupancy', async () => (await import('../store/occupancy.js')).occupancyPage],
];

/** @type {import('../rooms.js').Open} */
export const open = (app) => pagedRoom(app, 'store', 'Pages of the store', pages, cautions);
