/**
 * What is predicted for each laid wire: its length and what holds it, what it resists, and what current does to it.
 */

import { showFeatures, warmthText } from './featuretable.js';
import { exact, quantity } from './format.js';

/**
 * @param {HTMLElement} part the section
 * @param {any[]} wires of the answer
 */
export function showLaidWires(part, wires) {
  showFeatures(part, 'Laid wires in numbers', wires, ['Length', 'What holds it', 'Resistance and heat'], (wire) => [
    lengthText(wire), holdText(wire), wire.wire ? wireText(wire.wire) : 'does not conduct',
  ]);
}

/** How long it is, in a sentence. */
export function lengthText({ length_mm: length, rows, area_dm2: area, mass_g: mass }) {
  return [
    length < 2000 ? quantity(length, 'mm') : quantity(length / 1000, 'm'),
    rows > 1 && `${exact(rows)} rows`,
    area !== null && `over ${quantity(area, 'dm2')}`,
    mass !== null && quantity(mass, 'g'),
  ].filter(Boolean).join(', ');
}

/** What holds it, in a sentence. */
export function holdText({ stitches, zigzag_width_mm: width, bend_radius_mm: bend }) {
  const bends = bend === null ? 'no bend' : `sharpest bend ${quantity(bend, 'mm')}`;
  return `${exact(Math.round(stitches))} stitches of a zigzag ${quantity(width, 'mm')} wide; ${bends}`;
}

/** What a wire resists and what current does, in a sentence. */
export function wireText({ resistance_ohm: ohm, standard_ohm: standard, heating }) {
  const largest = standard === null ? '' : `, by its class at most ${quantity(standard, 'ohm')} at 20 °C`;
  if (!heating) return `${quantity(ohm, 'ohm')}${largest}`;
  const perArea = heating.power_w_per_dm2 === null ? '' : `, ${quantity(heating.power_w_per_dm2, 'W/dm2')}`;
  return `${quantity(ohm, 'ohm')}${largest}; ${quantity(heating.current_ma, 'mA')} make ${quantity(heating.power_w, 'W')}${perArea}, ${warmthText(heating.warmth)}`;
}
