/**
 * <gb-chart>: a line over a ruled ground, with named bands and marks. Positions
 * arrive from the engine as parts of the plot's width and height, from 0 to 1,
 * with the words of each tick; this element only stretches them over its area.
 * What can be drawn over two things is drawn over one at a time, and says
 * 'by' when a person chose another.
 *
 * @module
 */
import { freshId, h, s, show } from '../view/dom.js';

/**
 * @typedef {{at: number, label: string}} Tick
 * @typedef {{title: string, summary: string, across: string, up: string,
 *   across_ticks: Tick[], up_ticks: Tick[],
 *   lines: {label: string, look?: string, points: [number, number][]}[],
 *   areas?: {label: string, low: [number, number][], high: [number, number][]}[],
 *   bands: {from: number, to: number, label: string, look?: string}[],
 *   marks?: {at: number, up?: boolean, label: string}[],
 *   by?: string, choose?: string, others?: ChartData[]}} ChartData by: what it is drawn over; others: the same over something else; choose: what is chosen, in words
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
  const looks = [...new Set(lines.map(({ look }) => look))]; // lines that look alike share one sample
  return h('ul', { class: 'legend' },
    looks.map((look) => h('li', {}, sample(stroke(look)), lines.filter((line) => line.look === look).map(({ label }) => label).join('; '))),
    areas.map(({ label }) => h('li', {}, sample(s('rect', { x: 1, y: 1, width: 26, height: 12, class: 'chart-area' })), label)));
}

/** The bands in words: the word of a narrow one does not fit into it. */
function named(bands) {
  if (!bands.some(({ look }) => look)) return null;
  return `. From the left: ${bands.map(({ label, look }) => (look ? `${label} (shaded)` : label)).join(', ')}.`;
}

/** More points than these are a line without dots. */
const dotted = 80;

export class Chart extends HTMLElement {
  /** @param {ChartData} data */
  set data(data) {
    this.all = [data, ...(data.others ?? [])];
    this.draw();
  }

  /** @param {string} by what it is to be drawn over, where it can */
  set by(by) {
    this.chosen = by;
    if (this.all) this.draw();
  }

  draw() {
    const data = this.all.find(({ by }) => by === this.chosen) ?? this.all[0];
    show(this, this.choice(data), this.figure(data));
  }

  /** What it may be drawn over, where there is a choice. */
  choice(shown) {
    if (this.all.length < 2) return null;
    const name = freshId('over');
    const choose = (by) => {
      this.by = by;
      this.querySelector('input:checked')?.focus();
      this.dispatchEvent(new CustomEvent('by', { bubbles: true, detail: by }));
    };
    return h('fieldset', { class: 'ways over' }, h('legend', {}, shown.choose ?? 'Drawn over'), h('div', { class: 'segments' }, this.all.map(({ by }) => {
      const radio = h('input', { type: 'radio', name, value: by, id: `${name}-${by}`, checked: by === shown.by, onchange: () => choose(by) });
      return [radio, h('label', { for: radio.id }, by)];
    })));
  }

  /** @param {ChartData} data */
  figure(data) {
    const drawing = s('svg', { viewBox: `0 0 ${width} ${height}`, role: 'img', 'aria-label': data.summary, class: 'chart' },
      data.bands.map((band, at) => this.band(band, at)),
      (data.marks ?? []).map((mark) => this.mark(mark)),
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
        points.length > dotted ? null : points.map(([a, b]) => (look === 'read' || (!look && at === 0) ? s('circle', { cx: x(a), cy: y(b), r: 3, class: 'chart-point' }) : null)),
      ]));
    return h('figure', {}, drawing, h('figcaption', {}, `${data.up}: ${data.title}`, named(data.bands)), legend(data));
  }

  /** A mark is a line with its name: across the plot where it is a height, up it where it is a place. */
  mark({ at, up, label }) {
    const ends = up ? { x1: x(0), x2: x(1), y1: y(at), y2: y(at) } : { x1: x(at), x2: x(at), y1: area.top, y2: y(0) };
    const word = up ? { x: x(1) - 3, y: y(at) - 4, 'text-anchor': 'end' }
      : at > 0.5 ? { x: x(at) - 4, y: area.top + 12, 'text-anchor': 'end' } : { x: x(at) + 4, y: area.top + 12, 'text-anchor': 'start' };
    return s('g', {}, s('line', { ...ends, class: 'chart-mark' }), s('text', { ...word, class: 'chart-mark-word' }, label));
  }

  /** A band is told by its wall, its ground and its word; the word stands upright where the band is narrow. */
  band({ from, to, label, look }, at) {
    const wide = x(to) - x(from);
    const middle = x((from + to) / 2);
    const word = wide > label.length * 7
      ? { x: middle, y: area.top - 6, 'text-anchor': 'middle' }
      : { transform: `translate(${middle + 4} ${y(0) - 6}) rotate(-90)` };
    return s('g', {},
      s('rect', { x: x(from), y: area.top - 18, width: Math.max(0, wide), height: y(0) - area.top + 18, class: `chart-band chart-band-${look ?? at % 2}` }),
      at > 0 ? s('line', { x1: x(from), x2: x(from), y1: area.top - 18, y2: y(0), class: 'chart-cut' }) : null,
      wide > 12 ? s('text', { ...word, class: 'chart-band-word' }, label) : null);
  }
}

customElements.define('gb-chart', Chart);
