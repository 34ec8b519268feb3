/**
 * Numbers and units as people read them. Pure: no page, no network.
 */

const NARROW_SPACE = '\u202f';
const UNIT_SIGNS = {
  ohm: 'Ω', 'ohm/m': 'Ω/m', ohm_per_m: 'Ω/m', us: 'µs', mm2: 'mm²', degc: '°C', 'degrees c': '°C', c: '°C', percent: '%', '1': '',
  mohm: 'MΩ', 'ohm m': 'Ω m', 'kohm cm2': 'kΩ cm²', cm2: 'cm²', uv: 'µV', 'nv/rthz': 'nV/√Hz', 'fa/rthz': 'fA/√Hz', 'nf/cm2': 'nF/cm²',
  'uf/cm2': 'µF/cm²', 'ma/cm2': 'mA/cm²', 'uc/cm2': 'µC/cm²', uc: 'µC', 'm2 k/w': 'm² K/W', dm2: 'dm²', 'w/dm2': 'W/dm²',
};

/**
 * A unit as printed, from a unit as sent.
 *
 * @param {string | null | undefined} unit
 */
export function unitSign(unit) {
  if (!unit) return '';
  return UNIT_SIGNS[unit.toLowerCase()] ?? unit;
}

/**
 * A number with as many digits as an engineer reads out: three significant ones, unless asked for more.
 *
 * @param {number | null | undefined} value
 * @param {number} [digits]
 */
export function number(value, digits = 3) {
  if (value === null || value === undefined || !Number.isFinite(value)) return '–';
  return withDecimals(value, decimalsFor(Math.abs(value), digits));
}

/**
 * A number with its unit.
 *
 * @param {number | null | undefined} value
 * @param {string | null} [unit]
 * @param {number} [digits]
 */
export function quantity(value, unit, digits = 3) {
  const sign = unitSign(unit);
  const text = nearlyWhole(value, sign) ? withDecimals(value, decimalsMissing(value)) : number(value, digits);
  return sign ? `${text}${NARROW_SPACE}${sign}` : text;
}

/**
 * A number as given, without rounding away what was typed, with its unit.
 *
 * @param {number} value
 * @param {string | null} [unit]
 */
export function exact(value, unit) {
  return quantity(value, unit, 6);
}

/**
 * Both ends of an interval with the same number of decimals.
 *
 * @param {[number, number]} ends
 * @param {string | null} [unit]
 */
export function interval([low, high], unit) {
  const sign = unitSign(unit);
  const ends = [low, high].filter((value) => nearlyWhole(value, sign)).map(decimalsMissing);
  const decimals = Math.max(decimalsFor(Math.max(Math.abs(low), Math.abs(high)), 3), ...ends);
  const text = `${withDecimals(low, decimals)} to ${withDecimals(high, decimals)}`;
  return sign ? `${text}${NARROW_SPACE}${sign}` : text;
}

/**
 * A chance in per cent that never claims certainty by rounding.
 *
 * @param {number | null | undefined} chance between 0 and 1
 */
export function chance(chance) {
  if (chance === null || chance === undefined || !Number.isFinite(chance)) return '–';
  if (chance > 0.999) return `over 99.9${NARROW_SPACE}%`;
  if (chance < 0.001) return `under 0.1${NARROW_SPACE}%`;
  const percent = chance * 100;
  const text = percent > 99 || percent < 1 ? percent.toFixed(1) : percent.toFixed(0);
  return `${text}${NARROW_SPACE}%`;
}

/**
 * A share of the whole in whole per cent.
 *
 * @param {number} share between 0 and 1
 */
export function share(share) {
  return share < 0.005 ? `under 1${NARROW_SPACE}%` : `${Math.round(share * 100)}${NARROW_SPACE}%`;
}

/** Words joined as in speech: `a`, `a and b`, `a, b and c`. */
export function listed(words) {
  if (words.length < 2) return words.join('');
  return `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;
}

/** The first letter as a capital, the rest untouched. */
export function sentenceCase(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** Close under 100 %, where what is missing tells more than what is there. */
function nearlyWhole(value, sign) {
  return sign === '%' && value > 99 && value < 100;
}

/** Decimals that show two digits of what is missing to 100 %, at most four. */
function decimalsMissing(value) {
  return Math.min(4, 1 - Math.floor(Math.log10(100 - value)));
}

function decimalsFor(size, digits) {
  if (size === 0) return 0;
  return Math.max(0, Math.min(12, digits - 1 - Math.floor(Math.log10(size))));
}

function withDecimals(value, decimals) {
  const size = Math.abs(value);
  if (size !== 0 && (size < 1e-4 || size >= 1e9)) return value.toExponential(2);
  const fixed = value.toFixed(decimals);
  const trimmed = fixed.includes('.') ? fixed.replace(/\.?0+$/, '') : fixed;
  const [whole, fraction] = (trimmed === '-0' ? '0' : trimmed).replace('-', '−').split('.');
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, NARROW_SPACE) : whole;
  return fraction ? `${grouped}.${fraction}` : grouped;
}
