/**
 * The spreadsheet form: a CSV goes out as it is, and comes back as a download.
 */

import { byId, el } from './dom.js';

/**
 * @param {(sheet: Blob) => Promise<Blob>} answerSheet
 * @param {(cause: Error) => string} inWords what went wrong, for people
 */
export function setUpSheet(answerSheet, inWords) {
  const form = byId('sheet-form');
  const file = byId('sheet-file');
  const place = byId('sheet-answer');
  let address = null;

  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    const sheet = file.files[0];
    if (!sheet) {
      showFault('Choose a .csv file first.');
      file.focus();
      return;
    }
    showFault(null);
    const button = form.querySelector('button');
    button.disabled = true;
    place.replaceChildren(el('p', {}, `Working through ${sheet.name}.`));
    try {
      const answered = await answerSheet(sheet);
      if (address) URL.revokeObjectURL(address);
      address = URL.createObjectURL(answered);
      const name = sheet.name.replace(/(\.csv)?$/i, '-answered.csv');
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
