/**
 * Reads what a person types into a number field, and writes numbers back into such a field.
 *
 * Three ways to say a number: plain (`3`), with a spread (`3 ± 0.2`, also `3 +- 0.2` or `3 ± 5 %`),
 * or as a range (`2.8 to 3.2`). A decimal comma is as good as a decimal point. Pure: no page, no network.
 *
 * @typedef {number | {value: number, plus_minus: number} | {low: number, high: number}} Measured
 * @typedef {{ok: true, value: Measured | undefined} | {ok: false, message: string}} Reading
 */

const NUMBER = String.raw`[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?`;
const PLAIN = new RegExp(`^(${NUMBER})$`);
const SPREAD = new RegExp(String.raw`^(${NUMBER})\s*(?:±|\+\s*\/?\s*-)\s*(${NUMBER})\s*(%?)$`);
const RANGE = new RegExp(String.raw`^(${NUMBER})\s*(?:to|\.\.\.?|…|–|—|-)\s*(${NUMBER})$`, 'i');

/** Ways of writing a unit that people type where the page prints another sign. */
const UNIT_SPELLINGS = {
  'Ω': ['Ω', 'ohm', 'ohms'],
  'Ω/m': ['Ω/m', 'ohm/m'],
  'µs': ['µs', 'us'],
  '°C': ['°C', '°', 'C'],
  '°': ['°', 'deg'],
  'MΩ': ['MΩ', 'Mohm'],
  'µV': ['µV', 'uV'],
  'µC/cm²': ['µC/cm²', 'uC/cm2'],
  'cm²': ['cm²', 'cm2'],
  'mm²': ['mm²', 'mm2'],
};

/**
 * What a text says. A blank text is no value, not a fault.
 *
 * @param {string} text what was typed
 * @param {{spread?: boolean, whole?: boolean, unit?: string}} [options] whether a spread makes sense here,
 *   whether only a count does, and the unit of the field (which may be typed after the number)
 * @returns {Reading}
 */
export function parseNumber(text, { spread = true, whole = false, unit = '' } = {}) {
  const cleaned = dropUnit(tidy(String(text)), unit);
  if (cleaned === '') return { ok: true, value: undefined };
  try {
    const value = readMeasured(cleaned, unit);
    if (typeof value !== 'number' && !spread) {
      return fault('Give one plain number here, without a spread.');
    }
    if (whole && !Number.isInteger(value)) return fault('Give a whole number here.');
    return { ok: true, value };
  } catch (cause) {
    if (cause instanceof Unreadable) return fault(cause.message);
    throw cause;
  }
}

/**
 * The text that `parseNumber` reads back as the same value.
 *
 * @param {unknown} value
 * @returns {string}
 */
export function showNumber(value) {
  if (value === undefined || value === null) return '';
  if (typeof value === 'object') {
    if ('plus_minus' in value) return `${value.value} ± ${value.plus_minus}`;
    if ('low' in value) return `${value.low} to ${value.high}`;
    if ('value' in value) return String(value.value);
    return JSON.stringify(value);
  }
  return String(value);
}

/**
 * The one number to draw for a measured value: its middle.
 *
 * @param {unknown} value
 * @returns {number | undefined}
 */
export function centreOf(value) {
  if (typeof value === 'number') return value;
  if (value && typeof value === 'object') {
    if (typeof value.value === 'number') return value.value;
    if (typeof value.low === 'number' && typeof value.high === 'number') return (value.low + value.high) / 2;
  }
  return undefined;
}

class Unreadable extends Error {
  name = 'Unreadable';
}

/** @returns {Reading} */
function fault(message) {
  return { ok: false, message };
}

function tidy(text) {
  return text
    .replace(/[\u00a0\u2007\u2009\u202f]/g, ' ')
    .replace(/\u2212/g, '-')
    .replace(/(?<![\d.,])(\d{1,3}(?: \d{3})+)(?!\d)/g, (group) => group.replaceAll(' ', ''))
    .trim();
}

function dropUnit(text, unit) {
  // A per cent sign is never dropped: in `40 ± 5 %` it belongs to the spread.
  if (unit === '') return text;
  if (unit === '%') return SPREAD.test(text) ? text : text.replace(/(\d)\s*%$/, '$1');
  const spellings = (UNIT_SPELLINGS[unit] ?? [unit]).map((spelling) => spelling.replace(/[/.]/g, '\\$&'));
  return text.replace(new RegExp(String.raw`(?<=[\d.,])\s*(?:${spellings.join('|')})(?![\p{L}/])`, 'giu'), '');
}

function readMeasured(text, unit) {
  const plain = PLAIN.exec(text);
  if (plain) return toNumber(plain[1]);

  const spread = SPREAD.exec(text);
  if (spread) {
    const value = toNumber(spread[1]);
    const share = toNumber(spread[2]);
    const plusMinus = spread[3] === '%' ? round(Math.abs(value) * share / 100) : share;
    if (plusMinus < 0) throw new Unreadable('The spread after ± cannot be negative.');
    return plusMinus === 0 ? value : { value, plus_minus: plusMinus };
  }

  const range = RANGE.exec(text);
  if (range) {
    const low = toNumber(range[1]);
    const high = toNumber(range[2]);
    if (low > high) throw new Unreadable(`In a range the smaller number comes first: ${high} to ${low}.`);
    return low === high ? low : { low, high };
  }

  const inUnit = unit ? ` in ${unit}` : '';
  throw new Unreadable(`Write a number${inUnit}, such as 3, 3 ± 0.2 or 2.8 to 3.2.`);
}

function toNumber(text) {
  // Three digits after a comma may be thousandths or thousands; a factor of a thousand is worth a question.
  if (/^[+-]?[1-9]\d{0,2},\d{3}$/.test(text)) {
    throw new Unreadable(`${text} can be read in two ways. Write ${text.replace(',', '.')} or ${text.replace(',', '')}.`);
  }
  const value = Number(text.replace(',', '.'));
  if (!Number.isFinite(value)) throw new Unreadable('That number is too large.');
  return value;
}

/** Takes away the noise of binary arithmetic, so that 3 ± 10 % reads 0.3. */
function round(value) {
  return Number(value.toPrecision(12));
}
