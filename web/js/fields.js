/**
 * The parts every field of the form shares: names and ids, hints, remarks, pickers, and which fields apply.
 */

import { byId, el, uncover } from './dom.js';
import { applies } from './fieldlist.js';
import { exact, interval, sentenceCase } from './format.js';

/**
 * Puts in the parts that features share, such as a run: `data-part` names the template, `data-as` where its fields stand in the
 * feature.
 *
 * @param {Element} card
 */
export function insertParts(card) {
  for (const place of card.querySelectorAll('[data-part]')) {
    const part = byId(`${place.dataset.part}-part-template`).content.cloneNode(true);
    const within = (name, at) => name.split('&').map((one) => `${at}/${one}`).join('&');
    for (const element of part.querySelectorAll('[data-pointer], [data-when]')) {
      for (const key of ['pointer', 'draft', 'when']) {
        if (element.dataset[key]) element.dataset[key] = within(element.dataset[key], place.dataset.as);
      }
    }
    // What an empty choice means is the feature's to say.
    if (place.dataset.none) part.querySelector('select[data-library]').options[0].textContent = place.dataset.none;
    place.replaceWith(part);
  }
}

/**
 * Ties labels, hints and a place for remarks to every control under `root`.
 *
 * A control in a template names its place relative to the item; `prefix` is the pointer of the item.
 *
 * @param {ParentNode} root
 * @param {string} [prefix]
 */
export function wire(root, prefix = '') {
  for (const control of root.querySelectorAll('[data-pointer]')) {
    if (prefix) {
      const own = control.dataset.pointer;
      control.dataset.draft = `${prefix}/${control.dataset.draft ?? own}`;
      control.dataset.pointer = `${prefix}/${own}`;
    }
    control.id ||= idOf(control.dataset.pointer);
    const field = control.closest('.field');
    field.querySelector('label').htmlFor = control.id;
    const hints = [...field.querySelectorAll('.hint')];
    hints.forEach((hint, index) => { hint.id ||= `${control.id}-hint${index || ''}`; });
    const remark = el('p', { class: 'error', id: `${control.id}-error`, hidden: true });
    control.after(remark);
    control.setAttribute('aria-describedby', [...hints.map((hint) => hint.id), remark.id].join(' '));
  }
}

/** Where the text of a control stands in the draft. */
export function draftPlace(control) {
  return control.dataset.draft ?? control.dataset.pointer;
}

/**
 * The name of a field for use outside the form, such as `pad brighter, diameter`.
 *
 * @param {Element} control
 */
export function fieldName(control) {
  const label = control.closest('.field').querySelector('label');
  const name = label.firstChild.textContent.trim();
  const feature = control.closest('.feature')?.querySelector('.feature-name')?.textContent;
  const layer = control.closest('.layer')?.querySelector('legend')?.dataset.short;
  return [feature, layer, name].filter(Boolean).join(', ');
}

/**
 * Says at the field what is wrong with it, or takes the remark away.
 *
 * @param {Element} control
 * @param {string | null} message
 */
export function remark(control, message) {
  const place = document.getElementById(`${control.id}-error`);
  if (message) {
    control.setAttribute('aria-invalid', 'true');
    place.replaceChildren(el('span', { class: 'heard' }, 'Error: '), message);
  } else {
    control.removeAttribute('aria-invalid');
    place.replaceChildren();
  }
  place.hidden = !message;
}

/**
 * Shows those fields that the chosen kind has, and hides the others.
 *
 * @param {ParentNode} root
 * @param {(place: string) => string} read what the draft holds at a place relative to the item
 */
export function showWhatApplies(root, read) {
  for (const part of root.querySelectorAll('[data-when]')) {
    part.hidden = !applies(part.dataset.when, read);
  }
}

/**
 * Fills a picker with the entries of the library and selects one, even one that the library does not have.
 *
 * @param {HTMLSelectElement} select
 * @param {{id: string, name: string}[]} entries
 * @param {string} value
 */
export function fillPicker(select, entries, value) {
  const byNumbers = select.options[0];
  const options = entries.map((entry) => el('option', { value: entry.id }, entry.name));
  if (value && !entries.some((entry) => entry.id === value)) {
    // Before the lists have come, nothing is known to be missing from them.
    options.push(el('option', { value }, entries.length > 0 ? `${value} (not in the library)` : value));
  }
  select.replaceChildren(byNumbers, ...options);
  select.value = value;
}

/**
 * Writes beside the fields what the library says about the chosen entry.
 *
 * @param {Element} part the element with `data-entry`
 * @param {Record<string, any> | undefined} entry
 */
export function noteEntry(part, entry) {
  for (const hint of part.querySelectorAll('[data-entry-value]')) {
    const quality = entry?.[hint.dataset.entryValue];
    const unit = hint.closest('.field').querySelector('.unit')?.textContent ?? '';
    hint.textContent = quality ? `Library: ${qualityText(quality, unit)}` : '';
  }
  const note = part.querySelector('[data-entry-note]');
  note.textContent = entry?.use ? `${sentenceCase(entry.use)}.` : '';
  const sources = part.querySelector('[data-entry-sources]');
  if (sources) sources.textContent = entry ? sourcesText(entry) : '';
}

/** Shows and focuses a control of the form, with its label in view. */
export function goTo(control) {
  uncover(control);
  control.focus({ preventScroll: true });
  (control.closest('.field') ?? control).scrollIntoView({ block: 'center' });
}

function idOf(pointer) {
  return `f${pointer.replace(/[^A-Za-z0-9_]+/g, '-')}`;
}

function qualityText({ value, interval_95: ends, spread }, unit) {
  const range = ends && spread !== 'exact' ? `, ${interval(ends)}` : '';
  return `${exact(value, unit)}${range}`;
}

/** Every source of an entry once, with its standing. */
function sourcesText(entry) {
  const sources = new Set(Object.values(entry)
    .filter((value) => value && typeof value === 'object' && value.status)
    .map((value) => (value.source && value.source !== value.status ? `${value.status}: ${value.source}` : value.status)));
  return sources.size ? `Source, ${[...sources].join('; ')}${[...sources].at(-1).endsWith('.') ? '' : '.'}` : '';
}
