/**
 * The phone's log: the only module that touches IndexedDB, which database.js
 * has opened before it.
 *
 * A save is one strict transaction over the entry and this device's chain (its
 * last number and digest). It goes through only if the chain is still the one
 * the entry was sealed on, so two tabs keep one sequence without a gap; it
 * counts as saved when the transaction has completed, not before.
 *
 * No entry is ever deleted, but
 * with all of them when the phone is handed back; of
 * what is kept only its whereabouts change, and the line of one that another
 * device's entry stood in the way of.
 *
 * @module
 */

/**
 * @typedef {{id: string, line: string, state: 'unsent'|'received'|'quarantined'|'malformed'}} Held
 *   one record: its canonical line, and what this phone knows of its whereabouts
 * @typedef {{device: string, seq: number, prev: string, clock: string}} Chain this device's place in its own chain
 * @typedef {{chain?: {from: Chain, to: Chain}, contact?: object, put?: Held[], pulled?: boolean, reoffer?: boolean}} Store
 *   one transaction that the exchange asks for
 */

/** The chain of a phone that has not joined a book. @type {Chain} */
export const noChain = { device: '', seq: 0, prev: '', clock: '000000000000-0000' };

/** The chain moved: another tab saved meanwhile. Read what is new and seal again. */
export class ChainMoved extends Error {}

/** There is no room left on the phone. Nothing was written. */
export class NoRoom extends Error {}

/** A later build of the app, in another tab, holds the log. */
export class Superseded extends Error {}

const database = globalThis.gaugebookDatabase;

/** The log of this origin. */
export class Log {
  /** @param {(why: string) => void} [onBlocked] told when another tab stands in the way, or has taken over */
  constructor(onBlocked = () => {}) {
    this.onBlocked = onBlocked;
    /** @type {Promise<IDBDatabase>|null} */
    this.opening = null;
    /** @type {{meta: Map<string, any>, drafts: Map<string, any>}|null} what was kept beside the records when the page was opened, until fresh */
    this.seen = null;
  }

  /** @returns {Promise<IDBDatabase>} */
  database() {
    this.opening ??= new Promise((resolve, reject) => {
      const request = database.begun ?? database.open();
      database.begun = null;
      request.onblocked = () => this.onBlocked('Close the other tabs of Gaugebook, so that this newer one can open the log.');
      const failed = () => {
        this.opening = null;
        reject(request.error?.name === 'VersionError' ? new Superseded('A newer Gaugebook has opened this log. Load this page again.') : request.error);
      };
      request.onerror = failed;
      const success = () => {
        const db = request.result;
        db.onversionchange = () => {
          db.close();
          this.opening = null;
          this.onBlocked('A newer Gaugebook is opening in another tab. Load this page again.');
        };
        db.onclose = () => { this.opening = null; };
        resolve(db);
      };
      if (request.readyState === 'pending') request.onsuccess = success;
      else if (request.error) failed();
      else success();
    });
    return this.opening;
  }

  /**
   * Runs one transaction and resolves, when it has completed, with what work
   * returned. A closed connection is opened once more.
   *
   * @template T
   * @param {string[]} stores
   * @param {'readonly'|'readwrite'} mode
   * @param {(transaction: IDBTransaction, abort: (error: Error) => void) => (() => T)} work starts the requests; what it returns is read at the end
   * @param {'strict'|'relaxed'} [durability] whether it completes only on the disk
   * @param {boolean} [again]
   * @returns {Promise<T>}
   */
  async transact(stores, mode, work, durability = 'strict', again = true) {
    const db = await this.database();
    let transaction;
    try {
      transaction = db.transaction(stores, mode, { durability: mode === 'readwrite' ? durability : 'default' });
    } catch (error) {
      this.opening = null;
      if (again && error instanceof DOMException && error.name === 'InvalidStateError') return this.transact(stores, mode, work, durability, false);
      throw error;
    }
    return new Promise((resolve, reject) => {
      /** @type {Error|null} */
      let why = null;
      const result = work(transaction, (error) => {
        why = error;
        transaction.abort();
      });
      transaction.oncomplete = () => resolve(result());
      transaction.onabort = () => reject(why ?? readable(transaction.error));
    });
  }

