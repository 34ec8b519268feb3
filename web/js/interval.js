/**
 * The 95 % interval of a check on the scale that all checks share.
 *
 * The scale is how much of what is needed is there: predicted / needed where at least that much is needed,
 * needed / predicted where at most. So 1 is always the requirement, and right of it is always room to spare.
 * It is logarithmic: half and double lie equally far from the line. Places are in per cent of the width, so
 * that the lines of all checks stand exactly under each other at any width.
 */

import { el, svg } from './dom.js';

const LOWEST = 1 / 4;
const HIGHEST = 8;
const TICKS = [[1 / 4, '¼'], [1 / 2, '½'], [1, 'needed'], [2, '2×'], [4, '4×'], [8, '8×']];

/**
 * Predicted and both interval ends as multiples of the requirement, low end first; `null` where a ratio
 * says nothing (a requirement of zero, a negative prediction).
 *
 * @param {{bound: string, unit: string, needed: number, predicted: number, interval_95: [number, number] | null}} check
 * @returns {{low: number, centre: number, high: number} | null}
 */
export function room(check) {
  const ends = check.interval_95 ?? [check.predicted, check.predicted];
  const ratios = [ends[0], check.predicted, ends[1]].map((value) => ratio(check, value));
  if (![check.needed, check.predicted].every(Number.isFinite) || ratios.some(Number.isNaN)) return null;
  return { low: Math.min(...ratios), centre: ratios[1], high: Math.max(...ratios) };
}

/** Whether a check is drawn by what is missing to 100 %: 99.9 is ten times as good as 99, not 1.009 times. */
export function countsMissing(check) {
  return check.unit === '%' && check.bound === 'at_least' && check.needed > 50 && check.needed < 100;
}

/**
 * The drawing of one check. The words beside it say the same, so it is hidden from screen readers.
 *
 * @param {object} check
 * @param {object[]} [alike] further checks drawn as open points on the same line
 */
export function intervalDrawing(check, alike = []) {
  const drawing = svg('svg', { class: 'interval', 'aria-hidden': 'true', focusable: 'false' },
    svg('rect', { class: 'short-side', x: 0, y: 0, width: at(1), height: '100%' }),
    ...TICKS.filter(([value]) => value !== 1)
      .map(([value]) => svg('line', { class: 'tick', x1: at(value), x2: at(value), y1: 0, y2: '100%' })),
    svg('line', { class: 'requirement', x1: at(1), x2: at(1), y1: 0, y2: '100%' }));
  const frame = el('span', { class: 'interval-frame' }, drawing);
  const place = room(check);
  if (!place) return frame;

  for (const other of alike.map(room).filter((other) => other && onScale(other.centre))) {
    drawing.append(svg('circle', { class: 'other', cx: at(other.centre), cy: '50%', r: 3.5 }));
  }
  drawing.append(
    svg('line', { class: 'bar', x1: at(place.low), x2: at(place.high), y1: '50%', y2: '50%' }),
    ...[...new Set([place.low, place.high].map(clampedBeyond))].map(end));
  if (onScale(place.centre)) drawing.append(point(place.centre));
  return frame;
}

/** The heading of the scale. */
export function scaleDrawing() {
  return svg('svg', { class: 'scale', 'aria-hidden': 'true', focusable: 'false' },
    ...TICKS.map(([value, label]) => {
      const anchor = value === LOWEST ? 'start' : value === HIGHEST ? 'end' : 'middle';
      return svg('text', { x: at(value), y: '80%', 'text-anchor': anchor }, label);
    }));
}

function ratio(check, value) {
  if (countsMissing(check)) return divided(100 - check.needed, 100 - Math.min(value, 100));
  return check.bound === 'at_most' ? divided(check.needed, value) : divided(value, check.needed);
}

function divided(upper, lower) {
  if (upper < 0 || lower < 0 || (upper === 0 && lower === 0)) return Number.NaN;
  return upper / lower;
}

function onScale(value) {
  return value >= LOWEST && value <= HIGHEST;
}

function clamped(value) {
  return Math.min(HIGHEST, Math.max(LOWEST, value));
}

/** The place of a ratio, in per cent of the width; a margin keeps marks at the ends inside. */
function at(value) {
  const share = Math.log2(clamped(value) / LOWEST) / Math.log2(HIGHEST / LOWEST);
  return `${(2 + share * 96).toFixed(2)}%`;
}

/** The value, or one step off the scale for everything beyond it, so that two ends off one side are one arrow. */
function clampedBeyond(value) {
  return value > HIGHEST ? Infinity : value < LOWEST ? 0 : value;
}

/** The end of a bar: a bar tack, or an arrow where it runs off the scale. */
function end(value) {
  const beyond = value > HIGHEST ? 'M-5 -5L1 0L-5 5' : value < LOWEST ? 'M5 -5L-1 0L5 5' : null;
  return svg('svg', { class: 'at', x: at(value), y: '50%' }, svg('path', { class: 'bar-end', d: beyond ?? 'M0 -5V5' }));
}

function point(value) {
  return svg('svg', { class: 'at', x: at(value), y: '50%' }, svg('path', { class: 'point', d: 'M0 -6L6 0L0 6L-6 0Z' }));
}
