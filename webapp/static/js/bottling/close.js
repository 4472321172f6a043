/**
 * The close of a bottling: what came back, the heel, the three ways of counting
 * and what would explain their gaps.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { corner, h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { makeField } from '../view/field.js';
import { entryForm } from '../view/form.js';
import { chooser } from '../office/chooser.js';
import { bigFigure, working } from '../view/working.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function closePage(app, at, go) {
  const choose = corner();
  const goods = corner();
  const heel = corner();
  const after = corner();
  const found = h('div', {});
  const ways = h('div', {});
  let form = null;
  let asked = 0;
  let shown = '';

  const refresh = async () => {
    const mine = ++asked;
    const view = await app.ask('view', { what: 'close', run: at.run ?? '', closing: form?.body() });
    if (mine !== asked) return;
    await choose.furnish(JSON.stringify([view.runs, view.run]), () => (view.runs.length === 0
      ? h('p', { class: 'help' }, 'No bottling was opened yet.') : chooser('Bottling', view.runs, view.run, (run) => go({ run }))));
    await goods.furnish(JSON.stringify([view.run, view.open, view.goods]), () => (view.open && view.goods.length > 0 ? goodsBack(app, view, refresh) : null));
    await heel.furnish(`${view.run} ${view.open}`, async () => {
      form = view.open ? await closingForm(app, view, refresh) : null;
      return form?.node;
    });
    await after.furnish(`${view.run} ${view.open}`, () => (view.run ? drawers(app, view) : null));
    const key = JSON.stringify([view.result, view.causes, view.recount, view.blocks]);
    if (key !== shown) {
      shown = key;
      show(found, view.result ? answer(app, view, accept) : null);
      show(ways, blocks(app, view.blocks));
    }
    if (form && mine === 1) await refresh(); // what a draft says of the heel counts too
  };

  const accept = (values) => {
    form.fill({ ...form.body(), ...values });
    form.touched();
    form.node.scrollIntoView({ block: 'start' });
    form.byKey.get(Object.keys(values)[0]).focus();
    refresh();
  };

  await refresh();
  return { node: h('div', { class: 'two even' }, h('div', { class: 'stack' }, choose.node, found), h('div', { class: 'stack' }, goods.node, heel.node, ways, after.node)), refresh };
}

async function closingForm(app, { run, title }, changed) {
  const form = await entryForm(app, {
    kind: 'bottling closed', title: 'The heel, and close for good', save: 'Close the bottling', fixed: { bottling: run }, draft: `close ${run}`,
    first: ['tank_empty'], wanting: `${title}: gauge what is left in the tank, or say that it is empty.`,
  });
  form.node.addEventListener('input', () => changed());
  return form;
}

function answer(app, { result, causes, recount, open }, accept) {
  return h('section', { class: 'leaf', 'aria-label': 'What it comes to' }, bigFigure(result, ''), working(result),
    causes.length > 0 ? [h('h2', {}, open ? 'What would explain it' : 'What would have explained it'), h('ol', { class: 'causes' }, causes.map((one) => h('li', {},
      h('p', { class: 'says-cause' }, h('b', {}, one.says), h('span', { class: 'help' }, ` ${one.likely}`)),
      open && one.look ? h('p', { class: 'help' }, one.look) : null,
      one.acts.length > 0 ? h('div', { class: 'row' }, one.acts.map((act) => actButton(app, act, accept))) : null)))] : null,
    open && recount.length > 0 ? [h('h3', {}, 'Before it is closed'), h('ul', { class: 'says recount' }, recount.map((one) => h('li', {}, one)))] : null);
}

/** Opens an entry, offers one to be looked over, or takes a reason into the closing. */
function actButton(app, { words, entry, kind, values }, accept) {
  if (entry) return h('button', { type: 'button', class: 'quiet', onclick: () => app.openEntry(entry) }, words);
  if (!kind) return h('button', { type: 'button', class: 'quiet', onclick: () => accept(values) }, words);
  if (!app.standing.may(kind)) return null;
  return h('button', {
    type: 'button', class: 'quiet', onclick: async (event) => {
      const place = event.currentTarget.closest('li');
      const { bottling, ...rest } = values;
      const form = await entryForm(app, { kind, title: words, save: 'Save it', fixed: { bottling }, values: rest, draft: `${words} ${bottling}`, bare: true });
      place.querySelector('.settling')?.remove();
      place.append(h('div', { class: 'settling' }, form.node));
      form.fields[0].focus();
    },
  }, words);
}

