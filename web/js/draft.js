/**
 * The draft: the piece as it stands in the form, every number still the text that was typed.
 *
 * It has the shape of the request, so that one pointer names the field, its text and the server's remark
 * about it. `draftOf` fills it from a piece, `pieceOf` makes the request from it. Pure.
 *
 * @typedef {{pointer: string, message: string}} Fault
 */

import { KINDS } from './kinds.js';
import { showNumber } from './number.js';
import { orderDraft, orderOf } from './order.js';
import { reader } from './reader.js';

/** Most that the server takes; a link with more is refused before it can fill the page. */
const MOST_LAYERS = 16;

const CONTROLLER_NUMBERS = [
  ['charge_time_us', 'µs'], ['series_resistance_ohm', 'Ω'], ['max_standing_pf', 'pF'],
  ['needed_signal_pf', 'pF'], ['max_run_ohm', 'Ω'],
];
const TOUCH_NUMBERS = [
  ['fingertip_diameter_mm', 'mm'], ['body_to_earth_pf', 'pF'], ['supply_to_earth_pf', 'pF'], ['body_to_supply_pf', 'pF'],
  ['off_centre_mm', 'mm'],
];

/**
 * The draft of a piece.
 *
 * @param {any} piece
 * @throws {TypeError} when lists are not lists or hold more than a piece may
 */
export function draftOf(piece) {
  const stack = objectOr(piece.stack, {});
  const controller = objectOr(piece.controller, {});
  const touch = objectOr(piece.touch, {});
  const machine = objectOr(piece.machine, {});
  return {
    name: showNumber(piece.name),
    quantity: showNumber(piece.quantity),
    stack: {
      ground: showNumber(stack.ground ?? 'sheet'),
      base: listOf(stack.base, MOST_LAYERS, 'base layers').map(layerDraft),
      overlay: listOf(stack.overlay, MOST_LAYERS, 'overlay layers').map(layerDraft),
      ...texts(stack, ['opening_diameter_mm', 'sewn_thickness_mm']),
    },
    ...Object.fromEntries(KINDS.map((kind) => [kind.list, listOf(piece[kind.list], kind.most, kind.names).map((feature) => kind.draft(objectOr(feature, {})))])),
    controller: texts(controller, ['library', ...CONTROLLER_NUMBERS.map(([key]) => key), 'settled_percent']),
    touch: { ...texts(touch, TOUCH_NUMBERS.map(([key]) => key)), case: showNumber(touch.case ?? 'battery') },
    temperature_c: showNumber(piece.temperature_c),
    after_washes: showNumber(piece.after_washes),
    stretch_percent: showNumber(piece.stretch_percent),
    machine: texts(machine, ['needles', 'decorative_threads', 'clearance_mm', 'needle_diameter_mm']),
    method: showNumber(piece.method ?? 'best'),
    relative_tolerance: showNumber(piece.relative_tolerance),
    production: orderDraft(piece.production),
  };
}

/** The draft of one layer, or of a new one. */
export function layerDraft(layer = {}) {
  return texts(objectOr(layer, {}), ['library', 'thickness_mm', 'relative_permittivity', 'water_fraction']);
}

/**
 * The request that a draft stands for, with every text that could not be read.
 *
 * @returns {{piece: object, faults: Fault[]}}
 */
