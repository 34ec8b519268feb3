/**
 * Quotes in words: what stands in a list, what a state leads to, what differs today. Pure.
 */

import { exact, interval, sentenceCase } from './format.js';

/** What a state leads to, as the server has it, with the words of its button. */
const TURNS = {
  draft: [['sent', 'Mark as sent'], ['withdrawn', 'Withdraw']],
  sent: [['accepted', 'Mark as accepted'], ['declined', 'Mark as declined'], ['withdrawn', 'Withdraw']],
};

/**
 * The states that a quote can be brought to, with the words for it.
 *
 * @param {string} state
 * @returns {[string, string][]}
 */
export function turnsOf(state) {
  return TURNS[state] ?? [];
}

/** The name of a quote: number and revision. */
export function nameOf(quote) {
  return `${quote.number}, revision ${quote.revision}`;
}

/** A quote in one line, for the state line of the page. */
export function lineOf(quote) {
  const price = quote.total === null ? '' : ` ${quote.quantity} for ${quote.total} ${quote.currency}.`;
  return `Quote ${nameOf(quote)}: ${quote.state}.${price} Valid until ${quote.valid_until}.`;
}

/** What saving does to a quote in this state, as the words of the button. */
export function saveWords(quote) {
  if (!quote) return 'Keep as a quote';
  return quote.state === 'draft' ? 'Save the draft' : 'Make a revision';
}

/** The cells of a quote in the list, after its name. */
export function cellsOf(quote) {
  const price = quote.total === null ? '–' : `${quote.total} ${quote.currency}`;
  return [quote.customer_reference, quote.title, sentenceCase(quote.state), sentenceCase(quote.verdict), String(quote.quantity), price, quote.valid_until];
}

/**
 * One side of a difference in words.
 *
 * @param {unknown} value a number, a text, an interval, a value with its interval, or nothing
 * @param {string} unit
 */
export function sideText(value, unit = '') {
  if (value === null || value === undefined) return 'nothing';
  if (typeof value === 'number') return exact(value, unit);
  if (Array.isArray(value)) {
    return value.every((end) => typeof end === 'number') ? interval(value, unit) : [value.join(' to '), unit].filter(Boolean).join(' ');
  }
  if (typeof value === 'object') return `${sideText(value.value, unit)} (${sideText(value.interval_95, unit)})`;
  return [String(value), unit].filter(Boolean).join(' ');
}

/** The name of a field of the estimate: `interval_95` becomes `interval 95`. */
export function fieldText(field) {
  return String(field).replaceAll('_', ' ');
}
