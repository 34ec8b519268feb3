/**
 * The piece in a few lines, for the printed page: stack, pads, controller, touch.
 */

import { el } from './dom.js';
import { exact, listed } from './format.js';
import { centreOf, showNumber } from './number.js';

const GROUNDS = { sheet: 'conductive cloth tied to circuit ground', metal: 'metal frame', body: 'body of the wearer', none: 'nothing' };
const HELD = { ground: 'tied to circuit ground', driven: 'driven with the pad' };
const POWER = { battery: 'battery', earthed: 'tied to earth', worn: 'worn on the body, battery' };

/**
 * @param {HTMLElement} place
 * @param {any} piece the request
 * @param {any} answer
 * @param {{threads: object[], controllers: object[]}} library
 */
export function showSummary(place, piece, answer, library) {
  const nameIn = (list, id) => (id ? library[list].find((entry) => entry.id === id)?.name ?? id : 'given by its numbers');
  const { base, overlay, ground } = answer.stack;
  const layers = (list) => [...list].reverse().map((layer) => `${layer.name} ${exact(layer.thickness_mm, 'mm')}`).join(', ');
  place.replaceChildren(
    el('dl', { class: 'print-inputs' },
      ...row('Overlay', overlay.length ? layers(overlay) : 'none'),
      ...row('Base', layers(base)),
      ...row('Ground', [GROUNDS[ground] ?? ground, opening(piece.stack)].filter(Boolean).join(', ')),
      ...padRows(piece.pads, answer.pads, (id) => nameIn('threads', id)),
      ...row('Controller', nameIn('controllers', piece.controller?.library)),
      ...row('Power', POWER[piece.touch?.case] ?? 'battery'),
      ...(piece.touch?.off_centre_mm === undefined ? [] : row('Touch', `${showNumber(piece.touch.off_centre_mm)} mm off the middle`)),
      ...(wet(piece.stack).length ? row('Wet', wet(piece.stack).join(', ')) : []),
      ...(piece.temperature_c === undefined ? [] : row('Temperature', `${showNumber(piece.temperature_c)} °C`)),
      ...(piece.quantity === undefined ? [] : row('Quantity', `${piece.quantity} pieces`))));
}

function wet({ base = [], overlay = [] }) {
  const parts = (layers, name) => layers.flatMap(({ water_fraction: part }, index) => (
    part === undefined ? [] : [`${name} layer ${index + 1}: water ${showNumber(part)} of its volume`]));
  return [...parts(overlay, 'overlay'), ...parts(base, 'base')];
}

function opening({ opening_diameter_mm: diameter }) {
  return diameter === undefined ? null : `open ${showNumber(diameter)} mm wide under each pad`;
}

/** Pads of the same making share a line. */
function padRows(pads, answered, threadName) {
  const groups = new Map();
  for (const [index, pad] of pads.entries()) {
    const making = makingText(pad, threadName);
    groups.set(making, [...(groups.get(making) ?? []), { name: answered[index]?.name ?? `pad ${index + 1}`, pad }]);
  }
  return [...groups].flatMap(([making, members]) => row(members.length > 1 ? `${members.length} pads` : 'Pad',
    `${listed(members.map(({ name, pad }) => `${name} (run ${showNumber(pad.run.length_mm)} mm)`))}: ${making}`));
}

function makingText(pad, threadName) {
  const { shape, fill, run, guard } = pad;
  const size = (key) => exact(centreOf(shape[key]));
  const shapes = {
    round: () => `round ${size('diameter_mm')} mm`,
    rectangle: () => `${size('width_mm')} × ${size('length_mm')} mm`,
    ring: () => `ring ${size('inner_diameter_mm')} to ${size('outer_diameter_mm')} mm`,
    polygon: () => `outline of ${shape.points_mm.length} corners`,
  };
  return [
    shapes[shape.kind]?.() ?? shape.kind,
    fill ? `rows ${showNumber(fill.row_spacing_mm)} mm apart` : 'solid conductive cloth',
    threadName(pad.thread?.library),
    `${run.passes ?? 1} ${run.passes > 1 ? 'passes' : 'pass'}`,
    guard && `guard ${showNumber(guard.width_mm)} mm wide, ${showNumber(guard.gap_mm)} mm off, ${HELD[guard.held] ?? guard.held}`,
  ].filter(Boolean).join(', ');
}

function row(term, text) {
  return [el('dt', {}, term), el('dd', {}, text)];
}
