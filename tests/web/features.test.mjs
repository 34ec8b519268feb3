// Fields by table, pointers of features, and what the answer says of each kind. Run: node --test tests/web/*.test.mjs

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { pulsesText, readingText } from '../../web/js/electrodes.js';
import { warmthText } from '../../web/js/featuretable.js';
import { applies, draftFrom, only, requestFrom, under } from '../../web/js/fieldlist.js';
import { holdText, lengthText, wireText } from '../../web/js/laidwires.js';
import { lightsText, supplyText } from '../../web/js/lightrows.js';
import { featureAt } from '../../web/js/kinds.js';
import { reader } from '../../web/js/reader.js';
import { transferText } from '../../web/js/runs.js';

/** Words as they stand, with ordinary blanks between a number and its unit. */
const plain = (text) => text.replaceAll('\u202f', ' ');

const FIELDS = [
  { at: 'kind', as: 'word', usual: 'a' },
  ...only('kind=a', under('part', [
    { at: 'by', as: 'word', usual: '', silent: true },
    { at: 'size_mm', as: 'measured', unit: 'mm', needed: 'by=size' },
    { at: 'count', as: 'whole', when: 'by=count' },
  ])),
  { at: 'told', as: 'flag' },
];

test('a table of fields makes a draft and the request that it stands for', () => {
  const draft = draftFrom(FIELDS, { part: { size_mm: { low: 1, high: 2 } }, told: false });
  assert.deepEqual(draft, { kind: 'a', part: { by: '', size_mm: '1 to 2', count: '' }, told: 'false' });
  const faults = [];
  assert.deepEqual(requestFrom(reader(faults), FIELDS, draft, '/x'), { kind: 'a', part: { size_mm: { low: 1, high: 2 } }, told: false });
  assert.deepEqual(faults, []);
});

test('what a choice asks for is missed where it stands, what belongs to another is left out', () => {
  const faults = [];
  const draft = { kind: 'a', part: { by: 'size', size_mm: '', count: 'many' }, told: '' };
  assert.deepEqual(requestFrom(reader(faults), FIELDS, draft, '/x'), { kind: 'a', part: { by: 'size' } });
  assert.deepEqual(faults.map(({ pointer }) => pointer), ['/x/part/size_mm']);
  draft.part.by = 'count';
  requestFrom(reader(faults), FIELDS, draft, '/x');
  assert.deepEqual(faults.map(({ pointer }) => pointer), ['/x/part/size_mm', '/x/part/count']);
  assert.deepEqual(requestFrom(reader(faults), FIELDS, { ...draft, kind: 'b' }, '/x'), { kind: 'b' });
});

test('a choice may ask for several things at once', () => {
  const read = (place) => ({ kind: 'a', by: 'size' })[place] ?? '';
  assert.ok(applies('kind=a|b&by=size', read));
  assert.ok(!applies('kind=a&by=count', read));
  assert.ok(applies('none=', read));
});

test('a pointer tells its feature', () => {
  assert.deepEqual(featureAt('/electrodes/2/shape/diameter_mm'), { list: 'electrodes', index: 2 });
  assert.deepEqual(featureAt('/light_rows/0'), { list: 'light_rows', index: 0 });
  for (const pointer of ['/machine', '/stack/base/0', '', null, undefined]) assert.equal(featureAt(pointer), null, pointer);
});

test('what an electrode reads, and what pulses do', () => {
  const reading = {
    band_low_hz: 0.5, band_high_hz: 40, worst_loss_percent: 1.234, read_out_phase_deg: 2.5, noise_uv: 6.27, thermal_noise_uv: 0.252, hum_uv: 6.14,
    needed_input_mohm: 201,
  };
  assert.match(plain(readingText(reading)), /^Between 0\.5 Hz and 40 Hz up to 1\.23 % is lost, and what is read runs 2\.5 ° ahead/);
  assert.doesNotMatch(readingText({ ...reading, read_out_phase_deg: -0.001 }), /ahead/);
  const pulses = {
    rms_ma: 0.707, current_density_ma_per_cm2: 0.0465, attention_ma_per_cm2: 2, charge_per_phase_uc: 1, thread_charge_uc_per_cm2: 0.08, unbalanced_ma: 0,
    end_voltage_v: 2.5,
  };
  assert.match(plain(pulsesText(pulses)), /2 mA\/cm² call for an operator’s attention and are no limit of safety/);
  assert.doesNotMatch(pulsesText(pulses), /one way/);
  assert.match(plain(pulsesText({ ...pulses, unbalanced_ma: 0.1 })), /0\.1 mA flow one way/);
});

test('how a light row burns and what it draws', () => {
  const row = {
    current_ma: [9, 8.5, 8], dimmest: 3, brightest: 1, light_spread_percent: 88.9, light_v: 4.6, needed_v: 2.9, supply_ma: 25.5, supply_mw: 127,
    run_loss_mw: 3, battery_life_h: null,
  };
  assert.match(plain(lightsText(row)), /^8 mA in light 3, 9 mA in light 1: the dimmest gets 88\.9 % of the brightest\. It gets 4\.6 V and needs 2\.9 V/);
  assert.match(plain(lightsText({ ...row, current_ma: [9], dimmest: 1 })), /^9 mA in the light\./);
  assert.doesNotMatch(supplyText(row), /battery/);
  assert.match(plain(supplyText({ ...row, battery_life_h: 40 })), /The battery lasts 40 h/);
});

test('what a laid wire is and does', () => {
  assert.equal(plain(lengthText({ length_mm: 300, rows: 1, area_dm2: null, mass_g: 1.5 })), '300 mm, 1.5 g');
  assert.equal(plain(lengthText({ length_mm: 2500, rows: 6, area_dm2: 2.4, mass_g: null })), '2.5 m, 6 rows, over 2.4 dm²');
  assert.match(plain(holdText({ stitches: 149.6, zigzag_width_mm: 2.3, bend_radius_mm: null })), /^150 stitches .* no bend$/);
  const warmth = { power_w_per_m: 1.2, temperature_c: [27.5, 33] };
  assert.match(plain(warmthText(warmth)), /^1\.2 W\/m; 27\.5 to 33 °C/);
  const wire = { resistance_ohm: 0.5, standard_ohm: null, heating: null };
  assert.equal(plain(wireText(wire)), '0.5 Ω');
  const heating = { current_ma: 100, power_w: 0.4, power_w_per_dm2: 0.2, warmth };
  assert.match(plain(wireText({ ...wire, standard_ohm: 0.6, heating })), /at most 0\.6 Ω at 20 °C; 100 mA make 0\.4 W, 0\.2 W\/dm², /);
});

test('two threads against the rule of both in parallel', () => {
  assert.match(plain(transferText({ run_ohm: 13.7, parallel_rule_ohm: 13.4, transfer_length_mm: 2.24 })), /2\.24 mm.*13\.4 Ω, 2\.2 % less/);
  assert.match(plain(transferText({ run_ohm: 13.4, parallel_rule_ohm: 13.4, transfer_length_mm: 0.1 })), /13\.4 Ω, the same/);
});
