/**
 * The wiring: one log, one engine, one exchange, one room at a time.
 *
 * @module
 */
import { Engine, Refused } from './engine.js';
import { glanced, log } from './glance.js';
import { ChainMoved, noChain } from './log.js';
import { Opening } from './opening.js';
import { absent, fetchAll, fetched, made, rooms, sheets, vesselHere } from './rooms.js';
import { Standing } from './standing.js';
import './element/badge.js';
import { h, show } from './view/dom.js';
import { withOffset } from './view/field.js';
import { keepFocus } from './view/focus.js';
import './view/form.js'; // what almost every room is made of: fetched with the first of the page

/** Between two questions to the office about this phone. */
const watchMs = 5000;

/** This page's build, as its address has it: /app/<build>/js/main.js. */
const build = new URL(import.meta.url).pathname.split('/')[2];

/** Resolves when the browser has shown what was drawn; soon where nobody sees the page. */
const painted = () => new Promise((resolve) => {
  requestAnimationFrame(() => setTimeout(resolve));
  setTimeout(resolve, 200);
});

export class App {
  constructor() {
    this.log = log;
    log.onBlocked = (why) => this.notice('log', why);
    /** @type {Engine} started when what was kept is drawn: until then the page needs the phone for itself */
    this.engine = undefined;
    /** @type {import('./exchange.js').Exchange} there once the page is equipped */
    this.exchange = undefined;
    this.standing = new Standing(this);
    this.opening = new Opening(this, build);
    this.isOpen = false; // the engine has held the book
    /** Resolves when the engine holds the book, anew after each of its starts. */
    this.opened = new Promise((resolve) => { this.begun = resolve; });
    this.opened.catch(() => {}); // who asks is told
    this.left = false;
    this.lock = undefined;
    this.hall = new BroadcastChannel('gaugebook');
    this.hall.onmessage = ({ data }) => this.heard(data);
    /** @type {Set<{node: HTMLElement}>} */
    this.dirty = new Set(); // forms with something in them
    this.last = 0;
    this.chain = noChain;
    this.contact = undefined;
    this.there = () => {}; // told when a room that is drawn from what was kept can be seen
    this.units = {};
    this.by = '';
    this.joining = null;
    this.code = ''; // scanned with a station
    this.catching = Promise.resolve();
    this.clocks = Promise.resolve();
    this.behind = null; // a catching up that has not begun
    this.unread = false; // it has to read the log
    this.pages = []; // it has these from the office: what the log stored and the engine has
    this.known = 0; // how often there was something new to show,
    this.showing = 0; // how much of it is being shown,
    this.stands = 0; // and how much of it stands there, all of it
  }

  async start() {
    const place = document.getElementById('room');
    this.place = place;
    keepFocus(place);
    this.badge = document.createElement('gb-badge');
    this.title = h('h1', {}, 'Gaugebook');
    this.receipt = h('p', { class: 'receipt', role: 'status' });
    this.doors = h('button', { type: 'button', class: 'quiet doors', disabled: true, onclick: () => this.showBuilding() }, 'Rooms'); // locked until the book is open
    this.asOf = h('p', { class: 'as-of unprinted', role: 'status' });
    show(document.getElementById('top'), h('div', { class: 'head' }, this.doors, this.title, this.badge), this.receipt, this.asOf);
    this.badge.addEventListener('sendnow', () => this.exchange?.now());
    if (!navigator.serviceWorker?.controller) this.equip().catch(() => {}); // it comes over the network: all at once. What is wrong is said below
    let drawn = false;
    try {
      const { leaving, opening, ...ground } = await glanced;
      const { units, by, chain, contact, me, room } = ground;
      Object.assign(this, { units, by, chain, contact, keptRoom: room });
      if (leaving) { // switched off in the middle of being handed back
        await this.equip();
        const { wipe } = await import('./handback.js');
        await wipe(this, (words) => show(place, h('p', { role: 'status' }, words)));
        return this.showHandedBack(leaving);
      }
      drawn = !location.hash && this.opening.take(opening, ground, room) && await this.drawKept(me, room);
      await this.reopen();
      if (drawn && JSON.stringify(me) === JSON.stringify(this.standing.me)) {
        await this.drawing.catch(() => this.go(room)); // an answer that a room cannot use is no reason not to open
        await this.refresh();
      } else {
        this.here = (await this.scanned()) || rooms.find(({ key }) => key === room)?.key;
        await this.go(this.here);
      }
      this.asOf.textContent = '';
      this.doors.disabled = false;
    } catch (error) {
      this.asOf.textContent = '';
      this.failed(error, drawn);
      return;
    }
    addEventListener('hashchange', async () => { // a vessel's label was scanned, or a station's square
      const room = await this.scanned();
      if (room) this.enter(room);
    });
    this.exchange.start();
    this.watch();
    this.parts.keepOffline({
      busy: () => this.left || this.writing() || this.exchange.running, // who hands the phone back reads what it says
      onWaiting: (take) => this.notice('update', 'A newer Gaugebook is on this phone. It starts by itself when you put the phone away.', {
        words: 'Start it now',
        act: () => {
          if (this.writing()) this.notice('update', 'The newer Gaugebook starts as soon as what is being written here is saved or cleared.');
          take();
        },
      }),
      onState: (words) => this.notice('offline', words),
    }).catch((error) => this.notice('offline', `This phone could not keep the app for opening without a network: ${error.message}`));
    if (!navigator.serviceWorker?.controller) fetchAll();
    const kept = await navigator.storage?.persist?.();
    this.exchange.protectedStorage = kept ?? false;
  }

