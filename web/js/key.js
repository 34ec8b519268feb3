/**
 * The key of whoever sits here. It is kept for this tab only, and gone when the tab is closed.
 */

const PLACE = 'toile-key';

/** The key, or null where there is none. */
export function heldKey() {
  return sessionStorage.getItem(PLACE);
}

/** @param {string} key */
export function holdKey(key) {
  sessionStorage.setItem(PLACE, key);
}

export function forgetKey() {
  sessionStorage.removeItem(PLACE);
}
