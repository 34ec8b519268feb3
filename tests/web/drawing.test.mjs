// The geometry of the drawings and the words for troubles. Run: node --test tests/web/*.test.mjs

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { worstOf } from '../../web/js/checks.js';
import { countsMissing, room } from '../../web/js/interval.js';
import { padSpans } from '../../web/js/section.js';
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
