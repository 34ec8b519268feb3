// Quotes in words.

import assert from 'node:assert/strict';
import test from 'node:test';

import { cellsOf, fieldText, lineOf, saveWords, sideText, turnsOf } from '../../web/js/quotewords.js';

const quote = {
  number: '2026-0007', revision: 2, state: 'sent', customer_reference: 'BL-1', title: 'Armrest', verdict: 'measure first',
  quantity: 120, total: '1200.00', currency: 'EUR', valid_until: '2026-12-31',
};

test('a quote is told in one line, with and without a price', () => {
  assert.equal(lineOf(quote), 'Quote 2026-0007, revision 2: sent. 120 for 1200.00 EUR. Valid until 2026-12-31.');
  assert.equal(lineOf({ ...quote, total: null }), 'Quote 2026-0007, revision 2: sent. Valid until 2026-12-31.');
  assert.deepEqual(cellsOf(quote), ['BL-1', 'Armrest', 'Sent', 'Measure first', '120', '1200.00 EUR', '2026-12-31']);
});

test('what saving does depends on the state, and no state leads back', () => {
  assert.equal(saveWords(null), 'Keep as a quote');
  assert.equal(saveWords({ state: 'draft' }), 'Save the draft');
  for (const state of ['sent', 'accepted', 'declined', 'withdrawn']) assert.equal(saveWords({ state }), 'Make a revision');
  assert.deepEqual(turnsOf('draft').map(([state]) => state), ['sent', 'withdrawn']);
  assert.deepEqual(turnsOf('sent').map(([state]) => state), ['accepted', 'declined', 'withdrawn']);
  for (const state of ['accepted', 'declined', 'withdrawn', 'anything']) assert.deepEqual(turnsOf(state), []);
});

test('both sides of a difference are told with their unit', () => {
  assert.equal(sideText(null), 'nothing');
  assert.equal(sideText('12.50', 'per hour'), '12.50 per hour');
  assert.equal(sideText(['1.00', '2.00']), '1.00 to 2.00');
  assert.match(sideText(0.25, 'pF'), /^0\.25\spF$/);
  assert.match(sideText({ value: 2, interval_95: [1, 3] }, 'mm'), /^2\smm \(1.*3.*mm\)$/);
  assert.equal(fieldText('unit_price_interval_95'), 'unit price interval 95');
});
