/**
 * Quotes: keep the piece of the form with what goes around it, look for one, open it, bring it to another state.
 */

import * as api from './api.js';
import { byId, el } from './dom.js';
import { heldKey } from './key.js';
import { cellsOf, fieldText, lineOf, nameOf, saveWords, sideText, turnsOf } from './quotewords.js';
import { table } from './tables.js';

const PAGE = '20';
const HEADINGS = ['Quote', 'For', 'Title', 'State', 'Verdict', 'Pieces', 'Total', 'Valid until'];

/** The part of the page that keeps and finds quotes. */
export class Quotes {
  #open = null;
  #tag = '';
  #query = {};
  #shown = [];
  #next = null;
  #attempt = { content: '', key: '' };

  /**
   * @param {{read: () => {piece: object, faults: object[]}, load: (piece: object) => void, inWords: (cause: Error) => string,
   *   showFaults: (faults: object[]) => void}} page how to read and fill the form, and to remark on its entries
   */
  constructor(page) {
    this.page = page;
    byId('quote-form').addEventListener('submit', (event) => this.#submitted(event, () => this.#save()));
    byId('quote-search').addEventListener('submit', (event) => this.#submitted(event, () => this.#search()));
    byId('quote-new').addEventListener('click', () => this.#forget());
    byId('quote-more').addEventListener('click', () => this.#act(() => this.#more()));
    byId('quote-rerun').addEventListener('click', () => this.#act(() => this.#rerun()));
    byId('quote-export').addEventListener('click', () => this.#act(() => this.#export()));
    byId('quote-print').addEventListener('click', (event) => {
      // Without a key the link leads there by itself. A key goes with a request, never into an address.
      if (heldKey() === null) return;
      event.preventDefault();
      // Opened at once: later the browser would not take it for what the click asked for.
      const paper = window.open('', '_blank');
      this.#act(() => this.#paper(paper));
    });
    byId('quote-turns').addEventListener('click', (event) => {
      const { state } = event.target.closest('button')?.dataset ?? {};
      if (state) this.#act(() => this.#turn(state));
    });
    byId('quote-list').addEventListener('click', (event) => {
      const { quote } = event.target.closest('button')?.dataset ?? {};
      if (quote) this.#act(() => this.#find(quote));
    });
    byId('quotes-part').addEventListener('toggle', (event) => {
      // The list is asked for when somebody wants to see it.
      if (event.target.open && this.#shown.length === 0) this.#act(() => this.#search());
    });
    this.#showOpen();
  }

  #submitted(event, act) {
    event.preventDefault();
    this.#act(act);
  }

  /** Does one thing after the other; what goes wrong is said beside the buttons. */
  async #act(act) {
    const part = byId('quotes-part');
    if (part.getAttribute('aria-busy') === 'true') return;
    part.setAttribute('aria-busy', 'true');
    this.#fault(null);
    try {
      await act();
    } catch (cause) {
      this.#failed(cause);
    } finally {
      part.removeAttribute('aria-busy');
    }
  }

  #failed(cause) {
    if (cause.status === 412) {
      this.#fault('Somebody changed this quote in the meantime. Open it again to see what it says now; what you typed is still here.');
      return;
    }
    const own = (cause.faults ?? []).filter((fault) => !fault.pointer.startsWith('/piece'));
    const ofPiece = (cause.faults ?? []).filter((fault) => fault.pointer.startsWith('/piece'));
    const control = (fault) => byId('quotes-part').querySelector(`[data-quote="${CSS.escape(fault.pointer)}"]`);
    for (const fault of own) control(fault)?.setAttribute('aria-invalid', 'true');
    if (ofPiece.length > 0) this.page.showFaults(ofPiece.map((fault) => ({ ...fault, pointer: fault.pointer.slice('/piece'.length) })));
    // What stands in this form is told by the names that it has here.
    const named = own.length > 0 && ofPiece.length === 0 && own.every(control);
    const told = ({ message, allowed, ...fault }) => `${control(fault).labels[0].textContent}: ${message}${allowed ? ` Allowed: ${allowed}.` : ''}`;
    this.#fault(named ? own.map(told).join(' ') : this.page.inWords(cause));
    byId('quotes-part').querySelector('[aria-invalid="true"]')?.focus();
  }

  #fault(message) {
    const place = byId('quote-error');
    place.hidden = !message;
    place.replaceChildren(...(message ? [el('span', { class: 'heard' }, 'Error: '), message] : []));
    if (!message) for (const field of byId('quote-form').querySelectorAll('[aria-invalid]')) field.removeAttribute('aria-invalid');
  }

  #say(text) {
    byId('quote-said').textContent = text;
  }

  #draft() {
    const { piece, faults } = this.page.read();
    if (faults.length > 0) {
      this.page.showFaults(faults);
      throw new Error('some entries of the piece cannot be read yet; they are marked in the form.');
    }
    const text = (id) => byId(id).value.trim();
    const draft = { customer_reference: text('quote-customer'), terms: byId('quote-terms').value, piece };
    if (text('quote-title')) draft.title = text('quote-title');
    if (text('quote-valid')) draft.valid_until = text('quote-valid');
    return draft;
  }

  async #save() {
    const draft = this.#draft();
    const open = this.#open;
    const name = open?.id ?? '';
    if (open?.state === 'draft') {
      this.#took(await api.quoteChange(name, this.#tag, draft));
      this.#say(`Saved: ${nameOf(this.#open)}.`);
    } else {
      const key = this.#keyFor(JSON.stringify([name, draft]));
      this.#took(await (open ? api.quoteRevise(name, draft, key) : api.quoteCreate(draft, key)));
      this.#attempt = { content: '', key: '' };
      this.#say(open ? `Revision made: ${nameOf(this.#open)}.` : `Kept: ${nameOf(this.#open)}.`);
    }
    await this.#search();
  }

