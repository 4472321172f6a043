/**
 * What the present room showed last, kept on the phone, so that a cold start
 * can draw it before the engine has arrived and read the book.
 *
 * Kept are the engine's answers to calls that only read ('form', 'view') since
 * the room was entered, and to 'role'; with them a stamp of all they were made
 * of: the build, the log's last key, this device's chain, how far the office's
 * log was pulled, what the office says this phone is, the phone's zone. They
 * are used only where the stamp is still the phone's own: then not one line
 * came to its log since, and the same book gives the same answers. What depends
 * on the clock besides is asked again as soon as the engine has the book.
 *
 * One way: the app tells what was asked and answered, and when the engine has
 * the book; this module writes its own key of the log and nothing else. It
 * keeps nothing of a phone that is being handed back or whose time is over.
 *
 * @module
 */

/**
 * @typedef {{stamp: string, room: string, at: number, role: {kinds: string[], rooms: string[]}, answers: Record<string, any>}} Kept
 * @typedef {{chain: object, contact: any, last: number, me: object|null}} Ground what answers are made of, but for the build
 */

/** Characters of JSON. Above it, it would cost a slow phone more to keep and to read than it saves. */
const most = 1_000_000;

/**
 * For that long answers are used. The book is the same after a week too, but
 * 'today', 'due in three days' and how far a fermenter must be would be wrong
 * for as long as the engine needs to come.
 */
const lastsMs = 7 * 24 * 3600 * 1000;

/** Nobody saves, nothing comes, for that long: then there is time to keep. */
const quietMs = 2000;

/** A page may ask for a view at every letter that is typed into it. */
const mostViews = 8;

/** The calls that only read. Those of a preview are of what is being typed. */
const reads = ['form', 'view'];

const idle = globalThis.requestIdleCallback ?? ((act) => setTimeout(act, 100));
const keyOf = (name, body) => JSON.stringify([name, body]);

export class Opening {
  /** @param {import('./main.js').App} app @param {string} build */
  constructor(app, build) {
    this.app = app;
    this.build = build;
    this.room = ''; // whose answers are heard
    /** @type {Map<string, {name: string, body: object, answer: any, known: number}>} */
    this.heard = new Map();
    /** @type {Kept|null} used until the engine has the book */
    this.kept = null;
    this.written = ''; // the stamp of what was kept of this room
    /** Resolves when a room asks for what was not kept: then only the engine helps. */
    this.missed = new Promise((resolve) => { this.miss = resolve; });
    document.addEventListener('visibilitychange', () => { if (document.hidden) this.keep(); }); // it may be switched off next
  }

  /** What the engine's answers are made of now. @returns {string} */
  stamp() {
    const { chain, contact, last, standing: { me } } = this.app;
    return this.stampOf({ chain, contact, last, me });
  }

  /** @param {Ground} ground @returns {string} */
  stampOf({ chain, contact, last, me }) {
    const { epoch, scope, since } = contact ?? {};
    return JSON.stringify([this.build, last, chain, epoch, scope, since, me ?? null, new Date().getTimezoneOffset()]);
  }

  /**
   * Takes what was kept, if it is of this very ground.
   *
   * @param {string|undefined} raw
   * @param {Ground} ground
   * @param {string|undefined} room the phone stands in
   * @returns {boolean}
   */
  take(raw, ground, room) {
    if (!raw || !room) return false;
    /** @type {Kept} */
    const kept = JSON.parse(raw);
    const age = Date.now() - kept.at;
    if (kept.stamp !== this.stampOf(ground) || kept.room !== room || !(age >= 0 && age < lastsMs)) return false;
    this.kept = kept;
    return true;
  }

  /** @param {string} name @param {object} body @returns {any} what was answered last, undefined if only the engine knows */
  answer(name, body) {
    if (!this.kept || !reads.includes(name)) return undefined;
    const key = keyOf(name, body);
    const answer = this.kept.answers[key];
    if (answer === undefined) this.miss();
    else this.heard.set(key, { name, body, answer, known: this.app.known });
    return answer;
  }

  /** The engine has the book: it answers from here on. */
  end() {
    this.kept = null;
  }

  /** Another room, '' for what is none, or another page of it. @param {string} [room] */
  begin(room = this.room) {
    this.room = room;
    this.written = '';
    this.heard.clear();
  }

  /**
   * @param {string} name
   * @param {any} body
   * @param {any} answer
   * @param {number} known of the app when it was asked
   */
  hear(name, body, answer, known) {
    if (!reads.includes(name) || body.what === 'station') return; // a case is counted by one tap: such a page waits until a tap is taken at once
    const key = keyOf(name, body);
    this.heard.delete(key); // the last heard stands last
    this.heard.set(key, { name, body, answer, known });
    const views = [...this.heard.keys()].filter((one) => this.heard.get(one)?.name === 'view');
    if (views.length > mostViews) this.heard.delete(views[0]);
    this.soon();
  }

  /** Keeps once it is quiet; never in the way of saving. */
  soon() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => idle(() => this.keep()), quietMs);
  }

  /** Keeps the answers to what the room asks, if they are all of the book as it is now. */
  async keep() {
    const { app, room } = this;
    const { known } = app;
    const stamp = this.stamp();
    if (this.kept || !room || known === 0 || app.stands !== known || app.standing.over || this.written === stamp) return;
    const answers = {};
    try {
      for (const [key, { name, body, answer, known: asked }] of [...this.heard]) {
        if (asked === known) answers[key] = answer;
        else if (name === 'form') answers[key] = await app.engine.call(name, body); // a room asks once for a form, and for each view again when there is news
      }
    } catch {
      return; // the engine is being started again; it asks again then
    }
    const kept = { stamp, room, at: Date.now(), role: { kinds: app.standing.kinds, rooms: app.standing.rooms }, answers };
    const raw = JSON.stringify(kept);
    if (app.left || raw.length > most || this.room !== room || app.known !== known || this.stamp() !== stamp) return;
    this.written = stamp;
    await app.log.keepOpening(raw).catch(() => {}); // a phone without room for it opens as any other
  }
}
