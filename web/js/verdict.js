/**
 * The verdict at the top: word, mark, chance and sentence, and how fresh they are.
 *
 * A screen reader hears the verdict once the answer has settled and only when its words have changed; the
 * visible text changes at once.
 */

import { byId } from './dom.js';
import { chance, sentenceCase } from './format.js';
import { stitchMark } from './marks.js';

const SETTLED_MS = 1200;

let announcing;
let announced = '';

/**
 * @param {{verdict: string, chance: number, sentence: string}} answer
 */
export function showVerdict(answer) {
  byId('verdict').dataset.verdict = answer.verdict;
  byId('verdict-mark').replaceChildren(stitchMark(answer.verdict));
  byId('verdict-word').textContent = sentenceCase(answer.verdict);
  byId('chance').textContent = chance(answer.chance);
  byId('chance-words').textContent = 'lowest chance of its checks';
  byId('verdict-sentence').textContent = answer.sentence;
  document.title = `${sentenceCase(answer.verdict)}: ${answer.name ?? 'Toile'}`;
  announce(`${sentenceCase(answer.verdict)}, ${chance(answer.chance)}. ${answer.sentence}`);
}

/** Says that there is no answer to show yet. */
export function showNoVerdict() {
  byId('verdict-word').textContent = 'No answer yet';
  byId('verdict-sentence').textContent = 'The piece in the form could not be worked out so far.';
}

/**
 * Says that what is shown is not the answer to what stands in the form, and why.
 *
 * @param {string | null} text `null` when the answer is fresh
 * @param {{trouble?: boolean, retry?: boolean}} [options] whether something is wrong, and whether trying again may help
 */
export function showFreshness(text, { trouble = false, retry = false } = {}) {
  const place = byId('freshness');
  place.hidden = text === null;
  place.classList.toggle('is-trouble', trouble);
  byId('freshness-text').textContent = text ?? '';
  byId('retry').hidden = !retry;
  byId('verdict').classList.toggle('is-stale', trouble);
  if (trouble && text) announce(text);
}

function announce(text) {
  clearTimeout(announcing);
  if (text === announced) return;
  announcing = setTimeout(() => {
    announced = text;
    byId('announcement').textContent = text;
  }, SETTLED_MS);
}
