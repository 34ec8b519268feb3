/**
 * The piece in the address: everything that was typed travels behind the `#`, which browsers do not send
 * to servers, so that a link opens the same piece again and nothing is stored anywhere. Pure.
 *
 * The page writes compressed JSON, to keep links short enough for a message. A program may as well write the
 * JSON itself in base64url; reading takes both.
 */

const PREFIX = '#p=';
/** The first byte of a zlib stream as browsers write it; JSON of a piece begins with `{` instead. */
const ZLIB = 0x78;
/** No piece that the server takes comes near this; a link that unpacks to more is not one of ours. */
const MOST_BYTES = 1_000_000;

/** A link that cannot be read. */
export class LinkError extends Error {
  name = 'LinkError';
}

/** Whether a fragment claims to carry a piece. */
export function carriesPiece(fragment) {
  return fragment.startsWith(PREFIX);
}

/**
 * @param {object} piece
 * @returns {Promise<string>} the fragment, with its `#`
 */
export async function fragmentOf(piece) {
  const packed = await through(new CompressionStream('deflate'), new TextEncoder().encode(JSON.stringify(piece)));
  let binary = '';
  for (const byte of packed) binary += String.fromCharCode(byte);
  return PREFIX + btoa(binary).replaceAll('+', '-').replaceAll('/', '_').replace(/=+$/, '');
}

/**
 * @param {string} fragment `location.hash`
 * @returns {Promise<object | null>} the piece, or `null` when the fragment carries none
 * @throws {LinkError} when it carries one that is damaged
 */
export async function pieceFrom(fragment) {
  if (!carriesPiece(fragment)) return null;
  let piece;
  try {
    const binary = atob(fragment.slice(PREFIX.length).replaceAll('-', '+').replaceAll('_', '/'));
    const sent = Uint8Array.from(binary, (letter) => letter.charCodeAt(0));
    const bytes = sent[0] === ZLIB ? await through(new DecompressionStream('deflate'), sent) : sent;
    piece = JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch (cause) {
    throw new LinkError('The link is cut off or damaged.', { cause });
  }
  if (!piece || typeof piece !== 'object' || Array.isArray(piece)) throw new LinkError('The link does not hold a piece.');
  return piece;
}

async function through(stream, bytes) {
  const chunks = [];
  let length = 0;
  for await (const chunk of read(new Blob([bytes]).stream().pipeThrough(stream))) {
    length += chunk.length;
    if (length > MOST_BYTES) throw new RangeError('too much for a piece');
    chunks.push(chunk);
  }
  return new Uint8Array(await new Blob(chunks).arrayBuffer());
}

/** The chunks of a stream; not every browser can loop over a stream itself. */
async function* read(stream) {
  const reader = stream.getReader();
  try {
    for (let step = await reader.read(); !step.done; step = await reader.read()) yield step.value;
  } finally {
    // A stream that has already failed refuses to be cancelled, and its failure is on its way to the caller.
    reader.cancel().catch(() => {});
  }
}
