/**
 * Handing a phone back: send, be acknowledged, ask the office for the count,
 * then forget everything. Nothing is wiped while an entry is on this phone only.
 *
 * Before the wiping begins its outcome is kept. A phone that is switched off in
 * the middle goes on with it when it is opened again.
 *
 * @module
 */
import { Refused } from './engine.js';

const batch = 500;

/**
 * @param {import('./main.js').App} app
 * @param {(words: string) => void} say what is being done
 * @returns {Promise<{held: number, of: number}>}
 */
export async function handBack(app, say) {
  say('Sending what is only on this phone…');
  app.exchange.now();
  await app.exchange.turn;
  await allSent(app, say);
  say('Asking the office for its count…');
  if (!app.standing.me) await app.standing.ask();
  const names = app.standing.me?.names;
  if (!names) throw stop('The office could not be asked. Nothing was wiped; try again within reach of it.');
  const ids = (await app.log.read(0)).lines.map((line) => JSON.parse(line)).filter(({ device }) => names.includes(device)).map(({ id }) => id);
  let held = 0;
  for (let from = 0; from < ids.length; from += batch) held += (await post('/phone/v1/held', { ids: ids.slice(from, from + batch) })).held;
  if (held !== ids.length) throw stop(`The office has ${held} of the ${ids.length} entries of this phone. Nothing was wiped; leave the app open within reach of the office, then try again.`);
  const outcome = { held, of: ids.length };
  const last = async () => { // no tab of this phone saves while this runs
    if ((await app.log.count()).unsent > 0) throw stop('Another tab of this phone saved an entry meanwhile. Nothing was wiped; try again.');
    await app.log.put('leaving', outcome);
    await wipe(app, say);
  };
  await (navigator.locks ? navigator.locks.request('gaugebook save', last) : last());
  return outcome;
}

/** Goes on with a wiping that was begun. @param {import('./main.js').App} app @param {(words: string) => void} say */
export async function wipe(app, say) {
  say('The office has everything. Wiping this phone…');
  app.left = true;
  app.exchange.stop();
  app.hall.postMessage({ left: true });
  await post('/phone/v1/leave', {}).catch((error) => {
    if (error.status !== 401) throw error; // 401: the office let it go already
  });
  for (const name of (await globalThis.caches?.keys()) ?? []) await caches.delete(name);
  for (const worker of (await navigator.serviceWorker?.getRegistrations()) ?? []) await worker.unregister();
  await app.log.destroy();
}

/** Resolves when the log has nothing unsent, and gives up when the office does not answer. */
async function allSent(app, say) {
  for (let tries = 0; tries < 60; tries++) {
    const { unsent } = await app.log.count();
    if (unsent === 0) return;
    say(unsent === 1 ? 'One entry is still only on this phone…' : `${unsent} entries are still only on this phone…`);
    await new Promise((resolve) => setTimeout(resolve, 500));
  }
  throw stop('Some entries are still only on this phone. Nothing was wiped; leave the app open within reach of the office, then try again.');
}

async function post(path, body) {
  let response;
  try {
    response = await fetch(path, { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body), cache: 'no-store', credentials: 'same-origin', signal: AbortSignal.timeout(20000) });
  } catch {
    throw stop('The office could not be reached. Nothing was wiped; try again within reach of it.');
  }
  if (response.ok) return response.json();
  const error = stop(response.status === 401 ? 'The office no longer knows this phone. Nothing was wiped; ask the owner for a code and join again.' : `The office did not answer the question (${response.status}). Nothing was wiped; try again.`);
  error.status = response.status;
  throw error;
}

function stop(sentence) {
  return new Refused([{ code: 'hand-back', field: 'phone', sentence }]);
}
