/**
 * The fields for a shop's rates, made from what the server says of them.
 */

import { el } from './dom.js';
import { wire } from './fields.js';
import { exact, interval, sentenceCase } from './format.js';

/**
 * Makes a field for each rate, prices first.
 *
 * @param {HTMLElement} place
 * @param {any} rates as `/rates` lists them
 */
export function showRateFields(place, rates) {
  const money = (amount, unit) => (unit === '%' ? `${amount} %` : `${amount} ${rates.currency} ${unit}`);
  const prices = rates.prices.filter(({ field }) => !field.includes('/')).map((price) => rateField({
    field: price.field,
    label: price.name,
    unit: price.unit === '%' ? '%' : price.unit,
    hint: `${sentenceCase(rates.shop)}: ${money(price.amount, price.unit)}, ${price.status}.`,
    plain: true,
  }));
  const times = rates.rates.map((rate) => rateField({
    field: rate.field,
    label: rate.name,
    unit: rate.unit,
    hint: `${rate.spread === 'exact' ? exact(rate.value, rate.unit) : interval(rate.interval_95, rate.unit)}, ${rate.status}: ${rate.source}.`,
  }));
  place.replaceChildren(
    el('p', { class: 'hint' }, `Leave a field empty to take what ${rates.shop} is known to need. Prices here are in the currency of the piece.`),
    el('h3', {}, 'Prices'), el('div', { class: 'pair' }, ...prices),
    el('h3', {}, 'Pace'), el('div', { class: 'pair' }, ...times));
  wire(place);
}

function rateField({ field, label, unit, hint, plain }) {
  return el('div', { class: 'field' },
    el('label', {}, `${sentenceCase(label)} `, unit && el('span', { class: 'unit' }, unit)),
    el('input', { 'data-pointer': `/production/rates/${field}`, 'data-plain': plain, type: 'text', inputmode: 'decimal', autocomplete: 'off' }),
    el('p', { class: 'hint' }, hint));
}
