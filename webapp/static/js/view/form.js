/**
 * The form of one kind of entry, made from the engine's description of it.
 *
 * What is typed is kept as a draft at every touch and survives a reload. The
 * engine looks at it at every touch too, and answers with the figures that
 * follow and with what is wrong; a field is only scolded once it was left, or
 * once 'Save' was pressed. 'Saved' appears after the log says so.
 *
 * @module
 */
import { freshId, h, show } from './dom.js';
import { makeField, withOffset } from './field.js';
import { bigFigure, working } from './working.js';
import { Refused } from '../engine.js';
import { NoRoom } from '../log.js';

/** @typedef {import('./field.js').Described} Described */

/**
 * How a room shows a kind's form.
 *
 * @typedef {object} Shape
 * @property {string} kind
 * @property {string} title
 * @property {string} [save] words of the button; without it nothing is saved, only worked out
 * @property {string[]} [first] keys shown large, in this order, before the others
 * @property {string[]} [folded] keys behind 'More'
 * @property {string[]} [sticky] keys that keep their value after saving
 * @property {Record<string, any>} [fixed] values the room gives; their fields are not shown
 * @property {string} [wanting] what to say while there is no figure
 * @property {string} [draft] name of the draft, where one kind has several forms
 * @property {Record<string, any>} [values] to begin with, where there is no draft
 * @property {() => Promise<Record<string, any>|null>} [again] the last entry's values, for one tap
 * @property {{label: string, ways: {label: string, keys: string[]}[]}[]} [ways] fields that measure the same, one way at a time
 * @property {string[]} [tapped] keys of words that are tapped and not looked up in a list
 * @property {boolean} [bare] the title stands elsewhere
 * @property {Described} [when] the field of the time, where it means another
 * @property {(address: string) => void} [onsaved]
 * @property {(answer: Record<string, any>) => void} [onanswer] hears what the engine makes of what is typed
 */

const instruments = ['hydrometer', 'thermometer', 'indicated_correction', 'temp_correction'];
const gaugeWays = [
  { label: 'Amount by', ways: [{ label: 'volume', keys: ['volume', 'volume_temp'] }, { label: 'weight', keys: ['gross', 'tare', 'net'] }, { label: 'dip', keys: ['dip', 'volume_temp'] }] },
  { label: 'Strength by', ways: [{ label: 'hydrometer', keys: ['indicated', 'temp'] }, { label: 'known strength', keys: ['strength'] }, { label: 'the book', keys: [] }] },
];

