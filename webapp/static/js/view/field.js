/**
 * One field of a form, of any type the engine describes. Every field is a
 * labelled control with one string value (a list for repeated parts), and a
 * place below it for help or for what is wrong.
 *
 * @module
 */
import { h, freshId, show } from './dom.js';
import '../element/quantity.js';

/**
 * As the engine describes it.
 *
 * @typedef {{key: string, label: string, help?: string, type: string, need?: boolean, units?: {symbol: string, name: string}[],
 *   words?: string[], choices?: {value: string, label: string}[], max_len?: number, fields?: Described[], front?: boolean}} Described
 *
 * @typedef {{key: string, node: HTMLElement, get: () => any, set: (value: any) => void, fault: (sentence: string) => void, focus: () => void}} Field
 */

/**
 * @param {Described} described
 * @param {{unit?: (key: string) => string|undefined}} [taste] units this phone last used
 * @returns {Field}
 */
export function makeField(described, taste = {}) {
  switch (described.type) {
    case 'figure': return figure(described, taste);
    case 'flag': return flag(described);
    case 'tapped': return tapped(described);
    case 'group': return group(described, taste);
    case 'word': return choice(described, (described.words ?? []).map((word) => ({ value: word, label: word })));
    case 'ref': return choice(described, described.choices ?? []);
    case 'time': return time(described);
    default: return words(described);
  }
}

function figure(described, taste) {
  const element = document.createElement('gb-quantity').describe({
    label: described.label, name: described.key, units: described.units ?? [], unit: taste.unit?.(described.key),
    need: described.need, help: described.help,
  });
  element.className = 'field';
  return {
    key: described.key, node: element,
    get: () => element.value,
    set: (value) => { element.value = value ?? ''; },
    fault: (sentence) => { element.fault = sentence; },
    focus: () => element.focus(),
  };
}

/** The frame around a control: its label, itself, its words. */
function framed(described, control, get, set) {
  control.id = freshId('field');
  control.name = described.key;
  const below = h('p', { id: `${control.id}-words`, class: 'field-words' }, described.help);
  control.setAttribute('aria-describedby', below.id);
  return {
    key: described.key,
    node: h('div', { class: 'field' }, h('label', { for: control.id }, described.label, described.need ? h('span', { class: 'needed' }, ' needed') : null), control, below),
    get, set,
    fault: (sentence) => {
      control.setAttribute('aria-invalid', String(sentence !== ''));
      below.classList.toggle('fault', sentence !== '');
      below.textContent = sentence || described.help || '';
    },
    focus: () => control.focus(),
  };
}

function words(described) {
  const properties = {
    count: { type: 'text', inputmode: 'numeric', autocomplete: 'off' },
    date: { type: 'date' },
  }[described.type] ?? { type: 'text', autocomplete: 'off', maxlength: described.max_len };
  const control = h('input', { ...properties, required: Boolean(described.need), enterkeyhint: 'next' });
  const field = framed(described, control, () => control.value, (value) => { control.value = value ?? ''; });
  if (described.type === 'text') field.node.classList.add('wide');
  return field;
}

function choice(described, choices) {
  const control = h('select', { required: Boolean(described.need) });
  const offer = (list) => show(control, h('option', { value: '' }, list.length === 0 ? 'none in the book yet' : described.need ? 'choose' : '—'), list.map(({ value, label }) => h('option', { value }, label)));
  offer(choices);
  return framed(described, control, () => control.value, (value) => {
    control.value = value ?? '';
    if (control.selectedIndex < 0) control.value = '';
  });
}