  /**
   * The records that came to this phone after a place in its log, 0 for all,
   * with this device's chain and what is known of the office.
   *
   * @param {number} after
   * @returns {Promise<{lines: string[], last: number, chain: Chain, contact: object|undefined}>}
   */
  read(after) {
    return this.transact(['entries', 'meta'], 'readonly', (transaction) => {
      const range = IDBKeyRange.lowerBound(after, true);
      const entries = transaction.objectStore('entries').getAll(range);
      const end = transaction.objectStore('entries').openKeyCursor(range, 'prev');
      const chain = transaction.objectStore('meta').get('chain');
      const contact = transaction.objectStore('meta').get('contact');
      return () => ({
        lines: entries.result.map((/** @type {Held} */ held) => held.line),
        last: end.result?.key ?? after,
        chain: chain.result ?? noChain, contact: contact.result,
      });
    });
  }

  /**
   * What the page opens with, in one small look: where this device's chain and
   * the log end, and what is kept about the phone and of its forms. No record is
   * read. Until fresh, get and draft answer from it: a room that is drawn while
   * the engine is on its way asks for a handful of them, each a way to the disk.
   *
   * @returns {Promise<{last: number, chain: Chain, contact: object|undefined, me: object|null, units: object, by: string, room: string|undefined, leaving: object|undefined, opening: string|undefined}>}
   */
  glance() {
    return this.transact(['entries', 'meta', 'drafts'], 'readonly', (transaction) => {
      const end = transaction.objectStore('entries').openKeyCursor(null, 'prev');
      const all = ['meta', 'drafts'].map((name) => {
        const store = transaction.objectStore(name);
        return { names: store.getAllKeys(), values: store.getAll() };
      });
      return () => {
        const [meta, drafts] = all.map(({ names, values }) => new Map(names.result.map((name, at) => [name, values.result[at]])));
        this.seen = { meta, drafts };
        const { chain = noChain, contact, me = null, units = {}, by = '', room, leaving, opening } = Object.fromEntries(meta);
        return { last: end.result?.key ?? 0, chain, contact, me, units, by, room, leaving, opening };
      };
    });
  }

  /** Whatever is asked from here on is read from the disk: other tabs write there too. */
  fresh() {
    this.seen = null;
  }

  /**
   * Keeps what the room showed last. A phone that loses it opens as any other,
   * so nobody waits until the disk has it.
   *
   * @param {string} raw
   * @returns {Promise<void>}
   */
  keepOpening(raw) {
    return this.transact(['meta'], 'readwrite', (transaction) => {
      transaction.objectStore('meta').put(raw, 'opening');
      return () => undefined;
    }, 'relaxed');
  }

  /**
   * What the exchange opens with: the chain, the office, and every record that
   * is on this phone only.
   *
   * @returns {Promise<{chain: Chain, contact: object|undefined, unsent: Held[]}>}
   */
  standing() {
    return this.transact(['entries', 'meta'], 'readonly', (transaction) => {
      const unsent = transaction.objectStore('entries').index('state').getAll('unsent');
      const chain = transaction.objectStore('meta').get('chain');
      const contact = transaction.objectStore('meta').get('contact');
      return () => ({ chain: chain.result ?? noChain, contact: contact.result, unsent: unsent.result });
    });
  }

  /** Deletes the log, whole: the phone is handed back and the office has every entry. @returns {Promise<void>} */
  async destroy() {
    (await this.database()).close();
    this.opening = null;
    return new Promise((resolve, reject) => {
      const request = database.remove();
      request.onsuccess = () => resolve();
      request.onerror = () => reject(request.error);
      request.onblocked = () => this.onBlocked('Close the other tabs of Gaugebook, so that this phone can be wiped.');
    });
  }

  /** @returns {Promise<Record<'unsent'|'quarantined'|'malformed', number>>} how many records are where, but for those in the office's log */
  count() {
    return this.transact(['entries'], 'readonly', (transaction) => {
      const states = transaction.objectStore('entries').index('state');
      const counts = ['unsent', 'quarantined', 'malformed'].map((state) => [state, states.count(state)]);
      return () => Object.fromEntries(counts.map(([state, count]) => [state, count.result]));
    });
  }

  /**
   * Saves one sealed entry and clears the draft it was made of, all or nothing.
   *
   * @param {Held} held
   * @param {Chain} from the chain the entry was sealed on
   * @param {Chain} to the chain after it
   * @param {string} [draft]
   * @returns {Promise<void>}
   */
  save(held, from, to, draft) {
    return this.transact(['entries', 'meta', 'drafts'], 'readwrite', (transaction, abort) => {
      swap(transaction, abort, { from, to }, () => {
        transaction.objectStore('entries').add(held);
        if (draft) transaction.objectStore('drafts').delete(draft);
      });
      return () => undefined;
    });
  }

