/**
 * The ferment hall: the board of the fermenters, and the daily check of one of
 * them. An address that ends in #vessel=heron41-12, as it stands on a vessel's
 * printed label, opens that one.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { caution } from '../view/caution.js';
import { corner, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';
import { ruled } from '../view/table.js';
import { vesselHere } from '../rooms.js';

const sweetness = [{ label: 'Sugar by', ways: [{ label: 'as gravity', keys: ['gravity'] }, { label: 'in Brix', keys: ['sugar'] }] }];

/** @type {import('../rooms.js').Open} */
export async function open(app) {
  const board = h('section', { class: 'leaf', 'aria-label': 'The board' });
  const before = h('section', { class: 'leaf', 'aria-label': 'Before' });
  const check = corner();
  const rest = corner();
  const left = h('div', {}, before, check.node, h('section', { class: 'leaf', 'aria-label': 'The fermenter' }, rest.node));
  const right = h('div', {});
  let form = null;
  let wanted = vesselHere() || (await app.log.get('vessel'));

  const look = () => app.ask('view', { what: 'ferment', vessel: wanted ?? '' });
  const choose = async (address) => {
    wanted = address;
    if (vesselHere()) history.replaceState(null, '', location.pathname); // the label was read; from here the board leads
    await app.log.put('vessel', address);
    await refresh();
    before.scrollIntoView({ block: 'start' });
  };

  const refresh = async () => {
    const view = await look();
    const { vessel } = view;
    show(board, h('h2', {}, 'The board'), view.board.length === 0
      ? h('p', { class: 'wanting' }, 'No fermenter is registered yet: do it in the office.')
      : h('ul', { class: 'board' }, view.board.filter(({ holds }) => holds).map((item) => h('li', {}, boardLine(item, vessel?.address, choose)))), emptyLine(view.board));
    show(before, vessel ? heading(app, vessel) : h('p', { class: 'help' }, 'Nothing ferments, as far as this phone knows. Make a mash in the mash room.'));
    await check.furnish(vessel?.address ?? '', async () => {
      form = vessel ? await checkForm(vessel) : null;
      return form?.node;
    });
    if (form?.repeat) form.repeat.hidden = !vessel?.last;
    await rest.furnish(vessel?.address ?? '', () => (vessel ? drawers(app, vessel) : [movedDrawer(app)]));
    show(right, vessel ? [advice(vessel.advice), blocks(app, vessel.blocks)] : null, caution(view.cautions));
  };

  const checkForm = (vessel) => entryForm(app, {
    kind: 'ferment checked', title: 'Today’s check', save: 'Save the check', first: [], fixed: { vessel: vessel.address }, draft: `check ${vessel.address}`,
    ways: sweetness, tapped: ['smell', 'activity'], folded: ['sample_temp', 'instrument', 'note'], sticky: ['instrument'],
    wanting: 'Gravity and the mash’s temperature: the extract at 20 °C stands here.', again: () => look().then((view) => view.vessel?.last),
  });

  await refresh();
  return { node: h('div', { class: 'room hall' }, h('div', { class: 'across' }, board), left, right), refresh };
}

/** One fermenter of the board, to be looked at more closely. */
function boardLine({ vessel, name, lot, day, last, ready, wants }, here, choose) {
  return h('button', { type: 'button', 'aria-current': vessel === here ? 'true' : null, onclick: () => choose(vessel) },
    h('b', {}, name), h('span', {}, `${lot}, ${day}`), h('span', { class: 'help' }, last), ready ? h('span', {}, capital(ready)) : null,
    wants.map((wish) => h('span', { class: 'wants' }, wish)));
}

/** The fermenters that wait for a mash. */
function emptyLine(board) {
  const empty = board.filter(({ holds }) => !holds);
  return empty.length > 0 ? h('p', { class: 'help' }, `Empty: ${empty.map(({ name, last }) => `${name}, ${last}`).join('; ')}.`) : null;
}

/** What the fermenter is at, and its last checks, above the form. */
function heading(app, { title, day, ready, why, before }) {
  return [
    h('h2', {}, title),
    h('p', {}, capital(day)),
    ready ? h('p', { class: 'ready' }, ready) : null,
    why ? h('p', { class: 'help' }, why) : null,
    ruled(before, (address) => app.openEntry(address)),
  ];
}

const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);

/** What was found, and what a distiller looks at first. */
function advice(list) {
  if (list.length === 0) return null;
  return h('section', { class: 'leaf', 'aria-label': 'Advice' }, h('h2', {}, 'What to look at'),
    h('ul', { class: 'advice' }, list.map(({ finding, look, source }) => h('li', {}, h('b', {}, finding), h('span', {}, `Look first: ${look}`), h('span', { class: 'help' }, `Source: ${source}`)))));
}

function drawers(app, { address }) {
  return [
    drawer(app, {
      kind: 'ferment finished', title: 'It is finished', save: 'Write it finished', fixed: { vessel: address }, draft: `finished ${address}`, ways: sweetness,
      folded: ['sample_temp', 'instrument', 'note'],
    }),
    movedDrawer(app),
    drawer(app, { kind: 'mash discarded', title: 'Throw mash away', save: 'Save it', fixed: { vessel: address }, draft: `discarded ${address}`, tapped: ['why'] }),
  ];
}

function movedDrawer(app) {
  return drawer(app, { kind: 'mash moved', title: 'Move mash', save: 'Save the move', tapped: ['way'] });
}
