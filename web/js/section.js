/**
 * The section through the stack under one pad, drawn to scale from the layers of the answer.
 *
 * Only the geometry of a drawing: nothing here decides anything. Where the true scale would hide something,
 * the drawing departs from it and the caption says so.
 */

import { svg } from './dom.js';
import { exact, listed, sentenceCase } from './format.js';
import { centreOf } from './number.js';
import { texture } from './textures.js';

const TALLEST_PX = 250;
const LOWEST_PX = 56;
const THINNEST_PX = 5;
const LABEL_LINE_PX = 16;
const LABEL_GAP_PX = 4;
const LABEL_INDENT_PX = 18;
/** A generous mean width of a letter in the labels, to break them before they run out of the drawing. */
const LETTER_PX = 7.4;
const FINGER_PX = 62;
const GROUND_PX = 14;
const SHEET_PX = 6;
const STRETCHES = [1, 2, 5, 10, 20, 50, 100];
const MOST_ROWS = 150;

const GROUNDS = {
  sheet: 'ground: conductive cloth',
  metal: 'ground: metal frame',
  body: 'body of the wearer',
  none: 'no ground below',
};

/**
 * @typedef {{name: string, thickness_mm: number, relative_permittivity: number, library: string | null}} Layer
 *
 * @param {{stack: {ground: string, base: Layer[], overlay: Layer[]}, padName: string, pad: any,
 *   fingertipMm: number, offCentreMm?: number, openingMm?: number, widthPx: number}} subject
 * @returns {{drawing: SVGElement, caption: string, description: string}}
 */
export function drawSection({ stack, padName, pad, fingertipMm, offCentreMm = 0, openingMm = 0, widthPx }) {
  const spans = padSpans(pad?.shape);
  const guard = guardSpans(pad?.guard, spans);
  const labelPx = Math.min(230, Math.max(130, widthPx * 0.36));
  const plotPx = widthPx - labelPx;
  const [from, to] = [(guard[0] ?? spans[0])[0], (guard[1] ?? spans.at(-1))[1]];
  const scale = chooseScale(stack, to - from, Math.max(fingertipMm * 1.8, 2 * offCentreMm + fingertipMm * 1.5), plotPx);
  const places = layOut(stack, scale);
  const middle = plotPx / 2;
  const labels = [];

  const defs = svg('defs');
  const drawing = svg('svg', { role: 'img', 'aria-labelledby': 'section-caption', 'aria-describedby': 'section-text' }, defs);
  drawing.append(ground(stack.ground, places.bottom, plotPx));
  if (openingMm > 0) {
    const [x, width] = [middle - (openingMm / 2) * scale.across, openingMm * scale.across];
    drawing.append(svg('rect', { class: 'opening', x, y: places.bottom, width, height: stack.ground === 'sheet' ? SHEET_PX : GROUND_PX }));
  }
  labels.push({ y: places.bottom + GROUND_PX / 2, text: GROUNDS[stack.ground] ?? stack.ground });

  for (const [index, { layer, y, height }] of places.layers.entries()) {
    const id = `fabric-${index}`;
    defs.append(texture(layer.library, id));
    drawing.append(svg('rect', { class: 'layer', x: 0, y, width: plotPx, height, fill: `url(#${id})` }));
    labels.push({ y: y + height / 2, text: `${layer.name} ${exact(layer.thickness_mm, 'mm')}` });
  }

  const rows = rowsOf(pad, spans);
  drawing.append(stitching(spans, rows, places.plane, middle, scale.across));
  drawing.append(...guard.map(([left, right]) => (
    svg('rect', { class: 'guard', x: middle + left * scale.across, y: places.plane - 2.5, width: (right - left) * scale.across, height: 5 }))));
  labels.push({ y: places.plane, text: `pad ${padName}`, strong: true });
  drawing.append(finger(middle + offCentreMm * scale.across, places.top, fingertipMm * scale.across));
  labels.push({ y: places.top - FINGER_PX / 2, text: 'finger' });

  const height = placeLabels(labels, labelPx, places.bottom + GROUND_PX + 8);
  drawing.append(...labels.map((label) => labelDrawing(label, plotPx)));
  drawing.setAttribute('viewBox', `0 0 ${widthPx} ${height}`);
  drawing.setAttribute('width', widthPx);
  drawing.setAttribute('height', height);
  return {
    drawing,
    caption: captionText(padName, scale, places, rows, guard.length > 0, openingMm > 0),
    description: descriptionText(stack, padName, pad, spans, openingMm),
  };
}

/** Where the guard is cut, left and right of the pad; nowhere without one. */
export function guardSpans(guard, spans) {
  const [gap, width] = [centreOf(guard?.gap_mm), centreOf(guard?.width_mm)];
  if (!(gap >= 0 && width > 0)) return [];
  const [left, right] = [spans[0][0] - gap, spans.at(-1)[1] + gap];
  return [[left - width, left], [right, right + width]];
}

