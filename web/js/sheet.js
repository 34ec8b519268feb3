/**
 * The spreadsheet form: once a file is chosen, how it is understood is shown; then it goes out as it is, and comes back
 * as a download of the same kind.
 */

import { byId, el } from './dom.js';
import { table } from './tables.js';

const XLSX = 'application/vnd.openxmlformats-officedocument.spreadsheetml.sheet';
const ODS = 'application/vnd.oasis.opendocument.spreadsheet';

/** Beginning of a CSV file that is sent to be previewed, bytes. */
const ENOUGH = 512 * 1024;

/**
 * The media type of a file by its name.
 *
 * @param {string} name
 */
export function mediaType(name) {
  if (/\.xlsx$/i.test(name)) return XLSX;
  return /\.ods$/i.test(name) ? ODS : 'text/csv';
}

/**
 * The name of the answer to a file: a workbook comes back as xlsx.
 *
 * @param {string} name
 */
export function answeredName(name) {
  const stem = name.replace(/\.(csv|xlsx|ods)$/i, '');
  return `${stem}-answered.${mediaType(name) === 'text/csv' ? 'csv' : 'xlsx'}`;
}

/**
 * What a column was understood as, in words.
 *
 * @param {{understood: string, name?: string, unit?: string, near?: string}} column
 */
export function meaningOf(column) {
  if (column.understood === 'field') return column.unit ? `${column.name}, in ${column.unit}` : column.name;
  if (column.understood === 'result') return `${column.name}, written anew`;
  return column.near ? `kept, not read; perhaps ${column.near} is meant` : 'kept, not read';
}

/**
 * @param {{batch: (sheet: Blob, type: string) => Promise<Blob>, batchPreview: (sheet: Blob, type: string, signal: AbortSignal) => Promise<object>}} api
 * @param {(cause: Error) => string} inWords what went wrong, for people
 */
export function setUpSheet(api, inWords) {
  const form = byId('sheet-form');
  const file = byId('sheet-file');
  const place = byId('sheet-answer');
  const seenAs = byId('sheet-seen');
  const preview = byId('sheet-preview');
  let address = null;
  let asked = null;

  file.addEventListener('change', async () => {
    asked?.abort();
    asked = new AbortController();
    const { signal } = asked;
    const sheet = file.files[0];
    showFault(null);
    place.replaceChildren();
    preview.replaceChildren();
    seenAs.textContent = '';
    if (!sheet) return;
    const type = mediaType(sheet.name);
    try {
      const seen = await api.batchPreview(type === 'text/csv' ? sheet.slice(0, ENOUGH) : sheet, type, signal);
      if (signal.aborted) return;
      seenAs.textContent = inShort(sheet.name, seen);
      preview.replaceChildren(...previewed(seen));
    } catch (cause) {
      if (!signal.aborted) showFault(inWords(cause));
    }
  });

  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    const sheet = file.files[0];
    if (!sheet) {
      showFault('Choose a .csv, .xlsx or .ods file first.');
      file.focus();
      return;
    }
    showFault(null);
    const button = form.querySelector('button');
    button.disabled = true;
    place.replaceChildren(el('p', {}, `Working through ${sheet.name}.`));
    try {
      const answered = await api.batch(sheet, mediaType(sheet.name));
      if (address) URL.revokeObjectURL(address);
      address = URL.createObjectURL(answered);
      const name = answeredName(sheet.name);
      place.replaceChildren(el('p', {}, 'Done. ', el('a', { href: address, download: name, id: 'sheet-download' }, `Save ${name}`)));
    } catch (cause) {
      place.replaceChildren();
      showFault(inWords(cause));
    } finally {
      button.disabled = false;
    }
  });

  function showFault(message) {
    const fault = byId('sheet-error');
    fault.hidden = !message;
    fault.replaceChildren(...(message ? [el('span', { class: 'heard' }, 'Error: '), message] : []));
    if (message) file.setAttribute('aria-invalid', 'true');
    else file.removeAttribute('aria-invalid');
  }
}

function inShort(name, seen) {
  const read = seen.columns.filter((column) => column.understood === 'field').length;
  const place = seen.sheet ? `sheet ${seen.sheet}, ` : '';
  return `${name}: ${place}header in row ${seen.header_row}, ${read} of ${seen.columns.length} columns read.`;
}

function previewed(seen) {
  const faulty = seen.rows.filter((row) => row.problems.length > 0);
  return [
    ...seen.notes.map((note) => el('p', { class: 'hint' }, note)),
    table('How the columns are read', ['Column', 'Read as', 'Meaning', 'Example', 'Which is'], seen.columns.map((column) => [
      column.header || '(no name)', meaningOf(column), column.meaning ?? '', column.example ?? '',
      column.read_as ?? (column.not_read ? `not read: ${column.not_read}` : ''),
    ])),
    faulty.length === 0
      ? el('p', {}, seen.rows.length === 0 ? 'No row stands below the header.' : `The first ${seen.rows.length} rows can be read.`)
      : table('Rows that cannot be read', ['Row', 'Column', 'Given', 'Why', 'Allowed'], faulty.flatMap((row) => (
        row.problems.map((problem) => [String(row.row), problem.column, problem.given, problem.message, problem.allowed])))),
  ];
}
