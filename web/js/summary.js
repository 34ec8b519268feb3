/**
 * The piece in a few lines, for the printed page: stack, features, controller, touch, use.
 */

import { el } from './dom.js';
import { exact, listed, sentenceCase } from './format.js';
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
  const threadName = (id) => nameIn('threads', id);
  const { base, overlay, ground } = answer.stack;
  const layers = (list) => [...list].reverse().map((layer) => `${layer.name} ${exact(layer.thickness_mm, 'mm')}`).join(', ');
  const pads = piece.pads ?? [];
  place.replaceChildren(
    el('dl', { class: 'print-inputs' },
      ...(base.length + overlay.length > 0 ? [
        ...row('Overlay', overlay.length ? layers(overlay) : 'none'),
        ...row('Base', base.length ? layers(base) : 'none'),
        ...row('Ground', [GROUNDS[ground] ?? ground, opening(piece.stack ?? {})].filter(Boolean).join(', ')),
      ] : []),
      ...featureRows('pad', 'pads', pads, answer.pads, (pad) => makingText(pad, threadName), (pad) => `run ${showNumber(pad.run.length_mm)} mm`),
      ...featureRows('light row', 'light rows', piece.light_rows ?? [], answer.light_rows ?? [], (row) => rowText(row, threadName)),
      ...featureRows('electrode', 'electrodes', piece.electrodes ?? [], answer.electrodes, (electrode) => electrodeText(electrode, threadName)),
      ...featureRows('laid wire', 'laid wires', piece.laid_wires ?? [], answer.laid_wires ?? [], wireText),
      ...(pads.length > 0 ? row('Controller', nameIn('controllers', piece.controller?.library)) : []),
      ...row('Power', POWER[piece.touch?.case] ?? 'battery'),
      ...(piece.touch?.off_centre_mm === undefined ? [] : row('Touch', `${showNumber(piece.touch.off_centre_mm)} mm off the middle`)),
      ...(wet(piece.stack ?? {}).length ? row('Wet', wet(piece.stack).join(', ')) : []),
      ...(useOf(piece).length ? row('In use', useOf(piece).join(', ')) : []),
      ...(piece.quantity === undefined ? [] : row('Quantity', `${piece.quantity} pieces`))));
}

function useOf({ temperature_c: temperature, after_washes: washes, stretch_percent: stretch }) {
  return [
    temperature !== undefined && `${showNumber(temperature)} °C`,
    washes > 0 && `after ${washes} ${washes === 1 ? 'wash' : 'washes'}`,
    stretch !== undefined && `stretched by ${showNumber(stretch)} %`,
  ].filter(Boolean);
}

function wet({ base = [], overlay = [] }) {
  const parts = (layers, name) => layers.flatMap(({ water_fraction: part }, index) => (
    part === undefined ? [] : [`${name} layer ${index + 1}: water ${showNumber(part)} of its volume`]));
  return [...parts(overlay, 'overlay'), ...parts(base, 'base')];
}

function opening({ opening_diameter_mm: diameter }) {
  return diameter === undefined ? null : `open ${showNumber(diameter)} mm wide under each pad`;
}

/** Features of the same making share a line; what each has of its own stands with its name. */
function featureRows(word, words, features, answered, making, own = () => '') {
  const groups = new Map();
  for (const [index, feature] of features.entries()) {
    const made = making(feature);
    const name = [answered[index]?.name ?? `${word} ${index + 1}`, own(feature) && `(${own(feature)})`].filter(Boolean).join(' ');
    groups.set(made, [...(groups.get(made) ?? []), name]);
  }
  return [...groups].flatMap(([made, names]) => row(names.length > 1 ? `${names.length} ${words}` : sentenceCase(word), `${listed(names)}: ${made}`));
}

function makingText(pad, threadName) {
  const { fill, run, guard } = pad;
  return [
    shapeText(pad.shape),
    fill ? `rows ${showNumber(fill.row_spacing_mm)} mm apart` : 'solid conductive cloth',
    threadName(pad.thread?.library),
    passesText(run),
    guard && `guard ${showNumber(guard.width_mm)} mm wide, ${showNumber(guard.gap_mm)} mm off, ${HELD[guard.held] ?? guard.held}`,
  ].filter(Boolean).join(', ');
}

function electrodeText({ kind, shape, texture, thread, skin, run }, threadName) {
  return [kind, shapeText(shape), texture.kind === 'fill' ? 'flat rows' : 'loop pile', `rows ${showNumber(texture.row_spacing_mm)} mm apart`,
    threadName(thread?.library), `on ${skin} skin`, `run ${showNumber(run.length_mm)} mm, ${passesText(run)}`].join(', ');
}

const FEEDS = { same: 'fed at the first light', opposite: 'fed from opposite ends', both_ends: 'fed from both ends' };

function rowText({ lights, pitch_mm: pitch, feed, series_ohm: series, thread, run, supply }, threadName) {
  return [`${lights} lights ${showNumber(pitch)} mm apart, each with ${showNumber(series)} Ω`, FEEDS[feed ?? 'same'] ?? feed, threadName(thread?.library),
    `${showNumber(run.length_mm)} mm to the first, ${passesText(run)}`, `${showNumber(supply.supply_v)} V, ${supply.kind ?? 'battery'}`].join(', ');
}

function wireText({ kind, conductor, outer_diameter_mm: outer, course }) {
  const ways = {
    straight: () => `${showNumber(course.length_mm)} mm`,
    path: () => `by ${course.points_mm.length} points`,
    meander: () => `to and fro over ${showNumber(course.width_mm)} × ${showNumber(course.height_mm)} mm, rows ${showNumber(course.spacing_mm)} mm apart`,
  };
  return [kind, conductor && conductorText(conductor), outer !== undefined && `${showNumber(outer)} mm over all`, ways[course.kind]?.() ?? course.kind]
    .filter(Boolean).join(', ');
}

function conductorText({ metal, linear_resistance_ohm_per_m: ohm, area_mm2: area, gauge, diameter_mm: diameter }) {
  const sizes = [area !== undefined && `${showNumber(area)} mm²`, gauge !== undefined && `gauge ${gauge}`, diameter !== undefined && `${showNumber(diameter)} mm`];
  return [metal ?? `${showNumber(ohm)} Ω/m`, ...sizes].filter(Boolean).join(' ');
}

function passesText(run) {
  return `${run.passes ?? 1} ${run.passes > 1 ? 'passes' : 'pass'}`;
}

function shapeText(shape) {
  const size = (key) => exact(centreOf(shape[key]));
  const shapes = {
    round: () => `round ${size('diameter_mm')} mm`,
    rectangle: () => `${size('width_mm')} × ${size('length_mm')} mm`,
    ring: () => `ring ${size('inner_diameter_mm')} to ${size('outer_diameter_mm')} mm`,
    polygon: () => `outline of ${shape.points_mm.length} corners`,
  };
  return shapes[shape.kind]?.() ?? shape.kind;
}

function row(term, text) {
  return [el('dt', {}, term), el('dd', {}, text)];
}
