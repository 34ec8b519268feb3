/**
 * Making the piece, on the page: what it takes, how long, and what it costs, each with its interval.
 */

import { el } from './dom.js';
import { exact, interval, listed, number, quantity, sentenceCase, share } from './format.js';
import { table } from './tables.js';

/** What the minutes go to, in the order of the work. */
const MINUTES = [
  ['drawing', 'Drawing the stitch file'], ['set_up', 'Setting up and threading'], ['sewing', 'Sewing'], ['trims', 'Trims'],
  ['colour_changes', 'Changes of colour'], ['lights', 'Placing lights'], ['bobbins', 'Bobbins'], ['thread_breaks', 'Thread breaks'],
  ['frames', 'Exchange of frames'], ['hooping', 'Hooping'], ['bench', 'Terminals, patches, boards, jig'], ['finishing', 'Finishing and testing'],
  ['attendance', 'Looking after the machine'], ['jig_making', 'Making the jig'],
];

/**
 * @param {HTMLElement} part the section
 * @param {any} production of the answer
 */
export function showProduction(part, production) {
  part.hidden = !production;
  if (!production) return;
  const place = (name) => part.querySelector(`[data-place="${name}"]`);
  place('sentence').textContent = production.sentence;
  place('takes').textContent = takesText(production);
  place('prices').replaceChildren(pricesTable(production));
  place('lines').replaceChildren(linesTable(production.series, production.currency), linesTable(production.sample, production.currency));
  place('minutes').replaceChildren(minutesTable(production));
  place('parts').replaceChildren(partsTable(production));
  place('rates').replaceChildren(...ratesTables(production));
  place('notes').replaceChildren(...production.notes.map((note) => el('li', {}, sentenceCase(note), '.')));
}

/** Money as it came, with its digits in groups; the last digit is as exact as the first. */
export function money(amount, currency) {
  const [whole, minor] = amount.replace('-', '−').split('.');
  const grouped = whole.replace(/\d{5,}/, (digits) => digits.replace(/\B(?=(\d{3})+$)/g, '\u202f'));
  return `${grouped}${minor ? `.${minor}` : ''}${currency ? `\u202f${currency}` : ''}`;
}

/** What goes into one piece, in a sentence. */
export function takesText({ stitches, threads, plain_needle_m: needle, plain_bobbin_m: bobbin, laid_m: laid, trims, needles, series }) {
  const metres = (value, ends) => (ends[0] < ends[1] ? `${quantity(value, 'm')} (${interval(ends, 'm')})` : quantity(value, 'm'));
  const conductive = threads.flatMap((thread) => [
    thread.needle_m > 0 && `${metres(thread.needle_m, thread.needle_m_interval_95)} of ${thread.thread}`,
    thread.bobbin_m > 0 && `${metres(thread.bobbin_m, thread.bobbin_m_interval_95)} of ${thread.thread} on the bobbin`,
  ]);
  const plain = [needle > 0 && `${quantity(needle, 'm')} of plain needle thread`, bobbin > 0 && `${quantity(bobbin, 'm')} of plain bobbin thread`];
  const takes = [`${exact(stitches)} stitches`, ...conductive, ...plain, laid > 0 && `${quantity(laid, 'm')} of laid wire`].filter(Boolean);
  const stops = `${exact(trims)} ${trims === 1 ? 'trim' : 'trims'}, ${exact(needles)} ${needles === 1 ? 'needle' : 'needles'}`;
  const output = series.pieces_per_hour && ` ${sentenceCase(number(series.pieces_per_hour))} good pieces an hour on ${series.heads} ${series.heads === 1 ? 'head' : 'heads'}.`;
  return `One piece takes ${listed(takes)}; ${stops}.${output || ''}`;
}

