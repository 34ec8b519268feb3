/** Wires, tubes and rovings laid on the cloth: in the draft, in the request, in a few words. Pure. */

import { draftFrom, only, requestFrom, under } from '../fieldlist.js';
import { pointsText } from '../reader.js';
import { sizeInShort } from './shape.js';
import { WARMTH } from './warmth.js';

const number = (at, unit, more) => ({ at, as: 'measured', unit, ...more });
const measure = (at, kind) => number(at, 'mm', { needed: true, when: `kind=${kind}` });
const LAID_WIRE = [
  { at: 'name', as: 'text' },
  { at: 'kind', as: 'word', usual: 'wire' },
  ...only('kind=wire', [
    ...under('conductor', [
      { at: 'metal', as: 'word' },
      number('linear_resistance_ohm_per_m', 'Ω/m'),
      number('diameter_mm', 'mm'),
      { at: 'gauge', as: 'whole' },
      number('area_mm2', 'mm²'),
      { at: 'class', as: 'word' },
      { at: 'coated', as: 'flag' },
    ]),
    number('supply_v', 'V'),
    number('current_ma', 'mA'),
    { at: 'supply_kind', as: 'word', usual: 'battery', silent: true },
    number('needed_power_w', 'W'),
    number('max_resistance_ohm', 'Ω'),
    ...under('warmth', WARMTH),
  ]),
  number('outer_diameter_mm', 'mm'),
  number('linear_mass_g_per_m', 'g/m'),
  number('min_bend_radius_mm', 'mm'),
  ...under('course', [
    { at: 'kind', as: 'word', usual: 'straight' },
    measure('length_mm', 'straight'), measure('width_mm', 'meander'), measure('height_mm', 'meander'), measure('spacing_mm', 'meander'),
  ]),
  ...under('hold', [number('clearance_mm', 'mm'), number('advance_mm', 'mm')]),
];

export const laidWire = {
  list: 'laid_wires',
  most: 64,
  name: 'laid wire',
  names: 'laid wires',
  fresh: {
    kind: 'wire',
    conductor: { metal: 'copper', area_mm2: 0.14 },
    outer_diameter_mm: 1.1,
    course: { kind: 'straight', length_mm: 300 },
  },

  draft(source) {
    const draft = draftFrom(LAID_WIRE, source);
    draft.course.points_mm = pointsText([source.course?.points_mm]);
    return draft;
  },

  request(read, draft, at) {
    const request = requestFrom(read, LAID_WIRE, draft, at);
    if (draft.course.kind === 'path') request.course.points_mm = pathOf(read, draft.course.points_mm, `${at}/course/points_mm`);
    return request;
  },

  inShort({ kind, course }) {
    const ways = {
      straight: () => `${sizeInShort(course.length_mm)} mm`,
      path: () => 'by points',
      meander: () => `${sizeInShort(course.width_mm)} × ${sizeInShort(course.height_mm)} mm to and fro`,
    };
    return `${kind}, ${ways[course.kind]?.() ?? course.kind}`;
  },
};

function pathOf(read, text, at) {
  const groups = read.points(text, at);
  if (!groups) return [];
  if (groups.length > 1) read.fault(at, 'A way has no gaps: leave out the empty lines.');
  else if (groups[0].length < 2) read.fault(at, 'A way needs at least two points.');
  return groups[0];
}
