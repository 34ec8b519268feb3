/**
 * Talking to the server. The only module that does.
 */

import { heldKey } from './key.js';

const BASE = '/api/v1';

/** Told in words when the server wants a key, or another one. */
let keyIsWanted = () => {};

/** @param {(why: string) => void} tell */
export function whenKeyIsWanted(tell) {
  keyIsWanted = tell;
}

/** An answer of the server that is not the one asked for, with the problem it describes. */
export class Refusal extends Error {
  name = 'Refusal';

  /**
   * @param {number} status
   * @param {{title?: string, detail?: string, errors?: {pointer: string, value: unknown, message: string, allowed?: string}[]}} problem
   * @param {string | null} retryAfter seconds or a date, as sent
   */
  constructor(status, problem, retryAfter) {
    super(problem.detail ?? problem.title ?? `status ${status}`);
    this.status = status;
    this.problem = problem;
    this.retryAfter = retryAfter;
  }

  /** The faults found in the entries; none when the server itself is in trouble. */
  get faults() {
    return Array.isArray(this.problem.errors) ? this.problem.errors : [];
  }
}

/** No answer came at all. */
export class Unreachable extends Error {
  name = 'Unreachable';
}

/**
 * The estimate of a piece.
 *
 * @param {object} piece
 * @param {{working?: boolean, signal?: AbortSignal}} [options]
 */
export async function estimate(piece, { working = false, signal } = {}) {
  return ask(`${BASE}/estimates?inputs=true${working ? '&working=true' : ''}`, (response) => response.json(), posted(piece, signal));
}

/**
 * The estimate of a piece with the signal of its pads while a finger comes down.
 *
 * @param {object} piece
 * @param {AbortSignal} [signal]
 */
export async function approach(piece, signal) {
  return ask(`${BASE}/estimates?approach=true`, (response) => response.json(), posted(piece, signal));
}

/**
 * The estimate of a piece with its runs looked at closely.
 *
 * @param {object} piece
 * @param {AbortSignal} [signal]
 */
export async function runs(piece, signal) {
  return ask(`${BASE}/estimates?runs=true`, (response) => response.json(), posted(piece, signal));
}

/**
 * The drawing of the charge on one pad.
 *
 * @param {object} piece
 * @param {number} pad
 * @param {AbortSignal} [signal]
 * @returns {Promise<string>} an SVG document
 */
export async function chargePicture(piece, pad, signal) {
  return ask(`${BASE}/pictures/charge?pad=${pad}`, (response) => response.text(), posted(piece, signal));
}

/** The lists of the library. */
export async function library() {
  const lists = ['threads', 'fabrics', 'controllers', 'metals'];
  const answers = await Promise.all(lists.map((list) => ask(`${BASE}/${list}`, (response) => response.json())));
  return Object.fromEntries(lists.map((list, index) => [list, answers[index][list]]));
}

/** The shop's rates. */
export async function rates() {
  return ask(`${BASE}/rates`, (response) => response.json());
}

/** The demo piece. */
export async function demo() {
  return ask('/demo.json', (response) => response.json());
}

/**
 * A spreadsheet with its answers, of the kind that was sent.
 *
 * @param {Blob} sheet bytes of the file, sent as they are
 * @param {string} type media type
 * @returns {Promise<Blob>}
 */
export async function batch(sheet, type) {
  return ask(`${BASE}/batches`, (response) => response.blob(), { method: 'POST', headers: { 'content-type': type }, body: sheet });
}

/**
 * How a spreadsheet is understood.
 *
 * @param {Blob} sheet bytes of the file; of CSV, the beginning is enough
 * @param {string} type media type
 * @param {AbortSignal} [signal]
 */
export async function batchPreview(sheet, type, signal) {
  return ask(`${BASE}/batches/preview`, (response) => response.json(), {
    method: 'POST', headers: { 'content-type': type }, body: sheet, signal,
  });
}

/**
 * Keeps a quote.
 *
 * @param {object} draft
 * @param {string} key the same for every try of the same request, so that it is done once
 * @returns {Promise<{quote: any, tag: string}>} the quote without piece and estimate, and the tag of its state
 */
export async function quoteCreate(draft, key) {
  return ask(`${BASE}/quotes`, tagged, sent('POST', draft, { 'idempotency-key': key }));
}

/** Writes a draft anew, when it is still in the state of this tag. */
export async function quoteChange(id, tag, draft) {
  return ask(`${BASE}/quotes/${id}`, tagged, sent('PUT', draft, { 'if-match': tag }));
}

/** Makes the next revision of a quote. */
export async function quoteRevise(id, draft, key) {
  return ask(`${BASE}/quotes/${id}/revisions`, tagged, sent('POST', draft, { 'idempotency-key': key }));
}

/** Brings a quote to another state, when it is still in the state of this tag. */
export async function quoteTurn(id, tag, state) {
  return ask(`${BASE}/quotes/${id}/state`, tagged, sent('POST', { state }, { 'if-match': tag }));
}

/** A quote, whole: by its id, its number, or number and revision. */
export async function quoteFind(name) {
  return ask(`${BASE}/quotes/${encodeURIComponent(name)}`, tagged);
}

/**
 * A page of quotes.
 *
 * @param {Record<string, string>} query
 * @returns {Promise<{quotes: any[], next: string | null}>}
 */
export async function quoteList(query) {
  return ask(`${BASE}/quotes?${new URLSearchParams(query)}`, (response) => response.json());
}

/** The quotes of a query as a spreadsheet. */
export async function quoteExport(query) {
  return ask(`${BASE}/quotes/export?${new URLSearchParams(query)}`, (response) => response.blob());
}

/** A quote for paper, as the text of an HTML document. */
export async function quotePaper(id) {
  return ask(`${BASE}/quotes/${id}/print`, (response) => response.text());
}

/** What differs between a quote and an estimate of today. */
export async function quoteRerun(id) {
  return ask(`${BASE}/quotes/${id}/rerun`, (response) => response.json(), { method: 'POST' });
}

async function tagged(response) {
  return { quote: await response.json(), tag: response.headers.get('etag') };
}

function sent(method, body, headers) {
  return { method, headers: { 'content-type': 'application/json', ...headers }, body: JSON.stringify(body) };
}

function posted(piece, signal) {
  return { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(piece), signal };
}

async function ask(address, read, options) {
  try {
    const response = await fetch(address, withKey(options));
    if (response.ok) return await read(response);
    const refusal = new Refusal(response.status, await problemIn(response), response.headers.get('retry-after'));
    if (response.status === 401) keyIsWanted(refusal.message);
    throw refusal;
  } catch (cause) {
    // A request called off by the page is no trouble of the network; whoever called it off knows.
    if (cause instanceof Refusal || cause.name === 'AbortError') throw cause;
    throw new Unreachable('The server does not answer.', { cause });
  }
}

function withKey(options = {}) {
  const key = heldKey();
  return key === null ? options : { ...options, headers: { ...options.headers, authorization: `Bearer ${key}` } };
}

async function problemIn(response) {
  try {
    const problem = await response.json();
    return problem && typeof problem === 'object' ? problem : {};
  } catch {
    return {};
  }
}
