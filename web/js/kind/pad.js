/** Touch pads with their runs: in the draft, in the request, in a few words. Pure. */

import { draftFrom, only, requestFrom, under } from '../fieldlist.js';
import { showNumber } from '../number.js';
import { RUN, runOf, THREAD } from './run.js';
import { shapeDraft, shapeInShort, shapeOf, sizeInShort } from './shape.js';

const PAD = [
  { at: 'name', as: 'text' },
  { at: 'rotation_deg', as: 'plain', unit: '°' },
  ...under('thread', THREAD),
  ...only('fill/kind=solid', [{ at: 'sheet_resistance_ohm_sq', as: 'measured', unit: 'Ω/sq' }]),
  // A guard that is not chosen leaves alone what stands in its hidden fields.
  ...only('guard/held=ground|driven', under('guard', [
    { at: 'held', as: 'word' },
    { at: 'gap_mm', as: 'measured', unit: 'mm', needed: true },
    { at: 'width_mm', as: 'measured', unit: 'mm', needed: true },
  ])),
];
const FILL = [
  { at: 'row_spacing_mm', as: 'measured', unit: 'mm', needed: true },
  { at: 'stitch_length_mm', as: 'measured', unit: 'mm', needed: true },
  { at: 'row_contact_ohm', as: 'measured', unit: 'Ω' },
];

export const pad = {
  list: 'pads',
  most: 256,
  name: 'pad',
  names: 'pads',
  fresh: {
    shape: { kind: 'round', diameter_mm: 20 },
    thread: { library: 'silver-polyamide-40-tex' },
    fill: { row_spacing_mm: 0.8, stitch_length_mm: 3 },
    run: { length_mm: 150 },
  },

  draft(source) {
    const { fill, centre_mm: centre } = source;
    const solid = !fill || typeof fill !== 'object';
    return {
      ...draftFrom(PAD, source),
      shape: shapeDraft(source.shape),
      centre_mm: [0, 1].map((at) => showNumber(Array.isArray(centre) ? centre[at] : undefined)),
      fill: { ...draftFrom(FILL, fill), kind: solid ? 'solid' : 'rows' },
      run: draftFrom(RUN, source.run),
    };
  },

  request(read, draft, at) {
    return {
      ...requestFrom(read, PAD, draft, at),
      shape: shapeOf(read, draft.shape, `${at}/shape`),
      centre_mm: centreOf(read, draft.centre_mm, `${at}/centre_mm`),
      fill: draft.fill.kind === 'rows' ? requestFrom(read, FILL, draft.fill, `${at}/fill`) : undefined,
      run: runOf(read, draft.run, `${at}/run`),
    };
  },

  inShort: ({ shape, run }) => `${shapeInShort(shape)}, run ${sizeInShort(run.length_mm)} mm`,

  /** Two pads in one place would only raise a clearance fault; the new place is for the person to say. */
  copied: (draft) => ({ ...draft, centre_mm: ['', ''] }),

  /** Gives a pad the thread, filling and run stitch of another; sizes, places and run lengths stay. */
  likened(draft, { thread, fill, run }) {
    const { length_mm } = draft.run;
    return { ...draft, ...structuredClone({ thread, fill, run: { ...run, length_mm } }) };
  },
};

function centreOf(read, [x, y], at) {
  if (x.trim() === '' && y.trim() === '') return undefined;
  return [read.plain(x, `${at}/0`, 'mm', true), read.plain(y, `${at}/1`, 'mm', true)];
}
