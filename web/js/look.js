/**
 * A closer look: a disclosure whose content is asked for only while it stands open, after the answer has come, so that typing
 * stays quick; of several questions under way only the last may show its answer.
 */

import { el } from './dom.js';
import { inWords } from './trouble.js';

/** One disclosure whose content is asked for while it is open. */
export class Look {
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
    if (!this.place.hasChildNodes()) this.place.replaceChildren(el('p', { class: 'hint' }, 'Working it out.'));
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
