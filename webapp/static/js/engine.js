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

const mostStarts = 10;
const encoder = new TextEncoder();
const decoder = new TextDecoder();

/** One engine in one worker, started again when it dies. */
export class Engine {
  /** @param {() => Promise<void>} reopen gives a new engine what the old one held */
  constructor(reopen) {
    this.reopen = reopen;
    this.starts = 0;
    this.start();
  }

  start() {
    /** @type {Map<number, {resolve: (value: any) => void, reject: (error: Error) => void}>} */
    this.calls = new Map();
    this.last = 0;
    this.worker = new Worker(trustedURL(new URL('./engine-worker.js', import.meta.url)), { type: 'module', name: 'engine' });
    this.worker.onmessage = ({ data }) => this.receive(data);
    this.worker.onerror = (event) => this.die(event.message || 'the worker did not start');
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
  call(name, body = {}) {
    return new Promise((resolve, reject) => {
      if (this.over) return reject(new Broken(`the engine does not start: ${this.over}`));
      const id = ++this.last;
      const bytes = body instanceof Uint8Array ? body : encoder.encode(JSON.stringify(body));
      this.calls.set(id, { resolve, reject });
      this.worker.postMessage({ id, name, body: bytes }, [bytes.buffer]);
    });
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
    } else if (result.faults) call.reject(new Refused(result.faults));
    else call.resolve(result);
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
    this.start();
    this.reopen().catch(() => {}); // who called is told by the calls' own answers
  }
}
