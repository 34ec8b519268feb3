/**
 * The draft: the piece as it stands in the form, every number still the text that was typed.
 *
 * It has the shape of the request, so that one pointer names the field, its text and the server's remark
 * about it. `draftOf` fills it from a piece, `pieceOf` makes the request from it. Pure.
 *
 * @typedef {{pointer: string, message: string}} Fault
 */

import { parseNumber, showNumber } from './number.js';
import { orderDraft, orderOf } from './order.js';

/** Most that the server takes; a link with more is refused before it can fill the page. */
const MOST_LAYERS = 16;
const MOST_PADS = 256;

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
      ...texts(stack, ['opening_diameter_mm']),
    },
    pads: listOf(piece.pads, MOST_PADS, 'pads').map(padDraft),
    controller: texts(controller, ['library', ...CONTROLLER_NUMBERS.map(([key]) => key), 'settled_percent']),
    touch: { ...texts(touch, TOUCH_NUMBERS.map(([key]) => key)), case: showNumber(touch.case ?? 'battery') },
    temperature_c: showNumber(piece.temperature_c),
    machine: texts(machine, ['needles', 'decorative_threads', 'clearance_mm']),
    method: showNumber(piece.method ?? 'best'),
    relative_tolerance: showNumber(piece.relative_tolerance),
    production: orderDraft(piece.production),
  };
}

/** The draft of one layer, or of a new one. */
export function layerDraft(layer = {}) {
  return texts(objectOr(layer, {}), ['library', 'thickness_mm', 'relative_permittivity', 'water_fraction']);
}

/** The draft of one pad, or of a new one. */
export function padDraft(pad = {}) {
  pad = objectOr(pad, {});
  const shape = objectOr(pad.shape, {});
  const run = objectOr(pad.run, {});
  const stitch = objectOr(run.stitch, {});
  const fill = objectOr(pad.fill, null);
  const centre = Array.isArray(pad.centre_mm) ? pad.centre_mm : [];
  return {
    name: showNumber(pad.name),
    shape: {
      ...texts(shape, ['diameter_mm', 'width_mm', 'length_mm', 'corner_radius_mm', 'inner_diameter_mm', 'outer_diameter_mm']),
      kind: showNumber(shape.kind ?? 'round'),
      points_mm: outlineText(shape),
    },
    centre_mm: [showNumber(centre[0]), showNumber(centre[1])],
    rotation_deg: showNumber(pad.rotation_deg),
    thread: texts(objectOr(pad.thread, {}), ['library', 'linear_resistance_ohm_per_m', 'diameter_mm', 'linear_density_tex']),
    fill: { ...texts(fill ?? {}, ['row_spacing_mm', 'stitch_length_mm']), kind: fill ? 'rows' : 'solid' },
    run: {
      length_mm: showNumber(run.length_mm),
      passes: showNumber(run.passes),
      stitch: { ...texts(stitch, ['stitch_length_mm', 'column_width_mm', 'density_mm']), kind: showNumber(stitch.kind ?? 'running') },
      bobbin: showNumber(run.bobbin ?? 'plain'),
      terminal: texts(objectOr(run.terminal, {}), ['contact_resistance_ohm']),
    },
    guard: texts(objectOr(pad.guard, {}), ['held', 'gap_mm', 'width_mm']),
  };
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
    stack: {
      ground: draft.stack.ground,
      base: draft.stack.base.map((layer, index) => layerOf(read, layer, `/stack/base/${index}`)),
      overlay: draft.stack.overlay.map((layer, index) => layerOf(read, layer, `/stack/overlay/${index}`)),
      opening_diameter_mm: read.measured(draft.stack.opening_diameter_mm, '/stack/opening_diameter_mm', 'mm'),
    },
    pads: draft.pads.map((pad, index) => padOf(read, pad, `/pads/${index}`)),
    controller: controllerOf(read, draft.controller),
    touch: touchOf(read, draft.touch),
    temperature_c: read.measured(draft.temperature_c, '/temperature_c', '°C'),
    machine: optional({
      needles: read.whole(draft.machine.needles, '/machine/needles', ''),
      decorative_threads: read.whole(draft.machine.decorative_threads, '/machine/decorative_threads', ''),
      clearance_mm: read.plain(draft.machine.clearance_mm, '/machine/clearance_mm', 'mm'),
    }),
    // The best method is what the server takes anyway; leaving it out keeps links short.
    method: draft.method === 'best' ? undefined : draft.method,
    relative_tolerance: read.plain(draft.relative_tolerance, '/relative_tolerance', ''),
    production: orderOf(read, draft.production),
  });
  if (piece.stack.overlay.length === 0) delete piece.stack.overlay;
  return { piece, faults };
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

function padOf(read, pad, at) {
  return {
    name: pad.name.trim() || undefined,
    shape: shapeOf(read, pad.shape, `${at}/shape`),
    centre_mm: centreOf(read, pad.centre_mm, `${at}/centre_mm`),
    rotation_deg: read.plain(pad.rotation_deg, `${at}/rotation_deg`, '°'),
    thread: threadOf(read, pad.thread, `${at}/thread`),
    fill: pad.fill.kind === 'rows' ? {
      row_spacing_mm: read.measured(pad.fill.row_spacing_mm, `${at}/fill/row_spacing_mm`, 'mm', true),
      stitch_length_mm: read.plain(pad.fill.stitch_length_mm, `${at}/fill/stitch_length_mm`, 'mm', true),
    } : undefined,
    run: runOf(read, pad.run, `${at}/run`),
    guard: guardOf(read, pad.guard, `${at}/guard`),
  };
}

