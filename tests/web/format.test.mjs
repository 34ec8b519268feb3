// Numbers as the page prints them. Run: node --test tests/web/*.test.mjs

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { chance, exact, interval, listed, number, quantity, share, unitSign } from '../../web/js/format.js';

const plain = (text) => text.replaceAll('\u202f', ' ');

test('numbers carry three digits and no idle zeros', () => {
  for (const [value, expected] of [
    [0, '0'], [0.93, '0.93'], [0.9304, '0.93'], [12.345, '12.3'], [1234.5, '1235'], [12345, '12 345'], [-3.2, '−3.2'], [-0.0001, '−0.0001'],
    [100, '100'], [2e-9, '2.00e-9'], [3.83e-6, '3.83e-6'], [null, '–'], [NaN, '–'], [undefined, '–'],
  ]) assert.equal(plain(number(value)), expected);
});

test('units are printed with their signs', () => {
  assert.equal(plain(quantity(41.2, 'ohm')), '41.2 Ω');
  assert.equal(plain(quantity(0.4, 'pF')), '0.4 pF');
  assert.equal(plain(quantity(3, '1')), '3');
  assert.equal(unitSign(null), '');
});

test('what was typed is not rounded away', () => {
  assert.equal(plain(exact(22.475, 'mm')), '22.475 mm');
});

test('both ends of an interval have the same decimals at most', () => {
  assert.equal(plain(interval([0.713, 1.148], 'pF')), '0.71 to 1.15 pF');
  assert.equal(plain(interval([-0.2, 12], 'pF')), '−0.2 to 12 pF');
});

test('near 100 % what is missing is shown', () => {
  assert.equal(plain(quantity(99.98, '%')), '99.98 %');
  assert.equal(plain(quantity(99.123, 'percent')), '99.12 %');
  assert.equal(plain(quantity(100, '%')), '100 %');
  assert.equal(plain(quantity(98.765, '%')), '98.8 %');
  assert.equal(plain(interval([99.91, 99.994], '%')), '99.91 to 99.994 %');
});

test('a chance never rounds up to certainty', () => {
  for (const [value, expected] of [
    [0.987, '99 %'], [0.9951, '99.5 %'], [0.99995, 'over 99.9 %'], [1, 'over 99.9 %'], [0, 'under 0.1 %'], [0.0004, 'under 0.1 %'], [0.5, '50 %'], [null, '–'],
  ]) assert.equal(plain(chance(value)), expected);
});

test('shares and lists', () => {
  assert.equal(plain(share(0.41)), '41 %');
  assert.equal(plain(share(0.001)), 'under 1 %');
  assert.equal(listed(['a']), 'a');
  assert.equal(listed(['a', 'b', 'c']), 'a, b and c');
});
