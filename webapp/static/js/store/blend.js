/**
 * Blend: what comes of several vessels, before it is done.
 *
 * @module
 */
import { planned } from './plan.js';

/** @type {import('../view/pages.js').PageMaker} */
export async function blendPage(app, at, go) {
  const node = await planned(app, {
    kind: 'plan blend', title: 'Blend', first: ['parts', 'into'], values: { parts: [{}, {}] }, folded: ['water'],
    wanting: 'Two vessels: volume, strength and what it is made of stand here. Give a strength or a volume to reach, leave one amount empty, and that amount stands here.',
  }, 'blend', at, go, 'Before you pump: bond and earth both vessels and the hose, open both vents, fill from below. Gauge each vessel first if its last gauge is old.');
  return { node, refresh: async () => {} };
}
