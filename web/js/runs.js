/**
 * The runs of pads and electrodes: how two threads share the current, and what a broken stitch does.
 */

import { el } from './dom.js';
import { quantity } from './format.js';
import { table } from './tables.js';

/**
 * Where the bobbin conducts too, over which length the threads share the current.
 *
 * @param {HTMLElement} place
 * @param {any[]} pads of the answer
 */
export function showTransfer(place, pads) {
  place.replaceChildren(...pads.filter((pad) => pad.transfer_length_mm !== null).map((pad) => el('li', {},
    el('strong', {}, `Pad ${pad.name}: `), transferText(pad))));
}

/** How the threads of a run share the current, in a sentence. */
export function transferText({ run_ohm: run, parallel_rule_ohm: rule, transfer_length_mm: length }) {
  const more = (run / rule - 1) * 100;
  return `${quantity(run, 'ohm')}; needle and bobbin thread share the current over ${quantity(length, 'mm')}. `
    + `The rule “both in parallel” would say ${quantity(rule, 'ohm')}${more < 0.05 ? ', the same' : `, ${quantity(more, '%', 2)} less`}.`;
}

/**
 * @param {{runs: any[]}} answer
 * @returns {Node[]}
 */
export function showFaults({ runs }) {
  const ohm = (value) => (value === null ? 'open' : quantity(value, 'ohm'));
  const none = (value, unit) => (value === null ? 'no limit' : quantity(value, unit));
  const charged = ({ pointer }) => pointer.startsWith('/pads/');
  const rows = runs.map(({ pad, run_ohm: run, passes, faults: [worst], ...reach }) => [
    pad, `${quantity(run, 'ohm')} in ${passes} ${passes === 1 ? 'pass' : 'passes'}`,
    worst ? `${worst.thread === 'top' ? 'needle' : 'bobbin'} thread, stitch ${worst.stitch}` : '',
    ...(worst ? [ohm(worst.run_ohm), ohm(worst.one_pass_ohm), ohm(worst.one_more_pass_ohm)] : ['', '', '']),
    ...(charged(reach) ? [none(reach.largest_charge_frequency_khz, 'kHz'), none(reach.longest_run_mm, 'mm')] : ['', '']),
  ]);
  return [
    table('One broken stitch, the one that hurts most', ['Run of', 'Whole', 'Broken', 'Then', 'With one pass', 'With one pass more', 'Fastest charging', 'Longest run'], rows),
    el('p', { class: 'hint' }, 'Stitches are counted from the pad or electrode. Another pass bridges a broken stitch where the passes touch each other.'),
  ];
}
