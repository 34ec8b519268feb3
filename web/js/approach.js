/**
 * The signal of a pad while a finger comes down on it: a curve with its band, and the same as a table.
 *
 * The stitched line is what the controller needs, as on the scale of the checks. Only the geometry of a drawing:
 * every number comes from the server.
 */

import { el, svg } from './dom.js';
import { exact, interval, number, quantity } from './format.js';

const HEIGHT_PX = 230;
const LEFT_PX = 52;
const RIGHT_PX = 14;
const TOP_PX = 14;
const BOTTOM_PX = 44;
/** Farther away than where the signal has shrunk to this part, a drawing shows nothing but a line along the bottom. */
const SMALLEST_PART = 0.03;

/**
 * @typedef {{distance_mm: number, signal_pf: number, interval_95_pf: [number, number]}} Point
 *
 * @param {{points: Point[], needed: number | null, padName: string, widthPx: number}} subject
 *   `needed` is what the controller needs, in pF
 * @returns {HTMLElement[]} a figure and a table
 */
export function approachDrawing({ points, needed, padName, widthPx }) {
  return [
    el('figure', { class: 'curve' }, curve({ points, needed, widthPx }), el('figcaption', { id: 'approach-caption' },
      `Signal of a touch on pad ${padName} against the air between cover and finger. The band holds 95 of 100 cases`,
      needed === null ? '.' : '; the stitched line is what the controller needs.')),
    el('details', { class: 'more', 'data-key': 'approach-table' },
      el('summary', {}, 'The same as a table'),
      table(points, padName)),
  ];
}

/**
 * What part of the course is drawn, and up to which signal.
 *
 * @param {Point[]} points
 * @param {number | null} needed
 */
export function extent(points, needed) {
  const touch = points[0].signal_pf;
  const last = points.findIndex(({ signal_pf: signal }) => signal < SMALLEST_PART * touch);
  const shown = last < 0 ? points : points.slice(0, Math.max(last + 1, 2));
  const highest = Math.max(...shown.map(({ interval_95_pf: [, high] }) => high), needed !== null && needed < 3 * touch ? needed : 0);
  const lowest = Math.min(0, ...shown.map(({ interval_95_pf: [low] }) => low));
  return { shown, toMm: shown.at(-1).distance_mm, lowest, highest: highest > lowest ? highest : lowest + 1 };
}

/** Round numbers from `low` to `high`, some four of them. */
export function ticks(low, high) {
  const rough = (high - low) / 4;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 2.5, 5, 10].map((times) => times * power).find((size) => size >= rough * 0.999);
  const first = Math.ceil(low / step - 1e-9);
  const count = Math.floor(high / step + 1e-9) - first + 1;
  return Array.from({ length: count }, (_, index) => Number(((first + index) * step).toPrecision(12)));
}

function curve({ points, needed, widthPx }) {
  const { shown, toMm, lowest, highest } = extent(points, needed);
  const x = (mm) => (LEFT_PX + (mm / toMm) * (widthPx - LEFT_PX - RIGHT_PX)).toFixed(1);
  const y = (pf) => (TOP_PX + ((highest - pf) / (highest - lowest)) * (HEIGHT_PX - TOP_PX - BOTTOM_PX)).toFixed(1);
  const path = (ends) => ends.map(([mm, pf], index) => `${index ? 'L' : 'M'}${x(mm)} ${y(pf)}`).join('');
  const side = (end) => shown.map((point) => [point.distance_mm, point.interval_95_pf[end]]);
  const drawing = svg('svg', {
    role: 'img', 'aria-labelledby': 'approach-caption', viewBox: `0 0 ${widthPx} ${HEIGHT_PX}`, width: widthPx, height: HEIGHT_PX,
  });
  for (const pf of ticks(lowest, highest)) {
    drawing.append(svg('line', { class: 'grid', x1: LEFT_PX, x2: widthPx - RIGHT_PX, y1: y(pf), y2: y(pf) }),
      svg('text', { x: LEFT_PX - 6, y: Number(y(pf)) + 4, 'text-anchor': 'end' }, number(pf)));
  }
  for (const mm of ticks(0, toMm)) {
    drawing.append(svg('line', { class: 'grid', x1: x(mm), x2: x(mm), y1: HEIGHT_PX - BOTTOM_PX, y2: HEIGHT_PX - BOTTOM_PX + 4 }),
      svg('text', { x: x(mm), y: HEIGHT_PX - BOTTOM_PX + 18, 'text-anchor': 'middle' }, number(mm)));
  }
  drawing.append(
    svg('text', { x: 4, y: TOP_PX - 2 }, 'pF'),
    svg('text', { x: widthPx - RIGHT_PX, y: HEIGHT_PX - 6, 'text-anchor': 'end' }, 'mm between cover and finger'),
    svg('path', { class: 'band', d: `${path([...side(1), ...side(0).reverse()])}Z` }),
    svg('path', { class: 'course', d: path(shown.map((point) => [point.distance_mm, point.signal_pf])) }),
    ...shown.map((point) => svg('circle', { class: 'station', cx: x(point.distance_mm), cy: y(point.signal_pf), r: 2.6 })));
  if (needed !== null && needed <= highest && needed >= lowest) {
    drawing.append(svg('line', { class: 'requirement', x1: LEFT_PX, x2: widthPx - RIGHT_PX, y1: y(needed), y2: y(needed) }),
      svg('text', { class: 'requirement-text', x: widthPx - RIGHT_PX, y: Number(y(needed)) - 5, 'text-anchor': 'end' }, `needed ${quantity(needed, 'pF')}`));
  }
  return drawing;
}

function table(points, padName) {
  return el('div', { class: 'table-frame narrow', role: 'region', tabindex: 0, 'aria-labelledby': 'approach-table-title' },
    el('table', {},
      el('caption', { id: 'approach-table-title' }, `Pad ${padName}: signal against the distance of the finger`),
      el('thead', {}, el('tr', {}, ...['Distance', 'Signal', '95 of 100 lie in'].map((heading) => el('th', { scope: 'col' }, heading)))),
      el('tbody', {}, ...points.map((point) => el('tr', {},
        el('th', { scope: 'row' }, exact(point.distance_mm, 'mm')),
        el('td', {}, quantity(point.signal_pf, 'pF')),
        el('td', {}, interval(point.interval_95_pf, 'pF')))))));
}
