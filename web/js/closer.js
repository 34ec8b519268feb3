/**
 * A closer look at pads: the course of a touch on one and the map of its charge, and what a broken stitch does to the runs.
 */

import * as api from './api.js';
import { approachDrawing } from './approach.js';
import { byId, el } from './dom.js';
import { Look } from './look.js';
import { showFaults, showTransfer } from './runs.js';

/** Gives the disclosures what they show. */
export class Closer {
  constructor() {
    this.piece = null;
    this.answer = null;
    this.pad = 0;
    this.looks = [
      new Look(byId('approach-details'), byId('approach'), (signal) => this.#askApproach(signal), drawApproach),
      new Look(byId('charge-details'), byId('charge'), (signal) => this.#askCharge(signal), showCharge),
    ];
    this.runs = new Look(byId('faults-details'), byId('faults'), (signal) => api.runs(this.piece, signal), showFaults);
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
    this.pad = Math.max(0, Math.min(this.pad, answer.pads.length - 1));
    const select = byId('field-pad');
    select.closest('.field').hidden = answer.pads.length < 2;
    select.replaceChildren(...answer.pads.map((pad, index) => el('option', { value: index }, pad.name)));
    select.value = String(this.pad);
    showTransfer(byId('transfer'), answer.pads);
    // Without pads there is no field to look at.
    for (const look of answer.pads.length > 0 ? [...this.looks, this.runs] : [this.runs]) look.follow();
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

/** Title and description of a drawing. */
function wordsIn(text) {
  const drawing = new DOMParser().parseFromString(text, 'image/svg+xml');
  const words = (tag) => drawing.querySelector(`svg > ${tag}`)?.textContent ?? '';
  return { title: words('title'), description: words('desc') };
}