  /**
   * Does one Store of the exchange: everything it says, or nothing.
   *
   * Where it says that its records were pulled, it resolves with the places of
   * those that are new, one after the other if there are any, and with how many
   * were here before.
   *
   * @param {Store} store
   * @returns {Promise<{first?: number, last?: number, known: number}>}
   */
  store({ chain, contact, put = [], pulled, reoffer }) {
    return this.transact(['entries', 'meta'], 'readwrite', (transaction, abort) => {
      const entries = transaction.objectStore('entries');
      let added = [];
      const rest = () => {
        if (contact) transaction.objectStore('meta').put(contact, 'contact');
        if (pulled) added = put.map((held) => addOrPut(entries, held));
        else for (const held of put) putOrAdd(entries, held);
        if (reoffer) offerAgain(entries);
      };
      if (chain) swap(transaction, abort, chain, rest);
      else rest();
      return () => {
        const places = added.filter(({ error }) => error === null).map(({ result }) => result);
        return { first: places[0], last: places.at(-1), known: added.length - places.length };
      };
    }, pulled && !chain ? 'relaxed' : 'strict'); // a page that a flat battery takes back takes its mark with it, and is pulled again
  }

  /** @param {string} name @returns {Promise<any>} */
  async get(name) {
    if (this.seen) return this.seen.meta.get(name);
    return this.transact(['meta'], 'readonly', (transaction) => {
      const request = transaction.objectStore('meta').get(name);
      return () => request.result;
    });
  }

  /** @param {string} name @param {any} value @returns {Promise<void>} */
  put(name, value) {
    this.seen?.meta.set(name, value);
    return this.transact(['meta'], 'readwrite', (transaction) => {
      transaction.objectStore('meta').put(value, name);
      return () => undefined;
    });
  }

  /** @param {string} name @returns {Promise<any>} what a form held when it was last touched */
  async draft(name) {
    if (this.seen) return this.seen.drafts.get(name);
    return this.transact(['drafts'], 'readonly', (transaction) => {
      const request = transaction.objectStore('drafts').get(name);
      return () => request.result;
    });
  }

  /** @param {string} name @param {any} values nothing to forget it @returns {Promise<void>} */
  keepDraft(name, values) {
    this.seen?.drafts.set(name, values);
    return this.transact(['drafts'], 'readwrite', (transaction) => {
      const store = transaction.objectStore('drafts');
      if (values === undefined) store.delete(name);
      else store.put(values, name);
      return () => undefined;
    });
  }
}

/** Moves the chain if it still is where it should be, and then does the rest. */
function swap(transaction, abort, { from, to }, rest) {
  const meta = transaction.objectStore('meta');
  const now = meta.get('chain');
  now.onsuccess = () => {
    const { device, seq } = now.result ?? noChain;
    if (device !== from.device || seq !== from.seq) return abort(new ChainMoved('another tab saved an entry meanwhile'));
    meta.put(to, 'chain');
    rest();
  };
}

/** Replaces the record of this id; one that is not there is new and goes to the end. */
function putOrAdd(entries, held) {
  const there = entries.index('id').getKey(held.id);
  there.onsuccess = () => {
    if (there.result === undefined) entries.add(held);
    else entries.put(held, there.result);
  };
}

/** The same for a record that is likely new: half the requests. */
function addOrPut(entries, held) {
  const added = entries.add(held);
  added.onerror = (event) => {
    if (added.error.name !== 'ConstraintError') return;
    event.preventDefault(); // the transaction goes on
    event.stopPropagation();
    putOrAdd(entries, held);
  };
  return added;
}

/** Marks records as unsent once more: the office lost its log, or may have. */
function offerAgain(entries) {
  const walk = entries.openCursor();
  walk.onsuccess = () => {
    const cursor = walk.result;
    if (!cursor) return;
    if (cursor.value.state !== 'unsent') cursor.update({ ...cursor.value, state: 'unsent' });
    cursor.continue();
  };
}

/** @param {DOMException|null} error */
function readable(error) {
  if (error?.name === 'QuotaExceededError') {
    return new NoRoom('The phone has no room left: nothing was saved. Free some space, then save again; what you typed is still here.');
  }
  return error ?? new Error('the phone broke off the saving');
}
