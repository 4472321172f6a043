/**
 * The first look at the phone's log, begun while the rest of the page is still
 * on its way: the page fetches this module of its own accord, and runs it as
 * soon as it is there. The room the phone stands in is fetched once it is known.
 *
 * @module
 */
import { Log } from './log.js';

export const log = new Log();

/** @type {ReturnType<Log['glance']>} */
export const glanced = log.glance();

glanced.then(async ({ room }) => {
  const { rooms } = await import('./rooms.js');
  await rooms.find(({ key }) => key === room)?.load();
}).catch(() => {}); // main.js says what is wrong
