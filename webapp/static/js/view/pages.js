/**
 * A room of several pages, one at a time. What a page shows is in 'at': the
 * page itself and what it looks at, a month or a vessel. It is kept on the
 * phone, so that a person who opened an entry comes back to where it was opened.
 *
 * @module
 */
import { caution } from './caution.js';
import { h, show } from './dom.js';
import { absent, fetched, made } from '../rooms.js';

/**
 * @typedef {{page: string} & Record<string, string|undefined>} At
 * @typedef {{node: HTMLElement|HTMLElement[], refresh: () => Promise<void>}} Page
 * @typedef {(app: import('../main.js').App, at: At, go: (to: Partial<At>) => Promise<void>) => Promise<Page>} PageMaker
 * @typedef {[string, string, () => Promise<PageMaker>]} Offered key, name, and how its maker is fetched once it is opened
 */

/**
 * @param {import('../main.js').App} app
 * @param {string} kept the key under which the phone keeps what is shown
 * @param {string} label of the row of pages
 * @param {Offered[]} pages the first is shown first
 * @param {string[]} cautions
 * @returns {Promise<{node: HTMLElement, refresh: () => Promise<void>}>}
 */
export async function pagedRoom(app, kept, label, pages, cautions) {
  let at = (await app.log.get(kept)) ?? { page: pages[0][0] };
  let page = null;
  const tabs = h('nav', { class: 'pages', hidden: pages.length === 1, 'aria-label': label });
  const place = h('div', { class: 'page' });

  let turns = 0; // a page that was turned past while it was made is not shown
  const lay = async () => {
    const turn = turns;
    const [here, name, load] = pages.find(([key]) => key === at.page) ?? pages[0];
    const make = await fetched(load);
    const next = (make && await made(make(app, at, go))) ?? absent(name, () => go({}));
    if (turn !== turns) return false;
    page = next;
    if (pages.length > 1) show(tabs, pages.map(([key, name]) => h('button', { type: 'button', class: 'quiet', 'aria-current': key === here ? 'page' : null, onclick: () => go({ page: key }) }, name)));
    show(place, page.node);
    return true;
  };
  const go = async (to) => {
    at = { ...at, ...to };
    const turn = ++turns;
    app.opening.begin();
    await app.log.put(kept, at);
    if (turn === turns && (await lay()) && to.page) {
      tabs.querySelector('[aria-current]')?.focus({ preventScroll: true });
      window.scrollTo(0, 0);
    }
  };
  await lay();
  return { node: h('div', { class: 'room paged' }, tabs, place, caution(cautions)), refresh: () => page.refresh() };
}
