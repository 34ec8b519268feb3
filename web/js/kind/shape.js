/** Outlines: their part of the draft, the request, and a few words. Pure. */

import { draftFrom, requestFrom } from '../fieldlist.js';
import { exact } from '../format.js';
import { centreOf, parseNumber } from '../number.js';
import { pointsText } from '../reader.js';

const measure = (at, kind, more) => ({ at, as: 'measured', unit: 'mm', needed: true, when: `kind=${kind}`, ...more });
const SHAPE = [
  { at: 'kind', as: 'word', usual: 'round' },
  measure('diameter_mm', 'round'),
  measure('width_mm', 'rectangle'),
  measure('length_mm', 'rectangle'),
  measure('corner_radius_mm', 'rectangle', { as: 'plain', needed: false }),
  measure('inner_diameter_mm', 'ring'),
  measure('outer_diameter_mm', 'ring'),
];

/** The draft of an outline; corners are one text. */
export function shapeDraft(shape) {
  return { ...draftFrom(SHAPE, shape), points_mm: pointsText([shape?.points_mm, ...(Array.isArray(shape?.holes_mm) ? shape.holes_mm : [])]) };
}

/** The outline of the request. */
export function shapeOf(read, shape, at) {
  return { ...requestFrom(read, SHAPE, shape, at), ...(shape.kind === 'polygon' && outlineOf(read, shape.points_mm, `${at}/points_mm`)) };
}

function outlineOf(read, text, at) {
  const rings = read.points(text, at);
  if (!rings) return { points_mm: [] };
  const short = rings.findIndex((ring) => ring.length < 3);
  if (short >= 0) read.fault(at, short === 0 ? 'An outline needs at least three corners.' : `Hole ${short} needs at least three corners.`);
  return { points_mm: rings[0], holes_mm: rings.length > 1 ? rings.slice(1) : undefined };
}

/** A few words: `round 24 mm`. */
export function shapeInShort(shape) {
  const size = (key) => sizeInShort(shape[key]);
  const shapes = {
    round: () => `round ${size('diameter_mm')} mm`,
    rectangle: () => `${size('width_mm')} × ${size('length_mm')} mm`,
    ring: () => `ring ${size('inner_diameter_mm')} to ${size('outer_diameter_mm')} mm`,
    polygon: () => 'outline by corners',
  };
  return shapes[shape.kind]?.() ?? shape.kind;
}

/** The middle of a typed number, or a question mark. */
export function sizeInShort(text, unit = 'mm') {
  const reading = parseNumber(text, { unit });
  const centre = reading.ok ? centreOf(reading.value) : undefined;
  return centre === undefined ? '?' : exact(centre);
}
