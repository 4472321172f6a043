/**
 * The office: what the building wants, and the papers.
 *
 * @module
 */
import { pagedRoom } from '../view/pages.js';

const cautions = [
  'A figure here is as good as what was written in the rooms: before anything is opened, moved or entered, look at the vessel itself.',
  'Heads and other set-aside spirit stand on the vessel list like any other: they are not for drinking.',
];

/** @type {import('../view/pages.js').Offered[]} */
export const pages = [
  ['today', 'Today', async () => (await import('../office/today.js')).todayPage],
  ['month', 'Month', async () => (await import('../office/month.js')).monthPage],
  ['tax', 'Tax', async () => (await import('../office/tax.js')).taxPage],
  ['trace', 'Trace', async () => (await import('../office/trace.js')).tracePage],
  ['yield', 'Yield', async () => (await import('../office/yield.js')).yieldPage],
  ['seasons', 'Seasons', async () => (await import('../office/seasons.js')).seasonsPage],
  ['count', 'Count', async () => (await import('../office/count.js')).countPage],
  ['vessel', 'Vessel', async () => (await import('../office/vessel.js')).vesselPage],
  ['calendar', 'Calendar', async () => (await import('../office/calendar.js')).calendarPage],
  ['registers', 'Registers', async () => (await import('../office/registers.js')).registersPage],
  ['instruments', 'Instruments', async () => (await import('../office/instruments.js')).instrumentsPage],
  ['devices', 'Phones', async () => (await import('../office/devices.js')).devicesPage],
];

/** @type {import('../rooms.js').Open} */
export const open = (app) => pagedRoom(app, 'office', 'Pages of the office', pages, cautions);
