/**
 * One table for the features of a kind: a line for each, led by its name and verdict.
 */

import { el } from './dom.js';
import { chance, interval, quantity } from './format.js';
import { table } from './tables.js';

/**
 * @param {HTMLElement} part the section; hidden where there is none of the kind
 * @param {string} title
 * @param {any[]} features of the answer
 * @param {string[]} headings of the cells
 * @param {(feature: any, index: number) => (string | Node)[]} cells
 */
export function showFeatures(part, title, features, headings, cells) {
  part.hidden = features.length === 0;
  if (part.hidden) return;
  const rows = features.map((feature, index) => [
    el('a', { href: '#form', 'data-go': feature.pointer }, feature.name), `${feature.verdict}, ${chance(feature.chance)}`, ...cells(feature, index),
  ]);
  part.querySelector('[data-place="table"]').replaceChildren(table(title, ['Name', 'Verdict', ...headings], rows));
}

/** How warm it becomes, in a sentence. It bounds, and promises nothing. */
export function warmthText({ power_w_per_m: power, temperature_c: temperature }) {
  return `${quantity(power, 'W/m')}; ${interval(temperature, '°C')} in still air.`;
}