/** One of a few words, each under a thumb; tapped again it is taken back. */
function tapped(described) {
  const name = freshId('word');
  const radios = (described.words ?? []).map((word) => h('input', {
    type: 'radio', name, value: word, id: freshId('tap'),
    onclick: (event) => {
      if (last === word) set('');
      last = get();
      event.target.dispatchEvent(new Event('input', { bubbles: true }));
    },
  }));
  const below = h('p', { class: 'field-words' }, described.help);
  let last = '';
  const get = () => radios.find(({ checked }) => checked)?.value ?? '';
  const set = (value) => {
    radios.forEach((radio) => { radio.checked = radio.value === value; });
    last = get();
  };
  return {
    key: described.key,
    node: h('fieldset', { class: 'field wide tapped' }, h('legend', {}, described.label), h('div', { class: 'taps' }, radios.map((radio) => [radio, h('label', { for: radio.id }, radio.value)])), below),
    get, set: (value) => set(value ?? ''),
    fault: (sentence) => {
      below.classList.toggle('fault', sentence !== '');
      below.textContent = sentence || described.help || '';
    },
    focus: () => radios[0]?.focus(),
  };
}

function flag(described) {
  const control = h('input', { type: 'checkbox' });
  const field = framed(described, control, () => (control.checked ? 'yes' : ''), (value) => { control.checked = value === 'yes' || value === true; });
  field.node.classList.add('flag');
  return field;
}

/** A date and time of this phone, with its offset; empty is 'now', at the moment of saving. */
function time(described) {
  const control = h('input', { type: 'datetime-local' });
  return framed(described, control, () => (control.value ? withOffset(new Date(control.value)) : ''), (value) => { control.value = value ? value.slice(0, 16) : ''; });
}

/** @param {Date} date @returns {string} RFC 3339 in this phone's zone: 2026-11-25T09:05:00-05:00 */
export function withOffset(date) {
  const two = (n) => String(n).padStart(2, '0');
  const offset = -date.getTimezoneOffset();
  const away = Math.abs(offset);
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}T${two(date.getHours())}:${two(date.getMinutes())}:${two(date.getSeconds())}` +
    `${offset < 0 ? '-' : '+'}${two(Math.floor(away / 60))}:${two(away % 60)}`;
}

function group(described, taste) {
  /** @type {{fields: Field[], node: HTMLElement}[]} */
  let parts = [];
  const list = h('div', { class: 'parts' });
  const below = h('p', { class: 'field-words' }, described.help);
  const add = (values = {}) => {
    const fields = (described.fields ?? []).map((field) => ({ ...makeField(field, taste), need: field.need || field.front }));
    fields.forEach((field) => field.set(values[field.key]));
    const part = {
      fields,
      node: h('fieldset', { class: 'part' }, h('legend', {}, `${described.label} ${parts.length + 1}`), fields.filter(({ need }) => need).map(({ node }) => node),
        fields.some(({ need }) => !need) ? h('details', {}, h('summary', {}, 'More'), h('div', { class: 'fields' }, fields.filter(({ need }) => !need).map(({ node }) => node))) : null,
        h('button', {
          type: 'button', class: 'quiet',
          onclick: () => {
            parts = parts.filter((other) => other !== part);
            part.node.remove();
            list.dispatchEvent(new Event('input', { bubbles: true }));
          },
        }, 'Take this one away')),
    };
    parts.push(part);
    list.append(part.node);
    return part;
  };
  const more = h('button', { type: 'button', class: 'quiet', onclick: () => add().fields[0]?.focus() }, `Add: ${described.label.toLowerCase()}`);
  const inner = (sentence, path) => {
    const [, at, key] = path.match(/^\[(\d+)\]\.(.+)$/) ?? [];
    const field = at && parts[Number(at) - 1]?.fields.find((one) => one.key === key);
    if (field) field.fault(sentence);
    return Boolean(field);
  };
  return {
    key: described.key,
    node: h('div', { class: 'field group' }, h('p', { class: 'label' }, described.label), list, more, below),
    get: () => parts.map(({ fields }) => Object.fromEntries(fields.map((field) => [field.key, field.get()]).filter(([, value]) => value !== ''))).filter((part) => Object.keys(part).length > 0),
    set: (values) => {
      parts = [];
      list.replaceChildren();
      (values ?? []).forEach(add);
    },
    fault: (sentence, path = '') => {
      if (path && inner(sentence, path)) return;
      if (!sentence) parts.forEach(({ fields }) => fields.forEach((field) => field.fault('')));
      below.classList.toggle('fault', sentence !== '');
      below.textContent = sentence || described.help || '';
    },
    focus: () => more.focus(),
  };
}
