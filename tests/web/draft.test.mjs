// The way from a piece to the form and back. Run: node --test tests/web/*.test.mjs

import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { test } from 'node:test';

import { draftOf, padDraft, pieceOf } from '../../web/js/draft.js';
import { fragmentOf, LinkError, pieceFrom } from '../../web/js/link.js';
import { setAt, valueAt } from '../../web/js/pointer.js';

const demo = JSON.parse(await readFile(new URL('../../web/demo.json', import.meta.url), 'utf8'));

/** A piece that uses every field the form has. */
const everything = {
  name: 'Ärmel – größer',
  quantity: 3,
  stack: {
    ground: 'body',
    base: [{ thickness_mm: 2, relative_permittivity: { low: 1.2, high: 1.6 }, water_fraction: 0.1 }],
    overlay: [{ library: 'leather', thickness_mm: { value: 1, plus_minus: 0.1 }, relative_permittivity: 3, water_fraction: { low: 0.2, high: 0.4 } }],
    opening_diameter_mm: { value: 8, plus_minus: 0.5 },
  },
  pads: [
    { shape: { kind: 'rectangle', width_mm: 10, length_mm: 20, corner_radius_mm: 2 }, rotation_deg: 45,
      thread: { linear_resistance_ohm_per_m: 40, diameter_mm: 0.2, linear_density_tex: 40 },
      run: { length_mm: 100, passes: 1, stitch: { kind: 'satin', column_width_mm: 2, density_mm: 0.5 }, bobbin: 'same_thread' } },
    { name: 'ring', shape: { kind: 'ring', inner_diameter_mm: 8, outer_diameter_mm: 20 }, centre_mm: [-40, 0.5],
      thread: { library: 'steel-90-tex' }, run: { length_mm: { low: 90, high: 110 }, stitch: { kind: 'back', stitch_length_mm: 2 } },
      guard: { gap_mm: { low: 1.5, high: 2.5 }, width_mm: 3, held: 'driven' } },
    { name: 'leaf', shape: { kind: 'polygon', points_mm: [[0, 0], [30, 0], [15, 20.5]], holes_mm: [[[10, 5], [20, 5], [15, 9]]] },
      thread: { library: 'steel-90-tex' }, fill: { row_spacing_mm: 0.6, stitch_length_mm: 2.5 },
      run: { length_mm: 10, terminal: { contact_resistance_ohm: 0.5 } } },
  ],
  controller: { library: 'quick-input', charge_time_us: 2, series_resistance_ohm: 1000, max_standing_pf: 60, needed_signal_pf: 0.3, max_run_ohm: 900, settled_percent: 99 },
  touch: { case: 'worn', fingertip_diameter_mm: 9, body_to_earth_pf: 100, supply_to_earth_pf: 5, body_to_supply_pf: { low: 5, high: 50 }, off_centre_mm: 4 },
  temperature_c: { low: 5, high: 40 },
  machine: { needles: 6, decorative_threads: 2, clearance_mm: 1.5 },
  method: 'field',
  relative_tolerance: 0.01,
  production: {
    heads: 6, pieces_per_frame: 2, quantities: [10, 50, 1000], currency: 'JPY', exchange_rate: 171.23, decorative_stitches: 2400, boards: 1, jig: true,
    material_per_piece: 650,
    rates: { labour_per_hour: 4200, trim_s: { low: 6, high: 9 }, hooping_s: { value: 45, plus_minus: 10 }, thread_per_m: { 'steel-90-tex': 12.5 } },
  },
};

