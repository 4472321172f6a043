/**
 * The bottling floor, page by page.
 *
 * @module
 */
import { pagedRoom } from '../view/pages.js';
import { cansPage } from '../bottling/cans.js';
import { closePage } from '../bottling/close.js';
import { countPage } from '../bottling/count.js';
import { fillPage } from '../bottling/fill.js';
import { runPage } from '../bottling/run.js';
import { stationPage } from '../bottling/station.js';
import { labelsPage, sheetPage } from '../bottling/sheet.js';

const cautions = [
  'Ethanol vapour burns: no flame, spark or hot lamp at the filler, and the ventilation stays on.',
  'Broken glass: stop the line, gloves on, and throw away the open bottles beside it.',
  'A full case is heavy: lift from the knees, and stack no higher than the shoulder.',
];

/** @type {[string, string, import('../view/pages.js').PageMaker][]} */
const pages = [
  ['run', 'Run', runPage], ['count', 'Count', countPage], ['station', 'Station', stationPage], ['fill', 'Fill', fillPage],
  ['cans', 'Cans', cansPage], ['close', 'Close', closePage], ['sheet', 'Sheet', sheetPage], ['labels', 'Labels', labelsPage],
];

/** What a borrowed phone is for. @type {typeof pages} */
const counters = [['station', 'Station', stationPage]];

/** @type {import('../main.js').Room} */
export const bottlingFloor = {
  key: 'bottling',
  name: 'Bottling floor',
  purpose: 'Counts, spoils, what the tank gave',
  open: (app) => pagedRoom(app, 'bottling floor', 'Pages of the bottling floor', app.standing.me?.role === 'counter' ? counters : pages, cautions),
};
