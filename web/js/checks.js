/**
 * The checks: one line each, grouped by feature, on one common scale. Features of a kind whose checks all carry the same
 * verdict share a group that shows the worst of each check; every single line is one disclosure away.
 */

import { el, svg } from './dom.js';
import { chance, interval, listed, quantity, sentenceCase, share } from './format.js';
import { countsMissing, intervalDrawing, room, scaleDrawing } from './interval.js';
import { featureAt, kindOf } from './kinds.js';
import { stitchMark, verdictClass } from './marks.js';

/**
 * @param {HTMLElement} place
 * @param {{checks: object[]}} answer with the lists of its features
 */
export function showChecks(place, answer) {
  const whole = answer.checks.filter((check) => featureAt(check.pointer) === null);
  const groups = alikeGroups(answer.checks.filter((check) => featureAt(check.pointer) !== null), answer);
  place.replaceChildren(...[
    heading(),
    ...groups.map((group) => (group.length > 1 ? foldedGroup(group) : featureGroup(group[0]))),
    whole.length > 0 && plainGroup('The whole piece', null, whole),
  ].filter(Boolean));
}

/** The pad a check belongs to, as its number in the request, or `null`. */
export function padOf(check) {
  const feature = featureAt(check.pointer);
  return feature?.list === 'pads' ? feature.index : null;
}

/** The check that is closest to failing: the lowest chance, then the least room. */
export function worstOf(checks) {
  const roomOf = (check) => room(check)?.low ?? Infinity;
  return checks.reduce((worst, check) => (
    check.chance < worst.chance || (check.chance === worst.chance && roomOf(check) < roomOf(worst)) ? check : worst));
}

/** Features with their checks, those of a kind with the same verdicts together, in the order of the piece. */
function alikeGroups(checks, answer) {
  const members = new Map();
  for (const check of checks) {
    const { list, index } = featureAt(check.pointer);
    const at = `/${list}/${index}`;
    const result = answer[list]?.[index];
    if (!members.has(at)) members.set(at, { at, kind: kindOf(list), name: result?.name ?? check.feature, result, checks: [] });
    members.get(at).checks.push(check);
  }
  const groups = new Map();
  for (const member of members.values()) {
    const likeness = [member.kind.list, ...member.checks.map((check) => `${check.check}:${check.verdict}`)].join('|');
    groups.set(likeness, [...(groups.get(likeness) ?? []), member]);
  }
  return [...groups.values()];
}

function heading() {
  return el('div', { class: 'check-line check-heading', 'aria-hidden': 'true' },
    el('span', {}, 'Check'), el('span', {}, 'Verdict'), el('span', {}, 'Needed'), el('span', {}, 'Predicted'), scaleDrawing());
}

function featureGroup({ at, kind, name, result, checks }) {
  // A feature without a name of its own already says what it is.
  const title = name.startsWith(`${kind.name} `) ? sentenceCase(name) : `${sentenceCase(kind.name)} ${name}`;
  return plainGroup(`${title}:`, result, checks, at);
}

function plainGroup(title, result, checks, at = '') {
  return el('section', { class: 'check-group' },
    el('h4', {}, title, result && el('span', { class: 'group-verdict' }, ` ${result.verdict}, ${chance(result.chance)}`)),
    el('ul', { class: 'check-list' }, ...checks.map((check) => checkItem(check, {
      key: at,
      attributes: { 'data-check': check.check, 'data-of': at },
    }))));
}

function foldedGroup(group) {
  const kinds = group[0].checks.map((_, at) => group.map((member) => member.checks[at]));
  const names = listed(group.map((member) => member.name));
  const { names: word } = group[0].kind;
  return el('section', { class: 'check-group' },
    el('h4', {}, `${group.length} ${word} alike in every verdict:`, el('span', { class: 'group-verdict' }, ` ${names}`)),
    el('ul', { class: 'check-list' }, ...kinds.map((checks) => {
      const worst = worstOf(checks);
      return checkItem(worst, {
        key: `worst-${group[0].at}`,
        alike: checks.filter((check) => check !== worst),
        attributes: { 'data-worst-check': worst.check, 'data-worst-of': featurePointer(worst) },
      });
    })),
    el('details', { class: 'more fold', 'data-key': `fold-${group[0].at}` },
      el('summary', {}, `Each of these ${group.length} ${word} on its own`),
      ...group.map(featureGroup)));
}

function featurePointer({ pointer }) {
  const { list, index } = featureAt(pointer);
  return `/${list}/${index}`;
}

/** One check: the line, and under it where its spread comes from. */
function checkItem(check, { key, attributes, alike = [] }) {
  return el('li', { ...attributes, class: verdictClass(check.verdict), 'data-verdict': check.verdict },
    el('details', { class: 'check', 'data-key': `${key}-${check.check}-${check.pointer}` },
      el('summary', { class: 'check-line' },
        el('span', { class: 'check-title' }, check.title,
          alike.length > 0 && el('span', { class: 'check-worst' }, `worst: ${check.feature}`), heard(', ')),
        el('span', { class: 'check-verdict' }, stitchMark(check.verdict), el('span', {}, check.verdict), heard(', ')),
        el('span', { class: 'check-needed' }, neededText(check), heard(', ')),
        el('span', { class: 'check-predicted' }, heard('predicted '), el('strong', {}, quantity(check.predicted, check.unit)), ' ',
          check.standard_uncertainty > 0 && el('span', { class: 'check-interval' }, heard('95 of 100 from '), interval(check.interval_95))),
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
