/**
 * The checks: one line each, grouped by pad, on one common scale. Pads whose checks all carry the same verdict
 * share a group that shows the worst of each check; every single line is one disclosure away.
 */

import { el, svg } from './dom.js';
import { chance, interval, listed, quantity, share } from './format.js';
import { countsMissing, intervalDrawing, room, scaleDrawing } from './interval.js';
import { stitchMark, verdictClass } from './marks.js';

/**
 * @param {HTMLElement} place
 * @param {{checks: object[], pads: object[]}} answer
 */
export function showChecks(place, { checks, pads }) {
  const whole = checks.filter((check) => padOf(check) === null);
  const groups = alikeGroups(checks.filter((check) => padOf(check) !== null), pads);
  place.replaceChildren(...[
    heading(),
    ...groups.map((group) => (group.length > 1 ? foldedGroup(group) : padGroup(group[0]))),
    whole.length > 0 && plainGroup('The whole piece', null, whole),
  ].filter(Boolean));
}

/** The pad a check belongs to, as its number in the request, or `null`. */
export function padOf(check) {
  const match = /^\/pads\/(\d+)/.exec(check.pointer ?? '');
  return match && check.pad !== null ? Number(match[1]) : null;
}

/** The check that is closest to failing: the lowest chance, then the least room. */
export function worstOf(checks) {
  const roomOf = (check) => room(check)?.low ?? Infinity;
  return checks.reduce((worst, check) => (
    check.chance < worst.chance || (check.chance === worst.chance && roomOf(check) < roomOf(worst)) ? check : worst));
}

/** Pads with their checks, those with the same verdicts together, in the order of the pads. */
function alikeGroups(checks, pads) {
  const members = new Map();
  for (const check of checks) {
    const index = padOf(check);
    if (!members.has(index)) members.set(index, { index, name: pads[index]?.name ?? check.pad, pad: pads[index], checks: [] });
    members.get(index).checks.push(check);
  }
  const groups = new Map();
  for (const member of members.values()) {
    const likeness = member.checks.map((check) => `${check.check}:${check.verdict}`).join('|');
    groups.set(likeness, [...(groups.get(likeness) ?? []), member]);
  }
  return [...groups.values()];
}

function heading() {
  return el('div', { class: 'check-line check-heading', 'aria-hidden': 'true' },
    el('span', {}, 'Check'), el('span', {}, 'Verdict'), el('span', {}, 'Needed'), el('span', {}, 'Predicted'), scaleDrawing());
}

function padGroup({ name, index, pad, checks }) {
  return plainGroup(`Pad ${name}:`, pad, checks, index);
}

function plainGroup(title, pad, checks, index = null) {
  const verdict = pad?.verdict;
  return el('section', { class: 'check-group' },
    el('h4', {}, title, verdict && el('span', { class: 'group-verdict' }, ` ${verdict}, ${chance(pad.chance)}`)),
    el('ul', { class: 'check-list' }, ...checks.map((check) => checkItem(check, {
      key: `${index}`,
      attributes: { 'data-check': check.check, 'data-pad': index },
    }))));
}

function foldedGroup(group) {
  const kinds = group[0].checks.map((_, at) => group.map((member) => member.checks[at]));
  const names = listed(group.map((member) => member.name));
  return el('section', { class: 'check-group' },
    el('h4', {}, `${group.length} pads alike in every verdict:`, el('span', { class: 'group-verdict' }, ` ${names}`)),
    el('ul', { class: 'check-list' }, ...kinds.map((checks) => {
      const worst = worstOf(checks);
      return checkItem(worst, {
        key: `worst-${group[0].index}`,
        alike: checks.filter((check) => check !== worst),
        attributes: { 'data-worst-check': worst.check, 'data-worst-pad': padOf(worst) },
      });
    })),
    el('details', { class: 'more fold', 'data-key': `fold-${group[0].index}` },
      el('summary', {}, `Each of these ${group.length} pads on its own`),
      ...group.map(padGroup)));
}

/** One check: the line, and under it where its spread comes from. */
function checkItem(check, { key, attributes, alike = [] }) {
  return el('li', { ...attributes, class: verdictClass(check.verdict), 'data-verdict': check.verdict },
    el('details', { class: 'check', 'data-key': `${key}-${check.check}-${check.pointer}` },
      el('summary', { class: 'check-line' },
        el('span', { class: 'check-title' }, check.title,
          alike.length > 0 && el('span', { class: 'check-worst' }, `worst: ${check.pad}`), heard(', ')),
        el('span', { class: 'check-verdict' }, stitchMark(check.verdict), el('span', {}, check.verdict), heard(', ')),
        el('span', { class: 'check-needed' }, neededText(check), heard(', ')),
        el('span', { class: 'check-predicted' }, heard('predicted '), el('strong', {}, quantity(check.predicted, check.unit)), ' ',
          check.standard_uncertainty > 0 && el('span', { class: 'check-interval' }, heard('95 of 100 between '), interval(check.interval_95))),
        intervalDrawing(check, alike)),
      el('div', { class: 'check-more' }, ...checkMore(check))),
    check.measure && check.verdict === 'measure first'
      && el('p', { class: 'measure' }, el('strong', {}, 'Measure first: '), check.measure));
}

function checkMore(check) {
  const shares = check.shares ?? [];
  return [
    el('p', {}, check.sentence),
    el('p', {}, `Chance that it holds: ${chance(check.chance)}.`,
      countsMissing(check) && ' On the scale, what is missing to 100 % is compared.'),
    check.measure && check.verdict !== 'measure first' && el('p', {}, el('strong', {}, 'To be surer: '), check.measure),
    shares.length > 0 && el('p', { class: 'shares-title' }, 'What the spread comes from'),
    shares.length > 0 && el('ul', { class: 'shares' }, ...shares.map(shareItem)),
    shares.length === 0 && el('p', { class: 'hint' }, 'This check has no spread.'),
  ].filter(Boolean);
}

function shareItem({ input, pointer, share: part, unmeasured }) {
  return el('li', {},
    svg('svg', { class: 'share-bar', 'aria-hidden': 'true', focusable: 'false' },
      svg('rect', { class: 'share-part', width: `${(Math.min(1, Math.max(0, part)) * 100).toFixed(1)}%`, height: '100%' })),
    el('span', { class: 'share' }, share(part)), ' ',
    pointer ? el('a', { href: '#form', 'data-go': pointer }, input) : input,
    unmeasured && el('span', { class: 'unmeasured' }, ' not measured yet'));
}

function neededText(check) {
  const word = check.bound === 'at_most' ? 'at most' : 'at least';
  return [el('span', { class: 'check-bound' }, heard('needed '), `${word} `), quantity(check.needed, check.unit)];
}

function heard(text) {
  return el('span', { class: 'heard' }, text);
}
