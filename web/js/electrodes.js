/**
 * What is predicted for each electrode: what an amplifier gets of it, or what its pulses do.
 */

import { showFeatures } from './featuretable.js';
import { quantity } from './format.js';

/**
 * @param {HTMLElement} part the section
 * @param {any[]} electrodes of the answer
 */
export function showElectrodes(part, electrodes) {
  showFeatures(part, 'Electrodes in numbers', electrodes, ['Area', 'What is predicted', 'Impedance and run'], (electrode) => [
    `${quantity(electrode.footprint_cm2, 'cm2')}, of which ${quantity(electrode.touching_cm2, 'cm2')} touch, under ${quantity(electrode.pressure_kpa, 'kPa')}`,
    electrode.reading ? readingText(electrode.reading) : pulsesText(electrode.stimulation),
    `${quantity(electrode.impedance_10_hz_ohm, 'ohm')} at ${quantity(10, 'Hz')}; run ${quantity(electrode.run_ohm, 'ohm')}`,
  ]);
}

/** What an amplifier gets, in a sentence. */
export function readingText(reading) {
  const band = `${quantity(reading.band_low_hz, 'Hz')} and ${quantity(reading.band_high_hz, 'Hz')}`;
  // A turn of less than a tenth of a degree is none that anyone sees.
  const ahead = reading.read_out_phase_deg < 0.1 ? '' : `, and what is read runs ${quantity(reading.read_out_phase_deg, '°')} ahead at the low end`;
  return `Between ${band} up to ${quantity(reading.worst_loss_percent, '%')} is lost${ahead}; `
    + `noise ${quantity(reading.noise_uv, 'uV')} r.m.s., ${quantity(reading.thermal_noise_uv, 'uV')} of it thermal; hum ${quantity(reading.hum_uv, 'uV')}. `
    + `The rule for dry electrodes asks for an input of ${quantity(reading.needed_input_mohm, 'Mohm')}.`;
}

/** What pulses do, in a sentence. */
export function pulsesText(pulses) {
  const oneWay = pulses.unbalanced_ma > 0 ? ` ${quantity(pulses.unbalanced_ma, 'mA')} flow one way.` : '';
  return `${quantity(pulses.rms_ma, 'mA')} r.m.s., ${quantity(pulses.current_density_ma_per_cm2, 'mA/cm2')} over the skin that touches; `
    + `${quantity(pulses.attention_ma_per_cm2, 'mA/cm2')} call for an operator’s attention and are no limit of safety. `
    + `${quantity(pulses.charge_per_phase_uc, 'uC')} in a phase, ${quantity(pulses.thread_charge_uc_per_cm2, 'uC/cm2')} over wetted thread; `
    + `${quantity(pulses.end_voltage_v, 'V')} at its end.${oneWay}`;
}