/**
 * What came back and what was spoiled, for every lot at the line, typed in
 * place; each figure becomes an entry of its own.
 */
async function goodsBack(app, { run, goods }, saved) {
  const draft = `goods back ${run}`;
  const wrong = h('p', { class: 'fault', role: 'alert' });
  const lots = goods.map(({ lot, name, says }) => {
    const count = (key, label) => makeField({ key, label, type: 'count' });
    const back = count('back', 'Came back');
    const spoiled = count('spoiled', 'Spoiled');
    const why = makeField({ key: 'why', label: 'Why', type: 'word', words: ['broken', 'misprinted', 'wrong', 'dirty', 'missing', 'other'] });
    why.set('broken');
    return { lot, back, spoiled, why, node: h('fieldset', { class: 'part lot' }, h('legend', {}, name), h('p', { class: 'help' }, says), h('div', { class: 'fields lot-fields' }, back.node, spoiled.node, why.node)) };
  });
  const typed = () => Object.fromEntries(lots.map(({ lot, back, spoiled }) => [lot, [back.get(), spoiled.get()]]));
  const some = () => lots.some(({ back, spoiled }) => back.get() !== '' || spoiled.get() !== '');
  const keep = () => {
    app.touch(self, some());
    return app.log.keepDraft(draft, some() ? typed() : undefined);
  };
  const write = async (field, kind, body) => {
    if (field.get() === '') return;
    try {
      app.say(`Saved as ${await app.save({ kind, body: { ...body, pieces: field.get(), bottling: run } })}`);
      field.set('');
      await keep();
    } catch (error) {
      field.fault(error.message);
      field.focus();
      throw error;
    }
  };
  const node = h('form', {
    class: 'leaf', novalidate: true, autocomplete: 'off', 'aria-labelledby': 'goods-back', oninput: () => { wrong.textContent = ''; keep(); },
    onsubmit: async (event) => {
      event.preventDefault();
      if (!some()) {
        wrong.textContent = 'Count what came back, or what was spoiled, of one good at least.';
        return;
      }
      try {
        for (const { lot, back, spoiled, why } of lots) {
          await write(back, 'goods returned', { lot });
          await write(spoiled, 'goods spoiled', { lot, reason: why.get() });
        }
      } catch {
        return; // it stands at its field
      }
      await app.catching;
      await saved();
    },
  }, h('h2', { id: 'goods-back' }, 'Dry goods: count what is left'), lots.map((lot) => lot.node), wrong, h('div', { class: 'act' }, h('button', { type: 'submit', class: 'main' }, 'Save what came back')));
  const self = { node };
  const waiting = await app.log.draft(draft);
  for (const { lot, back, spoiled } of lots) {
    back.set(waiting?.[lot]?.[0]);
    spoiled.set(waiting?.[lot]?.[1]);
  }
  return node;
}

/** What else happens at the end of a run, and to its bottles afterwards. */
function drawers(app, { run, open }) {
  const shapes = open ? [
    { kind: 'line cleared', title: 'Close for the day only', save: 'The line is clear for today', wanting: 'The run goes on another day. Gauge the tank, if you can.' },
    { kind: 'bottles spoiled', title: 'Spoiled bottles', save: 'Save the spoils' },
  ] : [
    { kind: 'cases returned', title: 'Bottles came back', save: 'Save the return' },
    { kind: 'packs made', title: 'Put bottles into gift packs', save: 'Save the packs', fixed: {}, values: { parts: [{ bottling: run, each: '1' }] } },
    { kind: 'bottles dumped', title: 'Pour bottles back for rework', save: 'Save the rework' },
  ];
  return h('section', { class: 'leaf', 'aria-label': open ? 'Before the close' : 'After the close' }, shapes.map((shape) => drawer(app, { fixed: { bottling: run }, draft: `${shape.kind} ${run}`, ...shape })));
}
