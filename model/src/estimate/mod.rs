//! The one call most callers need: a piece and the library in, an estimate out.
//!
//! One piece is read into inputs with spreads (`input`, `assumed`), each pad is worked out as a chain of closed
//! forms that carries the spreads along (`pad`), and the results are held against what the controller, the machine
//! and the shop ask for (`checks`). The working and the smallest changes are asked for separately, because most
//! callers read neither.

mod approach;
mod assumed;
mod caution;
mod change;
mod charge_map;
mod checks;
mod electrode;
mod feature;
mod input;
mod laid_wire;
mod light_row;
mod neighbour;
mod order;
mod pad;
mod piece;
mod production;
mod production_working;
mod rows;
mod run;
mod run_report;
mod stitched;
mod terminal;
mod thread;
mod warmth;
mod working;
mod working_run;

pub use crate::electrostatics::field::ChargeCell;
use crate::materials::Library;
use crate::uncertainty::Share;
use crate::units::Quantity;
use crate::verdict::{Bound, CheckKind, Verdict, check_sentence, piece_sentence, stimulation_sentence};

pub use approach::{APPROACH_M, ApproachPoint, approach_curve};
pub use caution::{Caution, cautions, heat_cautions};
pub use change::{Change, Edit, EditValue, smallest_changes};
pub use charge_map::{ChargeMap, charge_map};
pub use electrode::{
    AmplifierChoice, ContactChoice, Electrode, ElectrodeKind, ElectrodeResult, ElectrodeTexture, Fit, MOST_ELECTRODES, Pair, PulseChoice,
    ReadingResult, StimulationResult, electrode_cautions,
};
pub use feature::Feature;
pub use input::{Input, Origin, Place};
pub use laid_wire::{
    Conduction, ConductorChoice, CourseChoice, HeatingResult, HoldChoice, LaidKind, LaidWire, LaidWireResult, MOST_LAID_WIRES, WireResult,
};
pub use light_row::{
    BrokenRow, LightChoice, LightRow, LightRowResult, MOST_LIGHT_ROWS, MOST_LIGHTS_OF_PIECE, PlacedBy, SupplyChoice, SupplyKind,
    points_in_words,
};
pub use order::{MOST_QUANTITIES, Order, check_rates};
pub use piece::{
    Bobbin, ControllerChoice, Fault, Faults, Fill, GroundKind, Guard, Held, Inspector, LayerChoice, MOST_CHARACTERS, MOST_LAYERS,
    MOST_PADS, Machine, Pad, Piece, Run, Shape, Stack, Stitch, Terminal, TerminalKind, ThreadChoice, Touch, TouchCase,
};
pub use production::{Cause, Costing, Job, Metres, Output, Part, Production, ThreadUse, produce};
pub use run_report::{RunReport, run_reports};
pub use stitched::{Spool, Stitched, stitched};
pub use warmth::WarmthChoice;
pub use working::{Step, StepInput, working};

/// Everything computed for a piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    /// Of the piece: that of its weakest check.
    pub verdict: Verdict,
    /// Of the piece: the lowest chance of its checks.
    pub chance: f64,
    /// The weakest check, a number in `checks`.
    pub weakest: usize,
    /// Every requirement, feature by feature, those of the whole piece last.
    pub checks: Vec<Check>,
    /// What is predicted for each pad.
    pub pads: Vec<PadResult>,
    /// What is predicted for each electrode.
    pub electrodes: Vec<ElectrodeResult>,
    /// What is predicted for each light row.
    pub light_rows: Vec<LightRowResult>,
    /// What is predicted for each laid wire.
    pub laid_wires: Vec<LaidWireResult>,
    /// Every number that went in; `Share::input` counts in this list.
    pub inputs: Vec<Input>,
    /// The layers as resolved against the library: name, thickness m, relative permittivity; base, then overlay.
    pub base: Vec<ResolvedLayer>,
    /// As `base`, above the stitched plane.
    pub overlay: Vec<ResolvedLayer>,
    /// What the reader should know about how the numbers were made.
    pub notes: Vec<String>,
    /// What it takes to make it; `None` only within the search for changes.
    pub production: Option<Production>,
}

/// A layer with its numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct ResolvedLayer {
    /// Name of the library entry, or `layer` where only numbers were given.
    pub name: String,
    /// The library entry.
    pub library: Option<&'static str>,
    /// Thickness, m.
    pub thickness_m: f64,
    /// Permittivity relative to vacuum.
    pub relative_permittivity: f64,
}

/// One requirement: needed, predicted, how sure.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// What is required.
    pub kind: CheckKind,
    /// The feature it belongs to; `None` for the piece.
    pub feature: Option<Feature>,
    /// Kind of number, with the unit for the edge.
    pub quantity: &'static Quantity,
    /// Which side of `needed` is good.
    pub bound: Bound,
    /// Needed value, SI.
    pub needed: f64,
    /// Predicted value, SI.
    pub predicted: f64,
    /// Combined standard uncertainty of the prediction, SI.
    pub standard_uncertainty: f64,
    /// 95 % interval of the prediction, SI; the low end is not below zero for a quantity that cannot be negative.
    pub interval_95: (f64, f64),
    /// Chance that it holds.
    pub chance: f64,
    /// By the rule.
    pub verdict: Verdict,
    /// What the spread comes from, biggest share of the variance first, those of 1 % and more.
    pub shares: Vec<Share>,
    /// The input to measure, for `measure first`.
    pub measure: Option<usize>,
}

