/**
 * The features in the form: one list for each kind, one disclosure for each feature, with its fields from the kind's template.
 */

import { byId } from './dom.js';
import { insertParts, showWhatApplies } from './fields.js';
import { KINDS, kindOf } from './kinds.js';
import { valueAt } from './pointer.js';

/** The lists of features. */
export class Features {
  /** @param {import('./form.js').Form} form */
  constructor(form) {
    this.form = form;
    this.actions = {
      'feature-add': (button) => this.#addFresh(kindOf(button.dataset.list)),
      'feature-copy': (button) => this.#copy(place(button)),
      'feature-liken': (button) => this.#liken(place(button)),
      'feature-remove': (button) => this.#remove(place(button)),
    };
  }

  /** Draws every list anew, closed, for another piece. */
  refresh() {
    for (const kind of KINDS) {
      this.#list(kind).replaceChildren();
      // A single feature is opened at once; several are easier to survey closed.
      this.#refresh(kind, this.#count() === 1 ? [0] : []);
    }
  }

  /** Follows an entry of a feature: its name, its line of words, the fields that apply. */
  follow(card) {
    const { kind, index } = place(card);
    const feature = this.form.draft[kind.list][index];
    const name = feature.name.trim() || `${kind.name} ${index + 1}`;
    card.querySelector('.feature-name').textContent = name;
    card.querySelector('.feature-short').textContent = kind.inShort(feature);
    for (const button of card.querySelectorAll('button[data-action]')) button.setAttribute('aria-label', `${button.textContent}: ${name}`);
    showWhatApplies(card, (at) => valueAt(feature, `/${at}`));
  }

  #addFresh(kind) {
    this.#add(kind, kind.draft(structuredClone(kind.fresh)));
  }

  #add(kind, feature) {
    const features = this.form.draft[kind.list];
    features.push(feature);
    const at = features.length - 1;
    this.#refresh(kind, [...this.#open(kind), at]);
    this.form.control(`/${kind.list}/${at}/name`).focus();
  }

  #copy({ kind, index }) {
    const copy = structuredClone(this.form.draft[kind.list][index]);
    copy.name = copy.name && `${copy.name} copy`;
    this.#add(kind, kind.copied?.(copy) ?? copy);
  }

  #liken({ kind, index }) {
    const features = this.form.draft[kind.list];
    this.form.draft[kind.list] = features.map((feature) => kind.likened(feature, features[index]));
    this.#refresh(kind, this.#open(kind));
    this.#list(kind).children[index].querySelector('[data-action="feature-liken"]').focus();
  }

  #remove({ kind, index }) {
    const features = this.form.draft[kind.list];
    const open = this.#open(kind).filter((at) => at !== index).map((at) => (at > index ? at - 1 : at));
    features.splice(index, 1);
    this.#refresh(kind, open);
    const next = this.#list(kind).children[Math.min(index, features.length - 1)]?.querySelector('summary');
    (next ?? this.form.root.querySelector(`[data-action="feature-add"][data-list="${kind.list}"]`)).focus();
  }

  #count() {
    return KINDS.reduce((count, kind) => count + this.form.draft[kind.list].length, 0);
  }

  #list(kind) {
    return byId(`${kind.list}-list`);
  }

  #open(kind) {
    return [...this.#list(kind).children].filter((card) => card.open).map((card) => Number(card.dataset.index));
  }

  /** Draws the features of a kind anew, those of `open` opened. */
  #refresh(kind, open) {
    const features = this.form.draft[kind.list];
    const cards = features.map((feature, index) => this.#card(kind, index, open.includes(index)));
    this.#list(kind).replaceChildren(...cards);
    this.#list(kind).closest('.features').hidden = features.length === 0;
    // What only some kinds ask for makes way where there are none of them.
    for (const part of this.form.root.querySelectorAll('[data-for]')) {
      part.hidden = !part.dataset.for.split(' ').some((list) => this.form.draft[list].length > 0);
    }
  }

  #card(kind, index, open) {
    const at = `/${kind.list}/${index}`;
    const card = byId('feature-template').content.cloneNode(true).firstElementChild;
    Object.assign(card.dataset, { list: kind.list, index, at });
    card.open = open;
    card.querySelector('.feature-fields').append(byId(`${kind.list}-template`).content.cloneNode(true));
    if (!kind.likened) card.querySelector('[data-action="feature-liken"]').remove();
    insertParts(card);
    this.form.takeIn(card, at);
    this.follow(card);
    return card;
  }
}

function place(element) {
  const { list, index } = element.closest('.feature').dataset;
  return { kind: kindOf(list), index: Number(index) };
}