export class EntryForm {
  /**
   * @param {import('../main.js').App} app
   * @param {Shape} shape
   * @param {{kind: string, help: string, fields: Described[]}} description
   */
  constructor(app, shape, description) {
    this.app = app;
    this.shape = shape;
    this.draftName = shape.draft ?? shape.kind;
    this.fixed = { ...shape.fixed };
    this.left = new Set();
    this.asked = 0;
    const shown = description.fields.filter(({ key }) => !(key in this.fixed));
    const asked = shown.map((field) => (shape.tapped?.includes(field.key) ? { ...field, type: 'tapped' } : field));
    this.byKey = new Map(asked.map((field) => [field.key, makeField(field, { unit: (key) => app.unitOf(key) })]));
    /** @type {import('./field.js').Field[]} */
    this.fields = [...this.byKey.values()];
    const gauge = this.byKey.has('gross') && this.byKey.has('strength'); // its ways of measuring are offered one at a time
    this.ways = (shape.ways ?? (gauge ? gaugeWays : [])).map((choice) => this.choice(choice));
    const first = shape.first ?? [];
    const folded = [...(gauge ? [...instruments, 'read_by'] : []), ...(shape.folded ?? [])];
    const placed = new Set([...first, ...folded, ...this.ways.flatMap(({ keys }) => keys)]);
    const rest = shown.map(({ key }) => key).filter((key) => !placed.has(key));

    this.figure = h('div', { 'aria-live': 'polite', 'aria-atomic': 'true' });
    this.how = h('div', {});
    this.answer = h('div', { class: 'answer' }, this.figure, this.how);
    this.doubts = h('div', { role: 'status' });
    this.wrong = h('p', { class: 'fault', role: 'alert' });
    this.asText = h('div', {});
    this.button = shape.save ? h('button', { type: 'submit', class: 'main' }, shape.save) : null;
    this.when = makeField(shape.when ?? { key: 'happened', label: 'When it happened', type: 'time', help: 'Left empty, it happened at the moment of saving.' });
    this.repeat = shape.again ? h('button', { type: 'button', class: 'quiet', hidden: true, onclick: () => this.again() }, 'Same as the last one') : null;
    const title = h('h2', { id: freshId('form'), class: shape.bare ? 'unseen' : null }, shape.title);
    const more = [...this.nodes(folded), shape.save ? this.when.node : null].filter(Boolean);
    this.node = h('form', {
      class: shape.bare ? 'inner' : 'leaf', novalidate: true, autocomplete: 'off', 'aria-labelledby': title.id,
      onsubmit: (event) => { event.preventDefault(); this.save(); },
      oninput: () => this.touched(),
      onfocusout: (event) => this.leave(event.target),
      onkeydown: (event) => this.enter(event),
      onunit: (event) => app.keepUnit(event.target.input.name, event.detail),
    },
    title, description.help && !shape.first ? h('p', { class: 'help' }, description.help) : null,
    this.answer, this.doubts,
    first.length > 0 ? h('div', { class: 'fields first' }, this.nodes(first)) : null,
    this.repeat,
    this.ways.map(({ node }) => node),
    rest.length > 0 ? h('div', { class: 'fields' }, this.nodes(rest)) : null,
    more.length > 0 ? h('details', { class: 'more' }, h('summary', {}, 'More'), h('div', { class: 'fields' }, more)) : null,
    h('div', { class: 'act' }, this.wrong, this.asText, this.button));
    this.show(null);
    this.ready = this.restore();
  }

  nodes(keys) {
    return keys.map((key) => this.byKey.get(key)?.node).filter(Boolean);
  }

  /** One of several ways to measure the same; the others are put away and say nothing. What two ways share stands in the chosen one. */
  choice({ label, ways: all }) {
    const ways = all.filter(({ keys }) => keys.length === 0 || this.byKey.has(keys[0]));
    const name = freshId('way');
    const bodies = ways.map(({ keys }) => h('div', { class: 'fields' }, this.nodes(keys)));
    const radios = ways.map((way, at) => h('input', { type: 'radio', name, value: String(at), id: `${name}-${at}`, onchange: () => set(at) }));
    const choice = {
      keys: ways.flatMap(({ keys }) => keys),
      at: 0,
      hidden: () => ways.flatMap(({ keys }) => keys).filter((key) => !ways[choice.at].keys.includes(key)),
      set: (at) => set(at),
      node: h('fieldset', { class: 'ways' }, h('legend', {}, label),
        h('div', { class: 'segments' }, radios.map((radio, at) => [radio, h('label', { for: radio.id }, ways[at].label)])), bodies),
    };
    const set = (at) => {
      choice.at = at;
      radios[at].checked = true;
      bodies[at].append(...this.nodes(ways[at].keys));
      bodies.forEach((body, one) => { body.hidden = one !== at; });
    };
    set(0);
    return choice;
  }

  /** What is typed, field by field, with what the room gives. */
  body() {
    const body = { ...this.fixed };
    const away = new Set(this.ways.flatMap((choice) => choice.hidden()));
    for (const field of this.fields) {
      if (away.has(field.key)) continue;
      const value = field.get();
      if (value !== '' && !(Array.isArray(value) && value.length === 0)) body[field.key] = value;
    }
    return body;
  }

  /** When the entry itself happened, '' for now. */
  happened() {
    return this.when.get();
  }

  /** Fills the form from the draft, else with the room's values. */
  async restore() {
    this.fill(this.shape.values);
    this.untouched = this.snapshot();
    const draft = await this.app.log.draft(this.draftName);
    if (draft) {
      this.fill({ ...this.shape.values, ...draft });
      this.app.touch(this, this.touchedNow());
    }
    const looked = this.look();
    if (this.app.isOpen) await looked; // else the form is there before the engine is
  }

