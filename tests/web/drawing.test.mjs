// The geometry of the drawings and the words for troubles. Run: node --test tests/web/*.test.mjs

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { extent, ticks } from '../../web/js/approach.js';
import { howComputed, partsOf } from '../../web/js/capacitances.js';
import { worstOf } from '../../web/js/checks.js';
import { countsMissing, room } from '../../web/js/interval.js';
import { guardSpans, padSpans } from '../../web/js/section.js';
import { inWords } from '../../web/js/trouble.js';

const atLeast = { bound: 'at_least', unit: 'pF', needed: 0.4, predicted: 0.8, interval_95: [0.6, 1] };
const atMost = { bound: 'at_most', unit: 'pF', needed: 100, predicted: 50, interval_95: [40, 80] };

/** Equal up to the last bits of a division. */
function near(actual, expected) {
  for (const key of Object.keys(expected)) assert.ok(Math.abs(actual[key] - expected[key]) < 1e-12, `${key}: ${actual[key]}`);
}

test('right of the requirement is room to spare, whichever way a check is bound', () => {
  near(room(atLeast), { low: 1.5, centre: 2, high: 2.5 });
  near(room(atMost), { low: 1.25, centre: 2, high: 2.5 });
});

test('settling compares what is missing to 100 %', () => {
  const settling = { bound: 'at_least', unit: '%', needed: 99, predicted: 99.5, interval_95: [98, 100] };
  assert.ok(countsMissing(settling));
  near(room(settling), { low: 0.5, centre: 2 });
  assert.equal(room(settling).high, Infinity);
  assert.equal(countsMissing({ ...settling, bound: 'at_most' }), false);
});

test('where a ratio says nothing, none is drawn', () => {
  assert.equal(room({ ...atMost, needed: 0, predicted: 0, interval_95: [0, 0] }), null);
  assert.equal(room({ ...atLeast, predicted: -1, interval_95: [-2, 0] }), null);
  assert.equal(room({ ...atLeast, needed: null }), null);
  assert.equal(room({ ...atMost, predicted: 0, interval_95: [0, 0] }).centre, Infinity);
  near(room({ ...atLeast, interval_95: null }), { low: 2, centre: 2, high: 2 });
});

test('the worst check has the lowest chance, then the least room', () => {
  const sure = { ...atLeast, chance: 1 };
  const closer = { ...atLeast, chance: 1, interval_95: [0.5, 1] };
  const doubtful = { ...atMost, chance: 0.7 };
  assert.equal(worstOf([sure, doubtful, closer]), doubtful);
  assert.equal(worstOf([sure, closer]), closer);
});

test('where each shape is cut', () => {
  assert.deepEqual(padSpans({ kind: 'round', diameter_mm: { value: 24, plus_minus: 1 } }), [[-12, 12]]);
  assert.deepEqual(padSpans({ kind: 'rectangle', width_mm: 10, length_mm: 40 }), [[-5, 5]]);
  assert.deepEqual(padSpans({ kind: 'ring', inner_diameter_mm: 8, outer_diameter_mm: 20 }), [[-10, -4], [4, 10]]);
  const frame = { kind: 'polygon', points_mm: [[0, 0], [30, 0], [30, 30], [0, 30]], holes_mm: [[[10, 10], [20, 10], [20, 20], [10, 20]]] };
  assert.deepEqual(padSpans(frame), [[-15, -5], [5, 15]]);
  assert.deepEqual(padSpans({ kind: 'polygon', points_mm: [] }), [[0, 0]]);
});

test('a guard lies around the pad, on both sides of the cut', () => {
  assert.deepEqual(guardSpans({ gap_mm: 2, width_mm: { low: 2, high: 4 } }, [[-12, 12]]), [[-17, -14], [14, 17]]);
  assert.deepEqual(guardSpans({ gap_mm: 1, width_mm: 1 }, [[-10, -4], [4, 10]]), [[-12, -11], [11, 12]]);
  assert.deepEqual(guardSpans(undefined, [[-12, 12]]), []);
});

test('how a capacitance was computed is said with its bound', () => {
  const plain = (pad) => (howComputed(pad) + partsOf(pad)).replaceAll('\u202f', ' ');
  assert.equal(plain({ solved: true, relative_error: 0.001, rows_error: 0 }), 'solved, within 0.1 %');
  assert.equal(plain({ solved: false, relative_error: 0.015, rows_error: 0 }), 'closed form, within 1.5 %');
  assert.equal(
    plain({ solved: true, relative_error: 0.0217443, rows_error: 0.0216667 }),
    'solved, within 2.2 % (0.0078 % for the solution, 2.2 % for taking the rows of thread as an even plate)',
  );
});

test('the drawing of a touch ends where nothing is left to see', () => {
  const point = (distance_mm, signal_pf, half = 0) => ({ distance_mm, signal_pf, interval_95_pf: [signal_pf - half, signal_pf + half] });
  const points = [point(0, 1, 0.2), point(2, 0.4), point(8, 0.1), point(20, 0.02), point(50, 0.001)];
  assert.deepEqual(extent(points, 0.3), { shown: points.slice(0, 4), toMm: 20, lowest: 0, highest: 1.2 });
  // A need that the pad all but meets is in the picture; one far above it would flatten the curve.
  assert.equal(extent(points, 2).highest, 2);
  assert.equal(extent(points, 40).highest, 1.2);
  // A finger may take more than it gives.
  assert.equal(extent([point(0, -0.1), point(5, -0.2)], null).lowest, -0.2);
  const { highest, lowest } = extent([point(0, 0), point(5, 0)], null);
  assert.ok(highest > lowest);
});

test('scales carry round numbers', () => {
  assert.deepEqual(ticks(0, 1.2), [0, 0.5, 1]);
  assert.deepEqual(ticks(0, 9), [0, 2.5, 5, 7.5]);
  assert.deepEqual(ticks(0, 20), [0, 5, 10, 15, 20]);
  assert.deepEqual(ticks(-0.03, 0.1), [0, 0.05, 0.1]);
  assert.deepEqual(ticks(0, 0.0047), [0, 0.002, 0.004]);
});

test('troubles are said in words', () => {
  assert.match(inWords({ name: 'Unreachable' }), /does not answer/);
  assert.match(inWords({ name: 'Refusal', status: 503, retryAfter: '5' }), /status 503\).*in 5 s/);
  assert.match(inWords({ name: 'Refusal', status: 429, retryAfter: null }), /in a moment/);
  assert.equal(
    inWords({ name: 'Refusal', status: 422, problem: { title: 'Not allowed', detail: 'Row 3 is empty.' }, faults: [{ message: 'No column for pads', allowed: 'pad_1 to pad_256' }] }),
    'Not allowed. Row 3 is empty. No column for pads. Allowed: pad_1 to pad_256.',
  );
  assert.match(inWords({ name: 'Refusal', status: 413, problem: {}, faults: [] }), /status 413/);
});
