/**
 * The page's hold on the engine. Figures, rules and sentences come from there;
 * this module carries bytes. Messages are described in engine-worker.js.
 *
 * @module
 */
import { trustedURL } from './trusted.js';

/**
 * A refusal: what is wrong, field by field, as the engine says it.
 *
 * @typedef {{code: string, field: string, value: string, limit: string, remedy: string, entry?: string, sentence: string}} Fault
 */

/** The engine refused a call and said why. */
export class Refused extends Error {
  /** @param {Fault[]} faults */
  constructor(faults) {
    super(faults.map((fault) => fault.sentence).join(' '));
    this.faults = faults;
  }
}

/** The engine stopped in the middle of a call. What was typed is still in its form. */
export class Broken extends Error {}

/** The whole engine is needed and cannot be had now; the pocket one goes on. */
export class Absent extends Error {}

const mostStarts = 10;
const opening = ['hello', 'open', 'role']; // the calls that give a new engine what the old one held
const encoder = new TextEncoder();
const decoder = new TextDecoder();

/** The two sizes of the engine. The pocket one has what a phone opens with. */
const pocket = 'pocket.wasm';
export const whole = 'engine.wasm';

/**
 * One engine in one worker, started again when it dies. It begins as the pocket
 * engine; the whole one takes its place when something is asked that the pocket
 * one says is elsewhere, and stays. What was asked meanwhile is asked again.
 */
export class Engine {
  /**
   * @param {() => Promise<void>} reopen gives a new engine what the old one held, by the calls of opening
   * @param {string} [size] to begin with
   */
  constructor(reopen, size = pocket) {
    this.reopen = reopen;
    this.starts = 0;
    this.size = size;
    /** @type {Promise<void>|undefined} */
    this.gate = undefined; // other calls wait until a later engine holds the book
    this.start(this.begin());
  }

  /** A worker that is about to have an engine. */
  begin() {
    return new Worker(trustedURL(new URL('./engine-worker.js', import.meta.url)), { type: 'module', name: this.size });
  }

  /** @param {Worker} worker */
  start(worker) {
    /** @type {Map<number, {name: string, body: object|Uint8Array, resolve: (value: any) => void, reject: (error: Error) => void}>} */
    this.calls = new Map();
    this.last = 0;
    this.worker = worker;
    worker.onmessage = ({ data }) => this.receive(data);
    worker.onerror = (event) => this.die(event.message || 'the worker did not start');
  }

  /**
   * Calls the engine. Rejects with Refused where the engine finds fault with
   * what was sent, and with Broken where it stopped. What follows the answer's
   * JSON is in its field beside, as bytes.
   *
   * @param {string} name
   * @param {object|Uint8Array} [body] an object is sent as JSON, bytes as they are
   * @returns {Promise<any>}
   */
  async call(name, body = {}) {
    if (!opening.includes(name)) await this.gate;
    return new Promise((resolve, reject) => this.send({ name, body, resolve, reject }));
  }

  send(call) {
    if (this.over) return call.reject(new Broken(`the engine does not start: ${this.over}`));
    const id = ++this.last;
    this.calls.set(id, call);
    const { name, body } = call;
    this.worker.postMessage({ id, name, body: body instanceof Uint8Array ? body : encoder.encode(JSON.stringify(body)) }); // copied: it may have to be asked again
  }

  /** @param {{id?: number, body?: Uint8Array, dead?: string}} message */
  receive({ id, body, dead }) {
    if (dead !== undefined) return this.die(dead);
    const call = this.calls.get(id ?? 0);
    if (!call) return;
    this.calls.delete(id ?? 0);
    const end = body.indexOf(10); // JSON has no line ends of its own
    const result = JSON.parse(decoder.decode(end < 0 ? body : body.subarray(0, end)));
    if (end >= 0) result.beside = body.subarray(end + 1);
    if (result.broken !== undefined) {
      call.reject(new Broken(result.broken));
      this.die(result.broken);
    } else if (result.elsewhere) this.widen().then(() => this.send(call), call.reject);
    else if (result.faults) call.reject(new Refused(result.faults));
    else call.resolve(result);
  }

  /** The whole engine takes the pocket one's place, once it is there. Rejects, and leaves all as it is, where it cannot be had. */
  widen() {
    this.widening ??= this.replace().finally(() => { this.widening = null; });
    return this.widening;
  }

  async replace() {
    if (this.size === whole) return;
    this.size = whole;
    const next = this.begin();
    try {
      await ready(next);
    } catch (error) {
      next.terminate();
      this.size = pocket;
      throw new Absent('This needs a part of the app that is not on this phone yet, and the office cannot be reached. Come within its reach, then try again.', { cause: error });
    }
    this.worker.terminate();
    const asked = [...this.calls.values()];
    this.start(next);
    await this.hold();
    asked.forEach((call) => this.send(call));
  }

  /** Has a new engine hold the book; other calls wait. */
  hold() {
    this.gate = Promise.resolve().then(() => this.reopen()).catch(() => {}); // who called is told by the calls' own answers
    return this.gate;
  }

  /** @param {string} why */
  die(why) {
    this.worker.terminate();
    const lost = [...this.calls.values()];
    this.calls.clear();
    lost.forEach(({ reject }) => reject(new Broken(`the engine stopped (${why}) and is started again`)));
    if (++this.starts > mostStarts) { // a fault at every start would go round for ever
      this.over = why;
      return;
    }
    this.start(this.begin());
    this.hold();
  }
}

/** @param {Worker} worker @returns {Promise<void>} */
function ready(worker) {
  return new Promise((resolve, reject) => {
    worker.onmessage = ({ data }) => (data.ready ? resolve() : reject(new Error(data.dead)));
    worker.onerror = (event) => reject(new Error(event.message));
  });
}
