/**
 * A closer look at the field of one pad: the course of a touch and the map of the charge. Both are asked for only while
 * they stand open, after the answer has come, so that typing stays quick; of several questions under way only the last
 * may show its answer.
 */

import * as api from './api.js';
import { approachDrawing } from './approach.js';
import { byId, el } from './dom.js';
import { inWords } from './trouble.js';

/** Gives both disclosures what they show. */
export class Closer {
  constructor() {
    this.piece = null;
    this.answer = null;
    this.pad = 0;
    this.looks = [
      new Look(byId('approach-details'), byId('approach'), (signal) => this.#askApproach(signal), drawApproach),
      new Look(byId('charge-details'), byId('charge'), (signal) => this.#askCharge(signal), showCharge),
    ];
    byId('field-pad').addEventListener('change', (event) => {
      this.pad = Number(event.target.value);
      for (const look of this.looks) look.follow();
    });
  }

  /** Looks at the first pad again, as for another piece. */
  reset() {
    this.pad = 0;
  }

  /**
   * Follows a new answer.
   *
   * @param {any} answer
   * @param {any} piece the request it answers
   */
  show(answer, piece) {
    this.answer = answer;
    this.piece = piece;
    this.pad = Math.min(this.pad, answer.pads.length - 1);
    const select = byId('field-pad');
    select.closest('.field').hidden = answer.pads.length < 2;
    select.replaceChildren(...answer.pads.map((pad, index) => el('option', { value: index }, pad.name)));
    select.value = String(this.pad);
    for (const look of this.looks) look.follow();
  }

  async #askApproach(signal) {
    const { piece, pad, answer } = this;
    // The other pads do not enter the curve; without them it is there sooner.
    const came = await api.approach({ ...piece, pads: [piece.pads[pad]] }, signal);
    const needed = came.checks.find((check) => check.check === 'signal')?.needed ?? null;
    return { points: came.approach[0].points, needed, padName: answer.pads[pad].name };
  }

  #askCharge(signal) {
    return api.chargePicture(this.piece, this.pad, signal);
  }
}

function drawApproach(curve, width) {
  return approachDrawing({ ...curve, widthPx: Math.round(Math.min(620, Math.max(270, width - 18))) });
}

function showCharge(text) {
  const { title, description } = wordsIn(text);
  // As a picture the drawing can hold nothing that runs; its words go beside it, where they can be read aloud.
  return [el('figure', { class: 'charge' },
    el('img', { src: `data:image/svg+xml;charset=utf-8,${encodeURIComponent(text)}`, alt: title }),
    el('figcaption', {}, description))];
}

/** One disclosure whose content is asked for while it is open. */
class Look {
  /**
   * @param {HTMLDetailsElement} details
   * @param {HTMLElement} place
   * @param {(signal: AbortSignal) => Promise<any>} ask what there is to show
   * @param {(came: any, width: number) => Node[]} draw shows it, that many pixels wide
   */
  constructor(details, place, ask, draw) {
    this.details = details;
    this.place = place;
    this.ask = ask;
    this.draw = draw;
    this.turn = 0;
    this.shown = -1;
    this.width = 0;
    details.addEventListener('toggle', () => { if (details.open && this.turn > 0 && this.shown !== this.turn) this.#refresh(); });
    // Turned or resized, a drawing is made anew, so that its labels keep their size.
    new ResizeObserver(() => { if (this.shown === this.turn && place.clientWidth !== this.width) this.#show(); }).observe(place);
  }

  /** What was shown is old; an open disclosure asks again at once, a closed one when it is opened. */
  follow() {
    this.turn += 1;
    this.underWay?.abort();
    if (this.details.open) this.#refresh();
  }

  async #refresh() {
    const turn = this.turn;
    this.underWay?.abort();
    this.underWay = new AbortController();
    this.place.setAttribute('aria-busy', 'true');
    if (!this.place.hasChildNodes()) this.place.replaceChildren(el('p', { class: 'hint' }, 'Solving the field.'));
    try {
      const came = await this.ask(this.underWay.signal);
      if (turn !== this.turn) return;
      this.came = came;
      this.shown = turn;
      this.#show();
    } catch (cause) {
      if (turn !== this.turn || cause.name === 'AbortError') return;
      this.place.replaceChildren(el('p', { class: 'error' }, inWords(cause)));
    } finally {
      if (turn === this.turn) this.place.removeAttribute('aria-busy');
    }
  }

  #show() {
    const open = new Set([...this.place.querySelectorAll('details[data-key][open]')].map((more) => more.dataset.key));
    this.width = this.place.clientWidth;
    this.place.replaceChildren(...this.draw(this.came, this.width));
    for (const more of this.place.querySelectorAll('details[data-key]')) more.open = open.has(more.dataset.key);
  }
}

/** Title and description of a drawing. */
function wordsIn(text) {
  const drawing = new DOMParser().parseFromString(text, 'image/svg+xml');
  const words = (tag) => drawing.querySelector(`svg > ${tag}`)?.textContent ?? '';
  return { title: words('title'), description: words('desc') };
}
