//! The run of a feature, and the way from its end into a pad, with spreads.
//!
//! Resistances in ohm from the ladder of [`crate::conduction::run_resistance`] and from the fill of the pad. Stitch counts
//! are whole numbers: they are taken at the best estimate, and thread per length is held while the length varies, so that
//! the slope is the one a practitioner expects.

use super::assumed;
use super::input::{Origin, Place, Register};
use super::thread::ThreadValues;
use super::{Bobbin, Fill, Pad, Run, Shape, Stitch, TerminalKind};
use crate::conduction::{
    End, MeanWay, RowFill, RunResistance, Seam, SewnPass, StitchKind, rim_to_disc_squares, run_resistance, steps, stitching,
};
use crate::uncertainty::{Linear, propagate};
use crate::units;

/// A run, worked out.
pub(super) struct RunValues {
    /// All passes, terminal not included.
    pub(super) ohm: Linear,
    /// From pad to terminal.
    pub(super) length_m: Linear,
    /// Contact of the terminal.
    pub(super) contact_ohm: Linear,
    pub(super) stitch: RunStitch,
    pub(super) details: RunDetails,
}

/// Numbers of a run at the best estimates.
#[derive(Debug, Clone, Copy)]
pub(super) struct RunDetails {
    /// Of one pass.
    pub(super) seam: Seam,
    pub(super) sewn_m: f64,
    pub(super) interlace: f64,
    pub(super) length_m: f64,
    pub(super) resistance: RunResistance,
    pub(super) contact_ohm: f64,
}

/// Stitch measures that the machine limits.
#[derive(Clone)]
#[allow(clippy::large_enum_variant, reason = "there is one for each run, and it is not moved about")]
pub(super) enum RunStitch {
    Along { stitch_length_m: Linear },
    Satin(Box<SatinStitch>),
}

/// Measures of a satin column.
#[derive(Clone)]
pub(super) struct SatinStitch {
    pub(super) column_width_m: Linear,
    pub(super) density_m: Linear,
}

/// Where the numbers of a run stand in the piece.
#[derive(Debug, Clone, Copy)]
pub(super) struct RunPlaces {
    pub(super) run: Place,
    pub(super) stitch: Place,
    pub(super) terminal: Place,
}

impl RunPlaces {
    /// Of the run of pad `k`.
    pub(super) const fn of_pad(k: usize) -> Self {
        Self { run: Place::Run(k), stitch: Place::Stitch(k), terminal: Place::Terminal(k) }
    }
}

/// How a run is sewn, with spreads: everything but its length.
pub(super) struct SewnRun<'a> {
    run: &'a Run,
    sewn_m: &'a Linear,
    pub(super) stitch: RunStitch,
    interlace: Linear,
    /// Contact between the threads at a penetration.
    joint: Linear,
}

/// A length of a run.
pub(super) struct SewnLength {
    /// All passes.
    pub(super) ohm: Linear,
    /// Of one pass.
    pub(super) seam: Seam,
    pub(super) resistance: RunResistance,
}

impl<'a> SewnRun<'a> {
    fn register(register: &mut Register<'_>, places: RunPlaces, run: &'a Run, sewn_m: &'a Linear) -> Self {
        let stitch = register_stitch(register, places.stitch, run.stitch.as_ref());
        let interlace =
            register.given_or(places.run, &units::INTERLACE_FRACTION, run.interlace_fraction, (&assumed::INTERLACE, Origin::Assumed));
        // Where the bobbin does not conduct, there is nothing to touch.
        let joint = if run.bobbin == Bobbin::SameThread {
            let otherwise = (&assumed::STITCH_CONTACT, Origin::Assumed);
            register.given_or(places.run, &units::STITCH_CONTACT, run.stitch_contact_ohm, otherwise)
        } else {
            Linear::exact(0.0)
        };
        Self { run, sewn_m, stitch, interlace, joint }
    }

    /// A length of it, in a thread of `ohm_per_m` and so many passes.
    pub(super) fn over(&self, length_m: &Linear, ohm_per_m: &Linear, ends: [End; 2], passes: u32) -> SewnLength {
        let (run, sewn_m, interlace) = (self.run, self.sewn_m, &self.interlace);
        let both = run.bobbin == Bobbin::SameThread;
        let seam = stitching(&stitch_kind_over(run, length_m.value, 1), sewn_m.value, interlace.value);
        let stitches_per_m = seam.stitches / length_m.value;
        let span_per_m = (seam.top_thread_m - 2.0 * interlace.value * sewn_m.value * seam.stitches) / length_m.value;
        let resistance = |x: &[f64]| {
            let legs = 2.0 * x[2].max(0.0) * stitches_per_m;
            let (top, bobbin) = (span_per_m + legs * x[3].clamp(0.0, 1.0), span_per_m + legs * (1.0 - x[3].clamp(0.0, 1.0)));
            let pass = SewnPass {
                stitches: seam.stitches as u32,
                strands: strands(run),
                top_thread_m: top * x[1],
                bobbin_thread_m: both.then_some(bobbin * x[1]),
            };
            let mut resistance = run_resistance(&pass, x[0], x[4].max(0.0), ends, passes);
            resistance.passes.joined = run.passes_joined;
            resistance
        };
        let arguments = [ohm_per_m, length_m, sewn_m, interlace, &self.joint];
        let [ohm] = propagate(&arguments, |x| [resistance(x).run_ohm]);
        SewnLength { ohm, seam, resistance: resistance(&arguments.map(|a| a.value)) }
    }
}