for (const [name, piece] of [['demo', demo], ['everything', everything]]) {
  test(`the ${name} piece passes through the form unchanged`, () => {
    const { piece: back, faults } = pieceOf(draftOf(piece));
    assert.deepEqual(faults, []);
    assert.deepEqual(back, piece);
  });

  test(`the ${name} piece passes through a link unchanged`, async () => {
    const fragment = await fragmentOf(piece);
    assert.match(fragment, /^#p=[A-Za-z0-9_-]+$/);
    assert.deepEqual(await pieceFrom(fragment), piece);
  });

  test(`the ${name} piece may also be linked as plain JSON`, async () => {
    const fragment = `#p=${Buffer.from(JSON.stringify(piece)).toString('base64url')}`;
    assert.deepEqual(await pieceFrom(fragment), piece);
  });
}

test('the link to the demo piece fits into a message', async () => {
  assert.ok((await fragmentOf(demo)).length < 700);
});

test('a fragment without a piece is none, a damaged one is a fault', async () => {
  assert.equal(await pieceFrom(''), null);
  assert.equal(await pieceFrom('#form'), null);
  assert.deepEqual(await pieceFrom('#p=e30'), {});
  const whole = await fragmentOf(demo);
  const damaged = ['#p=', '#p=%%%', '#p=_w', whole.slice(0, 80), `${whole.slice(0, 60)}A${whole.slice(61)}`, await fragmentOf([1]), await fragmentOf('x')];
  for (const fragment of damaged) await assert.rejects(pieceFrom(fragment), LinkError, fragment);
});

test('a link that would unpack without end is refused', async () => {
  await assert.rejects(pieceFrom(await fragmentOf({ name: 'a'.repeat(2_000_000) })), LinkError);
});

test('a link to an odd piece fills the form as far as it goes', () => {
  const draft = draftOf({ stack: { base: [7, null, { thickness_mm: 'thick' }] }, pads: ['x', { shape: 5, fill: 1 }] });
  const { faults } = pieceOf(draft);
  assert.ok(faults.some((fault) => fault.pointer === '/stack/base/2/thickness_mm'));
  assert.ok(faults.some((fault) => fault.pointer === '/pads/0/shape/diameter_mm'));
  assert.throws(() => draftOf({ pads: {} }), TypeError);
  assert.throws(() => draftOf({ pads: Array(257).fill({}) }), TypeError);
});

test('faults carry the pointer of their field', () => {
  const draft = draftOf(demo);
  assert.ok(setAt(draft, '/pads/1/shape/diameter_mm', 'wide'));
  assert.ok(setAt(draft, '/pads/2/run/length_mm', ''));
  assert.ok(setAt(draft, '/machine/needles', '12.5'));
  assert.ok(setAt(draft, '/pads/3/centre_mm/1', ''));
  const { faults } = pieceOf(draft);
  assert.deepEqual(faults.map((fault) => fault.pointer).sort(), [
    '/machine/needles', '/pads/1/shape/diameter_mm', '/pads/2/run/length_mm', '/pads/3/centre_mm/1',
  ]);
});

test('only the sizes of the chosen shape are sent', () => {
  const draft = draftOf(demo);
  draft.pads[0].shape.kind = 'ring';
  draft.pads[0].shape.inner_diameter_mm = '8';
  draft.pads[0].shape.outer_diameter_mm = '20';
  draft.pads[0].fill.kind = 'solid';
  const pad = pieceOf(draft).piece.pads[0];
  assert.deepEqual(pad.shape, { kind: 'ring', inner_diameter_mm: 8, outer_diameter_mm: 20 });
  assert.equal('fill' in pad, false);
});

test('a guard that is not chosen is not sent, one that is chosen needs its measures', () => {
  const draft = draftOf(demo);
  draft.pads[0].guard.gap_mm = '2';
  assert.equal('guard' in pieceOf(draft).piece.pads[0], false);
  draft.pads[0].guard.held = 'ground';
  assert.deepEqual(pieceOf(draft).faults.map((fault) => fault.pointer), ['/pads/0/guard/width_mm']);
  draft.pads[0].guard.width_mm = '3 ± 0.2';
  assert.deepEqual(pieceOf(draft).piece.pads[0].guard, { gap_mm: 2, width_mm: { value: 3, plus_minus: 0.2 }, held: 'ground' });
});

test('the best method is left out, any other is sent', () => {
  const draft = draftOf({ ...demo, method: 'best' });
  assert.equal('method' in pieceOf(draft).piece, false);
  draft.method = 'closed_form';
  draft.relative_tolerance = '0,01';
  const { piece, faults } = pieceOf(draft);
  assert.deepEqual([piece.method, piece.relative_tolerance, faults], ['closed_form', 0.01, []]);
  draft.relative_tolerance = '0.01 ± 0.001';
  assert.deepEqual(pieceOf(draft).faults.map((fault) => fault.pointer), ['/relative_tolerance']);
});

test('an outline is read line by line, with holes after blank lines', () => {
  const outline = (text) => {
    const draft = draftOf(demo);
    draft.pads = [{ ...padDraft(demo.pads[0]), shape: { ...padDraft(demo.pads[0]).shape, kind: 'polygon', points_mm: text } }];
    const { piece, faults } = pieceOf(draft);
    return { shape: piece.pads[0].shape, faults };
  };
  assert.deepEqual(outline('0, 0\n10, 0\n5, 8').shape.points_mm, [[0, 0], [10, 0], [5, 8]]);
  assert.deepEqual(outline('0;0\n10,5;0\n5;8,25').shape.points_mm, [[0, 0], [10.5, 0], [5, 8.25]]);
  assert.deepEqual(outline('0 0\n10 0\n5 8\n').shape.points_mm, [[0, 0], [10, 0], [5, 8]]);
  assert.deepEqual(outline('0,0\n9,0\n9,9\n\n2,2\n3,2\n3,3\n').shape.holes_mm, [[[2, 2], [3, 2], [3, 3]]]);
  assert.match(outline('0, 0\n10\n5, 8').faults[0].message, /Line 2/);
  assert.match(outline('0, 0\n10, 0').faults[0].message, /three corners/);
  assert.match(outline('').faults[0].message, /three corners/);
});

test('pointers', () => {
  const place = { a: [{ 'b/c': 1 }] };
  assert.equal(valueAt(place, '/a/0/b~1c'), 1);
  assert.equal(valueAt(place, '/a/3/b'), undefined);
  assert.equal(setAt(place, '/x/y', 1), false);
});
