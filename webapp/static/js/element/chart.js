/**
 * <gb-chart>: a line over a ruled ground, with named bands. Positions arrive
 * from the engine as parts of the plot's width and height, from 0 to 1, with
 * the words of each tick; this element only stretches them over its area.
 *
 * @module
 */
import { h, s, show } from '../view/dom.js';

/**
 * @typedef {{at: number, label: string}} Tick
 * @typedef {{title: string, summary: string, across: string, up: string,
 *   across_ticks: Tick[], up_ticks: Tick[],
 *   lines: {label: string, look?: string, points: [number, number][]}[],
 *   areas?: {label: string, low: [number, number][], high: [number, number][]}[],
 *   bands: {from: number, to: number, label: string}[]}} ChartData
 */

const width = 360;
const height = 220;
const area = { left: 40, right: 8, top: 26, bottom: 34 };
const x = (part) => area.left + part * (width - area.left - area.right);
const y = (part) => height - area.bottom - part * (height - area.top - area.bottom);

const corners = (points) => points.map(([a, b]) => `${x(a)},${y(b)}`).join(' ');

/** What each look of a line stands for, where there is more than one. */
function legend({ lines, areas = [] }) {
  if (lines.length + areas.length < 2 || !lines.some(({ look }) => look)) return null;
  const sample = (...marks) => s('svg', { viewBox: '0 0 28 14', width: 28, height: 14, 'aria-hidden': 'true' }, marks);
  const stroke = (look) => [
    s('polyline', { points: '1,7 27,7', class: `chart-line chart-line-${look}` }),
    look === 'read' ? s('circle', { cx: 14, cy: 7, r: 3, class: 'chart-point' }) : null,
  ];
  return h('ul', { class: 'legend' },
    lines.map(({ label, look }) => h('li', {}, sample(stroke(look)), label)),
    areas.map(({ label }) => h('li', {}, sample(s('rect', { x: 1, y: 1, width: 26, height: 12, class: 'chart-area' })), label)));
}

export class Chart extends HTMLElement {
  /** @param {ChartData} data */
  set data(data) {
    const drawing = s('svg', { viewBox: `0 0 ${width} ${height}`, role: 'img', 'aria-label': data.summary, class: 'chart' },
      data.bands.map((band, at) => this.band(band, at)),
      data.up_ticks.map(({ at, label }) => [
        s('line', { x1: x(0), x2: x(1), y1: y(at), y2: y(at), class: 'chart-rule' }),
        s('text', { x: x(0) - 5, y: y(at) + 4, class: 'chart-word', 'text-anchor': 'end' }, label),
      ]),
      data.across_ticks.map(({ at, label }) => s('text', { x: x(at), y: y(0) + 15, class: 'chart-word', 'text-anchor': at < 0.05 ? 'start' : at > 0.95 ? 'end' : 'middle' }, label)),
      s('text', { x: x(0.5), y: height - 4, class: 'chart-word', 'text-anchor': 'middle' }, data.across),
      s('line', { x1: x(0), x2: x(1), y1: y(0), y2: y(0), class: 'chart-axis' }),
      (data.areas ?? []).map(({ low, high }) => s('polygon', { points: corners([...low, ...[...high].reverse()]), class: 'chart-area' })),
      data.lines.map(({ points, look }, at) => [
        s('polyline', { points: corners(points), class: `chart-line chart-line-${look ?? at}` }),
        points.map(([a, b]) => (look === 'read' || (!look && at === 0) ? s('circle', { cx: x(a), cy: y(b), r: 3, class: 'chart-point' }) : null)),
      ]));
    show(this, h('figure', {}, drawing, h('figcaption', {}, `${data.up}: ${data.title}`), legend(data)));
  }

  /** A band is told by its wall, its ground and its word; the word stands upright where the band is narrow. */
  band({ from, to, label }, at) {
    const wide = x(to) - x(from);
    const middle = x((from + to) / 2);
    const word = wide > label.length * 7
      ? { x: middle, y: area.top - 6, 'text-anchor': 'middle' }
      : { transform: `translate(${middle + 4} ${y(0) - 6}) rotate(-90)` };
    return s('g', {},
      s('rect', { x: x(from), y: area.top - 18, width: Math.max(0, wide), height: y(0) - area.top + 18, class: `chart-band chart-band-${at % 2}` }),
      at > 0 ? s('line', { x1: x(from), x2: x(from), y1: area.top - 18, y2: y(0), class: 'chart-cut' }) : null,
      wide > 12 ? s('text', { ...word, class: 'chart-band-word' }, label) : null);
  }
}

customElements.define('gb-chart', Chart);
