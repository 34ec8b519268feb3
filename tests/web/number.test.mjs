// What the number fields of the page understand. Run: node --test tests/web/*.test.mjs

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { centreOf, parseNumber, showNumber } from '../../web/js/number.js';

function reads(text, expected, options) {
  test(`reads ${JSON.stringify(text)}`, () => {
    assert.deepEqual(parseNumber(text, options), { ok: true, value: expected });
  });
}

function refuses(text, words, options) {
  test(`refuses ${JSON.stringify(text)}`, () => {
    const reading = parseNumber(text, options);
    assert.equal(reading.ok, false);
    assert.match(reading.message, words);
  });
}

// Plain numbers.
reads('3', 3);
reads('  3.25 ', 3.25);
reads('.5', 0.5);
reads('3.', 3);
reads('-12', -12);
reads('\u221212', -12);
reads('1e-3', 0.001);
reads('1 250', 1250);
reads('1\u202f250\u202f000', 1250000);
reads('', undefined);
reads('   ', undefined);

// Decimal comma.
reads('3,2', 3.2);
reads('0,125', 0.125);
reads('12,5 ± 0,5', { value: 12.5, plus_minus: 0.5 });
reads('2,8 to 3,2', { low: 2.8, high: 3.2 });
refuses('1,250', /1\.250 or 1250/);
refuses('1,250.5', /Write a number/);

// Spreads.
reads('3 ± 0.2', { value: 3, plus_minus: 0.2 });
reads('3±0.2', { value: 3, plus_minus: 0.2 });
reads('3 +- 0.2', { value: 3, plus_minus: 0.2 });
reads('3 +/- 0.2', { value: 3, plus_minus: 0.2 });
reads('3 ± 10 %', { value: 3, plus_minus: 0.3 });
reads('-4 ± 10%', { value: -4, plus_minus: 0.4 });
reads('3 ± 0', 3);
refuses('3 ± -0.2', /cannot be negative/);
refuses('3 ±', /such as/);
refuses('± 3', /such as/);

// Ranges.
reads('2.8 to 3.2', { low: 2.8, high: 3.2 });
reads('2.8 TO 3.2', { low: 2.8, high: 3.2 });
reads('2.8..3.2', { low: 2.8, high: 3.2 });
reads('2..3', { low: 2, high: 3 });
reads('2.8–3.2', { low: 2.8, high: 3.2 });
reads('2.8-3.2', { low: 2.8, high: 3.2 });
reads('-5 to -3', { low: -5, high: -3 });
reads('3 to 3', 3);
refuses('3.2 to 2.8', /2\.8 to 3\.2/);

// Units typed after the number.
reads('3 mm', 3, { unit: 'mm' });
reads('3mm ± 0.2mm', { value: 3, plus_minus: 0.2 }, { unit: 'mm' });
reads('2.8 mm to 3.2 mm', { low: 2.8, high: 3.2 }, { unit: 'mm' });
reads('40 ohm/m', 40, { unit: 'Ω/m' });
reads('40 Ω/m', 40, { unit: 'Ω/m' });
reads('250 us', 250, { unit: 'µs' });
reads('23 °C', 23, { unit: '°C' });
reads('99 %', 99, { unit: '%', spread: false });
refuses('3 cm', /in mm/, { unit: 'mm' });
refuses('3 m', /in mm/, { unit: 'mm' });
refuses('1 kohm', /in Ω/, { unit: 'Ω' });

// Fields that take one plain number, or a count.
reads('2.5', 2.5, { spread: false });
refuses('2.5 ± 0.1', /without a spread/, { spread: false });
reads('12', 12, { spread: false, whole: true });
refuses('12.5', /whole number/, { spread: false, whole: true });

// Not numbers at all.
refuses('three', /such as/);
refuses('NaN', /such as/);
refuses('Infinity', /such as/);
refuses('1e999', /too large/);
refuses('0x10', /such as/);
refuses('3 4', /such as/);
refuses('<b>3</b>', /such as/);

test('what is shown is read back unchanged', () => {
  for (const value of [3, -0.5, 1e-9, 1.2e21, { value: 3, plus_minus: 0.2 }, { value: -1, plus_minus: 1e-3 }, { low: 2.8, high: 3.2 }, { low: -5, high: -3 }]) {
    assert.deepEqual(parseNumber(showNumber(value)), { ok: true, value }, showNumber(value));
  }
  assert.equal(showNumber(undefined), '');
  assert.equal(showNumber(null), '');
});

test('the middle of a value', () => {
  assert.equal(centreOf(3), 3);
  assert.equal(centreOf({ value: 3, plus_minus: 1 }), 3);
  assert.equal(centreOf({ low: 2, high: 4 }), 3);
  assert.equal(centreOf('3'), undefined);
});