  /** Fetches what after.js holds. */
  equip() {
    this.equipped ??= import('./after.js').then(({ Exchange, ...parts }) => {
      this.exchange = new Exchange(this);
      this.parts = parts;
    });
    return this.equipped;
  }

  /**
   * Draws the room from what was kept. Resolves when it can be seen, or when it
   * turns out that only the engine can go on; says whether there is something.
   */
  async drawKept(me, room) {
    this.standing.recall(me, this.opening.kept.role);
    if (this.standing.over) return false;
    this.asOf.textContent = 'As shown last. The book is still being opened.';
    const there = new Promise((resolve) => { this.there = resolve; });
    this.drawing = this.go(room);
    this.drawing.catch(() => {});
    await Promise.race([there, this.drawing, this.opening.missed]);
    return true;
  }

  /**
   * The room that opens what was scanned, '' for nothing: a vessel's label, a
   * barrel's, which has a page of its own, a case's, or the square of a bottling station.
   * That holds a code for a phone that has not joined; it is dropped here, so
   * that it stands in no address.
   */
  async scanned() {
    const square = new URLSearchParams(location.hash.slice(1));
    const station = square.get('station');
    if (station) {
      this.code = square.get('join') ?? '';
      history.replaceState(null, '', '/');
      await this.log.put('bottling floor', { page: 'station', station });
      return 'bottling';
    }
    const lot = square.get('lot');
    if (lot) { // the label of a case
      history.replaceState(null, '', '/');
      await this.log.put('office', { page: 'trace', lot });
      return 'office';
    }
    const vessel = vesselHere();
    if (!vessel) return '';
    const { room, page } = await this.ask('view', { what: 'scanned', vessel });
    if (page) {
      history.replaceState(null, '', location.pathname); // the label was read; from here the page leads
      await this.log.put(room, { page, barrel: vessel, tank: vessel });
    }
    return room;
  }

  /**
   * Asks the engine, once it holds the book. Until then what was kept of the
   * room answers, where the question is the same. The rooms' one way to the engine.
   *
   * @param {string} name
   * @param {object} [body]
   * @returns {Promise<any>}
   */
  async ask(name, body = {}) {
    const kept = this.opening.answer(name, body);
    if (kept !== undefined) return kept;
    await this.opened;
    const { known } = this;
    const answer = await this.engine.call(name, body);
    this.opening.hear(name, body, answer, known);
    return answer;
  }

  /** Gives a new engine what the log holds. */
  reopen() {
    this.opened = this.open();
    this.begun(this.opened); // who asked before the first of them waits for it
    return this.opened;
  }

  async open() {
    this.engine ??= new Engine(() => this.reopen(), rooms.find(({ key }) => key === this.keptRoom)?.size);
    const [{ lines, last, chain, contact }, me] = await Promise.all([this.log.read(0), this.log.get('me'), this.equip()]);
    Object.assign(this, { chain, contact });
    await Promise.all([ // the engine answers in the order it is asked
      this.engine.call('hello', { app: build }), this.engine.call('open', bytesOf(lines)), this.standing.take(me ?? null), this.exchange.opened(),
    ]);
    this.last = last;
    this.known++;
    this.isOpen = true;
    this.log.fresh();
    this.opening.end();
  }

  /**
   * Brings the engine up to date with a log that this tab, another, or the office added to.
   *
   * @param {{first?: number, last?: number, known: number, contact: object}} [page] of the office, that the engine has: it is not read again
   */
  catchUp(page) {
    if (page) this.pages.push(page);
    else this.unread = true;
    this.behind ??= this.catching = this.catching.then(() => { // what comes before it begins, it reads too
      this.behind = null;
      return this.readOn();
    }).catch((error) => this.notice('engine', `The figures shown may be old: ${error.message}`));
    return this.behind;
  }

