/**
 * Faults in the entries: beside each field, in the summary, and as a mark on a closed feature.
 *
 * The summary takes the focus only when the person asked for an answer; while typing nothing moves the focus.
 */

import { el } from './dom.js';
import { fieldName, goTo, remark } from './fields.js';
import { kindOf } from './kinds.js';
import { parent } from './pointer.js';

/** Shows the faults of the form. */
export class Faults {
  /**
   * @param {HTMLFormElement} form
   * @param {HTMLElement} summary
   * @param {HTMLElement} list
   */
  constructor(form, summary, list) {
    this.form = form;
    this.summary = summary;
    this.list = list;
    this.shown = new Set();
  }

  /**
   * @param {{pointer: string, message: string, allowed?: string}[]} faults
   * @param {{focus?: boolean}} [options]
   */
  show(faults, { focus = false } = {}) {
    const byControl = new Map();
    const lines = faults.map((fault) => {
      const control = this.#controlFor(fault.pointer);
      const text = faultText(fault);
      byControl.set(control, [byControl.get(control), text].filter(Boolean).join(' '));
      return { control, text };
    });

    for (const control of this.shown) if (control.isConnected && !byControl.has(control)) remark(control, null);
    for (const [control, text] of byControl) if (control?.dataset.pointer) remark(control, text);
    this.shown = new Set([...byControl.keys()].filter((control) => control?.dataset.pointer));
    this.#markFeatures();

    this.list.replaceChildren(...lines.map(({ control, text }) => el('li', {}, this.#line(control, text))));
    this.summary.hidden = faults.length === 0;
    if (focus && faults.length > 0) {
      this.summary.focus({ preventScroll: true });
      this.summary.scrollIntoView({ block: 'nearest' });
    }
  }

  #line(control, text) {
    if (!control) return text;
    const link = el('a', { href: `#${control.id || 'form'}` }, control.dataset.pointer ? `${fieldName(control)}: ${text}` : text);
    link.addEventListener('click', (event) => {
      event.preventDefault();
      goTo(control);
    });
    return link;
  }

  /** The control a pointer is about: itself, the first inside it, or the nearest around it. */
  #controlFor(pointer) {
    for (let at = pointer; at; at = parent(at)) {
      const quoted = CSS.escape(at);
      const found = this.form.querySelector(`[data-pointer="${quoted}"]`) ?? this.form.querySelector(`[data-pointer^="${quoted}/"]`);
      if (found) return found;
    }
    if (pointer.startsWith('/stack/base')) return this.form.querySelector('[data-action="add-layer"][data-list="base"]');
    const list = pointer.split('/')[1];
    return kindOf(list) ? this.form.querySelector(`[data-action="feature-add"][data-list="${list}"]`) : null;
  }

  #markFeatures() {
    for (const feature of this.form.querySelectorAll('.feature')) {
      const count = feature.querySelectorAll('[aria-invalid="true"]').length;
      const text = count === 1 ? '1 entry to correct' : `${count} entries to correct`;
      feature.querySelector('.feature-faults').textContent = count === 0 ? '' : text;
    }
  }
}

function faultText({ message, allowed }) {
  const text = /[.!?]$/.test(message) ? message : `${message}.`;
  return allowed && !message.includes(allowed) ? `${text} Allowed: ${allowed}.` : text;
}
