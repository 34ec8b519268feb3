/**
 * The four verdicts as stitches, so that they differ by shape and rhythm and not by colour alone.
 *
 * comfortable: an even running stitch; tight: short stitches that pucker the cloth; out of reach: a seam with
 * a gap, empty holes and a loose end; measure first: a tacked cross on a basting line.
 */

import { svg } from './dom.js';

/** A short word for class names: `out of reach` becomes `out-of-reach`. */
export function verdictClass(verdict) {
  return `is-${String(verdict).replaceAll(' ', '-')}`;
}

/**
 * The stitch mark of a verdict, 64 by 16 units, decorative: the word always stands beside it.
 *
 * @param {string} verdict
 */
export function stitchMark(verdict) {
  const draw = MARKS[verdict] ?? (() => []);
  return svg('svg', { class: `mark ${verdictClass(verdict)}`, viewBox: '0 0 64 16', 'aria-hidden': 'true', focusable: 'false' }, ...draw());
}

const MARKS = {
  comfortable: () => [
    cloth('M2 12H62'),
    ...[3, 18, 33, 48].map((x) => thread(`M${x} 8H${x + 11}`)),
  ],
  tight: () => [
    cloth('M2 12q4 -5 8 0t8 0t8 0t8 0t8 0t8 0t8 0'),
    ...[3, 10, 17, 24, 31, 38, 45, 52].map((x) => thread(`M${x} 6.500h3.600`)),
  ],
  'out of reach': () => [
    cloth('M2 12H62'),
    thread('M3 8H13'), loose('M17 8C23 8.500 24.500 4.500 27 2.500'),
    hole(31), hole(38), hole(45),
    thread('M50 8H61'),
  ],
  'measure first': () => [
    cloth('M2 12H62'),
    svg('path', { class: 'basting', d: 'M2 8H20M44 8H62' }),
    thread('M27 3.500L37 13'), thread('M37 3.500L27 13'),
  ],
};

function cloth(d) {
  return svg('path', { class: 'cloth', d });
}

function thread(d) {
  return svg('path', { class: 'thread', d });
}

function loose(d) {
  return svg('path', { class: 'thread loose', d });
}

function hole(x) {
  return svg('circle', { class: 'hole', cx: x, cy: 8, r: 1.5 });
}
