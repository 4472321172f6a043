/**
 * What the office says this phone is: its role, its end, its two words. Kept on
 * the phone, so that a phone without a network still offers what its role
 * writes and locks itself when its time is over; the office holds it to both
 * in any case.
 *
 * @module
 */

/**
 * @typedef {{name: string, role: string, grant: string, says: string, label: string, words: string, ends_ms: number, over: boolean, names: string[], run: string}} Me
 */

export class Standing {
  /** @param {import('./main.js').App} app */
  constructor(app) {
    this.app = app;
    /** @type {Me|null} */
    this.me = null;
    this.kinds = null; // null: every kind, until the office has said
    this.rooms = null;
  }

  /** Takes what was kept, with what the engine made of it. @param {Me|null} me @param {{kinds: string[]|null, rooms: string[]|null}} role */
  recall(me, { kinds, rooms }) {
    Object.assign(this, { me, kinds, rooms });
  }

  /** Tells a new engine. @param {Me|null} me */
  async take(me) {
    const { kinds, rooms } = await this.app.engine.call('role', { role: me?.grant ?? '' });
    this.me = me;
    this.kinds = me ? kinds : null;
    this.rooms = me ? rooms : null;
  }

  /** Asks the office, if it can be reached. Says whether anything is new. */
  async ask() {
    let me;
    try {
      const response = await fetch('/phone/v1/me', { cache: 'no-store', credentials: 'same-origin', signal: AbortSignal.timeout(10000) });
      if (!response.ok) return false;
      me = await response.json();
    } catch {
      return false; // what was kept still holds
    }
    delete me.now_ms;
    if (JSON.stringify(me) === JSON.stringify(this.me)) return false;
    await this.app.log.put('me', me);
    await this.take(me);
    return true;
  }

  /** Whether this phone's time has ended. */
  get over() {
    return Boolean(this.me && (this.me.over || (this.me.ends_ms > 0 && Date.now() >= this.me.ends_ms)));
  }

  /** @param {string} kind @returns {boolean} whether this phone's role writes it */
  may(kind) {
    return this.kinds === null || this.kinds.includes(kind);
  }

  /** @param {string} room @returns {boolean} whether this phone's role has a door to it */
  enters(room) {
    return this.rooms === null || room === 'phone' || this.rooms.includes(room);
  }
}
