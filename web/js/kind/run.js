/** Threads and the runs sewn with them, as every kind of feature has them. Pure. */

import { requestFrom } from '../fieldlist.js';

/** A thread: an entry of the library, or its numbers. */
export const THREAD = [
  { at: 'library', as: 'word' },
  { at: 'linear_resistance_ohm_per_m', as: 'measured', unit: 'Ω/m', needed: 'library=' },
  { at: 'diameter_mm', as: 'measured', unit: 'mm', needed: 'library=' },
  { at: 'linear_density_tex', as: 'measured', unit: 'tex' },
  { at: 'growth_per_wash_percent', as: 'measured', unit: '%' },
  { at: 'stretch_factor', as: 'measured' },
  { at: 'temperature_coefficient_per_k', as: 'measured', unit: '1/K' },
];

/** A stitched conductor and the terminal at its end. */
export const RUN = [
  { at: 'length_mm', as: 'measured', unit: 'mm', needed: true },
  { at: 'passes', as: 'whole' },
  { at: 'stitch/kind', as: 'word', usual: 'running' },
  { at: 'stitch/stitch_length_mm', as: 'measured', unit: 'mm', when: 'stitch/kind=running|back' },
  { at: 'stitch/column_width_mm', as: 'measured', unit: 'mm', when: 'stitch/kind=satin' },
  { at: 'stitch/density_mm', as: 'measured', unit: 'mm', when: 'stitch/kind=satin' },
  { at: 'bobbin', as: 'word', usual: 'plain', silent: true },
  { at: 'stitch_contact_ohm', as: 'measured', unit: 'Ω', when: 'bobbin=same_thread' },
  { at: 'passes_joined', as: 'flag' },
  { at: 'interlace_fraction', as: 'measured' },
  { at: 'terminal/kind', as: 'word' },
  { at: 'terminal/contact_resistance_ohm', as: 'measured', unit: 'Ω' },
  { at: 'terminal/pitch_mm', as: 'measured', unit: 'mm' },
  { at: 'terminal/hole_diameter_mm', as: 'measured', unit: 'mm', when: 'terminal/kind=board' },
];

/** The run of the request. */
export function runOf(read, run, at) {
  const request = requestFrom(read, RUN, run, at);
  // A running stitch without a length is what the server assumes anyway; leaving it out keeps links short.
  if (request.stitch?.kind === 'running' && request.stitch.stitch_length_mm === undefined) delete request.stitch;
  return request;
}
