/**
 * The page: typing in the form asks for an answer, the last answer wins, and the address follows.
 */

import * as api from './api.js';
import { byId, el, uncover } from './dom.js';
import { Faults } from './errors.js';
import { goTo } from './fields.js';
import { Form } from './form.js';
import { Host } from './host.js';
import { lendKey } from './key.js';
import { carriesPiece, fragmentOf, LinkError, pieceFrom } from './link.js';
import { Quotes } from './quotes.js';
import { changeText, Result } from './result.js';
import { setUpSheet } from './sheet.js';
import { setUpSignIn } from './signin.js';
import { setUpSpreadKey } from './spreadkey.js';
import { inWords } from './trouble.js';
import { showFreshness, showNoVerdict } from './verdict.js';

/** Long enough to finish a number, short enough to feel at once. */
const TYPING_MS = 150;
/** An answer that comes sooner than this needs no word about being on its way. */
const PATIENCE_MS = 400;
/** Half-typed entries are left in peace for this long before the page remarks on them. */
const REMARK_MS = 700;
const ADDRESS_MS = 300;

let library = { threads: [], fabrics: [], controllers: [], metals: [] };
let demoPiece = null;
let asked = 0;
let underWay = null;
let takeBack = null;
let unanswered = false;
const timers = {};

const form = new Form(byId('form'), {
  changed: () => {
    unanswered = true;
    host.asking();
    later('answer', TYPING_MS, () => answer());
  },
  left: () => { if (unanswered) answer({ leaving: true }); },
  submitted: () => answer({ submitted: true }),
  demo: startFromDemo,
});
const faults = new Faults(byId('form'), byId('error-summary'), byId('error-list'));
const host = new Host({ open, useKey });
const result = new Result({ try: tryChange, go: goToInput });

/**
 * Asks for the answer to what stands in the form.
 *
 * @param {{submitted?: boolean, leaving?: boolean}} [why] the person asked for it, or left a field
 */
async function answer({ submitted = false, leaving = false } = {}) {
  clearTimeout(timers.answer);
  const turn = ++asked;
  underWay?.abort();
  const { piece, faults: unread } = form.read();
  if (unread.length > 0) {
    showFaults(unread, { submitted, leaving });
    return;
  }
  followInAddress(piece);

  underWay = new AbortController();
  later('patience', PATIENCE_MS, () => showFreshness('updating…'));
  try {
    const came = await api.estimate(piece, { working: byId('working-details').open, signal: underWay.signal });
    if (turn !== asked) return;
    unanswered = false;
    clearTimeout(timers.remark);
    faults.show([]);
    showFreshness(null);
    result.show(came, piece, library);
    host.answered(piece, came);
  } catch (cause) {
    if (turn !== asked || cause.name === 'AbortError') return;
    if (cause.name === 'Refusal' && cause.faults.length > 0) showFaults(cause.faults, { submitted, leaving });
    else showTrouble(inWords(cause));
  } finally {
    if (turn === asked) clearTimeout(timers.patience);
  }
}

/** Remarks on entries: at once when asked for or when a field is left, and after a pause while typing. */
function showFaults(found, { submitted, leaving }) {
  clearTimeout(timers.patience);
  const show = () => {
    faults.show(found, { focus: submitted });
    const count = found.length === 1 ? 'one entry needs' : `${found.length} entries need`;
    showFreshness(`Not updated: ${count} another look.`, { trouble: true });
    host.unanswered(`${count} another look.`);
    if (!result.answer) showNoVerdict();
  };
  if (submitted || leaving) {
    clearTimeout(timers.remark);
    show();
  } else {
    const turn = asked;
    later('remark', REMARK_MS, () => { if (turn === asked) show(); });
  }
}

/** Says that the server is in trouble. The entries could be read, so remarks on them are taken back. */
function showTrouble(text) {
  clearTimeout(timers.remark);
  faults.show([]);
  showFreshness(text, { trouble: true, retry: true });
  host.unanswered(text);
  if (!result.answer) showNoVerdict();
}

function tryChange(change) {
  takeBack = form.apply(change);
  byId('tried-text').textContent = takeBack
    ? `Tried: ${changeText(change)}.`
    : `This change has to be made by hand: ${changeText(change)}.`;
  byId('tried').hidden = false;
  byId('undo').hidden = !takeBack;
  if (takeBack) byId('undo').focus({ preventScroll: true });
}

function undoChange() {
  takeBack?.();
  takeBack = null;
  byId('tried').hidden = true;
  const heading = byId('changes-title');
  heading.tabIndex = -1;
  heading.focus({ preventScroll: true });
}

