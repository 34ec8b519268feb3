/**
 * The layers of the stack in the form. The draft lists them upwards, the page shows them as they lie: the highest first.
 */

import { byId, el } from './dom.js';
import { layerDraft } from './draft.js';

const NEW_LAYER = { library: 'cotton-twill' };

/** The two lists of layers. */
export class Layers {
  /** @param {import('./form.js').Form} form */
  constructor(form) {
    this.form = form;
    this.actions = {
      'add-layer': (button) => this.#add(button.dataset.list),
      'layer-up': (button) => this.#move(place(button), 1),
      'layer-down': (button) => this.#move(place(button), -1),
      'layer-remove': (button) => this.#remove(place(button)),
    };
  }

  /** Draws both lists anew. */
  refresh() {
    this.#refresh('base');
    this.#refresh('overlay');
  }

  #add(list) {
    const layers = this.#layers(list);
    const at = list === 'overlay' ? layers.length : 0;
    layers.splice(at, 0, layerDraft(NEW_LAYER));
    this.#refresh(list);
    this.form.control(`/stack/${list}/${at}/library`).focus();
  }

  #move({ list, index }, step) {
    const layers = this.#layers(list);
    const to = index + step;
    if (to < 0 || to >= layers.length) return;
    [layers[index], layers[to]] = [layers[to], layers[index]];
    this.#refresh(list);
    const card = this.form.root.querySelector(`.layer[data-list="${list}"][data-index="${to}"]`);
    const same = card.querySelector(`[data-action="layer-${step > 0 ? 'up' : 'down'}"]`);
    (same.disabled ? card.querySelector('button:not(:disabled)') : same).focus();
  }

  #remove({ list, index }) {
    const layers = this.#layers(list);
    layers.splice(index, 1);
    this.#refresh(list);
    const next = this.form.control(`/stack/${list}/${Math.min(index, layers.length - 1)}/library`);
    (next ?? this.form.root.querySelector(`[data-action="add-layer"][data-list="${list}"]`)).focus();
  }

  #layers(list) {
    return this.form.draft.stack[list];
  }

  #refresh(list) {
    const layers = this.#layers(list);
    const cards = layers.map((layer, index) => this.#card(list, index, layers.length)).reverse();
    byId(`${list}-layers`).replaceChildren(...cards);
    if (cards.length === 0) {
      byId(`${list}-layers`).append(el('p', { class: 'hint' },
        list === 'overlay' ? 'No overlay: the finger touches the stitching.' : 'No base layer yet.'));
    }
  }

  #card(list, index, count) {
    const card = byId('layer-template').content.cloneNode(true).firstElementChild;
    Object.assign(card.dataset, { list, index, at: `/stack/${list}/${index}` });
    const name = `${list === 'overlay' ? 'Overlay' : 'Base'} layer ${index + 1}`;
    const legend = card.querySelector('legend');
    legend.dataset.short = name;
    legend.textContent = count > 1 ? `${name} of ${count}${lie(list, index, count)}` : name;
    for (const button of card.querySelectorAll('button')) button.setAttribute('aria-label', `${button.textContent}: ${name}`);
    card.querySelector('[data-action="layer-up"]').disabled = index === count - 1;
    card.querySelector('[data-action="layer-down"]').disabled = index === 0;
    this.form.takeIn(card, card.dataset.at);
    return card;
  }
}

function place(button) {
  const { list, index } = button.closest('.layer').dataset;
  return { list, index: Number(index) };
}

/** Where a layer lies, in words, at the ends of its list. */
function lie(list, index, count) {
  if (list === 'overlay') return index === count - 1 ? ', on top' : index === 0 ? ', on the stitching' : '';
  return index === count - 1 ? ', under the stitching' : index === 0 ? ', on the ground' : '';
}
