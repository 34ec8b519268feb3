/**
 * Fields by table: the draft of an object and the request for it, from one list of what it may hold. Pure.
 *
 * @typedef {object} Field
 * @property {string} at where it stands in the object, such as `run/length_mm`
 * @property {'text' | 'word' | 'flag' | 'measured' | 'plain' | 'whole'} as how its text is read
 * @property {string} [unit] that may be typed after the number
 * @property {string} [usual] what the form shows where nothing is given
 * @property {boolean} [silent] whether the usual word is left out of the request, as the server takes it anyway
 * @property {boolean | string} [needed] whether a number must be there, or a choice that needs it
 * @property {string} [when] the choice that it belongs to; with another one it is not sent
 */

import { showNumber } from './number.js';
import { setAt, valueAt } from './pointer.js';

/**
 * Whether a choice stands as `where` says: `kind=reads|stimulates`; several are parted by `&`.
 *
 * @param {string} where
 * @param {(place: string) => string} read what the draft holds at a place
 */
export function applies(where, read) {
  return where.split('&').every((one) => {
    const [place, words] = one.split('=');
    return words.split('|').includes(read(place));
  });
}

/** The fields of a part, each with the part's name before its own. */
export function under(part, fields) {
  const moved = (where) => where.split('&').map((one) => `${part}/${one}`).join('&');
  return fields.map((field) => ({
    ...field,
    at: `${part}/${field.at}`,
    ...(field.when && { when: moved(field.when) }),
    ...(typeof field.needed === 'string' && { needed: moved(field.needed) }),
  }));
}

/** Fields that belong to a choice, all of them. */
export function only(when, fields) {
  return fields.map((field) => ({ ...field, when: field.when ? `${when}&${field.when}` : when }));
}

/**
 * The texts of an object's fields.
 *
 * @param {Field[]} fields
 * @param {any} source
 */
export function draftFrom(fields, source) {
  const draft = {};
  for (const { at, usual = '' } of fields) write(draft, at, showNumber(valueAt(source, `/${at}`) ?? usual));
  return draft;
}

/**
 * The object that a draft stands for, without what is left empty or does not apply.
 *
 * @param {ReturnType<import('./reader.js').reader>} read
 * @param {Field[]} fields
 * @param {any} draft
 * @param {string} pointer where the object stands in the request
 */
export function requestFrom(read, fields, draft, pointer) {
  const text = (at) => valueAt(draft, `/${at}`) ?? '';
  const request = {};
  for (const field of fields) {
    if (field.when && !applies(field.when, text)) continue;
    const value = valueOf(read, field, text(field.at), `${pointer}/${field.at}`, text);
    if (value !== undefined) write(request, field.at, value);
  }
  return request;
}

function valueOf(read, { as, unit = '', usual, silent, needed = false }, text, pointer, place) {
  if (as === 'text') return text.trim() || undefined;
  if (as === 'flag') return text === '' ? undefined : text === 'true';
  if (as === 'word') return text === '' || (silent && text === usual) ? undefined : text;
  return read[as](text, pointer, unit, typeof needed === 'string' ? applies(needed, place) : needed);
}

/** Writes at a place, making what is above it. */
function write(object, at, value) {
  const path = at.split('/');
  for (let depth = 1; depth < path.length; depth += 1) {
    const above = `/${path.slice(0, depth).join('/')}`;
    if (valueAt(object, above) === undefined) setAt(object, above, {});
  }
  setAt(object, `/${at}`, value);
}
