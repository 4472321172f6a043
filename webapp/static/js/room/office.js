/**
 * The office: what the building wants, and the papers.
 *
 * @module
 */
import { pagedRoom } from '../view/pages.js';
import { calendarPage } from '../office/calendar.js';
import { countPage } from '../office/count.js';
import { devicesPage } from '../office/devices.js';
import { instrumentsPage } from '../office/instruments.js';
import { monthPage } from '../office/month.js';
import { registersPage } from '../office/registers.js';
import { seasonsPage } from '../office/seasons.js';
import { taxPage } from '../office/tax.js';
import { todayPage } from '../office/today.js';
import { tracePage } from '../office/trace.js';
import { vesselPage } from '../office/vessel.js';
import { yieldPage } from '../office/yield.js';

const cautions = [
  'A figure here is as good as what was written in the rooms: before anything is opened, moved or entered, look at the vessel itself.',
  'Heads and other set-aside spirit stand on the vessel list like any other: they are not for drinking.',
];

/** @type {[string, string, import('../view/pages.js').PageMaker][]} */
const pages = [
  ['today', 'Today', todayPage], ['month', 'Month', monthPage], ['tax', 'Tax', taxPage], ['trace', 'Trace', tracePage], ['yield', 'Yield', yieldPage], ['seasons', 'Seasons', seasonsPage],
  ['count', 'Count', countPage], ['vessel', 'Vessel', vesselPage], ['calendar', 'Calendar', calendarPage], ['registers', 'Registers', registersPage],
  ['instruments', 'Instruments', instrumentsPage],
  ['devices', 'Phones', devicesPage],
];

/** @type {import('../main.js').Room} */
export const office = {
  key: 'office',
  name: 'Office',
  purpose: 'Today, month, tax, trace',
  open: (app) => pagedRoom(app, 'office', 'Pages of the office', pages, cautions),
};
