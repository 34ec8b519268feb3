// The way from a piece to the form and back. Run: node --test tests/web/*.test.mjs

import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { test } from 'node:test';

import { draftOf, pieceOf } from '../../web/js/draft.js';
import { pad } from '../../web/js/kind/pad.js';
import { KINDS } from '../../web/js/kinds.js';
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
    sewn_thickness_mm: 2.5,
  },
  pads: [
    { shape: { kind: 'rectangle', width_mm: 10, length_mm: 20, corner_radius_mm: 2 }, rotation_deg: 45,
      thread: { linear_resistance_ohm_per_m: 40, diameter_mm: 0.2, linear_density_tex: 40, growth_per_wash_percent: { low: 1, high: 4 }, stretch_factor: 2,
        temperature_coefficient_per_k: 0.004 },
      sheet_resistance_ohm_sq: 0.2,
      run: { length_mm: 100, passes: 1, stitch: { kind: 'satin', column_width_mm: 2, density_mm: 0.5 }, bobbin: 'same_thread',
        stitch_contact_ohm: { low: 0.1, high: 1 }, passes_joined: false, interlace_fraction: 0.4 } },
    { name: 'ring', shape: { kind: 'ring', inner_diameter_mm: 8, outer_diameter_mm: 20 }, centre_mm: [-40, 0.5],
      thread: { library: 'steel-90-tex' }, run: { length_mm: { low: 90, high: 110 }, stitch: { kind: 'back', stitch_length_mm: 2 } },
      guard: { gap_mm: { low: 1.5, high: 2.5 }, width_mm: 3, held: 'driven' } },
    { name: 'leaf', shape: { kind: 'polygon', points_mm: [[0, 0], [30, 0], [15, 20.5]], holes_mm: [[[10, 5], [20, 5], [15, 9]]] },
      thread: { library: 'steel-90-tex' }, fill: { row_spacing_mm: 0.6, stitch_length_mm: 2.5, row_contact_ohm: 2 },
      run: { length_mm: 10, terminal: { kind: 'board', contact_resistance_ohm: 0.5, pitch_mm: 4, hole_diameter_mm: 1.8 } } },
  ],
  light_rows: [
    { name: 'level', lights: 6, pitch_mm: { value: 25, plus_minus: 0.5 }, feed: 'both_ends', series_ohm: { low: 209, high: 231 }, light_contact_ohm: 0.5,
      light: { low_current_ma: 2, low_forward_v: 2.7, high_current_ma: 20, high_forward_v: 3.2, emission_coefficient: 2 }, placed_by: 'hand',
      thread: { library: 'steel-90-tex' }, return_thread: { library: 'silver-polyamide-40-tex', linear_resistance_ohm_per_m: 90 }, return_passes: 3,
      run: { length_mm: 100, passes: 2 }, far_length_mm: 240, least_brightness_percent: 80, least_current_ma: 2, most_current_ma: 25,
      supply: { kind: 'battery', supply_v: 5, source_ohm: 1, max_supply_ma: 500, empty_supply_v: 4.2, capacity_mah: 2000, usable_share: 0.8, needed_life_h: 10 },
      warmth: { max_temperature_c: 43, free_sides: 2, cover_m2k_per_w: 0.05 } },
    { lights: 1, pitch_mm: 10, series_ohm: 100, light: { saturation_current_a: 1e-18, emission_coefficient: 1.8 }, thread: { library: 'steel-90-tex' },
      run: { length_mm: 50 }, placed_by: 'machine', supply: { kind: 'mains', supply_v: 12 } },
  ],
  laid_wires: [
    { name: 'warmer', kind: 'wire', conductor: { metal: 'copper', area_mm2: 0.14, class: 'flexible', coated: false }, outer_diameter_mm: 1.1,
      linear_mass_g_per_m: 3, min_bend_radius_mm: 6, supply_v: 0.4, supply_kind: 'mains', needed_power_w: 1, max_resistance_ohm: 2,
      course: { kind: 'meander', width_mm: 200, height_mm: 100, spacing_mm: 20 }, hold: { clearance_mm: 0.6, advance_mm: 4 },
      warmth: { max_temperature_c: 45 } },
    { kind: 'wire', conductor: { linear_resistance_ohm_per_m: 3, diameter_mm: 0.3 }, current_ma: 100, course: { kind: 'straight', length_mm: 300 } },
    { kind: 'wire', conductor: { metal: 'copper', gauge: -3 }, course: { kind: 'path', points_mm: [[0, 0], [40, 0], [40, 25.5]] } },
    { kind: 'tube', outer_diameter_mm: 4, course: { kind: 'straight', length_mm: 300 } },
  ],
  electrodes: [
    { name: 'left', kind: 'reads', skin: 'dry', shape: { kind: 'round', diameter_mm: { value: 30, plus_minus: 1 } },
      texture: { kind: 'loop_pile', row_spacing_mm: 1, stitch_length_mm: 2, loop_height_mm: 1.5 }, thread: { library: 'steel-90-tex' },
      run: { length_mm: 180, passes: 2, terminal: { kind: 'snap' } }, touching_share: 0.5, surface_gain: { low: 1, high: 2 },
      contact: { skin_kohm_cm2: 100, skin_nf_per_cm2: 20, metal_kohm_cm2: 2, metal_uf_per_cm2: 10, tissue_ohm_m: 3, skin_noise_uv: 2 },
      fit: { tension_n: 3, band_width_mm: 40, girth_mm: 800 }, signal: 'muscle', signal_mv: 0.5, band_low_hz: 20, band_high_hz: 450,
      amplifier: { input_resistance_mohm: 1000, input_capacitance_pf: 60, noise_nv_per_rthz: 50, noise_fa_per_rthz: 5, rejection_db: 90 },
      pair: { mismatch_percent: 40, common_mode_mv: 10, mains_hz: 60 } },
    { kind: 'stimulates', skin: 'gel', shape: { kind: 'rectangle', width_mm: 40, length_mm: 40 },
      texture: { kind: 'fill', row_spacing_mm: 0.5, stitch_length_mm: 2 }, thread: { library: 'steel-90-tex' }, run: { length_mm: 90 },
      fit: { pressure_kpa: { low: 1, high: 2 } },
      stimulation: { current_ma: 5, phase_width_us: 200, rate_hz: 50, phases: 1, max_charge_uc_per_cm2: 30 } },
  ],
  controller: { library: 'quick-input', charge_time_us: 2, series_resistance_ohm: 1000, max_standing_pf: 60, needed_signal_pf: 0.3, max_run_ohm: 900, settled_percent: 99 },
  touch: { case: 'worn', fingertip_diameter_mm: 9, body_to_earth_pf: 100, supply_to_earth_pf: 5, body_to_supply_pf: { low: 5, high: 50 }, off_centre_mm: 4 },
  temperature_c: { low: 5, high: 40 },
  after_washes: 30,
  stretch_percent: { low: 0, high: 10 },
  machine: { needles: 6, decorative_threads: 2, clearance_mm: 1.5, needle_diameter_mm: 1.1 },
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
  assert.ok((await fragmentOf(demo)).length < 1000);
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
    draft.pads = [{ ...pad.draft(demo.pads[0]), shape: { ...pad.draft(demo.pads[0]).shape, kind: 'polygon', points_mm: text } }];
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

