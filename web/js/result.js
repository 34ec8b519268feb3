/**
 * The answer on the page, apart from the verdict at its top. Every new answer replaces the old one in place;
 * what was opened stays open, and the focus stays where it was.
 */

import { showCapacitances } from './capacitances.js';
import { padOf, showChecks, worstOf } from './checks.js';
import { Closer } from './closer.js';
import { byId, el } from './dom.js';
import { showElectrodes } from './electrodes.js';
import { showLaidWires } from './laidwires.js';
import { showLightRows } from './lightrows.js';
import { chance, exact, sentenceCase } from './format.js';
import { stitchMark, verdictClass } from './marks.js';
import { centreOf } from './number.js';
import { showProduction } from './production.js';
import { drawSection } from './section.js';
import { showSummary } from './summary.js';
import { showInputs, showWorking } from './tables.js';
import { showVerdict } from './verdict.js';

/** Two fifths of the width of a printed page, in the pixels of style sheets. */
const PAPER_PX = 300;

/** Shows answers. */
export class Result {
  /**
   * @param {{try: (change: object) => void, go: (pointer: string) => void}} listeners
   *   told when a change is to be tried, and when an input is to be looked at in the form
   */
  constructor(listeners) {
    this.answer = null;
    this.piece = null;
    this.cut = null;
    this.closer = new Closer();
    byId('answer').addEventListener('click', (event) => {
      const pointer = event.target.closest('[data-go]')?.dataset.go;
      if (pointer) {
        event.preventDefault();
        listeners.go(pointer);
      }
      const change = event.target.closest('[data-change]')?.dataset.change;
      if (change) listeners.try(this.answer.changes[Number(change)]);
    });
    byId('section-pad').addEventListener('change', (event) => {
      this.cut = Number(event.target.value);
      this.#showSection();
    });
    // Paper is narrower than a screen: draw for it, so that the labels keep their size.
    window.addEventListener('beforeprint', () => this.#showSection(PAPER_PX));
    window.addEventListener('afterprint', () => this.#showSection());
    new ResizeObserver(() => this.#showSection()).observe(byId('section-part'));
  }

  /**
   * @param {any} answer
   * @param {any} piece the request it answers
   * @param {any} library
   */
  show(answer, piece, library) {
    this.answer = answer;
    this.piece = piece;
    byId('answer').classList.remove('is-empty');
    const restore = keepPlace(byId('answer'));
    showVerdict(answer);
    showChanges(answer.changes ?? [], answer.verdict);
    this.#showPads();
    showChecks(byId('checks'), answer);
    showLightRows(byId('light_rows-part'), answer.light_rows ?? []);
    showElectrodes(byId('electrodes-part'), answer.electrodes);
    showLaidWires(byId('laid_wires-part'), answer.laid_wires ?? []);
    showProduction(byId('price-part'), answer.production);
    showTexts('cautions', (answer.cautions ?? []).map(({ subject, text }) => (
      [el('strong', {}, `${sentenceCase(subject)}.`), ' ', text])));
    showTexts('notes', (answer.notes ?? []).map((note) => [note]));
    showInputs(byId('inputs'), answer.inputs ?? []);
    showWorking(byId('working'), answer.working);
    byId('print-name').textContent = answer.name ?? 'Unnamed piece';
    showSummary(byId('print-head'), piece, answer, library);
    byId('versions').textContent = `Toile, model ${answer.model_version}, library of ${answer.library_revision}.`;
    restore();
  }

  /** What only pads have: the section through the stack, and their field. Runs are looked at closely for electrodes too. */
  #showPads() {
    const { pads, electrodes } = this.answer;
    const none = pads.length === 0;
    for (const part of ['section-part', 'field-part']) byId(part).hidden = none;
    byId('runs-part').hidden = none && electrodes.length === 0;
    if (!none) {
      this.#showCutChoice();
      this.#showSection();
      showCapacitances(byId('capacitances'), pads);
    }
    if (!byId('runs-part').hidden) this.closer.show(this.answer, this.piece);
  }

  /** Forgets which pad was looked at, for another piece. */
  forgetPad() {
    this.cut = null;
    this.closer.reset();
  }

  /** The pad that is cut: the one chosen, or else the one of the check closest to failing. */
  #cutPad() {
    const { pads, checks } = this.answer;
    if (this.cut !== null && this.cut < pads.length) return this.cut;
    const ofPads = checks.filter((check) => padOf(check) !== null);
    return ofPads.length > 0 ? padOf(worstOf(ofPads)) : 0;
  }

  #showCutChoice() {
    const { pads } = this.answer;
    const select = byId('section-pad');
    select.closest('.field').hidden = pads.length < 2;
    select.replaceChildren(...pads.map((pad, index) => el('option', { value: index }, pad.name)));
    select.value = String(this.#cutPad());
  }

  #showSection(widthPx = Math.round(Math.min(860, Math.max(280, byId('section').clientWidth - 18)))) {
    if (!this.answer?.pads.length) return;
    const place = byId('section');
    const index = this.#cutPad();
    const fingertip = this.answer.inputs?.find((input) => input.pointer === '/touch/fingertip_diameter_mm')?.value;
    const { drawing, caption, description } = drawSection({
      stack: this.answer.stack,
      padName: this.answer.pads[index]?.name ?? '',
      pad: this.piece.pads[index],
      offCentreMm: centreOf(this.piece.touch?.off_centre_mm) ?? 0,
      openingMm: centreOf(this.piece.stack?.opening_diameter_mm) ?? 0,
      fingertipMm: fingertip ?? centreOf(this.piece.touch?.fingertip_diameter_mm) ?? 0,
      widthPx,
    });
    place.replaceChildren(drawing,
      el('figcaption', { id: 'section-caption' }, caption),
      el('p', { id: 'section-text', class: 'heard' }, description));
  }
}