/// Works out a run of `thread` through cloth of `sewn_m`.
pub(super) fn run_values(register: &mut Register<'_>, places: RunPlaces, run: &Run, thread: &ThreadValues, sewn_m: &Linear) -> RunValues {
    let (values, _) = run_values_and_sewing(register, places, run, thread, sewn_m);
    values
}

/// As [`run_values`], with what it takes to work out other lengths that are sewn alike.
pub(super) fn run_values_and_sewing<'a>(
    register: &mut Register<'_>,
    places: RunPlaces,
    run: &'a Run,
    thread: &ThreadValues,
    sewn_m: &'a Linear,
) -> (RunValues, SewnRun<'a>) {
    let length_m = register.given(places.run, &units::RUN_LENGTH, run.length_m);
    let sewing = SewnRun::register(register, places, run, sewn_m);
    let otherwise = (assumed::terminal_contact(run.terminal.kind), Origin::Assumed);
    let contact_ohm = register.given_or(places.terminal, &units::CONTACT_RESISTANCE, run.contact_resistance_ohm, otherwise);
    let SewnLength { ohm, seam, resistance } = sewing.over(&length_m, &thread.ohm_per_m, ends(run), run.passes);
    let details = RunDetails {
        seam,
        sewn_m: sewn_m.value,
        interlace: sewing.interlace.value,
        length_m: length_m.value,
        resistance,
        contact_ohm: contact_ohm.value,
    };
    let stitch = sewing.stitch.clone();
    (RunValues { ohm, length_m, contact_ohm, stitch, details }, sewing)
}

/// What the ends of a run touch: the pad goes on in the top thread; a stud or a crimp pinches both threads, a board is
/// sewn down to with the top thread.
pub(super) fn ends(run: &Run) -> [End; 2] {
    match run.terminal.kind {
        Some(TerminalKind::Snap | TerminalKind::Crimp) => [End::Top, End::Tied],
        Some(TerminalKind::Board) | None => [End::Top, End::Top],
    }
}

/// Stitches over each step of the line.
fn strands(run: &Run) -> u32 {
    if matches!(run.stitch, Some(Stitch::Back { .. })) { 3 } else { 1 }
}

fn register_stitch(register: &mut Register<'_>, place: Place, stitch: Option<&Stitch>) -> RunStitch {
    let Some(stitch) = stitch else {
        let usual = (&assumed::STITCH_LENGTH, Origin::Assumed);
        return RunStitch::Along { stitch_length_m: register.given_or(place, &units::STITCH_LENGTH, None, usual) };
    };
    let mut one = |quantity, measured| register.given(place, quantity, measured);
    match *stitch {
        Stitch::Running { stitch_length_m } | Stitch::Back { stitch_length_m } => {
            RunStitch::Along { stitch_length_m: one(&units::STITCH_LENGTH, stitch_length_m) }
        }
        Stitch::Satin { column_width_m, density_m } => {
            let column_width_m = one(&units::COLUMN_WIDTH, column_width_m);
            RunStitch::Satin(Box::new(SatinStitch { column_width_m, density_m: one(&units::SATIN_DENSITY, density_m) }))
        }
    }
}

pub(super) fn stitch_kind(run: &Run, passes: u32) -> StitchKind {
    stitch_kind_over(run, run.length_m.value, passes)
}

/// A length that is sewn as a run is.
pub(super) fn stitch_kind_over(run: &Run, length_m: f64, passes: u32) -> StitchKind {
    match run.sewn() {
        Stitch::Running { stitch_length_m } => StitchKind::Running { length_m, stitch_length_m: stitch_length_m.value, passes },
        Stitch::Back { stitch_length_m } => StitchKind::Back { length_m, stitch_length_m: stitch_length_m.value, passes },
        Stitch::Satin { column_width_m, density_m } => {
            StitchKind::Satin { length_m, column_width_m: column_width_m.value, density_m: density_m.value, passes }
        }
    }
}

/// The mean way from the end of a run into its pad, and how it comes about.
pub(super) struct PadWay {
    pub(super) ohm: Linear,
    pub(super) details: PadWayDetails,
}

