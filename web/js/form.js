/**
 * The form: keeps the draft in step with what is typed, and hands its lists of layers and features to their modules.
 */

import { byId, el } from './dom.js';
import { draftOf, pieceOf } from './draft.js';
import { Features } from './features.js';
import { draftPlace, fillPicker, noteEntry, wire } from './fields.js';
import { Layers } from './layers.js';
import { showNumber } from './number.js';
import { setAt, valueAt } from './pointer.js';
import { showRateFields } from './rates.js';

/** The form of the page. */
export class Form {
  /**
   * @param {HTMLFormElement} root
   * @param {{changed: () => void, left: () => void, submitted: () => void, demo: () => void}} listeners
   *   told when an entry changes, when a field is left, when the person asks for the answer or for the demo
   */
  constructor(root, listeners) {
    this.root = root;
    this.listeners = listeners;
    this.library = { threads: [], fabrics: [], controllers: [], metals: [] };
    this.draft = draftOf({});
    this.layers = new Layers(this);
    this.features = new Features(this);
    wire(root);
    root.addEventListener('input', (event) => this.#typed(event.target));
    root.addEventListener('change', () => listeners.left());
    root.addEventListener('click', (event) => this.#clicked(event.target.closest('button[data-action]')));
    root.addEventListener('submit', (event) => {
      event.preventDefault();
      listeners.submitted();
    });
  }

  /** Puts a piece into the form. */
  load(piece) {
    this.draft = draftOf(piece);
    this.#refreshTexts(this.root);
    this.layers.refresh();
    this.features.refresh();
    this.#refreshPickers(this.root);
  }

  /** The request for what stands in the form, with the entries that could not be read. */
  read() {
    return pieceOf(this.draft);
  }

  /** Takes the lists of the library once they have come. */
  setLibrary(library) {
    this.library = library;
    this.#refreshPickers(this.root);
  }

  /** Makes the fields for the shop's rates once they are known. */
  setRates(rates) {
    const place = byId('rate-fields');
    showRateFields(place, rates);
    this.#refreshTexts(byId('rates-details').parentElement);
  }

  /** The control that edits this place of the request. */
  control(pointer) {
    return this.root.querySelector(`[data-pointer="${CSS.escape(pointer)}"]`);
  }

  /** Makes fresh fields part of the form: the names of their places, library entries and texts. */
  takeIn(card, at) {
    wire(card, at);
    this.#refreshPickers(card);
    this.#refreshTexts(card);
  }

  /**
   * Makes one change of the answer, all of its edits or none.
   *
   * @param {{edits: Array<{pointer: string, to: unknown}>}} change
   * @returns {(() => void) | null} how to take it back, or `null` when no field of the form can take it
   */
  apply({ edits }) {
    const fields = edits.flatMap((edit) => this.#fieldsOf(edit));
    if (fields.some(({ pointer }) => !this.control(pointer))) return null;
    const before = fields.map(({ pointer }) => ({ pointer, text: valueAt(this.draft, draftPlace(this.control(pointer))) }));
    const write = (list) => {
      for (const { pointer, text } of list) {
        const control = this.control(pointer);
        if (control) this.#put(control, text);
      }
    };
    write(fields);
    return () => write(before);
  }

  /** The fields that one edit writes, with their texts. Another entry of the library also clears the numbers beside it. */
  #fieldsOf({ pointer, to }) {
    if (!to || typeof to !== 'object' || !('library' in to)) return [{ pointer, text: showNumber(to) }];
    const beside = [...this.root.querySelectorAll(`[data-pointer^="${CSS.escape(pointer)}/"]`)].map((control) => control.dataset.pointer);
    return beside.map((place) => ({ pointer: place, text: place === `${pointer}/library` ? to.library : '' }));
  }

  #put(control, text) {
    control.value = text;
    this.#taken(control);
  }

  #typed(control) {
    if (control.dataset.pointer) this.#taken(control);
  }

  /** Takes what a control holds into the draft, and lets the rest of the form follow. */
  #taken(control) {
    setAt(this.draft, draftPlace(control), control.value);
    const feature = control.closest('.feature');
    if (feature) this.features.follow(feature);
    const part = control.dataset.library && control.closest('[data-entry]');
    if (part) this.#note(part);
    this.listeners.changed();
  }

  #clicked(button) {
    if (!button) return;
    const { action } = button.dataset;
    if (action === 'demo') {
      this.listeners.demo();
      return;
    }
    const act = this.layers.actions[action] ?? this.features.actions[action];
    act?.(button);
    this.listeners.changed();
  }

  /** Writes what the draft holds into the fields. Disclosures with something in them open, so that nothing counts unseen. */
  #refreshTexts(root) {
    for (const control of root.querySelectorAll('[data-pointer]')) {
      const text = valueAt(this.draft, draftPlace(control)) ?? '';
      if (control instanceof HTMLSelectElement && ![...control.options].some((option) => option.value === text)) {
        control.append(el('option', { value: text }, `${text} (not known here)`));
      }
      control.value = text;
    }
    for (const more of root.querySelectorAll('details.more')) {
      if ([...more.querySelectorAll('[data-pointer]')].some(holdsSomething)) more.open = true;
    }
  }

  #refreshPickers(root) {
    for (const select of root.querySelectorAll('select[data-library]')) {
      fillPicker(select, this.library[select.dataset.library], valueAt(this.draft, draftPlace(select)) ?? '');
    }
    const parts = root.matches('[data-entry]') ? [root] : root.querySelectorAll('[data-entry]');
    for (const part of parts) this.#note(part);
  }

  #note(part) {
    const select = part.querySelector('select[data-library]');
    noteEntry(part, this.library[part.dataset.entry].find((entry) => entry.id === select.value));
  }
}

/** Whether a control says more than it does untouched. */
function holdsSomething(control) {
  return control.value !== (control.dataset.usual ?? control.options?.[0].value ?? '');
}
