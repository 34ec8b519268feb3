/**
 * How the capacitance of each pad was computed and how well, with the closed form beside it as the check by hand.
 * Pads with the same numbers share a line.
 */

import { el } from './dom.js';
import { listed, quantity } from './format.js';

/**
 * @param {HTMLElement} place
 * @param {object[]} pads
 */
export function showCapacitances(place, pads) {
  const alike = new Map();
  for (const pad of pads) {
    const { pad_pf, closed_form_pf, method, relative_error } = pad;
    const key = JSON.stringify([pad_pf, closed_form_pf, method, relative_error]);
    alike.set(key, [...(alike.get(key) ?? []), pad]);
  }
  place.replaceChildren(...[...alike.values()].map((group) => el('li', {},
    el('strong', {}, `${group.length > 1 ? 'Pads' : 'Pad'} ${listed(group.map((pad) => pad.name))}: `),
    `${quantity(group[0].pad_pf, 'pF')} to ground, `, el('span', { class: 'how' }, howComputed(group[0])), el('span', { class: 'screen-only' }, partsOf(group[0])), '. ',
    byHand(group[0]))));
}

/** In words: `solved, within 0.1 %`. */
export function howComputed({ solved, relative_error: error }) {
  return `${solved ? 'solved' : 'closed form'}, within ${percent(error)}`;
}

/** What the bound is made of, where rows of thread are part of it. */
export function partsOf({ solved, relative_error: error, rows_error: rows }) {
  if (!(rows > 0)) return '';
  const own = solved ? 'the solution' : 'the formula';
  return ` (${percent(Math.max(0, error - rows))} for ${own}, ${percent(rows)} for taking the rows of thread as an even plate)`;
}

/** The closed form beside a solved value; beside itself it would say nothing. */
function byHand({ solved, pad_pf: pad, closed_form_pf: formula }) {
  if (!solved) return 'The working has the formula.';
  const off = formula / pad - 1;
  const side = off < 0 ? 'lower' : 'higher';
  const apart = Math.abs(off) < 5e-5 ? 'the same' : `${percent(Math.abs(off))} ${side}`;
  return `The closed form, for checking by hand: ${quantity(formula, 'pF')}, ${apart}.`;
}

/** Two digits say all that a bound can. */
function percent(part) {
  return part < 1e-5 ? `under ${quantity(0.001, '%', 1)}` : quantity(part * 100, '%', 2);
}
