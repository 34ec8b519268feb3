//! The result cells of one row, written once and used for every row that says the same.

use super::RESULT_COLUMNS;
use super::defuse::defused;
use super::fault::RowFault;
use super::record::Marks;
use toile_model::money::Decimal;
use toile_model::units::{self, Quantity, significant};
use toile_model::{ElectrodeKind, Estimate, Piece, Production, Verdict, cautions};

/// Significant digits of a result, the same as in JSON.
const DIGITS: i32 = 6;

/// How result cells are written.
#[derive(Debug, Clone, Copy)]
pub(super) struct Style {
    pub(super) marks: Marks,
    pub(super) decimal_comma: bool,
}

/// The result cells of a row, quoted as the dialect needs and joined by its delimiter.
#[derive(Debug, Clone)]
pub(super) struct Answer {
    /// The verdict; `None` for a row with a problem.
    pub(super) verdict: Option<Verdict>,
    text: Vec<u8>,
    ends: [usize; RESULT_COLUMNS.len()],
}

impl Answer {
    /// The cells of an estimate of one feature, with what there is to remark on its columns as the problem; `None` if one of
    /// its numbers is not finite, which no answer may show. What does not belong to the feature stays empty.
    pub(super) fn of_estimate(piece: &Piece, estimate: &Estimate, remark: &str, style: Style) -> Option<Self> {
        let mut cells = Cells::new(style);
        cells.text(estimate.verdict.word());
        cells.number(estimate.chance)?;
        for number in numbers(estimate) {
            match number {
                Some(number) => cells.number(number)?,
                None => cells.text(""),
            }
        }
        cells.production(estimate.production.as_ref()?)?;
        cells.text(&estimate.checks.get(estimate.weakest)?.sentence());
        cells.text(&cautions_cell(piece));
        cells.text(remark);
        Some(cells.finish(Some(estimate.verdict)))
    }

    /// Empty cells but for the problem, which names every fault.
    pub(super) fn of_faults(faults: &[RowFault], style: Style) -> Self {
        let mut cells = Cells::new(style);
        for _ in 1..RESULT_COLUMNS.len() {
            cells.text("");
        }
        cells.text(&faults.iter().map(RowFault::to_string).collect::<Vec<_>>().join(" "));
        cells.finish(None)
    }

    /// All cells with the delimiter between them.
    pub(super) fn joined(&self) -> &[u8] {
        &self.text
    }

    /// One cell.
    pub(super) fn cell(&self, k: usize) -> &[u8] {
        let start = if k == 0 { 0 } else { self.ends[k - 1] + 1 };
        &self.text[start..self.ends[k]]
    }
}

/// What is to be heeded: the subjects, strongest first. Where current goes into a person, in full, because nobody may have to
/// look elsewhere for that.
fn cautions_cell(piece: &Piece) -> String {
    let cautions = cautions(piece);
    if piece.electrodes.iter().any(|electrode| electrode.kind == ElectrodeKind::Stimulates) {
        return cautions.iter().map(|c| format!("{}: {}", c.subject, c.text)).collect::<Vec<_>>().join(" ");
    }
    cautions.iter().map(|c| c.subject).collect::<Vec<_>>().join("; ")
}

