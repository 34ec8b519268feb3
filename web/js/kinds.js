/**
 * The kinds of features that a piece may have. One module for each under `kind/` says how it is kept in the draft, how it is
 * asked for, and what a new one holds; here is their order on the page. Pure.
 */

import { electrode } from './kind/electrode.js';
import { laidWire } from './kind/laid_wire.js';
import { lightRow } from './kind/light_row.js';
import { pad } from './kind/pad.js';

export const KINDS = [pad, lightRow, electrode, laidWire];

/** The kind of features in this list of a piece. */
export function kindOf(list) {
  return KINDS.find((kind) => kind.list === list);
}

/**
 * The feature that a pointer leads into, as list and number; `null` where it leads elsewhere.
 *
 * @param {string | null | undefined} pointer
 * @returns {{list: string, index: number} | null}
 */
export function featureAt(pointer) {
  const match = /^\/([a-z_]+)\/(\d+)/.exec(pointer ?? '');
  return match && kindOf(match[1]) ? { list: match[1], index: Number(match[2]) } : null;
}
