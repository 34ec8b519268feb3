/**
 * The words of the spreadsheet form, without a page.
 */

import assert from 'node:assert/strict';
import test from 'node:test';

import { answeredName, meaningOf, mediaType } from '../../web/js/sheet.js';

test('a file goes out as what it is and comes back under its name', () => {
  for (const [name, type, answered] of [
    ['pads.csv', 'text/csv', 'pads-answered.csv'],
    ['pads', 'text/csv', 'pads-answered.csv'],
    ['pads.txt', 'text/csv', 'pads.txt-answered.csv'],
    ['Pads.XLSX', 'application/vnd.openxmlformats-officedocument.spreadsheetml.sheet', 'Pads-answered.xlsx'],
    ['pads.v2.ods', 'application/vnd.oasis.opendocument.spreadsheet', 'pads.v2-answered.xlsx'],
  ]) {
    assert.equal(mediaType(name), type, name);
    assert.equal(answeredName(name), answered, name);
  }
});

test('a column says what it was understood as', () => {
  assert.equal(meaningOf({ understood: 'field', name: 'diameter_mm', unit: 'cm' }), 'diameter_mm, in cm');
  assert.equal(meaningOf({ understood: 'field', name: 'thread' }), 'thread');
  assert.equal(meaningOf({ understood: 'result', name: 'verdict' }), 'verdict, written anew');
  assert.equal(meaningOf({ understood: 'own' }), 'kept, not read');
  assert.equal(meaningOf({ understood: 'own', near: 'diameter_mm' }), 'kept, not read; perhaps diameter_mm is meant');
});
