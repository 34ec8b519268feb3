/**
 * JSON pointers (RFC 6901): reading and writing the place that a pointer names. Pure.
 */

/** The steps of a pointer. */
export function steps(pointer) {
  return pointer.split('/').slice(1).map((step) => step.replaceAll('~1', '/').replaceAll('~0', '~'));
}

/** What stands at the pointer, or `undefined`. */
export function valueAt(root, pointer) {
  return steps(pointer).reduce((place, step) => (place === undefined || place === null ? undefined : place[step]), root);
}

/** Writes at the pointer, if everything above it is there; says whether it was. */
export function setAt(root, pointer, value) {
  const path = steps(pointer);
  const last = path.pop();
  const place = path.reduce((at, step) => (at && typeof at === 'object' ? at[step] : undefined), root);
  if (last === undefined || !place || typeof place !== 'object') return false;
  place[last] = value;
  return true;
}

/** The pointer one step up, or `null` at the root. */
export function parent(pointer) {
  const cut = pointer.lastIndexOf('/');
  return cut < 0 ? null : pointer.slice(0, cut);
}