function showChanges(changes, verdict) {
  const none = changes.length === 0 && verdict !== 'comfortable';
  byId('no-change').hidden = !none;
  byId('changes-part').hidden = changes.length === 0 && !none && byId('tried').hidden;
  byId('changes').replaceChildren(...changes.map((change, index) => el('li', { class: verdictClass(change.verdict) },
    el('p', { class: 'change-text' }, change.sentence),
    el('p', { class: 'change-outcome' }, stitchMark(change.verdict), ` ${change.verdict}, ${chance(change.chance)}`),
    el('button', {
      type: 'button', 'data-change': index, 'data-key': `change-${change.edits[0].pointer}`, 'aria-label': `Try this: ${changeText(change)}`,
    }, 'Try this'))));
}

/** A change in few words: `larger pads, 18 mm to 22.5 mm`. */
export function changeText({ what, edits }) {
  const [{ from, to, unit }] = edits;
  const alike = edits.every((edit) => edit.unit === unit);
  return alike && typeof centreOf(to) === 'number' ? `${what}, ${exact(centreOf(from), unit)} to ${exact(centreOf(to), unit)}` : what;
}

function showTexts(id, items) {
  byId(`${id}-part`).hidden = items.length === 0;
  byId(id).replaceChildren(...items.map((item) => el('li', {}, ...item)));
}

/** Remembers what is open and where the focus is by `data-key`; gives the function that restores both. */
function keepPlace(root) {
  const key = (element) => element?.closest('[data-key]')?.dataset.key;
  const open = new Set([...root.querySelectorAll('details[data-key][open]')].map(key));
  const active = root.contains(document.activeElement) ? document.activeElement : null;
  const focused = active && { key: key(active), tag: active.tagName, index: likes(active).indexOf(active) };
  return () => {
    for (const details of root.querySelectorAll('details[data-key]')) details.open = open.has(details.dataset.key);
    if (!focused?.key || active.isConnected) return;
    const again = root.querySelector(`[data-key="${CSS.escape(focused.key)}"]`);
    const target = again?.matches(focused.tag) ? again : again?.querySelectorAll(focused.tag)[focused.index];
    target?.focus({ preventScroll: true });
  };
}

/** The elements of the same kind under the same key, to tell the third link from the second. */
function likes(element) {
  return [...(element.closest('[data-key]')?.querySelectorAll(element.tagName) ?? [])];
}