/** The guard, where one is chosen; without, what stands in its hidden fields is left alone. */
function guardOf(read, guard, at) {
  if (guard.held === '') return undefined;
  return {
    gap_mm: read.measured(guard.gap_mm, `${at}/gap_mm`, 'mm', true),
    width_mm: read.measured(guard.width_mm, `${at}/width_mm`, 'mm', true),
    held: guard.held,
  };
}

function shapeOf(read, shape, at) {
  const size = (key, required = true) => read.measured(shape[key], `${at}/${key}`, 'mm', required);
  switch (shape.kind) {
    case 'rectangle':
      return {
        kind: 'rectangle', width_mm: size('width_mm'), length_mm: size('length_mm'),
        corner_radius_mm: read.plain(shape.corner_radius_mm, `${at}/corner_radius_mm`, 'mm'),
      };
    case 'ring':
      return { kind: 'ring', inner_diameter_mm: size('inner_diameter_mm'), outer_diameter_mm: size('outer_diameter_mm') };
    case 'polygon':
      return { kind: 'polygon', ...read.outline(shape.points_mm, `${at}/points_mm`) };
    default:
      return { kind: shape.kind, diameter_mm: size('diameter_mm') };
  }
}

function centreOf(read, [x, y], at) {
  if (x.trim() === '' && y.trim() === '') return undefined;
  return [read.plain(x, `${at}/0`, 'mm', true), read.plain(y, `${at}/1`, 'mm', true)];
}

function threadOf(read, thread, at) {
  const required = thread.library === '';
  return {
    library: thread.library || undefined,
    linear_resistance_ohm_per_m: read.measured(thread.linear_resistance_ohm_per_m, `${at}/linear_resistance_ohm_per_m`, 'Ω/m', required),
    diameter_mm: read.measured(thread.diameter_mm, `${at}/diameter_mm`, 'mm', required),
    linear_density_tex: read.plain(thread.linear_density_tex, `${at}/linear_density_tex`, 'tex'),
  };
}

function runOf(read, run, at) {
  const number = (key) => read.plain(run.stitch[key], `${at}/stitch/${key}`, 'mm');
  const stitch = run.stitch.kind === 'satin'
    ? { kind: 'satin', column_width_mm: number('column_width_mm'), density_mm: number('density_mm') }
    : { kind: run.stitch.kind, stitch_length_mm: number('stitch_length_mm') };
  // A running stitch without a length is what the server assumes anyway; leaving it out keeps links short.
  const assumed = stitch.kind === 'running' && stitch.stitch_length_mm === undefined;
  return {
    length_mm: read.measured(run.length_mm, `${at}/length_mm`, 'mm', true),
    passes: read.whole(run.passes, `${at}/passes`, ''),
    stitch: assumed ? undefined : stitch,
    bobbin: run.bobbin === 'plain' ? undefined : run.bobbin,
    terminal: optional({
      contact_resistance_ohm: read.measured(run.terminal.contact_resistance_ohm, `${at}/terminal/contact_resistance_ohm`, 'Ω'),
    }),
  };
}

function controllerOf(read, controller) {
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

/** Reads texts and collects what is wrong with them. */
function reader(faults) {
  const number = (text, pointer, options, required) => {
    const reading = parseNumber(text, options);
    if (!reading.ok) faults.push({ pointer, message: reading.message });
    else if (reading.value === undefined && required) faults.push({ pointer, message: 'A number is needed here.' });
    return reading.ok ? reading.value : undefined;
  };
  return {
    measured: (text, pointer, unit, required = false) => number(text, pointer, { unit }, required),
    plain: (text, pointer, unit, required = false) => number(text, pointer, { unit, spread: false }, required),
    whole: (text, pointer, unit, required = false) => number(text, pointer, { unit, spread: false, whole: true }, required),
    outline: (text, pointer) => readOutline(text, (message) => faults.push({ pointer, message })),
    fault: (pointer, message) => faults.push({ pointer, message }),
  };
}

/** Corners, one `x, y` per line; a blank line starts a hole. */
function readOutline(text, fault) {
  const rings = [[]];
  for (const [index, line] of text.split(/\r?\n/).entries()) {
    if (line.trim() === '') {
      if (rings.at(-1).length > 0) rings.push([]);
      continue;
    }
    const corner = readCorner(line);
    if (!corner) {
      fault(`Line ${index + 1} is not a corner. Write it as x, y in mm, such as 12.5, 8.`);
      return { points_mm: [] };
    }
    rings.at(-1).push(corner);
  }
  if (rings.length > 1 && rings.at(-1).length === 0) rings.pop();
  const short = rings.findIndex((ring) => ring.length < 3);
  if (short >= 0) fault(short === 0 ? 'An outline needs at least three corners.' : `Hole ${short} needs at least three corners.`);
  return { points_mm: rings[0], holes_mm: rings.length > 1 ? rings.slice(1) : undefined };
}

function readCorner(line) {
  // With a semicolon or blanks between x and y, a comma can only be a decimal comma.
  const parts = line.includes(';') ? line.split(';') : line.includes(', ') ? line.split(/,\s+/) : line.trim().split(/\s+|,/);
  if (parts.length !== 2) return null;
  const [x, y] = parts.map((part) => parseNumber(part, { spread: false, unit: 'mm' }));
  return x.ok && y.ok && x.value !== undefined && y.value !== undefined ? [x.value, y.value] : null;
}

function outlineText(shape) {
  const holes = Array.isArray(shape.holes_mm) ? shape.holes_mm : [];
  return [shape.points_mm, ...holes]
    .filter(Array.isArray)
    .map((ring) => ring.map((corner) => (Array.isArray(corner) ? corner.join(', ') : String(corner))).join('\n'))
    .join('\n\n');
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