function goToInput(pointer) {
  const control = form.control(pointer) ?? byId('form').querySelector(`[data-pointer^="${CSS.escape(pointer)}/"]`);
  if (control) goTo(control);
}

function startFromDemo() {
  if (demoPiece) open(demoPiece);
}

/** Goes on with a key that the page around the form lends; before the start, everything is asked for anyway. */
function useKey(key) {
  lendKey(key);
  if (!demoPiece) return;
  takeLibrary();
  answer();
}

function open(piece) {
  if (!piece) return;
  byId('tried').hidden = true;
  takeBack = null;
  result.forgetPad();
  form.load(piece);
  answer();
}

/** Opens the piece of the address, or the demo where the address holds none or a damaged one. */
async function openAddress() {
  let remark = null;
  try {
    const piece = await pieceFrom(location.hash);
    if (piece) {
      open(piece);
      showLinkRemark(null);
      return;
    }
  } catch (cause) {
    // A readable link may still hold something that is no piece, such as pads that are not a list.
    if (!(cause instanceof LinkError || cause instanceof TypeError)) throw cause;
    remark = `${cause.message} Below is the demo piece instead.`;
  }
  showLinkRemark(remark);
  open(demoPiece);
}

function showLinkRemark(text) {
  byId('link-remark').hidden = !text;
  byId('link-remark').textContent = text ?? '';
}

function followInAddress(piece) {
  later('address', ADDRESS_MS, async () => {
    const address = await linkTo(piece);
    history.replaceState(null, '', new URL(address).hash);
    byId('print-link').replaceChildren('Opens this piece again: ', el('a', { href: address }, address));
  });
}

async function linkTo(piece) {
  return new URL(await fragmentOf(piece), location.href).href;
}

async function copy(text, what) {
  byId('copy-by-hand').hidden = true;
  try {
    await navigator.clipboard.writeText(text);
    byId('copied').textContent = `${what} copied.`;
  } catch {
    // Pages outside a secure context may not copy; selecting the text for the person is the next best.
    byId('copied').textContent = '';
    byId('copy-by-hand').hidden = false;
    byId('copy-text').value = text;
    byId('copy-text').select();
  }
  later('copied', 4000, () => { byId('copied').textContent = ''; });
}

function later(name, ms, act) {
  clearTimeout(timers[name]);
  timers[name] = setTimeout(act, ms);
}

function setUpPage() {
  byId('copy-link').addEventListener('click', async () => copy(await linkTo(form.read().piece), 'Link'));
  byId('copy-json').addEventListener('click', () => copy(JSON.stringify(form.read().piece, null, 2), 'Request'));
  byId('print').addEventListener('click', () => window.print());
  byId('retry').addEventListener('click', () => answer({ submitted: true }));
  byId('undo').addEventListener('click', undoChange);
  byId('working-details').addEventListener('toggle', (event) => { if (event.target.open) answer(); });
  setUpSpreadKey(byId('form'));
  setUpSheet(api, inWords);
  new Quotes({
    read: () => form.read(),
    load: open,
    inWords,
    showFaults: (found) => showFaults(found, { submitted: false, leaving: true }),
  });
  setUpSignIn({ whenWanted: api.whenKeyIsWanted, used: () => { takeLibrary(); answer(); } });
  window.addEventListener('online', () => answer());
  window.addEventListener('hashchange', () => { if (carriesPiece(location.hash)) openAddress(); });
  // Jumps inside the page must not replace the piece in the address.
  document.addEventListener('click', (event) => {
    const link = event.target.closest('a[href^="#"]');
    if (!link || event.defaultPrevented) return;
    event.preventDefault();
    const target = document.getElementById(link.hash.slice(1));
    if (!target) return;
    uncover(target);
    target.focus();
    target.scrollIntoView();
  });
}

async function start() {
  setUpPage();
  const brought = await host.greeted;
  const lists = takeLibrary();
  try {
    demoPiece = await api.demo();
  } catch (cause) {
    // A link brings its own piece; without one there is nothing to show but the trouble.
    if (!brought && !carriesPiece(location.hash)) showTrouble(inWords(cause));
  }
  if (!brought) await openAddress();
  await lists;
}

async function takeLibrary() {
  try {
    library = await api.library();
    form.setLibrary(library);
    form.setRates(await api.rates());
    byId('library-remark').hidden = true;
    if (result.answer) result.show(result.answer, result.piece, library);
  } catch (cause) {
    byId('library-remark').hidden = false;
    byId('library-remark').textContent = `The library of fabrics, threads and controllers did not come. ${inWords(cause)}`;
  }
}

start();
