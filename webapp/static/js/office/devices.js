/**
 * The phones of the book: who may write, a new one, one that ends, and what
 * waits for the owner.
 *
 * @module
 */
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { makeField } from '../view/field.js';
import { square } from '../view/square.js';

const lookAgainMs = 2500;

/** @type {import('../view/pages.js').PageMaker} */
export async function devicesPage(app) {
  const list = h('div', {});
  const waiting = h('section', { class: 'leaf', 'aria-label': 'Waiting for you', hidden: true });
  const leftOut = h('div', {});
  const adding = h('div', {});
  const sheetPlace = h('div', {});
  const wrong = h('p', { class: 'fault', role: 'alert' });
  let known = null;
  let issued = null;
  let shownAsides = '';

  const refresh = async () => {
    let got;
    try {
      got = await ask('/devices/v1');
    } catch (error) {
      wrong.textContent = error.message;
      return;
    }
    wrong.textContent = '';
    show(list, h('table', {}, h('caption', {}, 'Phones of this book'),
      h('thead', {}, h('tr', {}, ['Phone', 'Role and time', 'End it'].map((name) => h('th', { scope: 'col' }, name)))),
      h('tbody', {}, got.devices.map((device) => deviceRow(device)))));
    await showAsides(got.asides);
    showSheet(got.sheet);
    if (issued) greet(got.devices);
    known ??= new Set(got.devices.map(({ name }) => name));
  };

  // What waits, and behind a fold what the owner left out: it can still be let in.
  const showAsides = async (asides) => {
    const said = await app.ask('view', { what: 'asides', asides: asides.map(({ address, kind, v, body }) => ({ address, kind, v, body: JSON.parse(body) })) });
    const now = JSON.stringify([asides, said]);
    if (now === shownAsides) return; // a reason may be half typed
    shownAsides = now;
    const item = (aside, at) => h('li', {}, h('p', {}, h('b', {}, `${aside.address}: ${aside.kind}`), `, ${aside.happened.replace('T', ' ')}, by ${aside.by}: ${aside.why}.`),
      h('dl', { class: 'beside' }, said[at].says.map(({ label, value }) => h('div', {}, h('dt', {}, label), h('dd', {}, value)))),
      said[at].left ? h('p', {}, `${said[at].left}.`) : null,
      h('button', { type: 'button', 'aria-label': `Let ${aside.address} in`, onclick: () => act('/devices/v1/accept', { ids: [aside.id] }) }, 'Let it in'),
      said[at].left ? null : drawer(app, { kind: 'entry declined', title: `Leave ${aside.address} out`, save: 'Leave it out', draft: `left out ${aside.address}`,
        fixed: { entry: aside.address, what: `${aside.kind}, ${aside.happened}` }, onsaved: refresh }));
    const items = asides.map((aside, at) => ({ left: said[at].left, node: item(aside, at) }));
    const nodes = (left) => items.filter((one) => Boolean(one.left) === left).map(({ node }) => node);
    const [open, out] = [nodes(false), nodes(true)];
    waiting.hidden = open.length === 0;
    show(waiting, h('h2', {}, 'Waiting for you'),
      h('p', {}, 'Written by a phone whose role or time did not cover it. None of it counts in the book until you let it in; what you leave out stays aside as it came, with your reason in the book.'),
      h('ul', { class: 'things' }, open));
    show(leftOut, out.length === 0 ? null : h('details', {}, h('summary', {}, `Left out: ${out.length}`), h('ul', { class: 'things' }, out)));
  };

  // A phone that was never here begins with the join sheet.
  const showSheet = (sheet) => {
    if (sheetPlace.hasChildNodes()) return;
    show(sheetPlace, h('h2', { id: 'join-sheet' }, 'A phone that was never here'), sheet ? [
      h('p', {}, 'It begins with the join sheet: in the house’s Wi-Fi it scans this square, or opens ', h('b', {}, sheet.join), '. The steps are there with pictures, for iPhone, Android and computers.'),
      square(sheet.qr, sheet.join),
      sheet.print ? h('p', {}, 'What it is asked to trust has this SHA-256, on the sheet as on the phone: ', h('code', {}, sheet.print)) : null,
      h('p', {}, h('a', { class: 'button', href: '/join', target: '_blank', rel: 'noopener' }, 'Print the join sheet')),
    ] : h('p', {}, 'This office answers this computer only. Other phones can join once it is served to the house’s network: gaugebook serve, without --demo and without --listen.'));
  };

  const deviceRow = (device) => h('tr', {},
    h('th', { scope: 'row' }, device.name, h('br'), h('span', { class: 'help' }, device.label, device.you ? ', this phone' : '')),
    h('td', {}, device.role, h('br'), h('span', { class: 'help' }, device.says), h('br'),
      device.over ? 'ended' : device.ends_ms ? `until ${new Date(device.ends_ms).toLocaleString([], { dateStyle: 'short', timeStyle: 'short' })}` : 'no end', device.words ? `; ${device.words}` : ''),
    h('td', {}, device.over || device.you ? null : h('button', { type: 'button', 'aria-label': `End ${device.name}`, onclick: () => act('/devices/v1/end', { device: device.name }) }, 'End')));

  const act = async (path, body) => {
    try {
      await ask(path, body);
      wrong.textContent = '';
    } catch (error) {
      wrong.textContent = error.message;
    }
    await refresh();
    app.exchange.now();
  };

  // A phone that took the code shows two words; so does this screen.
  const greet = (devices) => {
    const come = devices.find(({ name }) => !known.has(name));
    if (!come) return;
    issued = null;
    known.add(come.name);
    show(adding, h('p', { role: 'status' }, 'It joined as ', h('b', {}, come.name), '. Its screen shows the words ', h('b', {}, come.words), '.'),
      h('button', { type: 'button', onclick: () => show(adding, form()) }, 'The same words'),
      h('button', { type: 'button', onclick: () => { act('/devices/v1/end', { device: come.name }); show(adding, form()); } }, 'Other words: end it'));
  };

  const form = () => {
    const role = makeField({ key: 'role', label: 'Role', type: 'word', need: true, words: ['counter', 'cellar hand', 'distiller', 'reader', 'owner'] });
    const label = makeField({ key: 'label', label: 'Whose phone', type: 'text', need: true, max_len: 64 });
    const ends = h('input', { type: 'datetime-local', id: 'phone-ends' });
    const choose = h('select', { id: 'phone-run' });
    app.ask('countable', {}).then(({ runs: open }) => show(choose, h('option', { value: '' }, 'none'), open.map((run) => h('option', { value: JSON.stringify(run) }, run.title))));
    const bad = h('p', { class: 'fault', role: 'alert' });
    return h('form', {
      novalidate: true, 'aria-labelledby': 'add-phone', onsubmit: async (event) => {
        event.preventDefault();
        const run = choose.value ? JSON.parse(choose.value) : { run: '', named: [] };
        const counter = role.get() === 'counter';
        try {
          issued = await ask('/devices/v1/invite', {
            role: role.get(), label: label.get(), run: counter ? run.run : '', named: counter ? run.named : [], ends_ms: ends.value ? new Date(ends.value).getTime() : 0,
          });
        } catch (error) {
          bad.textContent = error.message;
          return;
        }
        show(adding, h('p', {}, 'The phone scans the square, or types the code. It is good once, until ', new Date(issued.until_ms).toLocaleTimeString([], { timeStyle: 'short' }), '.'),
          h('p', { class: 'code' }, h('b', {}, issued.code)), square(issued.qr, issued.link), h('p', {}, 'An iPhone types it inside the icon on its home screen.'));
        again();
      },
    }, h('h2', { id: 'add-phone' }, 'Add a phone'),
    role.node, h('div', { class: 'field' }, h('label', { for: 'phone-run' }, 'Bottling run it counts'), choose), label.node,
    h('div', { class: 'field' }, h('label', { for: 'phone-ends' }, 'Its time ends'), ends), bad, h('div', { class: 'act' }, h('button', { type: 'submit', class: 'main' }, 'Make a code')));
  };

  const again = () => setTimeout(async () => {
    if (!issued || !list.isConnected) return;
    await refresh();
    again();
  }, lookAgainMs);

  if (app.standing.me && app.standing.me.role !== 'owner') {
    return { node: [h('section', { class: 'leaf', 'aria-label': 'Phones' }, h('p', {}, 'Only an owner’s phone shows and ends the phones of this book.'))], refresh: async () => {} };
  }
  show(adding, form());
  await refresh();
  return { node: [waiting, h('section', { class: 'leaf', 'aria-label': 'Phones' }, wrong, adding, sheetPlace), h('section', { class: 'leaf', 'aria-label': 'Phones of this book' }, list, leftOut)], refresh };
}

/** Asks the office; its refusal is the error's sentence. */
export async function ask(path, body) {
  let response;
  try {
    response = await fetch(path, {
      method: body ? 'POST' : 'GET', headers: body ? { 'Content-Type': 'application/json' } : {}, body: body ? JSON.stringify(body) : undefined,
      cache: 'no-store', credentials: 'same-origin', signal: AbortSignal.timeout(15000),
    });
  } catch {
    throw new Error('The office could not be reached. Phones are added and ended within reach of it.');
  }
  const got = await response.json();
  if (response.ok) return got;
  throw new Error((got.faults ?? []).map(({ limit, remedy }) => `${limit}${remedy ? `; ${remedy}` : ''}.`).join(' ') || 'The office did not take it.');
}
