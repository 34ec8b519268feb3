/** Lights along a feed and a return: in the draft, in the request, in a few words. Pure. */

import { draftFrom, only, requestFrom, under } from '../fieldlist.js';
import { RUN, runOf, THREAD } from './run.js';
import { sizeInShort } from './shape.js';
import { WARMTH } from './warmth.js';

const number = (at, unit, more) => ({ at, as: 'measured', unit, ...more });
const LIGHT_ROW = [
  { at: 'name', as: 'text' },
  { at: 'lights', as: 'whole', needed: true },
  number('pitch_mm', 'mm', { needed: true }),
  { at: 'feed', as: 'word', usual: 'same', silent: true },
  ...under('light', [
    number('low_current_ma', 'mA'), number('low_forward_v', 'V'), number('high_current_ma', 'mA'), number('high_forward_v', 'V'),
    number('saturation_current_a', 'A'), number('emission_coefficient'),
  ]),
  number('series_ohm', 'Ω', { needed: true }),
  number('light_contact_ohm', 'Ω'),
  { at: 'placed_by', as: 'word', usual: 'machine' },
  ...under('thread', THREAD),
  { at: 'return_passes', as: 'whole' },
  number('far_length_mm', 'mm', { when: 'feed=opposite|both_ends' }),
  ...under('supply', [
    { at: 'kind', as: 'word', usual: 'battery' },
    number('supply_v', 'V', { needed: true }),
    number('source_ohm', 'Ω'),
    number('max_supply_ma', 'mA'),
    ...only('kind=battery', [number('empty_supply_v', 'V'), number('capacity_mah', 'mAh'), number('usable_share'), number('needed_life_h', 'h')]),
  ]),
  number('least_brightness_percent', '%'),
  number('least_current_ma', 'mA'),
  number('most_current_ma', 'mA'),
  ...under('warmth', WARMTH),
];
/** The thread of the return, where it has one of its own. */
const RETURN_THREAD = under('return_thread', THREAD);

export const lightRow = {
  list: 'light_rows',
  most: 32,
  name: 'light row',
  names: 'light rows',
  fresh: {
    lights: 6,
    pitch_mm: 25,
    light: { low_current_ma: 2, low_forward_v: 2.7, high_current_ma: 20, high_forward_v: 3.2 },
    series_ohm: 220,
    placed_by: 'machine',
    thread: { library: 'silver-polyamide-40-tex' },
    run: { length_mm: 100, passes: 2 },
    supply: { kind: 'battery', supply_v: 5 },
  },

  draft: (source) => ({ ...draftFrom(LIGHT_ROW, source), ...draftFrom(RETURN_THREAD, source), run: draftFrom(RUN, source.run) }),

  request(read, draft, at) {
    return {
      ...requestFrom(read, LIGHT_ROW, draft, at),
      ...returnThreadOf(read, draft, at),
      run: runOf(read, draft.run, `${at}/run`),
    };
  },

  inShort: ({ lights, pitch_mm: pitch, supply }) => `${lights || '?'} lights, ${sizeInShort(pitch)} mm apart, ${sizeInShort(supply.supply_v, 'V')} V`,
};

/** Left out where nothing of it is given: the return is then sewn with the thread of the feed. */
function returnThreadOf(read, draft, at) {
  if (Object.values(draft.return_thread).every((text) => text === '')) return {};
  return requestFrom(read, RETURN_THREAD, draft, at);
}