export function pieceOf(draft) {
  const faults = [];
  const read = reader(faults);
  const piece = tidied({
    name: draft.name.trim() || undefined,
    quantity: read.whole(draft.quantity, '/quantity', 'pieces'),
    stack: stackOf(read, draft),
    ...Object.fromEntries(KINDS.map((kind) => [kind.list, featuresOf(read, draft, kind)])),
    controller: controllerOf(read, draft),
    touch: touchOf(read, draft.touch),
    temperature_c: read.measured(draft.temperature_c, '/temperature_c', '°C'),
    after_washes: read.whole(draft.after_washes, '/after_washes', 'washes'),
    stretch_percent: read.measured(draft.stretch_percent, '/stretch_percent', '%'),
    machine: optional({
      needles: read.whole(draft.machine.needles, '/machine/needles', ''),
      decorative_threads: read.whole(draft.machine.decorative_threads, '/machine/decorative_threads', ''),
      clearance_mm: read.plain(draft.machine.clearance_mm, '/machine/clearance_mm', 'mm'),
      needle_diameter_mm: read.plain(draft.machine.needle_diameter_mm, '/machine/needle_diameter_mm', 'mm'),
    }),
    // The best method is what the server takes anyway; leaving it out keeps links short.
    method: draft.method === 'best' ? undefined : draft.method,
    relative_tolerance: read.plain(draft.relative_tolerance, '/relative_tolerance', ''),
    production: orderOf(read, draft.production),
  });
  return { piece, faults };
}

function featuresOf(read, draft, kind) {
  const features = draft[kind.list].map((feature, index) => kind.request(read, feature, `/${kind.list}/${index}`));
  return features.length > 0 ? features : undefined;
}

/** The stack; it is asked for where there are pads, and may be left out without. */
function stackOf(read, { stack, pads }) {
  const empty = stack.base.length + stack.overlay.length === 0 && stack.sewn_thickness_mm.trim() === '';
  if (pads.length === 0 && empty) return undefined;
  const layers = (list) => stack[list].map((layer, index) => layerOf(read, layer, `/stack/${list}/${index}`));
  return {
    ground: stack.ground,
    base: layers('base'),
    overlay: stack.overlay.length > 0 ? layers('overlay') : undefined,
    opening_diameter_mm: read.measured(stack.opening_diameter_mm, '/stack/opening_diameter_mm', 'mm'),
    sewn_thickness_mm: read.measured(stack.sewn_thickness_mm, '/stack/sewn_thickness_mm', 'mm'),
  };
}

function layerOf(read, layer, at) {
  const required = layer.library === '';
  return {
    library: layer.library || undefined,
    thickness_mm: read.measured(layer.thickness_mm, `${at}/thickness_mm`, 'mm', required),
    relative_permittivity: read.measured(layer.relative_permittivity, `${at}/relative_permittivity`, '', required),
    water_fraction: read.measured(layer.water_fraction, `${at}/water_fraction`, ''),
  };
}

/** The touch-sensing input, where there is a pad to sense or somebody has named one. */
function controllerOf(read, { controller, pads }) {
  if (pads.length === 0 && Object.values(controller).every((text) => text === '')) return undefined;
  const required = controller.library === '';
  const numbers = CONTROLLER_NUMBERS.map(([key, unit]) => [key, read.measured(controller[key], `/controller/${key}`, unit, required)]);
  return {
    library: controller.library || undefined,
    ...Object.fromEntries(numbers),
    settled_percent: read.plain(controller.settled_percent, '/controller/settled_percent', '%', required),
  };
}

function touchOf(read, touch) {
  const numbers = TOUCH_NUMBERS.map(([key, unit]) => [key, read.measured(touch[key], `/touch/${key}`, unit)]);
  return { case: touch.case, ...Object.fromEntries(numbers) };
}

function texts(source, keys) {
  return Object.fromEntries(keys.map((key) => [key, showNumber(source[key])]));
}

function objectOr(value, fallback) {
  return value && typeof value === 'object' && !Array.isArray(value) ? value : fallback;
}

function listOf(value, most, what) {
  if (value === undefined || value === null) return [];
  if (!Array.isArray(value)) throw new TypeError(`The link does not hold a piece: its ${what} are not a list.`);
  if (value.length > most) throw new TypeError(`The link holds more than ${most} ${what}.`);
  return value;
}

/** An object, or nothing where it would be empty. */
function optional(object) {
  return Object.values(object).every((value) => value === undefined) ? undefined : object;
}

/** A copy without the keys that hold nothing. */
function tidied(value) {
  return JSON.parse(JSON.stringify(value));
}