  /** The key of a request: the same when the same content is sent again because no answer came. */
  #keyFor(content) {
    if (this.#attempt.content !== content) {
      const bytes = crypto.getRandomValues(new Uint8Array(16));
      this.#attempt = { content, key: Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('') };
    }
    return this.#attempt.key;
  }

  async #turn(state) {
    this.#took(await api.quoteTurn(this.#open.id, this.#tag, state));
    this.#say(`${nameOf(this.#open)} is ${state}.`);
    byId('quote-line').focus();
    await this.#search();
  }

  async #find(name) {
    const found = await api.quoteFind(name);
    this.#took(found);
    const { quote } = found;
    byId('quote-customer').value = quote.customer_reference;
    byId('quote-title').value = quote.title;
    byId('quote-valid').value = quote.valid_until;
    byId('quote-terms').value = quote.terms;
    this.page.load(quote.piece);
    this.#say(`Opened: ${nameOf(quote)}.`);
    byId('quote-line').focus();
  }

  #took({ quote, tag }) {
    this.#open = quote;
    this.#tag = tag;
    byId('quote-compare').replaceChildren();
    this.#showOpen();
  }

  #forget() {
    this.#open = null;
    this.#tag = '';
    for (const id of ['quote-customer', 'quote-title', 'quote-valid', 'quote-terms']) byId(id).value = '';
    byId('quote-compare').replaceChildren();
    this.#showOpen();
    byId('quote-customer').focus();
  }

  #showOpen() {
    const quote = this.#open;
    byId('quote-open').hidden = !quote;
    byId('quote-save').textContent = saveWords(quote);
    if (!quote) return;
    byId('quote-line').textContent = lineOf(quote);
    byId('quote-print').href = quote.print_href;
    byId('quote-turns').replaceChildren(...turnsOf(quote.state).map(([state, words]) => (
      el('button', { type: 'button', class: 'small', 'data-state': state }, words))));
  }

  async #search() {
    this.#query = { limit: PAGE };
    for (const [name, id] of [['text', 'quote-text'], ['state', 'quote-in-state']]) {
      const value = byId(id).value.trim();
      if (value) this.#query[name] = value;
    }
    this.#show([], await api.quoteList(this.#query));
  }

  async #more() {
    const before = this.#shown.length;
    this.#show(this.#shown, await api.quoteList({ ...this.#query, after: this.#next }));
    byId('quote-list').querySelectorAll('button')[before]?.focus();
  }

  #show(before, { quotes, next }) {
    this.#shown = [...before, ...quotes];
    this.#next = next;
    byId('quote-more').hidden = !next;
    const row = (quote) => [
      el('button', { type: 'button', class: 'small', 'data-quote': quote.id }, 'Open ', `${quote.number}.${quote.revision}`), ...cellsOf(quote)];
    byId('quote-list').replaceChildren(this.#shown.length > 0
      ? table('Quotes found', HEADINGS, this.#shown.map(row))
      : el('p', {}, 'No quote fits.'));
  }

  async #rerun() {
    const rerun = await api.quoteRerun(this.#open.id);
    const parts = [el('p', {}, rerun.sentence)];
    const sides = ({ then, today, unit }) => [sideText(then, unit), sideText(today, unit)];
    if (rerun.causes.length > 0) {
      parts.push(table('What goes in and is another today', ['What', 'Then', 'Today'], rerun.causes.map((cause) => [cause.name, ...sides(cause)])));
    }
    if (rerun.differences.length > 0) {
      parts.push(table('What comes out and is another today', ['What', 'Field', 'Then', 'Today'],
        rerun.differences.map((one) => [one.name, fieldText(one.field), ...sides(one)])));
    }
    byId('quote-compare').replaceChildren(...parts);
    this.#say('Held against today.');
  }

  async #paper(paper) {
    if (!paper) throw new Error('the browser does not open another window for the quote.');
    try {
      const text = await api.quotePaper(this.#open.id);
      // What the paper is dressed by lives at the server's address, which a document from memory does not have.
      const whole = text.replaceAll('="/', `="${location.origin}/`);
      const address = URL.createObjectURL(new Blob([whole], { type: 'text/html;charset=utf-8' }));
      paper.location.replace(address);
      setTimeout(() => URL.revokeObjectURL(address), 60_000);
    } catch (cause) {
      paper.close();
      throw cause;
    }
  }

  async #export() {
    const { limit, ...query } = this.#query;
    const address = URL.createObjectURL(await api.quoteExport(query));
    const link = el('a', { href: address, download: 'quotes.csv' });
    link.click();
    // The browser has taken it over by then.
    setTimeout(() => URL.revokeObjectURL(address), 10_000);
    this.#say('The quotes are saved as quotes.csv.');
  }
}
