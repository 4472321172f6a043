/**
 * The bottling floor, page by page.
 *
 * @module
 */
import { pagedRoom } from '../view/pages.js';

const cautions = [
  'Ethanol vapour burns: no flame, spark or hot lamp at the filler, and the ventilation stays on.',
  'Broken glass: stop the line, gloves on, and throw away the open bottles beside it.',
  'A full case is heavy: lift from the knees, and stack no higher than the shoulder.',
];

/** @type {import('../view/pages.js').Offered[]} */
export const pages = [
  ['run', 'Run', async () => (await import('../bottling/run.js')).runPage],
  ['count', 'Count', async () => (await import('../bottling/count.js')).countPage],
  ['station', 'Station', async () => (await import('../bottling/station.js')).stationPage],
  ['fill', 'Fill', async () => (await import('../bottling/fill.js')).fillPage],
  ['cans', 'Cans', async () => (await import('../bottling/cans.js')).cansPage],
  ['close', 'Close', async () => (await import('../bottling/close.js')).closePage],
  ['sheet', 'Sheet', async () => (await import('../bottling/sheet.js')).sheetPage],
  ['labels', 'Labels', async () => (await import('../bottling/sheet.js')).labelsPage],
];

/** What a borrowed phone is for. @type {typeof pages} */
const counters = [['station', 'Station', async () => (await import('../bottling/station.js')).stationPage]];

/** @type {import('../rooms.js').Open} */
export const open = (app) => pagedRoom(app, 'bottling floor', 'Pages of the bottling floor', app.standing.me?.role === 'counter' ? counters : pages, cautions);