  async readOn() {
    await this.opened;
    const pages = this.pages.splice(0);
    let { last, contact, unread } = this;
    for (const page of pages) {
      if ((page.first ?? last + 1) === last + 1) ({ last = last, contact } = page);
      else unread = true; // another entry came before it
    }
    this.unread = false;
    const got = unread ? await this.log.read(last) : { lines: [], last, chain: this.chain, contact };
    const joined = this.chain.device === '' && got.chain.device !== '';
    this.chain = got.chain;
    if (got.lines.length > 0 || pages.length > 0) {
      await this.engine.call('add', bytesOf(got.lines));
      this.known++;
    }
    Object.assign(this, { last: got.last, contact: got.contact }); // not before it is known that there is something new: what is kept of a room says how far it went
    if (unread || pages.some(({ known }) => known > 0)) { // else nothing changed its whereabouts
      if (await this.exchange.count()) this.known++;
    }
    if (joined) {
      this.joining = null;
      await this.look(); // its role decides which doors there are
      await this.go(this.here);
    } else if (!this.behind) await this.refresh(); // a room is shown once, not page by page of what the office sends
    this.opening.soon();
  }

  /**
   * Seals and saves one entry. Resolves with its address once the log has it.
   * The tabs of a phone take turns, where it has Web Locks; where it has none,
   * the slower tab seals again.
   *
   * @param {{kind: string, body: Record<string, any>, happened?: string, draft?: string}} entry
   * @returns {Promise<string>}
   */
  async save(entry) {
    await this.opened;
    const turn = () => this.seal(entry);
    return navigator.locks ? navigator.locks.request('gaugebook save', turn) : turn();
  }

  /** Asks the office what this phone is. Says whether its role or its end is another than it was. */
  async look() {
    const { words, grant = 'owner' } = this.standing.me ?? {};
    const was = this.standing.over;
    if (!this.left && this.chain.device !== '' && !document.hidden && (await this.standing.ask())) {
      const { me } = this.standing;
      this.opening.soon();
      if (me.words && me.words !== words && !me.over) this.notice('words', `The office’s screen shows two words for this phone. They must be: ${me.words}.`, { words: 'They are the same', act: () => this.notice('words', '') });
      return me.grant !== grant || this.standing.over !== was;
    }
    return false;
  }

  /** Looks now and then, and locks the phone at its end. */
  async watch() {
    const changed = await this.look();
    const joins = this.joining !== null && this.shown === this.joining;
    if (this.standing.over && !this.left && !joins && this.shown !== this.lock) this.showLock();
    else if (changed && !this.writing()) await this.go(this.here);
    setTimeout(() => this.watch(), watchMs);
  }

  /** This phone's time has ended: nothing is shown but what is not sent yet, and how it is handed back. */
  showLock() {
    this.title.textContent = 'Locked';
    const count = async () => {
      const { unsent } = await this.log.count();
      words.textContent = unsent === 0 ? 'Every entry of this phone is at the office.' : `Only on this phone: ${unsent}. The office keeps late entries aside for the owner.`;
    };
    const words = h('p', { role: 'status' });
    const back = h('div', {});
    this.lock = this.shown = { node: h('div', { class: 'building' }, h('section', { class: 'leaf' }, h('h2', {}, 'This phone’s time has ended'),
      h('p', {}, 'The book is closed on this phone. Nothing that was written is lost.'), words), back), refresh: count };
    this.opening.begin('');
    show(this.place, this.shown.node);
    const offer = () => import('./view/phone.js').then(({ handBackForm }) => show(back, handBackForm(this)), () => show(back, absent('Hand this phone back', offer).node));
    offer();
    this.joinNeeded(this.exchange.told?.need_code ?? false, '', false); // the notice says what an ended phone needs
    return count();
  }

  /** Nothing of the book is on this phone any more. @param {{held: number, of: number}} outcome */
  showHandedBack({ held, of }) {
    document.getElementById('top').replaceChildren();
    document.getElementById('notices').replaceChildren();
    document.title = 'Safe to hand back';
    show(this.place, h('section', { class: 'leaf', role: 'status' }, h('h1', {}, 'Safe to hand back'), h('p', {}, `${held} of ${of} received.`),
      h('p', {}, 'Nothing of the book is on this phone any more. Close this page, and take the icon off the home screen if there is one.')));
    this.place.focus();
  }

