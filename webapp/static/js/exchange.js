/**
 * Drives the exchange with the office. What to send, when, and what to make of
 * the answer is decided by the engine, which is told events and answers with
 * effects (package sync/exchange lists both); this module has the network, the
 * timer and the log do them.
 *
 * One tab of the phone leads, by a Web Lock where there are any; without them
 * every tab drives, which is wasteful and harmless. The others tell the leader
 * what they saved and show what it tells.
 *
 * @module
 */
import { ChainMoved, NoRoom } from './log.js';

export class Exchange {
  /** @param {import('./main.js').App} app */
  constructor(app) {
    this.app = app;
    this.leading = false;
    this.running = false;
    this.protectedStorage = false;
    /** @type {any} */
    this.told = null;
    this.where = { unsent: undefined, quarantined: 0, malformed: 0 }; // not counted yet: the badge must not say that all is at the office
    this.turn = Promise.resolve();
    this.age = 0; // which engine it is: what one of them began is no business of the next
  }

  start() {
    const lead = () => {
      this.leading = true;
      this.opened();
      return new Promise(() => {}); // until the tab closes
    };
    if (navigator.locks) navigator.locks.request('gaugebook exchange', lead);
    else lead();
    window.addEventListener('online', () => this.feed({ online: {} }));
    document.addEventListener('visibilitychange', () => {
      this.feed({ visible: !document.hidden });
      this.listen();
    });
  }

  /** Stops for good: the phone is handed back. */
  stop() {
    this.leading = false;
    clearTimeout(this.timer);
    this.listen();
  }

  /** Hears at once when the office has something new, while the page is seen and the office answers. */
  listen() {
    const wanted = this.leading && !document.hidden && Boolean(this.told?.last_ms) && !this.told.need_code;
    if (!wanted) {
      this.ear?.close();
      this.ear = null;
    } else if (!this.ear) {
      this.ear = new EventSource('/sync/v1/live');
      this.ear.addEventListener('head', () => this.feed({ hint: {} }));
      this.ear.onerror = () => { // the rounds notice on their own when the office is back
        this.ear?.close();
        this.ear = null;
      };
    }
  }

  /** Tells the engine what the log holds; again after every start of it. */
  async opened() {
    this.age++;
    if (this.leading) await this.load();
    await this.count();
  }

  async load() {
    const { chain, contact, unsent } = await this.app.log.standing();
    this.heard = contact?.last_ms;
    const lines = unsent.map(({ line }) => `${line ?? ''}`.replaceAll('\n', ' ')); // one that has gone bad stays one line
    this.feed({ opened: { chain, contact: contact ?? {}, unsent: unsent.map(({ id, state }) => ({ id, state })) } }, encoder.encode(lines.join('\n')));
  }

  /** @param {{chain: object, held: object}} saved */
  saved(saved) {
    this.feed({ saved });
  }

  /** A person asks, or the code they typed. @param {string} [code] */
  now(code) {
    return this.feed(code === undefined ? { online: {} } : { join: { code } });
  }

  /**
   * Tells the engine one event and has its effects begun, in order, one event
   * at a time. Resolves with how many records the engine has by it.
   *
   * @param {object} event
   * @param {Uint8Array} [body] of a reply, or the lines of what is unsent
   * @param {number} [age] of the engine that waits for it, where only that one does
   * @returns {Promise<number|undefined>}
   */
  feed(event, body, age) {
    if (!this.leading) return this.turn.then(() => 0);
    this.turn = this.turn.then(async () => {
      if (age !== undefined && age !== this.age) return 0;
      const now = this.age;
      const { effects, took, beside } = await this.app.engine.call('exchange', body ? joined(event, body) : event);
      const rest = new Lines(beside);
      for (const { store } of effects) store?.put?.forEach((held) => { held.line = rest.next(); });
      for (const effect of effects) this.act(effect, rest.all(), now);
      return took;
    }).catch((error) => this.app.notice('exchange', `The exchange with the office stopped: ${error.message}. What you write is kept on this phone.`));
    return this.turn;
  }

  /** @param {any} effect exactly one of its fields is set @param {Uint8Array} body of what it sends @param {number} age of the engine whose effect it is */
  act({ send, store, load, wake, tell }, body, age) {
    if (send) this.send(send, body, age);
    if (store) this.store(store, age);
    if (load) this.load();
    if (wake) {
      clearTimeout(this.timer);
      this.timer = setTimeout(() => this.feed({ timer: {} }), wake.after_ms);
    }
    if (tell) {
      this.show(tell);
      this.app.hall.postMessage({ tell });
      if (tell.last_ms && tell.last_ms !== this.heard) this.app.clockHeard(tell); // not what an earlier day heard
      this.heard = tell.last_ms;
    }
  }

