/**
 * What went wrong between the page and the server, in words for the person at the desk. Pure.
 */

/**
 * @param {Error & {status?: number, problem?: any, retryAfter?: string | null, faults?: object[]}} cause
 * @returns {string}
 */
export function inWords(cause) {
  if (cause.name === 'Unreachable') return 'The server does not answer. Check the connection; what you typed is still here.';
  if (cause.name !== 'Refusal') return `The page stumbled: ${cause.message}`;
  if (cause.status === 429) return `Too many questions at once. ${waitText(cause.retryAfter)}`;
  if (cause.status >= 500) return `The server is in trouble (status ${cause.status}). ${waitText(cause.retryAfter)} What you typed is still here.`;
  const faults = (cause.faults ?? []).flatMap((fault) => [fault.message, fault.allowed && `Allowed: ${fault.allowed}`]);
  return [cause.problem?.title, cause.problem?.detail, ...faults]
    .filter(Boolean)
    .map((text) => (/[.!?:]$/.test(text) ? text : `${text}.`))
    .filter((text, index, all) => all.indexOf(text) === index)
    .join(' ') || `The server refused this (status ${cause.status}).`;
}

function waitText(retryAfter) {
  const seconds = Number(retryAfter);
  return retryAfter && Number.isFinite(seconds) ? `Try again in ${seconds} s.` : 'Try again in a moment.';
}