impl Check {
    /// The check in a plain sentence.
    pub fn sentence(&self) -> String {
        check_sentence(self.kind, self.quantity, self.bound, self.predicted, self.interval_95, self.needed)
    }
}

/// What is predicted for one pad, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct PadResult {
    /// Its name.
    pub name: String,
    /// That of its weakest check.
    pub verdict: Verdict,
    /// The lowest chance of its checks.
    pub chance: f64,
    /// The weakest of its checks, a number in `Estimate::checks`.
    pub weakest: usize,
    /// Change of capacitance by a touch, F.
    pub signal_f: f64,
    /// Untouched pad and run to circuit ground, F.
    pub standing_f: f64,
    /// Run with all passes, ohm.
    pub run_ohm: f64,
    /// The same by the rule "both threads in parallel", perfect joints everywhere, ohm.
    pub parallel_ohm: f64,
    /// Length over which top and bobbin thread share a current, m; `None` where the bobbin does not conduct.
    pub transfer_length_m: Option<f64>,
    /// Mean way from the end of the run into the pad, ohm.
    pub pad_ohm: f64,
    /// Share of the final charge reached in time, 0 to 1.
    pub settled_fraction: f64,
    /// Pad to ground, untouched, F.
    pub pad_f: f64,
    /// Its parallel-plate part, F; zero where nothing lies under the base.
    pub plate_f: f64,
    /// Its fringe part, F.
    pub fringe_f: f64,
    /// Run to ground, F.
    pub run_f: f64,
    /// Pad to finger, F.
    pub finger_f: f64,
    /// Finger back to circuit ground, F.
    pub return_f: f64,
    /// Conductive thread in the run, m.
    pub run_thread_m: f64,
    /// Stitches in the run.
    pub stitches: f64,
    /// Method of the pad's capacitance.
    pub method: &'static str,
    /// Whether the field was solved for it; the closed form was taken otherwise.
    pub solved: bool,
    /// Error bound of the pad's capacitance.
    pub relative_error: f64,
    /// What of it comes from taking rows of thread for a plate; 0 for a solid pad.
    pub rows_error: f64,
    /// The pad's capacitance by the closed form, for checking by hand, F.
    pub closed_form_f: f64,
    /// The pad on which a touch of this one shows most, where pads have places.
    pub neighbour: Option<Neighbour>,
}

/// What a touch shows on another pad.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Neighbour {
    /// The other pad.
    pub pad: usize,
    /// Change of its capacitance, F.
    pub signal_f: f64,
}

impl Estimate {
    /// The verdict of the piece in one plain sentence.
    pub fn sentence(&self) -> String {
        let check = &self.checks[self.weakest];
        let measure = check.measure.map(|input| self.inputs[input].name());
        let name = check.feature.and_then(|feature| self.feature_name(feature));
        if self.verdict == Verdict::MeasureFirst && matches!(check.kind, CheckKind::CurrentDensity | CheckKind::ChargePerPhase) {
            return stimulation_sentence(name.unwrap_or("an electrode"));
        }
        piece_sentence(self.verdict, self.checks.len(), self.chance, check.kind.title(), name, measure.as_deref())
    }

    /// What a feature of the piece is called; `None` where it has no such feature.
    pub fn feature_name(&self, feature: Feature) -> Option<&str> {
        match feature {
            Feature::Pad(k) => self.pads.get(k).map(|pad| pad.name.as_str()),
            Feature::Electrode(k) => self.electrodes.get(k).map(|electrode| electrode.name.as_str()),
            Feature::LightRow(k) => self.light_rows.get(k).map(|row| row.name.as_str()),
            Feature::LaidWire(k) => self.laid_wires.get(k).map(|wire| wire.name.as_str()),
        }
    }
}

/// Estimates a piece: checks it, works out every pad, and judges.
///
/// # Errors
/// [`Faults`]: every field of the piece that is out of range or names an unknown entry, by its JSON pointer.
///
/// ```
/// use toile_model::{LIBRARY, estimate, examples};
/// let estimate = estimate(&examples::round_pad(24.0), &LIBRARY).unwrap();
/// assert!(estimate.pads[0].signal_f > 0.0);
/// ```
pub fn estimate(piece: &Piece, library: &Library) -> Result<Estimate, Faults> {
    piece.check(library)?;
    let estimate = pad::PieceChain::new(piece, library).estimate(true)?;
    Ok(Estimate { production: Some(production::production_of(piece, library)?), ..estimate })
}

/// As [`estimate`], every pad as if it were alone, which costs a tenth: what a search asks many times.
fn estimate_alone(piece: &Piece, library: &Library) -> Result<Estimate, Faults> {
    piece.check(library)?;
    pad::PieceChain::new(piece, library).estimate(false)
}
