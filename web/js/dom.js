/**
 * Building elements. Text always goes in as text, never as markup.
 */

const SVG = 'http://www.w3.org/2000/svg';

/**
 * An HTML element. Attributes that are `false`, `null` or `undefined` are left out.
 *
 * @param {string} tag
 * @param {Record<string, unknown>} [attributes]
 * @param {...(Node | string | null | undefined | false)} children
 */
export function el(tag, attributes = {}, ...children) {
  return filled(document.createElement(tag), attributes, children);
}

/** An SVG element, in the same manner. */
export function svg(tag, attributes = {}, ...children) {
  return filled(document.createElementNS(SVG, tag), attributes, children);
}

/** The element with this id; the page is wrong if there is none. */
export function byId(id) {
  const element = document.getElementById(id);
  if (!element) throw new Error(`The page has no element #${id}.`);
  return element;
}

/** Opens every closed disclosure around an element, so that it can be seen and focused. */
export function uncover(element) {
  for (let place = element.closest('details'); place; place = place.parentElement?.closest('details')) place.open = true;
}

function filled(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    element.setAttribute(name, value === true ? '' : String(value));
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}
