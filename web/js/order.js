/**
 * How a piece is to be made: its part of the draft, and back. Pure.
 */

import { showNumber } from './number.js';

/** Most quantities that the server prices at once. */
const MOST_QUANTITIES = 20;

/**
 * The draft of an order, or of none.
 *
 * @param {any} production the piece's `production`
 */
export function orderDraft(production) {
  const order = objectOf(production);
  const { thread_per_m: threads, ...rates } = objectOf(order.rates);
  return {
    heads: showNumber(order.heads),
    pieces_per_frame: showNumber(order.pieces_per_frame),
    quantities: Array.isArray(order.quantities) ? order.quantities.slice(0, MOST_QUANTITIES + 1).join(', ') : '',
    currency: showNumber(order.currency),
    exchange_rate: showNumber(order.exchange_rate),
    decorative_stitches: showNumber(order.decorative_stitches),
    boards: showNumber(order.boards),
    jig: order.jig === true ? 'true' : '',
    material_per_piece: showNumber(order.material_per_piece),
    rates: Object.fromEntries(Object.entries(rates).map(([field, value]) => [field, showNumber(value)])),
    // Prices of single threads have no field of their own; they are kept as they came.
    threads,
  };
}

/**
 * The `production` of the request, or nothing where all of it is left to the shop.
 *
 * @param {{measured: Function, plain: Function, whole: Function, fault: (pointer: string, message: string) => void}} read
 * @param {ReturnType<typeof orderDraft>} order
 */
export function orderOf(read, order) {
  const at = (field) => `/production/${field}`;
  const whole = (field, unit = '') => read.whole(order[field], at(field), unit);
  const rates = Object.entries(order.rates)
    .map(([field, text]) => [field, read.measured(text, at(`rates/${field}`), '')])
    .filter(([, value]) => value !== undefined);
  if (order.threads) rates.push(['thread_per_m', order.threads]);
  const production = {
    heads: whole('heads'),
    pieces_per_frame: whole('pieces_per_frame'),
    quantities: quantitiesOf(order.quantities, (message) => read.fault(at('quantities'), message)),
    currency: order.currency.trim().toUpperCase() || undefined,
    exchange_rate: read.plain(order.exchange_rate, at('exchange_rate'), ''),
    decorative_stitches: whole('decorative_stitches', 'stitches'),
    boards: whole('boards'),
    jig: order.jig === 'true' || undefined,
    material_per_piece: read.plain(order.material_per_piece, at('material_per_piece'), ''),
    rates: rates.length > 0 ? Object.fromEntries(rates) : undefined,
  };
  return Object.values(production).every((value) => value === undefined) ? undefined : production;
}

/** Whole numbers with blanks, commas or semicolons between them. */
function quantitiesOf(text, fault) {
  const words = text.split(/[\s,;]+/).filter(Boolean);
  if (words.length === 0) return undefined;
  const wrong = words.find((word) => !/^[1-9]\d{0,8}$/.test(word));
  if (wrong !== undefined) {
    // 1,000 would read as two quantities, and is more likely one.
    fault(`${wrong} is no number of pieces. Write whole numbers with blanks between them, such as 10 50 1000.`);
    return undefined;
  }
  return words.map(Number);
}

function objectOf(value) {
  return value && typeof value === 'object' && !Array.isArray(value) ? value : {};
}