/// Numbers of each kind of feature, in the units of their columns.
fn numbers(estimate: &Estimate) -> [Option<f64>; 22] {
    let (pad, row, laid) = (estimate.pads.first(), estimate.light_rows.first(), estimate.laid_wires.first());
    let electrode = estimate.electrodes.first();
    let (reading, pulses) = (electrode.and_then(|e| e.reading.as_ref()), electrode.and_then(|e| e.stimulation.as_ref()));
    let wire = laid.and_then(|laid| laid.wire.as_ref());
    let heating = wire.and_then(|wire| wire.heating.as_ref());
    let in_unit = |quantity: &Quantity, si: Option<f64>| si.map(|si| quantity.from_si(si));
    let warmest_k = row.map(|row| row.ambient_k + row.rise_k[1]).or(heating.map(|h| h.ambient_k + h.rise_k[1]));
    [
        in_unit(&units::NEEDED_SIGNAL, pad.map(|pad| pad.signal_f)),
        in_unit(&units::MAX_STANDING, pad.map(|pad| pad.standing_f)),
        in_unit(&units::MAX_RUN, pad.map(|pad| pad.run_ohm).or(electrode.map(|e| e.run_ohm))),
        in_unit(&units::SETTLED, pad.map(|pad| pad.settled_fraction)),
        in_unit(&units::CAPACITANCE, pad.map(|pad| pad.pad_f)),
        in_unit(&units::CAPACITANCE, pad.map(|pad| pad.closed_form_f)),
        pad.map(|pad| 100.0 * pad.relative_error),
        in_unit(&units::LEAST_BRIGHTNESS, row.map(|row| row.min_over_max)),
        row.map(|row| row.light_v - row.needed_v),
        in_unit(&units::CURRENT, row.map(|row| row.supply_a)),
        in_unit(&units::NEEDED_LIFE, row.and_then(|row| row.life_s)),
        in_unit(&units::RUN_LENGTH, laid.map(|laid| laid.length_m)),
        wire.map(|wire| wire.ohm),
        heating.map(|heating| heating.power_w),
        in_unit(&units::MAX_TEMPERATURE, warmest_k),
        electrode.map(|electrode| electrode.impedance_10_hz_ohm),
        in_unit(&units::LOSS, reading.map(|reading| reading.loss)),
        in_unit(&units::AT_INPUT, reading.map(|reading| reading.noise_v)),
        in_unit(&units::AT_INPUT, reading.map(|reading| reading.hum_v)),
        in_unit(&units::CURRENT_DENSITY, pulses.map(|pulses| pulses.density_a_per_m2)),
        pulses.map(|pulses| pulses.charge_c * 1e6),
        in_unit(&units::PRESSURE, electrode.map(|electrode| electrode.pressure_pa)),
    ]
}

struct Cells {
    style: Style,
    text: Vec<u8>,
    ends: [usize; RESULT_COLUMNS.len()],
    done: usize,
    number: Vec<u8>,
}

impl Cells {
    fn new(style: Style) -> Self {
        Self { style, text: Vec::with_capacity(320), ends: [0; RESULT_COLUMNS.len()], done: 0, number: Vec::with_capacity(24) }
    }

    fn text(&mut self, value: &str) {
        if self.done > 0 {
            self.text.push(self.style.marks.delimiter);
        }
        self.style.marks.write(&defused(value), &mut self.text);
        self.ends[self.done] = self.text.len();
        self.done += 1;
    }

    /// Stitches, thread, minutes and money of the quantity asked for.
    fn production(&mut self, production: &Production) -> Option<()> {
        let cost = production.costing();
        self.number(production.job.stitches())?;
        self.number(production.job.threads.iter().map(|thread| thread.all_m().value).sum())?;
        self.number(cost.machine_s.0 / 60.0)?;
        let [low, high] = cost.unit_interval;
        for amount in [production.sample.quote.unit_price, cost.quote.unit_price, low, high, cost.quote.total] {
            self.money(amount);
        }
        self.text(production.currency().code);
        Some(())
    }

    /// An amount with all the decimals of its currency, with the decimal mark of the sheet.
    fn money(&mut self, amount: Decimal) {
        let amount = amount.to_string();
        self.text(&if self.style.decimal_comma { amount.replace('.', ",") } else { amount });
    }

    /// A number as JSON prints it, with the decimal mark of the sheet.
    fn number(&mut self, edge: f64) -> Option<()> {
        let rounded = significant(edge, DIGITS);
        if !rounded.is_finite() {
            return None;
        }
        let mut number = std::mem::take(&mut self.number);
        number.clear();
        serde_json::to_writer(&mut number, &rounded).ok()?;
        if self.style.decimal_comma
            && let Some(point) = number.iter_mut().find(|b| **b == b'.')
        {
            *point = b',';
        }
        self.text(std::str::from_utf8(&number).ok()?);
        self.number = number;
        Some(())
    }

    fn finish(self, verdict: Option<Verdict>) -> Answer {
        Answer { verdict, text: self.text, ends: self.ends }
    }
}
