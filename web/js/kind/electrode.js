/** Stitched areas on skin: in the draft, in the request, in a few words. Pure. */

import { draftFrom, only, requestFrom, under } from '../fieldlist.js';
import { RUN, runOf, THREAD } from './run.js';
import { shapeDraft, shapeInShort, shapeOf } from './shape.js';

const number = (at, unit, more) => ({ at, as: 'measured', unit, ...more });
const ELECTRODE = [
  { at: 'name', as: 'text' },
  { at: 'kind', as: 'word', usual: 'reads' },
  { at: 'skin', as: 'word', usual: 'damp' },
  ...under('texture', [
    { at: 'kind', as: 'word', usual: 'loop_pile' },
    number('row_spacing_mm', 'mm', { needed: true }),
    number('stitch_length_mm', 'mm', { needed: true }),
    number('loop_height_mm', 'mm', { needed: true, when: 'kind=loop_pile' }),
  ]),
  ...under('thread', THREAD),
  number('touching_share'),
  number('surface_gain'),
  ...under('contact', [
    number('skin_kohm_cm2', 'kΩ cm²'), number('skin_nf_per_cm2', 'nF/cm²'), number('metal_kohm_cm2', 'kΩ cm²'),
    number('metal_uf_per_cm2', 'µF/cm²'), number('tissue_ohm_m', 'Ω m'), number('skin_noise_uv', 'µV'),
  ]),
  ...under('fit', [
    number('pressure_kpa', 'kPa'), number('tension_n', 'N'), number('band_width_mm', 'mm'), number('girth_mm', 'mm'),
  ]),
  ...only('kind=reads', [
    { at: 'signal', as: 'word', usual: 'heart', silent: true },
    number('signal_mv', 'mV'),
    number('band_low_hz', 'Hz', { as: 'plain' }),
    number('band_high_hz', 'Hz', { as: 'plain' }),
    ...under('amplifier', [
      number('input_resistance_mohm', 'MΩ'), number('input_capacitance_pf', 'pF'), number('noise_nv_per_rthz', 'nV/√Hz'),
      number('noise_fa_per_rthz', 'fA/√Hz'), number('rejection_db', 'dB'),
    ]),
    ...under('pair', [number('mismatch_percent', '%'), number('common_mode_mv', 'mV'), number('mains_hz', 'Hz', { as: 'plain' })]),
  ]),
  ...only('kind=stimulates', under('stimulation', [
    number('current_ma', 'mA', { needed: true }),
    number('phase_width_us', 'µs', { needed: true }),
    number('rate_hz', 'Hz', { needed: true }),
    { at: 'phases', as: 'whole', usual: '2' },
    number('max_charge_uc_per_cm2', 'µC/cm²'),
  ])),
];

export const electrode = {
  list: 'electrodes',
  most: 64,
  name: 'electrode',
  names: 'electrodes',
  fresh: {
    kind: 'reads',
    skin: 'damp',
    shape: { kind: 'round', diameter_mm: 30 },
    texture: { kind: 'loop_pile', row_spacing_mm: 1, stitch_length_mm: 2, loop_height_mm: 1.5 },
    thread: { library: 'silver-polyamide-40-tex' },
    run: { length_mm: 150 },
  },

  draft: (source) => ({ ...draftFrom(ELECTRODE, source), shape: shapeDraft(source.shape), run: draftFrom(RUN, source.run) }),

  request(read, draft, at) {
    return {
      ...requestFrom(read, ELECTRODE, draft, at),
      shape: shapeOf(read, draft.shape, `${at}/shape`),
      run: runOf(read, draft.run, `${at}/run`),
    };
  },

  inShort: ({ shape, kind }) => `${shapeInShort(shape)}, ${kind}`,
};
