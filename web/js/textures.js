/**
 * How each kind of fabric looks in a section: a calm colour and a texture of its own, as an SVG pattern.
 */

import { svg } from './dom.js';

/** Texture, ground colour and line colour by library id. Anything else is drawn plain. */
const LOOKS = {
  'wool-felt': ['felt', '#e2d8c3', '#a3927a'],
  'wool-felt-dense': ['felt', '#cfc3ab', '#85755d'],
  'cotton-twill': ['twill', '#dfe3e4', '#8997a0'],
  denim: ['twill', '#b9c5d8', '#5b6f95'],
  'polyester-knit': ['knit', '#e3dce6', '#9a88a3'],
  'polyester-woven': ['woven', '#dde2d5', '#8d997c'],
  'pu-foam-soft': ['foam', '#f2e7c4', '#c0a95f'],
  'pu-foam-firm': ['foam', '#e8d7a4', '#a88d43'],
  'spacer-knit': ['spacer', '#e2e6e6', '#84979a'],
  leather: ['grain', '#d6bfa4', '#96724f'],
  'artificial-leather': ['grain', '#ccc2b8', '#85766a'],
  'silicone-sheet': ['sheet', '#dfe6ea', '#9fb2bd'],
  'pvc-film': ['sheet', '#e6e0ea', '#a99bb5'],
  'polyester-film': ['sheet', '#e3e9ec', '#93a7b3'],
  neoprene: ['cells', '#bcbdc1', '#7b7d85'],
  cork: ['speckle', '#d9bd94', '#94703f'],
};
const PLAIN = ['plain', '#e6e1d6', '#9c9383'];

/** One tile of each texture, as path data on a square of the given side. */
const TILES = {
  felt: [18, 'M1 4q4 -3 7 0M10 2q3 2 6 0M3 10q5 3 8 -1M12 12q3 -3 5 -1M2 16q4 -2 7 0M11 16q3 1 5 -1'],
  twill: [8, 'M-2 6L6 -2M2 10L10 2'],
  knit: [10, 'M0 2q2.500 5 5 0q2.500 -5 5 0M0 7q2.500 5 5 0q2.500 -5 5 0'],
  woven: [10, 'M0 2.500H4M6 2.500H10M1 7.500H9M2.500 4V6M7.500 9.500V10M7.500 0V.500'],
  foam: [20, 'M4 5a2.500 2 0 1 0 .1 0M13 3a3 2.300 0 1 0 .1 0M8 12a3 2.400 0 1 0 .1 0M17 12a2 1.800 0 1 0 .1 0M2 15a1.600 1.400 0 1 0 .1 0'],
  spacer: [12, 'M3 0Q6 3 3 6T3 12M9 0Q6 3 9 6T9 12'],
  grain: [14, 'M2 3q2 2 4 0M8 5q2 2 4 0M4 9q2 2 4 0M10 12q2 2 3 0M1 13q1 1 2 0'],
  sheet: [12, 'M0 6H12'],
  cells: [9, 'M2 2h.100M6.500 4.500h.100M3 7h.100'],
  speckle: [16, 'M2 3l2 1M9 2l1.500 -1M13 6l-1 2M4 9l2 -1M8 12l2 1M13 14l1 -1.500M2 14l1 .500'],
  plain: [10, ''],
};

/**
 * The pattern of a fabric, to be put into the `defs` of a drawing.
 *
 * @param {string | null} library the id of the fabric
 * @param {string} id the id that the pattern gets
 */
export function texture(library, id) {
  const [kind, ground, line] = LOOKS[library] ?? PLAIN;
  const [side, d] = TILES[kind];
  const weight = kind === 'cells' ? 2 : 1;
  return svg('pattern', { id, width: side, height: side, patternUnits: 'userSpaceOnUse' },
    svg('rect', { width: side, height: side, fill: ground }),
    svg('path', { d, fill: 'none', stroke: line, 'stroke-width': weight, 'stroke-linecap': 'round' }));
}