function pricesTable({ sample, series, price_breaks: breaks, currency }) {
  const row = (name, cost) => [
    name,
    el('strong', {}, money(cost.unit_price, currency)),
    `${money(cost.unit_price_interval_95[0])} to ${money(cost.unit_price_interval_95[1], currency)}`,
    money(cost.total, currency),
    duration(cost.machine_minutes),
    duration(cost.labour_minutes),
  ];
  const pieces = (count) => `${exact(count)} ${count === 1 ? 'piece' : 'pieces'}`;
  const rows = [row('Sample', sample), ...breaks.map((step) => row(pieces(step.quantity), step))];
  const prices = table('Price and time', ['Quantity', 'Each', '95 of 100 lie in', 'In all', 'Machine', 'People'], rows);
  prices.classList.add('prices');
  for (const [index, step] of breaks.entries()) {
    if (step.quantity === series.quantity) prices.querySelectorAll('tbody tr')[index + 1].setAttribute('aria-current', 'true');
  }
  return prices;
}

function linesTable(cost, currency) {
  const rows = cost.lines.map((line) => [
    sentenceCase(line.what),
    line.quantity ? `${line.quantity}${line.unit ? `\u202f${line.unit}` : ''}` : '',
    line.rate ? money(line.rate, currency) : '',
    money(line.amount, currency),
  ]);
  rows.push(['In all', '', '', el('strong', {}, money(cost.total, currency))]);
  const title = cost.quantity === 1 && cost.minutes.drawing > 0 ? 'The sample, line by line' : `${exact(cost.quantity)} of the series, line by line`;
  return table(title, ['For', 'Quantity', 'Rate', 'Amount'], rows);
}

function minutesTable({ sample, series }) {
  const used = MINUTES.filter(([key]) => sample.minutes[key] > 0 || series.minutes[key] > 0);
  const rows = used.map(([key, name]) => [name, quantity(sample.minutes[key], 'min'), quantity(series.minutes[key], 'min')]);
  const ends = (cost, who) => `${quantity(cost[`${who}_minutes`], 'min')} (${interval(cost[`${who}_minutes_interval_95`], 'min')})`;
  rows.push(['The machine in all', ends(sample, 'machine'), ends(series, 'machine')]);
  rows.push(['People in all, without the drawing', ends(sample, 'labour'), ends(series, 'labour')]);
  return table('Minutes', ['What', 'Sample', `Series of ${exact(series.quantity)}`], rows);
}

function partsTable({ parts }) {
  return table('What is sewn on one piece', ['Part', 'Stitches', 'Needle thread', 'Bobbin thread'], parts.map((part) => [
    part.pointer ? el('a', { href: '#form', 'data-go': part.pointer }, sentenceCase(part.what)) : sentenceCase(part.what),
    exact(part.stitches), quantity(part.needle_m, 'm'), quantity(part.bobbin_m, 'm'),
  ]));
}

function ratesTables({ assumptions, series }) {
  if (!assumptions) return [];
  const { rates, prices, currency, shop } = assumptions;
  const standing = (status) => el('span', { class: `standing standing-${status.replaceAll(' ', '-')}` }, status);
  const go = (field, name) => el('a', { href: '#form', 'data-go': `/production/rates/${field}` }, sentenceCase(name));
  const causes = (series.shares ?? []).map(({ what, share: part }) => el('li', {}, `${sentenceCase(what)}: ${share(part)}`));
  return [
    el('p', {}, `What the spread of the price of the series comes from:`),
    el('ul', {}, ...causes),
    table(`Prices of ${shop}`, ['Rate', 'Amount', 'Source', 'Standing'], prices.map((price) => [
      go(price.field, price.name), price.unit === '%' ? `${price.amount}\u202f%` : `${money(price.amount, currency)} ${price.unit}`, price.source, standing(price.status),
    ])),
    table('Pace', ['Rate', 'Value', '95 of 100 lie in', 'Source', 'Standing'], rates.map((rate) => [
      go(rate.field, rate.name), quantity(rate.value, rate.unit), rate.spread === 'exact' ? 'exact' : interval(rate.interval_95, rate.unit),
      rate.source, standing(rate.status),
    ])),
  ];
}

/** Minutes up to two hours, hours beyond. */
function duration(minutes) {
  return minutes < 120 ? quantity(minutes, 'min') : quantity(minutes / 60, 'h');
}
