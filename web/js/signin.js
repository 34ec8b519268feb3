/**
 * Asking for a key where the server wants one.
 */

import { byId } from './dom.js';
import { forgetKey, heldKey, holdKey } from './key.js';

/**
 * @param {{whenWanted: (tell: (why: string) => void) => void, used: () => void}} page how it is told that a key is wanted, and what
 *   follows once there is one
 */
export function setUpSignIn({ whenWanted, used }) {
  const part = byId('key-part');
  const field = byId('key');
  const forget = byId('key-forget');

  whenWanted((why) => {
    byId('key-says').textContent = why;
    part.hidden = false;
    show();
  });
  byId('key-form').addEventListener('submit', (event) => {
    event.preventDefault();
    const key = field.value.trim();
    if (!key) {
      field.focus();
      return;
    }
    holdKey(key);
    field.value = '';
    part.hidden = true;
    show();
    used();
  });
  forget.addEventListener('click', () => {
    forgetKey();
    show();
    used();
  });
  show();

  function show() {
    forget.hidden = heldKey() === null;
  }
}
