/**
 * A key for ± on touch screens: their number keyboards have none.
 *
 * One button follows the focus from number field to number field. It appears where the main pointer is a
 * finger; with a keyboard it would only be one more stop.
 */

import { el } from './dom.js';

/**
 * @param {HTMLElement} form
 */
export function setUpSpreadKey(form) {
  if (!window.matchMedia('(pointer: coarse)').matches) return;
  const key = el('button', { type: 'button', class: 'spread-key', 'aria-label': 'Add a spread: plus or minus' }, '±');
  let input = null;

  form.addEventListener('focusin', ({ target }) => {
    if (target === key) return;
    input = target.matches('input[inputmode="decimal"]:not([data-plain])') ? target : null;
    if (input) input.after(key);
    else key.remove();
  });
  // Pressing the key must not take the focus away, or the keyboard of the phone would fold and unfold.
  key.addEventListener('pointerdown', (event) => event.preventDefault());
  key.addEventListener('click', () => {
    input.inputMode = 'text';
    if (!input.value.includes('±')) input.value = `${input.value.trim()} ± `;
    input.focus();
    input.setSelectionRange(input.value.length, input.value.length);
    input.dispatchEvent(new Event('input', { bubbles: true }));
  });
}
