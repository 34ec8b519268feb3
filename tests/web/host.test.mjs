// What the form and the page around it say to each other: to whom, and to nobody else. The browser suite tries it with two real pages.

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { Host } from '../../web/js/host.js';

const PORTAL = 'https://portal.example';

/** A window within another one, with as much of a page as a host needs. */
function framed(origins) {
  const said = [];
  const parent = { postMessage: (message, to) => said.push({ ...message, to }) };
  const parts = { 'hand-over': { addEventListener: (_, act) => { parts['hand-over'].press = act; } }, 'hand-over-part': {} };
  globalThis.document = {
    querySelector: () => ({ content: origins.join(' ') }),
    getElementById: (id) => parts[id],
  };
  globalThis.ResizeObserver = class { observe() {} };
  const page = {
    parent,
    addEventListener: (_, act) => { page.hear = act; },
    document: { documentElement: { getBoundingClientRect: () => ({ height: 700.2 }) } },
  };
  const opened = [];
  const keys = [];
  const host = new Host({ open: (piece) => { if (piece.pads === 7) throw new TypeError('no piece'); opened.push(piece); }, useKey: (key) => keys.push(key) }, page);
  const tell = (data, { origin = PORTAL, source = parent } = {}) => page.hear({ data, origin, source });
  return { host, page, said, opened, keys, parts, tell };
}

test('nothing is said before hello, and then to the origin that said it only', async () => {
  const { host, said, opened, keys, tell } = framed(['https://other.example', PORTAL]);
  host.answered({ a: 1 }, { b: 2 });
  tell({ toile: 1, type: 'piece', piece: { pads: [] } });
  assert.deepEqual([said, opened], [[], []]);
  tell({ toile: 1, type: 'hello', piece: { pads: [1] }, key: 'k' });
  assert.deepEqual(said.map(({ type, to }) => [type, to]), [['ready', PORTAL], ['height', PORTAL]]);
  assert.equal(said[1].height_px, 701);
  assert.deepEqual([opened, keys], [[{ pads: [1] }], ['k']]);
  assert.equal(await host.greeted, true);
  host.answered({ a: 1 }, { b: 2 });
  assert.deepEqual(said.at(-1), { toile: 1, type: 'answer', piece: { a: 1 }, answer: { b: 2 }, to: PORTAL });
  assert.ok(said.every(({ to }) => to === PORTAL));
});

test('other windows, other origins and other languages are not heard', () => {
  const { said, opened, tell } = framed([PORTAL]);
  const hello = { toile: 1, type: 'hello', piece: { pads: [] } };
  tell(hello, { source: {} });
  tell(hello, { origin: 'https://portal.example.evil.example' });
  tell(hello, { origin: 'null' });
  for (const odd of [null, 'hello', 5, {}, { type: 'hello' }, { toile: 2, type: 'hello' }]) tell(odd);
  assert.deepEqual([said, opened], [[], []]);
  // Of two that are named, the one that began is spoken to.
  const two = framed([PORTAL, 'https://other.example']);
  two.tell({ toile: 1, type: 'hello' });
  two.tell({ toile: 1, type: 'piece', piece: { pads: [] } }, { origin: 'https://other.example' });
  assert.deepEqual(two.opened, []);
});

test('what cannot be used is refused in words', async () => {
  const { host, said, tell, opened, keys } = framed([PORTAL]);
  tell({ toile: 1, type: 'hello', piece: { pads: 7 } });
  assert.equal(await host.greeted, false);
  for (const odd of [{ type: 'piece' }, { type: 'piece', piece: [] }, { type: 'key' }, { type: 'key', key: 'x'.repeat(201) }, { type: 'eat' }]) {
    tell({ toile: 1, ...odd });
  }
  assert.equal(said.filter(({ type }) => type === 'refused').length, 6);
  assert.ok(said.filter(({ type }) => type === 'refused').every(({ why }) => why.length > 5));
  assert.deepEqual([opened, keys], [[], []]);
});

test('only an answer to what stands in the form is handed over', () => {
  const { host, said, tell, parts } = framed([PORTAL]);
  tell({ toile: 1, type: 'hello' });
  host.answered({ a: 1 }, { b: 2 });
  parts['hand-over'].press();
  assert.equal(said.at(-1).type, 'handed');
  host.asking();
  assert.equal(parts['hand-over'].disabled, true);
  parts['hand-over'].press();
  host.unanswered('one entry needs another look.');
  parts['hand-over'].press();
  assert.deepEqual(said.filter(({ type }) => type === 'handed').length, 1);
  assert.equal(said.at(-1).type, 'unanswered');
});

test('a page that nobody shows has nobody to speak to', async () => {
  const alone = {};
  alone.parent = alone;
  const host = new Host({}, alone);
  assert.equal(await host.greeted, false);
  host.answered({}, {});
  host.unanswered('why');
});