  /** Everything in the form, as one string. */
  snapshot() {
    return JSON.stringify([...this.typed().values()]);
  }

  /** Whether something stands here that would be missed. */
  touchedNow() {
    return this.snapshot() !== this.untouched;
  }

  /** @param {Record<string, any>} values */
  fill(values) {
    for (const field of this.fields) field.set(values?.[field.key]);
    this.when.set(values?.happened);
    this.ways.forEach((choice, at) => choice.set(values?.ways?.[at] ?? choice.at));
  }

  touched() {
    this.app.say('');
    this.wrong.textContent = '';
    this.app.touch(this, this.touchedNow());
    clearTimeout(this.draftTimer);
    this.draftTimer = setTimeout(() => this.keep(), 250);
    this.look();
  }

  /** What each field holds now. */
  typed() {
    return new Map([...this.fields, this.when].map((field) => [field, JSON.stringify(field.get())]));
  }

  keep() {
    const typed = Object.fromEntries(this.fields.map((field) => [field.key, field.get()]));
    const draft = this.touchedNow() ? { ...typed, happened: this.when.get(), ways: this.ways.map(({ at }) => at) } : undefined;
    return this.app.log.keepDraft(this.draftName, draft).then(() => this.app.notice('draft', ''), (error) => this.app.notice('draft', error.message));
  }

  async again() {
    const values = await this.shape.again();
    if (!values) return;
    for (const field of this.fields) if (values[field.key] !== undefined) field.set(values[field.key]);
    this.touched();
  }

  /** Enter goes to the next empty figure first, and saves when there is none. */
  enter(event) {
    if (event.key !== 'Enter' || event.target.tagName !== 'INPUT') return;
    const inputs = [...this.node.querySelectorAll('.first input')];
    const next = inputs[inputs.indexOf(event.target) + 1];
    if (next && next.value === '') {
      event.preventDefault();
      next.focus();
    }
  }

  leave(target) {
    const field = this.fields.find(({ node }) => node.contains(target));
    if (!field || this.left.has(field.key) || field.get() === '') return;
    this.left.add(field.key);
    this.look();
  }

  /** Asks the engine what follows from what is typed. The last question's answer counts. */
  async look() {
    const asked = ++this.asked;
    const answer = await this.app.ask('preview', { kind: this.shape.kind, body: this.body() }).catch(() => ({}));
    if (asked !== this.asked) return;
    this.show(answer.result ?? null);
    this.mind(answer.doubts ?? []);
    this.point(answer.wrong ?? [], (field) => this.left.has(field.key));
    this.shape.onanswer?.(answer);
  }

  /** @param {import('./working.js').Result|null} result */
  show(result) {
    const open = this.how.querySelector('details')?.open ?? false;
    const how = working(result);
    if (how) how.open = open;
    this.answer.hidden = !result && !this.shape.wanting;
    show(this.figure, bigFigure(result, this.shape.wanting ?? ''));
    show(this.how, how);
  }

  /** Says what is doubtful about the instruments; it stops nothing. @param {string[]} doubts */
  mind(doubts) {
    const words = doubts.join(' ');
    if (words !== this.minded) show(this.doubts, doubts.length > 0 ? h('ul', { class: 'says' }, doubts.map((sentence) => h('li', {}, sentence))) : null);
    this.minded = words;
  }

  /**
   * Puts each fault at its field; what has no field here is said at the button.
   *
   * @param {import('../engine.js').Fault[]} faults
   * @param {(field: import('./field.js').Field) => boolean} which
   * @returns {import('./field.js').Field|undefined} the first field at fault
   */
  point(faults, which) {
    let first;
    const homeless = new Set(faults);
    for (const field of this.fields) {
      const own = faults.filter((fault) => fault.field === field.key || fault.field.startsWith(`${field.key}[`));
      own.forEach((fault) => homeless.delete(fault));
      field.fault('');
      if (own.length === 0 || !which(field)) continue;
      first ??= field;
      for (const fault of own) field.fault(fault.sentence, fault.field.slice(field.key.length));
    }
    this.homeless = [...homeless];
    return first;
  }

