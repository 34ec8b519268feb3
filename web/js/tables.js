/**
 * The tables of the answer: every input with its source, and the working.
 */

import { el } from './dom.js';
import { exact, interval, number, quantity } from './format.js';

/**
 * @param {HTMLElement} place
 * @param {object[]} inputs
 */
export function showInputs(place, inputs) {
  place.replaceChildren(table('Inputs of the answer', ['Input', 'Value', '95 of 100 lie in', 'From', 'Source', 'Standing'],
    inputs.map((input) => [
      input.pointer ? el('a', { href: '#form', 'data-go': input.pointer }, input.name) : input.name,
      quantityText(input.value, input.unit),
      input.spread === 'exact' || !input.interval_95 ? 'exact' : interval(input.interval_95, input.unit),
      ORIGINS[input.origin] ?? input.origin,
      input.source ?? '',
      el('span', { class: `standing standing-${String(input.status).replaceAll(' ', '-')}` }, input.status ?? ''),
    ])));
}

/**
 * @param {HTMLElement} place
 * @param {object[] | undefined} working
 */
export function showWorking(place, working) {
  if (!working) return;
  const groups = new Map();
  for (const step of working) groups.set(step.pad, [...(groups.get(step.pad) ?? []), step]);
  place.replaceChildren(...[...groups].map(([pad, stepsOfPad]) => {
    const title = pad ? `Working for pad ${pad}` : 'Working for the whole piece';
    return table(title, ['Symbol', 'What', 'Formula or method', 'With', 'Result', 'Source'], stepsOfPad.map((step) => [
      el('code', {}, step.symbol), step.what, el('code', {}, step.formula),
      el('ul', { class: 'with' }, ...(step.inputs ?? []).map((input) => (
        el('li', {}, el('code', {}, input.symbol), ` = ${quantityText(input.value, input.unit)}`)))),
      el('strong', {}, quantityText(step.result, step.unit)),
      [step.source, step.note].filter(Boolean).join(' '),
    ]));
  }));
}

const ORIGINS = { given: 'typed in', library: 'library', assumed: 'assumed' };

/** A table with its caption, in a frame that scrolls where the page is narrow. */
export function table(title, headings, rows) {
  const id = `table-${title.toLowerCase().replace(/[^a-z0-9]+/g, '-')}`;
  return el('div', { class: 'table-frame', role: 'region', tabindex: 0, 'aria-labelledby': id, 'data-key': id },
    el('table', {},
      el('caption', { id }, title),
      el('thead', {}, el('tr', {}, ...headings.map((heading) => el('th', { scope: 'col' }, heading)))),
      el('tbody', {}, ...rows.map(([first, ...rest]) => (
        el('tr', {}, el('th', { scope: 'row' }, first), ...rest.map((cell) => el('td', {}, cell))))))));
}

function quantityText(value, unit) {
  if (typeof value === 'number') return Math.abs(value) >= 1e-4 || value === 0 ? exact(value, unit) : quantity(value, unit);
  return value === null || value === undefined ? number(null) : String(value);
}
