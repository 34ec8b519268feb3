/**
 * What is predicted for each light row: how evenly it burns, what is left of the voltage, what it draws, and what a break does.
 */

import { el, svg } from './dom.js';
import { showFeatures, warmthText } from './featuretable.js';
import { quantity } from './format.js';

/**
 * @param {HTMLElement} part the section
 * @param {any[]} rows of the answer
 */
export function showLightRows(part, rows) {
  showFeatures(part, 'Light rows in numbers', rows, ['Lights', 'Supply', 'Where it is warmest'], (row) => [
    el('div', {}, rowDrawing(row), lightsText(row)), supplyText(row), warmthText(row.warmth),
  ]);
  part.querySelector('[data-place="breaks"]').replaceChildren(...rows.flatMap((row) => row.broken.map((broken) => (
    el('li', {}, el('strong', {}, `${row.name}: `), broken.sentence)))));
}

/** How the lights burn, in a sentence. */
export function lightsText(row) {
  const currents = row.current_ma;
  const ends = [row.dimmest, row.brightest].map((light) => quantity(currents[light - 1], 'mA'));
  const spread = currents.length > 1
    ? `${ends[0]} in light ${row.dimmest}, ${ends[1]} in light ${row.brightest}: the dimmest gets ${quantity(row.light_spread_percent, '%')} of the brightest`
    : `${ends[0]} in the light`;
  return `${spread}. It gets ${quantity(row.light_v, 'V')} and needs ${quantity(row.needed_v, 'V')}.`;
}

/** What the row draws, in a sentence. */
export function supplyText(row) {
  const life = row.battery_life_h === null ? '' : ` The battery lasts ${quantity(row.battery_life_h, 'h')}.`;
  return `${quantity(row.supply_ma, 'mA')}, ${quantity(row.supply_mw, 'mW')}, of which ${quantity(row.run_loss_mw, 'mW')} stay in the thread.${life}`;
}

const ROW_PX = 150;
const TALLEST_PX = 22;

/** The current of every light as a bar, the brightest as tall as the drawing. The words beside it say the same. */
function rowDrawing({ current_ma: currents, brightest }) {
  const step = ROW_PX / currents.length;
  const most = currents[brightest - 1];
  return svg('svg', { class: 'row-drawing', width: ROW_PX, height: TALLEST_PX, 'aria-hidden': 'true', focusable: 'false' },
    ...currents.map((current, index) => {
      const height = most > 0 ? (current / most) * TALLEST_PX : 0;
      return svg('rect', { x: (index * step).toFixed(2), y: (TALLEST_PX - height).toFixed(2), width: Math.max(0.3, step * 0.6).toFixed(2), height: height.toFixed(2) });
    }));
}