/// What a pad conducts through.
#[derive(Debug, Clone, Copy)]
pub(super) enum PadWayDetails {
    /// One thread through all rows.
    Thread { whole_ohm: f64 },
    /// Rows that touch.
    Rows { fill: RowFill },
    /// Solid cloth.
    Cloth { sheet_ohm_sq: f64, squares: f64 },
}

/// How far the last stitches of a run reach on solid cloth: one stitch of the usual length about. Own judgement; a factor
/// of 2 moves the way by 0.2 squares.
const FOOT_M: f64 = 2.5e-3;

/// Works out the way into pad `k`, which covers `area_m2`: through the thread of its rows, which goes on from the run, or
/// through its cloth.
pub(super) fn pad_way(
    register: &mut Register<'_>,
    k: usize,
    pad: &Pad,
    area_m2: f64,
    rows: Option<&[Linear; 2]>,
    thread: &ThreadValues,
    run: &RunDetails,
) -> PadWay {
    let (Some(fill), Some([spacing, stitch])) = (&pad.fill, rows) else {
        let otherwise = (&assumed::SHEET_RESISTANCE, Origin::Assumed);
        let sheet = register.given_or(Place::Pad(k), &units::SHEET_RESISTANCE, pad.sheet_resistance_ohm_sq, otherwise);
        // Any outline as the disc of its area.
        let squares = rim_to_disc_squares(FOOT_M, (area_m2 / std::f64::consts::PI).sqrt());
        return PadWay { ohm: sheet.times(squares), details: PadWayDetails::Cloth { sheet_ohm_sq: sheet.value, squares } };
    };
    let contact = fill.row_contact_ohm.map(|given| register.given(Place::Fill(k), &units::ROW_CONTACT, given));
    let rows = row_fill(pad, fill, area_m2, thread, run, contact.as_ref().map_or(f64::INFINITY, |c| c.value));
    let way = rows.mean_way();
    let details =
        if contact.is_some() { PadWayDetails::Rows { fill: rows } } else { PadWayDetails::Thread { whole_ohm: rows.thread_ohm() } };
    // What is lost in the thread grows with the thread, what is lost in contacts with those; fewer rows are less thread.
    let nothing = Linear::exact(1.0);
    let arguments = [&thread.ohm_per_m, spacing, contact.as_ref().unwrap_or(&nothing)];
    let at = arguments.map(|a| a.value);
    let MeanWay { thread_ohm, contact_ohm } = way;
    let [ohm] = propagate(&arguments, |x| [thread_ohm * (x[0] / at[0]) * (at[1] / x[1]) + contact_ohm * (x[2] / at[2])]);
    debug_assert!(stitch.value > 0.0);
    PadWay { ohm, details }
}

/// The rows of a pad as those of the rectangle of the same area and height. With a conductive bobbin both threads share
/// the current: over many stitches the rule "both in parallel" holds.
fn row_fill(pad: &Pad, fill: &Fill, area_m2: f64, thread: &ThreadValues, run: &RunDetails, contact_ohm: f64) -> RowFill {
    let (spacing_m, stitch_m) = (fill.row_spacing_m.value, fill.stitch_length_m.value);
    let height_m = height_m(&pad.shape);
    let rows = (steps(height_m, spacing_m) + 1.0).min(MOST_ROWS);
    let row_m = area_m2 / spacing_m / rows;
    let stitches_per_row = steps(row_m, stitch_m).min(MOST_ROWS);
    let sewn = |span_m: f64| {
        let leg = |part: f64| span_m + 2.0 * part * run.sewn_m;
        let (top, bobbin) = (leg(run.interlace), leg(1.0 - run.interlace));
        let metres = if pad.run.bobbin == Bobbin::SameThread { top * bobbin / (top + bobbin) } else { top };
        thread.ohm_per_m.value * metres
    };
    RowFill {
        rows: rows as u32,
        stitches_per_row: stitches_per_row as u32,
        stitch_ohm: sewn(row_m / stitches_per_row),
        turn_ohm: sewn(spacing_m),
        contact_ohm,
    }
}

/// More rows, or stitches of a row, than a pad of this trade has; a slip of the unit must not cost a minute.
const MOST_ROWS: f64 = 20_000.0;

/// Height of an outline across its rows, which run along x.
fn height_m(shape: &Shape) -> f64 {
    match shape {
        Shape::Round { diameter_m: d } | Shape::Ring { outer_diameter_m: d, .. } => d.value,
        Shape::Rectangle { length_m, .. } => length_m.value,
        Shape::Polygon { points_m, .. } => {
            let (low, high) = points_m.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), p| (low.min(p[1]), high.max(p[1])));
            high - low
        }
    }
}
