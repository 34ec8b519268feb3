// Money and quantities as the page writes and reads them. Run: node --test tests/web/*.test.mjs

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { draftOf, pieceOf } from '../../web/js/draft.js';
import { money, takesText } from '../../web/js/production.js';

test('money keeps every digit it came with', () => {
  assert.equal(money('8.84', 'EUR'), '8.84\u202fEUR');
  assert.equal(money('1060.80'), '1060.80');
  assert.equal(money('1234567.005', 'KWD'), '1\u202f234\u202f567.005\u202fKWD');
  assert.equal(money('151362', 'JPY'), '151\u202f362\u202fJPY');
  assert.equal(money('-0.45'), '−0.45');
  assert.equal(money('0.00', 'EUR'), '0.00\u202fEUR');
});

test('what a piece takes is told in one sentence', () => {
  const text = takesText({
    stitches: 1560, trims: 4, needles: 1, laid_m: 0, plain_needle_m: 0, plain_bobbin_m: 5.07,
    threads: [{ thread: 'silver', needle_m: 7.76, needle_m_interval_95: [5.8, 9.7], bobbin_m: 0, bobbin_m_interval_95: [0, 0] }],
    series: { heads: 4, pieces_per_hour: 34.5 },
  });
  assert.equal(text.replaceAll('\u202f', ' '),
    'One piece takes 1560 stitches, 7.76 m (5.8 to 9.7 m) of silver and 5.07 m of plain bobbin thread; 4 trims, 1 needle. 34.5 good pieces an hour on 4 heads.');
});

test('quantities are read with whatever stands between them, and thousands are asked about', () => {
  const read = (text) => {
    const draft = draftOf({ pads: [], controller: { library: 'patient-input' } });
    draft.production.quantities = text;
    const { piece, faults } = pieceOf(draft);
    return faults.length > 0 ? faults[0] : piece.production?.quantities;
  };
  assert.equal(read(''), undefined);
  for (const text of ['10 50 500', '10, 50, 500', '10;50;500', ' 10\n50,500 ']) assert.deepEqual(read(text), [10, 50, 500], text);
  for (const text of ['1,000', '10.5', 'ten', '-5', '0', '1e3', '10 50 9999999999']) assert.equal(read(text).pointer, '/production/quantities', text);
});

test('an order that says nothing is left out, and an odd one fills the form as far as it goes', () => {
  const through = (production) => pieceOf(draftOf({ pads: [], production })).piece.production;
  for (const nothing of [undefined, null, {}, [], 'soon', { rates: {} }, { rates: 5, quantities: 7 }, { jig: false }]) assert.equal(through(nothing), undefined);
  assert.deepEqual(through({ currency: 'eur' }), { currency: 'EUR' });
});
