/**
 * The key of whoever sits here. It is kept for this tab only, and gone when the tab is closed.
 */

const PLACE = 'toile-key';

/** What the page around the form lends for its visitor; held in memory only, and gone with the page. */
let lent = null;

/** The key, or null where there is none. */
export function heldKey() {
  if (lent !== null) return lent;
  try {
    return sessionStorage.getItem(PLACE);
  } catch {
    // A frame within another page may have no storage.
    return null;
  }
}

/** @param {string} key */
export function lendKey(key) {
  lent = key;
}

/** @param {string} key */
export function holdKey(key) {
  sessionStorage.setItem(PLACE, key);
}

export function forgetKey() {
  sessionStorage.removeItem(PLACE);
}
