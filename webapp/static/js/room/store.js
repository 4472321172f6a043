/**
 * The spirit store, page by page.
 *
 * @module
 */
import { pagedRoom } from '../view/pages.js';
import { barrelsPage } from '../store/barrels.js';
import { blendPage } from '../store/blend.js';
import { filterPage } from '../store/filter.js';
import { gaugePage } from '../store/gauge.js';
import { laboratoryPage } from '../store/laboratory.js';
import { occupancyPage } from '../store/occupancy.js';
import { reducePage } from '../store/reduce.js';
import { sweetenPage } from '../store/sweeten.js';
import { tanksPage } from '../store/tanks.js';
import { trialsPage } from '../store/trials.js';

const cautions = [
  'Ethanol vapour burns and gathers low, around hoses and open tanks: no flame or spark, bond and earth what you pump between.',
  'Never enter or lean into a tank: its vapour can take your breath and your senses.',
  'A full barrel weighs as much as three people: roll and lift with help and the right gear.',
  'Heads are not for drinking. Keep them marked and apart.',
];

/** @type {[string, string, import('../view/pages.js').PageMaker][]} */
const pages = [
  ['gauge', 'Gauge', gaugePage],
  ['tanks', 'Tanks', tanksPage],
  ['barrels', 'Barrels', barrelsPage],
  ['blend', 'Blend', blendPage],
  ['reduce', 'Reduce', reducePage],
  ['filter', 'Filter', filterPage],
  ['sweeten', 'Sweeten', sweetenPage],
  ['trials', 'Trials', trialsPage],
  ['laboratory', 'Laboratory', laboratoryPage],
  ['occupancy', 'Occupancy', occupancyPage],
];

/** @type {import('../main.js').Room} */
export const spiritStore = {
  key: 'store',
  name: 'Spirit store',
  purpose: 'Gauges, moves, reductions',
  open: (app) => pagedRoom(app, 'store', 'Pages of the store', pages, cautions),
};