test('a piece without pads needs neither stack nor controller', () => {
  const electrode = everything.electrodes[0];
  const { piece, faults } = pieceOf(draftOf({ electrodes: [electrode] }));
  assert.deepEqual(faults, []);
  assert.deepEqual(piece, { electrodes: [electrode], touch: { case: 'battery' } });
});

test('what belongs to another choice is kept in the form and not sent', () => {
  const draft = draftOf({ electrodes: [everything.electrodes[0]] });
  draft.electrodes[0].kind = 'stimulates';
  const { piece, faults } = pieceOf(draft);
  assert.deepEqual(faults.map(({ pointer }) => pointer), ['current_ma', 'phase_width_us', 'rate_hz'].map((field) => `/electrodes/0/stimulation/${field}`));
  for (const field of ['signal', 'signal_mv', 'amplifier', 'pair', 'band_low_hz']) assert.equal(field in piece.electrodes[0], false, field);
  draft.electrodes[0].kind = 'reads';
  assert.deepEqual(pieceOf(draft).piece.electrodes[0], everything.electrodes[0]);
});

test('a way by points is read line by line, without gaps', () => {
  const way = (text) => {
    const draft = draftOf({ laid_wires: [everything.laid_wires[2]] });
    draft.laid_wires[0].course.points_mm = text;
    const { piece, faults } = pieceOf(draft);
    return { points: piece.laid_wires[0].course.points_mm, faults };
  };
  assert.deepEqual(way('0, 0\n10, 5\n').points, [[0, 0], [10, 5]]);
  for (const [text, words] of [['0, 0', /two points/], ['0, 0\n1, 1\n\n2, 2\n3, 3', /no gaps/], ['0, 0\nx', /Line 2/]]) {
    const { faults } = way(text);
    assert.deepEqual(faults.map(({ pointer }) => pointer), ['/laid_wires/0/course/points_mm']);
    assert.match(faults[0].message, words);
  }
});

/** The places of the controls in a template, with the parts that it takes in. */
function placesIn(html, template, at = '') {
  const text = html.match(new RegExp(`<template id="${template}-template">(.*?)</template>`, 's'))[1];
  const places = [...text.matchAll(/data-pointer="([^"]*)"(?: data-draft="([^"]*)")?/g)].map(([, pointer, draft]) => `${at}${draft ?? pointer}`);
  const parts = [...text.matchAll(/data-part="([^"]*)" data-as="([^"]*)"/g)].flatMap(([, part, as]) => placesIn(html, `${part}-part`, `${at}${as}/`));
  return [...places, ...parts];
}

/** The places of the texts in a draft. */
function textsIn(draft, at = '') {
  return Object.entries(draft).flatMap(([key, value]) => (typeof value === 'object' ? textsIn(value, `${at}${key}/`) : [`${at}${key}`]));
}

test('every field of the form has its place in the draft, and every place its field', async () => {
  const html = await readFile(new URL('../../web/index.html', import.meta.url), 'utf8');
  for (const kind of KINDS) {
    const places = placesIn(html, kind.list);
    assert.equal(new Set(places).size, places.length, kind.list);
    assert.deepEqual(places.sort(), textsIn(kind.draft(kind.fresh)).sort(), kind.list);
    // A new feature can be asked for as it comes.
    const { piece, faults } = pieceOf(draftOf({ [kind.list]: [kind.fresh] }));
    assert.deepEqual(faults.filter(({ pointer }) => pointer.startsWith(`/${kind.list}`)), [], kind.list);
    assert.deepEqual(piece[kind.list], [kind.fresh]);
  }
});