  /**
   * The office said what time it is. What this phone wrote since its clock was
   * last known to be right is marked, if it is not.
   *
   * @param {{suspect: boolean, offset_ms: number}} tell
   */
  clockHeard({ suspect, offset_ms }) {
    this.clocks = this.clocks.then(async () => {
      const { device, seq } = this.chain;
      const known = await this.log.get('clock');
      const after = known?.device === device ? known.seq : 0;
      if (seq === after || this.left) return;
      if (suspect && this.standing.may('clock doubted')) {
        await this.save(await this.engine.call('clock', { chain: this.chain, after, offset_ms, written: withOffset(new Date()) }));
      }
      await this.log.put('clock', { device, seq: suspect && this.chain.seq === seq + 1 ? this.chain.seq : seq });
    }).catch((error) => this.notice('clock', `What was written by a wrong clock could not be marked yet: ${error.message}`));
  }

  async seal({ kind, body, happened, draft }) {
    if (this.left) throw new Error('This phone is being handed back: nothing more is written on it.');
    for (let tries = 0; ; tries++) {
      const written = withOffset(new Date());
      const { chain, contact } = this;
      const { address, held, next } = await this.engine.call('seal', { kind, body, written, happened: happened || written, by: this.by, chain, contact });
      try {
        await this.log.save(held, chain, next, draft);
      } catch (error) {
        if (!(error instanceof ChainMoved) || tries > 20) throw error;
        await this.catchUp(); // another tab was quicker: its entry goes first
        continue;
      }
      this.chain = next;
      this.spread({ chain: next, held });
      return address;
    }
  }

  /** Tells everyone else of an entry that is saved: the engine, the room, the exchange, the other tabs. */
  async spread(saved) {
    this.hall.postMessage({ saved });
    this.exchange.saved(saved);
    await this.catchUp();
  }

  /** What another tab of this phone did. @param {{saved?: object, tell?: object, anew?: true}} news */
  async heard({ saved, tell, anew, left }) {
    if (left) {
      this.left = true;
      this.exchange.stop();
      return show(this.place, h('p', { role: 'status' }, 'This phone is being handed back. Close this tab.'));
    }
    if (this.left) return undefined;
    await this.equip();
    if (tell) return this.exchange.show(tell);
    if (anew) await this.reopen();
    await this.catchUp();
    if (saved) this.exchange.saved(saved);
  }

  /**
   * @param {string} [key] the room, the building where there is none
   * @param {() => void} [entered] told as soon as the room stands there, before a person can have touched it
   */
  async go(key, entered = () => {}) {
    if (this.left) return undefined;
    const room = rooms.find((one) => one.key === key && this.standing.enters(key));
    if (this.chain.device === '' || this.standing.over || !room) await this.equip();
    if (this.chain.device === '') return this.showJoin();
    if (this.standing.over) return this.showLock();
    if (!room) return this.showBuilding();
    this.here = room.key;
    this.title.textContent = room.name;
    document.title = `${room.name} · Gaugebook`;
    if (key !== this.keptRoom) this.log.put('room', this.keptRoom = key);
    this.opening.begin(key);
    const { known } = this; // what it shows when it stands there; news may come before
    const module = await fetched(room.load);
    const shown = (module && await made(module.open(this))) ?? absent(room.name, () => this.enter(key));
    this.turned(shown, known);
    show(this.place, shown.node, h('p', { class: 'how unprinted' }, h('button', { type: 'button', class: 'link', onclick: () => this.openManual(key, () => this.enter(key)) }, 'How this room works')));
    entered();
    if (!this.isOpen) {
      await painted();
      this.there();
    }
    await shown.rest?.();
    this.stood(shown, known);
    await this.refresh();
  }

  showBuilding() {
    this.shown = null;
    this.opening.begin('');
    this.title.textContent = 'The building';
    document.title = 'Gaugebook';
    if (this.standing.over) return this.showLock();
    show(this.place, this.parts.building(rooms.filter(({ key }) => this.standing.enters(key)), this.here ?? '', (key) => this.enter(key), () => this.openManual('', () => this.showBuilding())));
    this.place.focus();
  }

  /** @param {string} key */
  async enter(key) {
    await this.go(key, () => {
      this.say('');
      this.place.focus();
      window.scrollTo(0, 0);
    });
  }

  showJoin() {
    this.title.textContent = 'Gaugebook';
    const given = /^#join=([0-9A-Za-z-]{1,64})$/.exec(location.hash)?.[1] ?? this.code; // a code that was scanned; it is in no server's log, nor longer in the address
    if (given) history.replaceState(null, '', '/');
    this.joining = this.shown = this.parts.joinForm(this, { code: given });
    show(this.place, this.shown.node);
  }

