/**
 * The office: its pages, one at a time. What a page shows is in 'at': the page
 * and its month, year, lot or vessel. It is kept, so that a person who opened
 * an entry comes back to where it was opened.
 *
 * @module
 */
import { caution } from '../view/caution.js';
import { h, show } from '../view/dom.js';
import { calendarPage } from '../office/calendar.js';
import { countPage } from '../office/count.js';
import { devicesPage } from '../office/devices.js';
import { monthPage } from '../office/month.js';
import { registersPage } from '../office/registers.js';
import { taxPage } from '../office/tax.js';
import { todayPage } from '../office/today.js';
import { tracePage } from '../office/trace.js';
import { vesselPage } from '../office/vessel.js';
import { yieldPage } from '../office/yield.js';

/**
 * @typedef {{page: string, month?: string, year?: string, lot?: string, vessel?: string, before?: string, entry?: string}} At
 * @typedef {{node: HTMLElement[], refresh: () => Promise<void>}} Page
 * @typedef {(app: import('../main.js').App, at: At, go: (to: Partial<At>) => Promise<void>) => Promise<Page>} PageMaker
 */

const cautions = [
  'A figure here is as good as what was written in the rooms: before anything is opened, moved or entered, look at the vessel itself.',
  'Heads and other set-aside spirit stand on the vessel list like any other: they are not for drinking.',
];

/** @type {[string, string, PageMaker][]} */
const pages = [
  ['today', 'Today', todayPage], ['month', 'Month', monthPage], ['tax', 'Tax', taxPage], ['trace', 'Trace', tracePage], ['yield', 'Yield', yieldPage],
  ['count', 'Count', countPage], ['vessel', 'Vessel', vesselPage], ['calendar', 'Calendar', calendarPage], ['registers', 'Registers', registersPage],
  ['devices', 'Phones', devicesPage],
];

/** @type {import('../main.js').Room} */
export const office = {
  key: 'office',
  name: 'Office',
  purpose: 'Today, month, tax, trace',
  open: async (app) => {
    let at = (await app.log.get('office')) ?? { page: 'today' };
    let page = null;
    const tabs = h('nav', { class: 'pages', 'aria-label': 'Pages of the office' });
    const place = h('div', { class: 'page' });

    const lay = async () => {
      const [, , make] = pages.find(([key]) => key === at.page) ?? pages[0];
      page = await make(app, at, go);
      show(tabs, pages.map(([key, name]) => h('button', { type: 'button', class: 'quiet', 'aria-current': key === at.page ? 'page' : null, onclick: () => go({ page: key }) }, name)));
      show(place, page.node);
    };
    const go = async (to) => {
      at = { ...at, ...to };
      await app.log.put('office', at);
      await lay();
      if (to.page) {
        tabs.querySelector('[aria-current]')?.focus({ preventScroll: true });
        window.scrollTo(0, 0);
      }
    };
    await lay();
    return { node: h('div', { class: 'room office' }, tabs, place, caution(cautions)), refresh: () => page.refresh() };
  },
};