/** Where the pad is cut: stretches along the cut in mm, about the middle of the pad. */
export function padSpans(shape) {
  const half = (value) => (centreOf(value) ?? 0) / 2;
  switch (shape?.kind) {
    case 'rectangle': return [[-half(shape.width_mm), half(shape.width_mm)]];
    case 'ring': {
      const [inner, outer] = [half(shape.inner_diameter_mm), half(shape.outer_diameter_mm)];
      return [[-outer, -inner], [inner, outer]];
    }
    case 'polygon': return polygonSpans([shape.points_mm ?? [], ...(shape.holes_mm ?? [])]);
    default: return [[-half(shape?.diameter_mm), half(shape?.diameter_mm)]];
  }
}

/** The stretches inside an outline along a level cut at half its height. */
function polygonSpans(rings) {
  const corners = rings[0];
  if (corners.length < 3) return [[0, 0]];
  const xs = corners.map(([x]) => x);
  const ys = corners.map(([, y]) => y);
  // A hair off the middle, so that the cut never runs along an edge or through a corner of a tidy outline.
  const level = Math.min(...ys) + (Math.max(...ys) - Math.min(...ys)) * 0.50013;
  const crossings = rings.flatMap((ring) => ring.flatMap(([x0, y0], index) => {
    const [x1, y1] = ring[(index + 1) % ring.length];
    return (y0 > level) === (y1 > level) ? [] : [x0 + ((level - y0) / (y1 - y0)) * (x1 - x0)];
  })).sort((a, b) => a - b);
  const middle = (Math.min(...xs) + Math.max(...xs)) / 2;
  const spans = [];
  for (let index = 0; index + 1 < crossings.length; index += 2) spans.push([crossings[index] - middle, crossings[index + 1] - middle]);
  return spans;
}

/** Pixels per mm across and upwards: the same where that can be seen, heights stretched where it cannot. */
function chooseScale({ base, overlay }, padMm, fingerMm, plotPx) {
  const widthMm = Math.max(padMm * 1.25, fingerMm, padMm + 6);
  const totalMm = [...base, ...overlay].reduce((sum, layer) => sum + layer.thickness_mm, 0);
  const across = Math.min(plotPx / widthMm, Math.max(TALLEST_PX / totalMm, fingerMm > 0 ? 25 / fingerMm : 0));
  const tallAt = (times) => totalMm * across * times;
  const stretch = STRETCHES.findLast((times, index) => (
    index === 0 || (tallAt(STRETCHES[index - 1]) < LOWEST_PX && tallAt(times) <= TALLEST_PX)));
  return { across, upwards: across * stretch, stretch };
}

function layOut({ base, overlay }, { upwards }) {
  const top = FINGER_PX + 10;
  const layers = [];
  const thickened = [];
  let y = top;
  let plane = top;
  for (const [index, layer] of [...overlay].reverse().concat([...base].reverse()).entries()) {
    const height = Math.max(THINNEST_PX, layer.thickness_mm * upwards);
    if (layer.thickness_mm * upwards < THINNEST_PX) thickened.push(layer.name);
    layers.push({ layer, y, height });
    y += height;
    if (index === overlay.length - 1) plane = y;
  }
  return { top, plane, bottom: y, layers, thickened };
}

/** Where the rows of a stitched pad are cut, in mm; `null` for a solid pad. */
function rowsOf(pad, spans) {
  const spacing = centreOf(pad?.fill?.row_spacing_mm);
  if (!spacing || spacing <= 0) return null;
  const count = spans.reduce((sum, [from, to]) => sum + Math.floor((to - from) / spacing) + 1, 0);
  const step = spacing * Math.max(1, Math.ceil(count / MOST_ROWS));
  const middles = spans.flatMap(([from, to]) => {
    const inside = Math.floor((to - from) / step + 1e-9);
    const first = (from + to) / 2 - (inside * step) / 2;
    return Array.from({ length: inside + 1 }, (_, index) => first + index * step);
  });
  return { spacing, step, middles };
}

function stitching(spans, rows, y, middle, across) {
  const group = svg('g', { class: 'stitching' });
  if (rows) {
    const radius = Math.min(3.2, Math.max(1.2, rows.step * across * 0.32));
    group.append(...rows.middles.map((x) => svg('circle', { cx: (middle + x * across).toFixed(2), cy: y, r: radius })));
  } else {
    group.append(...spans.map(([from, to]) => (
      svg('rect', { x: middle + from * across, y: y - 2.5, width: (to - from) * across, height: 5, rx: 1 }))));
  }
  return group;
}

function finger(middle, top, contactPx) {
  const half = Math.max(7, contactPx / 2);
  const side = half * 1.5;
  const up = top - FINGER_PX;
  return svg('path', {
    class: 'finger',
    d: `M${middle - side} ${up}V${top - 26}C${middle - side} ${top - 8} ${middle - half - 4} ${top - 1} ${middle - half} ${top}`
      + `H${middle + half}C${middle + half + 4} ${top - 1} ${middle + side} ${top - 8} ${middle + side} ${top - 26}V${up}`,
  });
}