  /** The office wants a code, or had something to say about one. */
  joinNeeded(need, problem, working) {
    this.joining?.problem(problem, working);
    const lost = need && this.chain.device !== '' && this.shown !== this.joining;
    const words = this.standing.over ? 'To write in the book again this phone needs a new code from the owner.' : 'The office no longer knows this phone. What you write is kept; join again to send it.';
    this.notice('join', lost ? words : '',
      { words: 'Join again', act: () => this.showJoin() });
  }

  /** @param {string} by how the person of this phone signs */
  async sign(by) {
    this.by = by;
    await this.log.put('by', by);
  }

  /** Shows one entry, what became of it, and how to correct it. @param {string} address */
  async openEntry(address) {
    await this.turnTo(`Entry ${address}`, sheets.entry, ({ entryPage }) => entryPage(this, address, () => this.enter(this.here)));
  }

  /** Opens the manual. @param {string} key of its page, '' for the list of pages @param {() => void} back */
  async openManual(key, back) {
    await this.turnTo('Manual', sheets.manual, ({ manualPage }) => manualPage(this, key, back));
  }

  /** Shows one question of the book, and how to settle it. */
  async openQuestion(question) {
    await this.turnTo('A question', sheets.question, ({ questionPage }) => questionPage(this, question, () => this.enter(this.here)));
  }

  /** Turns to a page of the room; its way back leads to the room. */
  async turnTo(title, load, make) {
    const { known } = this;
    const module = await fetched(load);
    const page = module && await made(make(module));
    if (!page) return this.notice('absent', `“${title}” is not on this phone yet, and the office cannot be reached. Come within its reach, then tap once more.`);
    this.notice('absent', '');
    this.opening.begin('');
    this.turned(page, known);
    this.title.textContent = title;
    show(this.place, page.node);
    this.place.focus();
    window.scrollTo(0, 0);
    await this.refresh();
  }

  /** Brings what is shown up to date, where there is something new. */
  async refresh() {
    const { known, shown } = this;
    if (this.showing === known) return;
    this.showing = known;
    await shown?.refresh();
    this.stood(shown, known);
  }

  /** Another page is shown, which was made of what was known then. What brought the last one up to date is none of its business. */
  turned(shown, known) {
    Object.assign(this, { shown, showing: known, stands: 0 });
  }

  /** All of a page stands there, as far as this was known; another way there may have been quicker with more. */
  stood(shown, known) {
    if (this.shown === shown && known > this.stands) this.stands = known;
  }

  /** A form is touched, or done with. @param {{node: HTMLElement}} form @param {boolean} is */
  touch(form, is) {
    if (is) this.dirty.add(form);
    else this.dirty.delete(form);
  }

  /** Whether something is being written in a form that is to be seen. */
  writing() {
    return [...this.dirty].some(({ node }) => node.isConnected);
  }

  /** @param {string} key @returns {string|undefined} the unit this phone last used for a field */
  unitOf(key) {
    return this.units[key];
  }

  /** @param {string} key @param {string} unit */
  keepUnit(key, unit) {
    this.units[key] = unit;
    this.log.put('units', this.units);
  }

  /** Says what was saved, in sight of every room, until the next form is touched. @param {string} words */
  say(words) {
    this.receipt.textContent = words;
  }

  /**
   * Shows what the app has to say about itself, one line for each subject.
   *
   * @param {string} key
   * @param {string} words '' takes the line away
   * @param {{words: string, act: () => void}} [action]
   */
  notice(key, words, action) {
    const list = document.getElementById('notices');
    list.querySelector(`[data-about="${key}"]`)?.remove();
    if (!words) return;
    list.append(h('div', { class: 'notice', 'data-about': key }, h('p', {}, words),
      action ? h('button', { type: 'button', onclick: action.act }, action.words) : null));
  }

  /** @param {Error} error @param {boolean} drawn whether a room stands there in which something may be typed */
  failed(error, drawn) {
    const words = `The book could not be opened: ${error instanceof Refused ? error.message : String(error?.message ?? error)}`;
    const again = () => location.reload();
    if (drawn) return this.notice('book', `${words}. What was saved on this phone is still there, and what is typed here stays.`, { words: 'Open it again', act: again });
    return show(this.place, h('p', { class: 'fault', role: 'alert' }, words),
      h('p', {}, 'What was saved on this phone is still there. '), h('button', { type: 'button', class: 'main', onclick: again }, 'Open it again'));
  }
}

/** @param {string[]} lines */
function bytesOf(lines) {
  return new TextEncoder().encode(lines.join('\n'));
}

new App().start();
