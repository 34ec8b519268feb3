/**
 * Reads the texts of a draft and collects what is wrong with them. Pure.
 *
 * @typedef {{pointer: string, message: string}} Fault
 */

import { parseNumber } from './number.js';

/** @param {Fault[]} faults where faults are put */
export function reader(faults) {
  const number = (text, pointer, options, required) => {
    const reading = parseNumber(text ?? '', options);
    if (!reading.ok) faults.push({ pointer, message: reading.message });
    else if (reading.value === undefined && required) faults.push({ pointer, message: 'A number is needed here.' });
    return reading.ok ? reading.value : undefined;
  };
  return {
    measured: (text, pointer, unit, required = false) => number(text, pointer, { unit }, required),
    plain: (text, pointer, unit, required = false) => number(text, pointer, { unit, spread: false }, required),
    whole: (text, pointer, unit, required = false) => number(text, pointer, { unit, spread: false, whole: true }, required),
    points: (text, pointer) => readPoints(text, (message) => faults.push({ pointer, message })),
    fault: (pointer, message) => faults.push({ pointer, message }),
  };
}

/**
 * Points, one `x, y` per line, in groups that blank lines part.
 *
 * @returns {[number, number][][] | null} `null` where a line is no point
 */
function readPoints(text, fault) {
  const groups = [[]];
  for (const [index, line] of text.split(/\r?\n/).entries()) {
    if (line.trim() === '') {
      if (groups.at(-1).length > 0) groups.push([]);
      continue;
    }
    const point = readPoint(line);
    if (!point) {
      fault(`Line ${index + 1} is not a point. Write it as x, y in mm, such as 12.5, 8.`);
      return null;
    }
    groups.at(-1).push(point);
  }
  if (groups.length > 1 && groups.at(-1).length === 0) groups.pop();
  return groups;
}

function readPoint(line) {
  // With a semicolon or blanks between x and y, a comma can only be a decimal comma.
  const parts = line.includes(';') ? line.split(';') : line.includes(', ') ? line.split(/,\s+/) : line.trim().split(/\s+|,/);
  if (parts.length !== 2) return null;
  const [x, y] = parts.map((part) => parseNumber(part, { spread: false, unit: 'mm' }));
  return x.ok && y.ok && x.value !== undefined && y.value !== undefined ? [x.value, y.value] : null;
}

/** Points as `readPoints` reads them back. */
export function pointsText(groups) {
  return groups
    .filter(Array.isArray)
    .map((group) => group.map((point) => (Array.isArray(point) ? point.join(', ') : String(point))).join('\n'))
    .join('\n\n');
}