  async send({ id, method, path, type, timeout_ms: timeout }, body, age) {
    const sent = performance.now();
    try {
      const response = await fetch(path, {
        method, body: method === 'POST' ? body : undefined, cache: 'no-store', credentials: 'same-origin',
        headers: type ? { 'Content-Type': type } : {}, signal: AbortSignal.timeout(timeout),
      });
      const text = new Uint8Array(await response.arrayBuffer());
      this.feed({ replied: {
        id, status: response.status, retry_after_s: Number.parseInt(response.headers.get('Retry-After') ?? '0', 10) || 0,
        sent_ms: Math.round(sent), received_ms: Math.round(performance.now()), wall_ms: Date.now(),
      } }, text, age);
    } catch (error) {
      this.feed({ failed: { id, reason: error.name === 'TimeoutError' ? 'no answer in time' : 'the office could not be reached' } }, undefined, age);
    }
  }

  async store(store, age) {
    let kept;
    try {
      kept = await this.app.log.store(store);
    } catch (error) {
      this.feed({ not_stored: { reason: error instanceof ChainMoved ? 'moved' : error instanceof NoRoom ? 'quota' : 'other' } }, undefined, age);
      return;
    }
    const took = await this.feed({ stored: {} }, undefined, age);
    const anew = Boolean(store.chain && store.put?.length); // own entries were sealed anew: their lines changed
    if (anew) await this.app.reopen();
    this.app.catchUp(took > 0 ? { ...kept, contact: store.contact } : undefined);
    this.app.hall.postMessage(anew ? { anew } : {});
  }

  /** Counts afresh what is only on this phone; the log is what knows. Says whether that is news. */
  async count() {
    const was = JSON.stringify(this.where);
    this.where = await this.app.log.count();
    this.show(this.told);
    return JSON.stringify(this.where) !== was;
  }

  /** @param {any} tell what the engine says of the exchange, null before its first word */
  show(tell) {
    this.told = tell;
    this.listen();
    const doing = tell?.doing ?? 'resting';
    this.running = ['pushing', 'pulling', 'joining'].includes(doing);
    this.app.badge.standing = {
      only: this.where.unsent,
      state: this.running ? 'working' : doing === 'retrying' || tell?.problem ? 'failing' : 'idle',
      words: this.words(tell),
    };
    this.app.joinNeeded(tell?.need_code ?? false, tell?.problem?.sentence ?? '', doing === 'joining');
    this.app.notice('clock', tell?.suspect ? 'This phone’s clock and the office’s differ by more than five minutes. Set the phone’s clock; until then say when things happened.' : '');
    navigator.setAppBadge?.(this.where.unsent).catch(() => {}); // a decoration; the badge on the page is the promise
  }

  words(tell) {
    const parts = [];
    const { unsent: n, quarantined, malformed } = this.where;
    parts.push(n === 0 ? 'Every entry of this phone is at the office.' : n === 1 ? 'One entry is only on this phone. It goes to the office by itself.' : `${n} entries are only on this phone. They go to the office by themselves.`);
    if (quarantined > 0) parts.push(`At the office, waiting to be let in: ${quarantined}.`);
    if (malformed > 0) parts.push(`Kept aside at the office because they could not be read: ${malformed}. Tell the owner.`);
    if (tell?.problem) parts.push(tell.problem.sentence);
    if (tell?.last_ms) parts.push(`The office last answered ${new Date(tell.last_ms).toLocaleString([], { dateStyle: 'medium', timeStyle: 'short' })}.`);
    else parts.push('The office has not answered yet.');
    if (tell?.device) parts.push(`This phone writes as ${tell.device}.`);
    if (!this.protectedStorage) parts.push('The browser has not promised to protect what is stored here: do not clear its data while entries are only on this phone.');
    return parts.join(' ');
  }
}

const encoder = new TextEncoder();
const decoder = new TextDecoder();

/** An event with what belongs to it behind it, as the engine takes it. @param {object} event @param {Uint8Array} body */
function joined(event, body) {
  const head = encoder.encode(`${JSON.stringify(event)}\n`), both = new Uint8Array(head.length + body.length);
  both.set(head);
  both.set(body, head.length);
  return both;
}

/** What stands beside the engine's answer. */
class Lines {
  /** @param {Uint8Array} [bytes] */
  constructor(bytes = new Uint8Array()) {
    this.bytes = bytes;
    this.at = 0;
  }

  /** The next line. Each is decoded alone: one with an unusual letter would make all others twice as large in the log. */
  next() {
    const end = this.bytes.indexOf(10, this.at), line = decoder.decode(this.bytes.subarray(this.at, end));
    this.at = end + 1;
    return line;
  }

  /** What no line was made of. */
  all() {
    return this.bytes.subarray(this.at);
  }
}
