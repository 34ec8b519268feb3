/**
 * The key that the page around the form lends for its visitor. It is held in memory only: a frame within another page may have
 * no storage, and a key that is lent goes with the page.
 */

let lent = null;

/** @param {string} key */
export function lendKey(key) {
  lent = key;
}

/** The key, or null where none is lent. */
export function lentKey() {
  return lent;
}