function ground(kind, y, width) {
  const group = svg('g', { class: `ground ground-${kind}` });
  const steps = (pitch, draw) => Array.from({ length: Math.floor(width / pitch) }, (_, index) => draw(index * pitch)).join('');
  if (kind === 'sheet') {
    group.append(svg('rect', { class: 'ground-fill', x: 0, y, width, height: SHEET_PX }),
      svg('path', { class: 'ground-line', d: steps(8, (x) => `M${x + 1} ${y + 3}h4`) }));
  } else if (kind === 'metal') {
    group.append(svg('rect', { class: 'ground-fill', x: 0, y, width, height: GROUND_PX }),
      svg('path', { class: 'ground-line', d: steps(9, (x) => `M${x + 1} ${y + GROUND_PX - 1}l7 ${2 - GROUND_PX}`) }));
  } else if (kind === 'body') {
    group.append(svg('path', { class: 'ground-fill', d: `M0 ${y}H${width}V${y + 9}${steps(24, () => 'q-6 5 -12 0t-12 0')}H0Z` }));
  } else {
    group.append(svg('path', { class: 'ground-line', d: `M0 ${y + 7}H${width}` }));
  }
  return group;
}

/** Breaks labels into lines and moves them apart downwards; gives the height that this needs. */
function placeLabels(labels, labelPx, height) {
  labels.sort((a, b) => a.y - b.y);
  let free = 0;
  for (const label of labels) {
    label.lines = wrapped(label.text, Math.floor((labelPx - LABEL_INDENT_PX) / LETTER_PX));
    const tall = label.lines.length * LABEL_LINE_PX;
    label.top = Math.max(label.y - tall / 2, free);
    free = label.top + tall + LABEL_GAP_PX;
  }
  return Math.max(height, free);
}

function wrapped(text, letters) {
  const lines = [];
  for (const word of text.split(' ')) {
    const longer = `${lines.at(-1) ?? ''} ${word}`.trim();
    if (lines.length > 0 && longer.length <= letters) lines[lines.length - 1] = longer;
    else lines.push(word);
  }
  return lines;
}

function labelDrawing({ y, top, lines, strong }, plotPx) {
  const middle = top + (lines.length * LABEL_LINE_PX) / 2;
  return svg('g', { class: strong ? 'label label-strong' : 'label' },
    svg('path', { class: 'leader', d: `M${plotPx} ${y}L${plotPx + 10} ${middle}H${plotPx + 14}` }),
    ...lines.map((line, index) => svg('text', { x: plotPx + LABEL_INDENT_PX, y: top + (index + 0.78) * LABEL_LINE_PX }, line)));
}

function captionText(padName, { stretch }, { thickened }, rows, guarded, open) {
  return [
    `Section through pad ${padName}, ${stretch === 1 ? 'to scale' : `heights drawn ${stretch} times`}.`,
    thickened.length > 0 && `Drawn thicker than true, to be seen: ${listed([...new Set(thickened)])}.`,
    rows && (rows.step > rows.spacing
      ? `Rows lie ${exact(rows.spacing, 'mm')} apart; only every ${ordinal(rows.step / rows.spacing)} is drawn.`
      : 'Each dot is a row of thread; its size is not to scale.'),
    guarded && 'The pale bands beside the pad are its guard.',
    open && 'The ground is cut open under the pad.',
  ].filter(Boolean).join(' ');
}

function descriptionText({ ground: kind, base, overlay }, padName, pad, spans, openingMm) {
  const name = (layer) => `${layer.name}, ${exact(layer.thickness_mm, 'mm')}, relative permittivity ${exact(layer.relative_permittivity)}`;
  const width = exact(spans.at(-1)[1] - spans[0][0], 'mm');
  const making = pad?.fill ? `stitched in rows ${exact(centreOf(pad.fill.row_spacing_mm), 'mm')} apart` : 'solid conductive cloth';
  return [
    'From above:', 'a finger;',
    ...[...overlay].reverse().map((layer) => `${name(layer)};`),
    `pad ${padName}, ${width} wide at the cut, ${making};`,
    pad?.guard && `its guard, ${exact(centreOf(pad.guard.width_mm), 'mm')} wide, ${exact(centreOf(pad.guard.gap_mm), 'mm')} off on every side;`,
    ...[...base].reverse().map((layer) => `${name(layer)};`),
    `${sentenceCase(GROUNDS[kind] ?? kind)}${openingMm > 0 ? `, with an opening of ${exact(openingMm, 'mm')}` : ''}.`,
  ].filter(Boolean).join(' ');
}

function ordinal(count) {
  return count === 2 ? 'second' : count === 3 ? 'third' : `${Math.round(count)}th`;
}
