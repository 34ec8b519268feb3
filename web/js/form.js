/**
 * The form: keeps the draft in step with what is typed, and its lists of layers and pads in shape.
 */

import { byId, el } from './dom.js';
import { draftOf, layerDraft, padDraft, pieceOf } from './draft.js';
import { draftPlace, fillPicker, noteEntry, showWhatApplies, wire } from './fields.js';
import { exact } from './format.js';
import { centreOf, parseNumber, showNumber } from './number.js';
import { setAt, valueAt } from './pointer.js';
import { showRateFields } from './rates.js';

const NEW_PAD = {
  shape: { kind: 'round', diameter_mm: 20 },
  thread: { library: 'silver-polyamide-40-tex' },
  fill: { row_spacing_mm: 0.8, stitch_length_mm: 3 },
  run: { length_mm: 150 },
};
const NEW_LAYER = { library: 'cotton-twill' };

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
    this.library = { threads: [], fabrics: [], controllers: [] };
    this.draft = draftOf({});
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
    this.#refreshAll();
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
    setAt(this.draft, draftPlace(control), text);
    control.value = text;
    this.#followed(control);
    this.listeners.changed();
  }

  #typed(control) {
    if (!control.dataset.pointer) return;
    setAt(this.draft, draftPlace(control), control.value);
    this.#followed(control);
    this.listeners.changed();
  }

  /** What follows from one entry elsewhere in the form. */
  #followed(control) {
    const pad = control.closest('.pad');
    if (pad) this.#refreshPad(pad);
    const part = control.dataset.library && control.closest('[data-entry]');
    if (part) this.#note(part);
  }

  #clicked(button) {
    if (!button) return;
    const { action } = button.dataset;
    const layer = button.closest('.layer')?.dataset;
    const pad = Number(button.closest('.pad')?.dataset.index);
    const actions = {
      'add-layer': () => this.#addLayer(button.dataset.list),
      'layer-up': () => this.#moveLayer(layer.list, Number(layer.index), 1),
      'layer-down': () => this.#moveLayer(layer.list, Number(layer.index), -1),
      'layer-remove': () => this.#removeLayer(layer.list, Number(layer.index)),
      'add-pad': () => this.#addPad(padDraft(NEW_PAD)),
      'pad-copy': () => this.#copyPad(pad),
      'pad-spread': () => this.#spreadPad(pad),
      'pad-remove': () => this.#removePad(pad),
      demo: () => this.listeners.demo(),
    };
    actions[action]?.();
    if (action !== 'demo') this.listeners.changed();
  }

  // Layers. The draft lists them upwards, the page shows them as they lie: the highest first.

  #addLayer(list) {
    const layers = this.draft.stack[list];
    const at = list === 'overlay' ? layers.length : 0;
    layers.splice(at, 0, layerDraft(NEW_LAYER));
    this.#refreshLayers(list);
    this.control(`/stack/${list}/${at}/library`).focus();
  }

  #moveLayer(list, index, step) {
    const layers = this.draft.stack[list];
    const to = index + step;
    if (to < 0 || to >= layers.length) return;
    [layers[index], layers[to]] = [layers[to], layers[index]];
    this.#refreshLayers(list);
    const card = this.root.querySelector(`.layer[data-list="${list}"][data-index="${to}"]`);
    const same = card.querySelector(`[data-action="layer-${step > 0 ? 'up' : 'down'}"]`);
    (same.disabled ? card.querySelector('button:not(:disabled)') : same).focus();
  }

  #removeLayer(list, index) {
    this.draft.stack[list].splice(index, 1);
    this.#refreshLayers(list);
    const next = this.control(`/stack/${list}/${Math.min(index, this.draft.stack[list].length - 1)}/library`);
    (next ?? this.root.querySelector(`[data-action="add-layer"][data-list="${list}"]`)).focus();
  }

  #refreshLayers(list) {
    const layers = this.draft.stack[list];
    const cards = layers.map((layer, index) => this.#layerCard(list, index, layers.length)).reverse();
    byId(`${list}-layers`).replaceChildren(...cards);
    if (cards.length === 0) {
      byId(`${list}-layers`).append(el('p', { class: 'hint' },
        list === 'overlay' ? 'No overlay: the finger touches the stitching.' : 'No base layer yet.'));
    }
  }

  #layerCard(list, index, count) {
    const card = byId('layer-template').content.cloneNode(true).firstElementChild;
    const at = `/stack/${list}/${index}`;
    card.dataset.list = list;
    card.dataset.index = index;
    card.dataset.at = at;
    const name = `${list === 'overlay' ? 'Overlay' : 'Base'} layer ${index + 1}`;
    const legend = card.querySelector('legend');
    legend.dataset.short = name;
    legend.textContent = count > 1 ? `${name} of ${count}${place(list, index, count)}` : name;
    for (const button of card.querySelectorAll('button')) button.setAttribute('aria-label', `${button.textContent}: ${name}`);
    card.querySelector('[data-action="layer-up"]').disabled = index === count - 1;
    card.querySelector('[data-action="layer-down"]').disabled = index === 0;
    wire(card, at);
    this.#refreshPickers(card);
    this.#refreshTexts(card);
    return card;
  }

  // Pads.

  #addPad(pad) {
    this.draft.pads.push(pad);
    const at = this.draft.pads.length - 1;
    this.#refreshPads(at);
    this.control(`/pads/${at}/name`).focus();
  }

  #copyPad(index) {
    const copy = structuredClone(this.draft.pads[index]);
    copy.name = copy.name && `${copy.name} copy`;
    // Two pads in one place would only raise a clearance fault; the new place is for the person to say.
    copy.centre_mm = ['', ''];
    this.#addPad(copy);
  }

  /** Gives every pad the thread, filling and run stitch of one; sizes, places and run lengths stay. */
  #spreadPad(index) {
    const { thread, fill, run } = this.draft.pads[index];
    for (const pad of this.draft.pads) {
      const { length_mm } = pad.run;
      Object.assign(pad, structuredClone({ thread, fill, run }));
      pad.run.length_mm = length_mm;
    }
    this.#refreshPads();
    this.root.querySelector(`.pad[data-index="${index}"] [data-action="pad-spread"]`).focus();
  }

  #removePad(index) {
    const open = this.#openPads().filter((at) => at !== index).map((at) => (at > index ? at - 1 : at));
    this.draft.pads.splice(index, 1);
    this.#refreshPads(...open, null);
    const next = this.root.querySelector(`.pad[data-index="${Math.min(index, this.draft.pads.length - 1)}"] summary`);
    (next ?? this.root.querySelector('[data-action="add-pad"]')).focus();
  }

  #openPads() {
    return [...this.root.querySelectorAll('.pad')].filter((pad) => pad.open).map((pad) => Number(pad.dataset.index));
  }

  /** Draws the pads anew. Those that were open stay open, unless the last of `open` is `null`. */
  #refreshPads(...open) {
    const opened = new Set(open.at(-1) === null ? open : [...this.#openPads(), ...open]);
    byId('pads').replaceChildren(...this.draft.pads.map((pad, index) => this.#padCard(index, opened.has(index))));
  }

  #padCard(index, open) {
    const card = byId('pad-template').content.cloneNode(true).firstElementChild;
    card.dataset.index = index;
    card.dataset.at = `/pads/${index}`;
    card.open = open;
    wire(card, `/pads/${index}`);
    this.#refreshPickers(card);
    this.#refreshTexts(card);
    this.#refreshPad(card);
    return card;
  }

  #refreshPad(card) {
    const pad = this.draft.pads[Number(card.dataset.index)];
    const name = pad.name.trim() || `pad ${Number(card.dataset.index) + 1}`;
    card.querySelector('.pad-name').textContent = name;
    card.querySelector('.pad-short').textContent = padInShort(pad);
    for (const button of card.querySelectorAll('button')) button.setAttribute('aria-label', `${button.textContent}: ${name}`);
    showWhatApplies(card, (at) => valueAt(pad, `/${at}`));
  }

  // Everything.

  #refreshAll() {
    this.#refreshTexts(this.root);
    this.#refreshLayers('base');
    this.#refreshLayers('overlay');
    byId('pads').replaceChildren();
    // A single pad is opened at once; several are easier to survey closed.
    this.#refreshPads(...(this.draft.pads.length === 1 ? [0] : []));
    this.#refreshPickers(this.root);
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
      if ([...more.querySelectorAll('[data-pointer]')].some((control) => control.value !== (control.options?.[0].value ?? ''))) more.open = true;
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

function place(list, index, count) {
  if (list === 'overlay') return index === count - 1 ? ', on top' : index === 0 ? ', on the stitching' : '';
  return index === count - 1 ? ', under the stitching' : index === 0 ? ', on the ground' : '';
}

/** One line that tells a closed pad from the next: `round 24 mm, run 180 mm`. */
function padInShort({ shape, run }) {
  const size = (text) => {
    const reading = parseNumber(text, { unit: 'mm' });
    const centre = reading.ok ? centreOf(reading.value) : undefined;
    return centre === undefined ? '?' : exact(centre);
  };
  const shapes = {
    round: () => `round ${size(shape.diameter_mm)} mm`,
    rectangle: () => `${size(shape.width_mm)} × ${size(shape.length_mm)} mm`,
    ring: () => `ring ${size(shape.inner_diameter_mm)} to ${size(shape.outer_diameter_mm)} mm`,
    polygon: () => 'outline by corners',
  };
  return `${shapes[shape.kind]?.() ?? shape.kind}, run ${size(run.length_mm)} mm`;
}
