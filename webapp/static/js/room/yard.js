/**
 * The yard: what comes through the gate, what becomes of it before it is
 * mashed, and the goods that stand in the store.
 *
 * @module
 */
import { blocks } from '../view/blocks.js';
import { caution } from '../view/caution.js';
import { h, show } from '../view/dom.js';
import { drawer } from '../view/drawer.js';
import { entryForm } from '../view/form.js';

/** @type {import('../rooms.js').Open} */
export async function open(app) {
  const right = h('div', {});
  const delivery = await entryForm(app, {
    kind: 'delivery received', title: 'Take in a delivery', save: 'Save the delivery', first: ['material', 'variety'],
    ways: [{ label: 'Weighed', ways: [{ label: 'gross and tare', keys: ['gross', 'tare', 'crates', 'crate_tare'] }, { label: 'net', keys: ['net'] }] }],
    folded: ['extract', 'grown', 'harvested', 'condition', 'expected', 'note'], sticky: ['material'], tapped: ['material'],
    wanting: 'What it is and what it weighs: the alcohol to expect stands here.',
  });
  const more = (kind, title, save, shape = {}) => drawer(app, { kind, title, save, ...shape });
  const amount = [{ label: 'Counted in', ways: [{ label: 'pieces', keys: ['pieces'] }, { label: 'weight', keys: ['weight'] }, { label: 'volume', keys: ['volume'] }] }];
  const left = h('div', {}, delivery.node, h('section', { class: 'leaf', 'aria-label': 'What else happens here' },
    more('material prepared', 'Prepare a lot', 'Save the preparation', {
      first: ['lot', 'prepared'], tapped: ['milled'], folded: ['note'], wanting: 'What was taken in hand and what is ready: the yield stands here.',
    }),
    more('material discarded', 'Give back or throw away', 'Save it', { tapped: ['why'] }),
    more('goods received', 'Goods came in', 'Save the goods', { ways: amount, folded: ['best_before', 'document', 'note'] }),
    more('price noted', 'Note a price', 'Save the price', { first: ['lot', 'price'], folded: ['note'], wanting: 'The lot and the invoice: what a kilogram or a piece costs stands here.' }),
    more('goods counted', 'Count goods', 'Save the count', { ways: [{ ...amount[0], ways: [...amount[0].ways, { label: 'none left', keys: ['none'] }] }] }),
    more('goods registered', 'Register a good', 'Save the good'),
    more('supplier registered', 'Register a supplier', 'Save the supplier')));
  const refresh = async () => {
    const view = await app.ask('view', { what: 'yard' });
    show(right, blocks(app, view.blocks), caution(view.cautions));
  };
  await refresh();
  return { node: h('div', { class: 'room' }, left, right), refresh };
}