  /** Opens what hides a field at fault. */
  unfold() {
    for (const words of this.node.querySelectorAll('.field-words.fault')) {
      for (let fold = words.closest('details'); fold && this.node.contains(fold); fold = fold.parentElement.closest('details')) fold.open = true;
    }
  }

  async save() {
    if (this.saving || !this.button) return;
    this.saving = true;
    this.button.setAttribute('aria-disabled', 'true'); // not disabled: that takes the focus away
    this.wrong.textContent = '';
    show(this.asText);
    try {
      await this.keep();
      clearTimeout(this.draftTimer);
      const sent = this.typed();
      const address = await this.app.save({ kind: this.shape.kind, body: this.body(), happened: this.happened(), draft: this.draftName });
      this.saved(address, sent);
    } catch (error) {
      if (error instanceof Refused) {
        const field = this.point(error.faults, () => true);
        this.unfold();
        this.wrong.textContent = field ? this.homeless.map(({ sentence }) => sentence).join(' ') : error.message;
        field?.focus();
      } else {
        this.wrong.textContent = error.message;
        if (error instanceof NoRoom) this.offerText();
      }
    } finally {
      this.saving = false;
      this.button.removeAttribute('aria-disabled');
    }
  }

  /** The phone takes nothing more: the entry is offered as text, to be sent another way or written down. */
  async offerText() {
    const typed = Object.entries({ happened: this.happened() || withOffset(new Date()), by: this.app.by, ...this.body() });
    const lines = [this.shape.kind, ...typed.map(([key, value]) => `${key}: ${typeof value === 'string' ? value : JSON.stringify(value)}`)];
    const area = h('textarea', { id: freshId('text'), readonly: true, rows: '8', onfocus: () => area.select() }, lines.join('\n'));
    const copied = h('span', { role: 'status' });
    show(this.asText, h('div', { class: 'field' }, h('label', { for: area.id }, 'The entry as text'), area),
      h('button', { type: 'button', class: 'quiet', onclick: () => navigator.clipboard.writeText(area.value).then(() => show(copied, 'Copied'), () => area.focus()) }, 'Copy the text'), copied);
    const { rows } = await this.app.ask('qr', { text: area.value }).catch(() => ({ rows: null })); // too long for one: the text is there
    const { square } = (rows && (await import('./square.js').catch(() => null))) ?? {};
    if (square && this.asText.contains(area)) this.asText.append(h('p', { class: 'help' }, 'Or let another phone scan it:'), square(rows, 'the entry'));
  }

  /**
   * Empties the form of what was saved; what was typed meanwhile stays.
   *
   * @param {string} address
   * @param {Map<import('./field.js').Field, string>} sent
   */
  saved(address, sent) {
    this.app.notice('draft', '');
    this.left.clear();
    const kept = this.shape.sticky ?? [];
    let more = false;
    for (const [field, was] of sent) {
      if (JSON.stringify(field.get()) !== was) more = true;
      else if (!kept.includes(field.key)) field.set(undefined);
    }
    if (more) this.touched();
    else {
      this.untouched = this.snapshot();
      this.app.touch(this, false);
    }
    this.app.say(`Saved as ${address}`);
    this.look();
    this.app.catching.then(() => this.shape.onsaved?.(address));
  }
}

/**
 * A form of a kind, described by the engine as the book stands now.
 *
 * @param {import('../main.js').App} app
 * @param {Shape} shape
 */
export async function entryForm(app, shape) {
  const description = await app.ask('form', { kind: shape.kind });
  const form = new EntryForm(app, shape, description);
  await form.ready;
  if (shape.save && !app.standing.may(shape.kind)) show(form.node, h('p', { class: 'help' }, `A phone of the role ${app.standing.me.role} does not write this: ${shape.kind}.`));
  return form;
}
