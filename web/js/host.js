/**
 * The page around the form, where it is shown within another one: takes a piece from it and hands answers to it.
 *
 * Every message is an object `{toile: 1, type, ...}`. Nothing is said before the other page has said `hello`, and nothing to
 * anybody else: the browser lets only pages of the allow-list show the form, and here the origin of each message is held
 * against that list once more. Told are `hello {piece?, key?}`, `piece {piece}` and `key {key}`; answered with `ready`,
 * `height {height_px}`, `answer {piece, answer}`, `unanswered {why}`, `handed {piece, answer}` and `refused {why}`.
 */

import { byId } from './dom.js';

const VERSION = 1;

/** Whether the form is shown within a page that may do so; told by the server in the page itself. */
export function allowedOrigins() {
  const told = document.querySelector('meta[name="toile-embed-origins"]')?.content ?? '';
  return told.split(' ').filter(Boolean);
}

/** The page around the form, or nobody. */
export class Host {
  /**
   * @param {{open: (piece: object) => void, useKey: (key: string) => void}} listeners
   *   told when the other page gives a piece to start from, and a key to ask the server with
   * @param {Window} [page] this window; another one in tests
   */
  constructor(listeners, page = window) {
    this.listeners = listeners;
    this.page = page;
    this.origins = page.parent === page ? [] : allowedOrigins();
    this.origin = null;
    this.last = null;
    /** Comes true once the other page has said hello, with whether it brought a piece; false at once where there is none. */
    this.greeted = new Promise((resolve) => { this.greet = resolve; });
    if (this.origins.length === 0) {
      this.greet(false);
      return;
    }
    page.addEventListener('message', (event) => this.#heard(event));
    byId('hand-over').addEventListener('click', () => { if (this.last) this.#say('handed', this.last); });
  }

  /** An answer came for the piece in the form. */
  answered(piece, answer) {
    this.last = { piece, answer };
    this.#say('answer', this.last);
    this.#offer(true);
  }

  /**
   * What stands in the form has no answer.
   *
   * @param {string} why in words for a person
   */
  unanswered(why) {
    this.last = null;
    this.#say('unanswered', { why });
    this.#offer(false);
  }

  /** The answer to what stands in the form is on its way; the one before is no longer for handing over. */
  asking() {
    this.last = null;
    this.#offer(false);
  }

  #offer(may) {
    byId('hand-over-part').hidden = this.origin === null;
    byId('hand-over').disabled = !may;
  }

  #heard({ source, origin, data }) {
    if (source !== this.page.parent || !this.origins.includes(origin)) return;
    if (!data || typeof data !== 'object' || data.toile !== VERSION) return;
    if (this.origin === null && data.type === 'hello') this.#begin(origin);
    if (this.origin !== origin) return;
    this.#follow(data);
  }

  #begin(origin) {
    this.origin = origin;
    this.#say('ready', {});
    let told = 0;
    const measure = () => {
      const height = Math.ceil(this.page.document.documentElement.getBoundingClientRect().height);
      if (height !== told) this.#say('height', { height_px: height });
      told = height;
    };
    new ResizeObserver(measure).observe(this.page.document.documentElement);
    measure();
  }

  #follow({ type, piece, key }) {
    let brought = false;
    try {
      if (!['hello', 'piece', 'key'].includes(type)) throw new TypeError(`The message ${String(type).slice(0, 40)} is not known here.`);
      if (key !== undefined || type === 'key') this.listeners.useKey(keyIn(key));
      if (piece !== undefined || type === 'piece') {
        this.listeners.open(pieceIn(piece));
        brought = true;
      }
    } catch (cause) {
      // Only what is said of the message goes back; a fault of the form is for the console.
      if (!(cause instanceof TypeError)) throw cause;
      this.#say('refused', { why: cause.message });
    } finally {
      if (type === 'hello') this.greet(brought);
    }
  }

  #say(type, more) {
    if (this.origin !== null) this.page.parent.postMessage({ toile: VERSION, type, ...more }, this.origin);
  }
}

function pieceIn(piece) {
  if (!piece || typeof piece !== 'object' || Array.isArray(piece)) throw new TypeError('The piece is no object.');
  return piece;
}

function keyIn(key) {
  if (typeof key !== 'string' || key === '' || key.length > 200) throw new TypeError('The key is no text of up to 200 letters.');
  return key;
}
