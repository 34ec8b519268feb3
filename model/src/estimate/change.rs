//! The smallest changes that turn a verdict.
//!
//! Each lever a textile engineer would reach for is tried alone, on all pads that need it at once, and the smallest
//! pull that makes the whole piece comfortable is sought by bisection. Levers that cannot get there alone are left
//! out, unless none can: then those that get the furthest are named.

use super::electrode::{grow_electrodes, more_touching, reading_electrodes, scale_fit, scale_input};
use super::laid_wire::{scale_wire, wires_of};
use super::light_row::{RowChoice, choose, rows_of, scale_row};
use super::{
    Bobbin, ControllerChoice, Estimate, Faults, Feature, GroundKind, LayerChoice, Pad, Piece, Shape, Stitch, TouchCase, estimate,
    estimate_alone,
};
use crate::lights::Feed;
use crate::materials::{Library, Skin};
use crate::uncertainty::{Measured, Spread};
use crate::units::{self, Quantity, percent, significant};
use crate::verdict::{CheckKind, StitchLimit, Verdict};

/// Largest number of changes named.
const MOST_CHANGES: usize = 5;

/// One edit of the piece that turns a verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// Fields to edit, and to what.
    pub edits: Vec<Edit>,
    /// What is changed, in words.
    pub what: &'static str,
    /// Verdict of the piece after it.
    pub verdict: Verdict,
    /// Chance of the piece after it.
    pub chance: f64,
    /// The change in a plain sentence.
    pub sentence: String,
}

/// One field to edit.
#[derive(Debug, Clone, PartialEq)]
pub struct Edit {
    /// JSON pointer of the field, edge names and units.
    pub pointer: String,
    /// What it is now.
    pub from: EditValue,
    /// What it should be.
    pub to: EditValue,
}

/// A value of a field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EditValue {
    /// A number with its spread, SI.
    Number(Measured, &'static Quantity),
    /// A count.
    Count(u32),
    /// One of a field's words.
    Word(&'static str),
    /// An entry of the library, by its id; numbers given beside it are dropped.
    Entry(&'static str),
    /// Numbers without an entry.
    Numbers,
}

impl Edit {
    /// What becomes what; nothing for a word of the data, which says nothing to people.
    fn in_words(&self) -> Option<String> {
        (!matches!(self.to, EditValue::Word(_))).then(|| format!("{} to {}", self.from.print(), self.to.print()))
    }
}

impl EditValue {
    fn print(self) -> String {
        match self {
            // All the digits that the field takes, so that the sentence and the edit name the same number.
            Self::Number(m, q) => units::with_unit(&significant(q.from_si(m.value), 6).to_string(), q.unit),
            Self::Count(n) => n.to_string(),
            Self::Word(word) | Self::Entry(word) => word.to_owned(),
            Self::Numbers => "the one given by numbers".to_owned(),
        }
    }
}

/// The smallest changes that make a piece comfortable, smallest first; empty when it is comfortable already.
///
/// `now` is the estimate of `piece`. A change that grows a measure scales its spread along with it.
pub fn smallest_changes(piece: &Piece, library: &Library, now: &Estimate) -> Vec<Change> {
    if now.verdict == Verdict::Comfortable {
        return Vec::new();
    }
    let need = Need::of(piece, now);
    let trials: Vec<Trial> =
        Lever::ALL.iter().filter(|lever| lever.helps(&need)).filter_map(|lever| lever.smallest(piece, library, &need, now)).collect();
    let reach = |t: &Trial| t.after.verdict == Verdict::Comfortable;
    let any = trials.iter().any(reach);
    let mut kept: Vec<Trial> = trials.into_iter().filter(|t| reach(t) || (!any && t.after.chance > now.chance + 0.01)).collect();
    // Reached: by the size of the pull. Not reached: by how far it gets.
    kept.sort_by(|a, b| if any { a.pull.total_cmp(&b.pull) } else { b.after.chance.total_cmp(&a.after.chance) });
    kept.truncate(MOST_CHANGES);
    kept.into_iter().map(|t| t.describe(now)).collect()
}

/// Which kinds of check are not comfortable, and on which features.
struct Need {
    pads: Vec<usize>,
    electrodes: Vec<usize>,
    light_rows: Vec<usize>,
    laid_wires: Vec<usize>,
    kinds: Vec<CheckKind>,
}

impl Need {
    fn of(piece: &Piece, now: &Estimate) -> Self {
        let (mut pads, mut kinds) = (Vec::new(), Vec::new());
        for check in now.checks.iter().filter(|c| c.verdict != Verdict::Comfortable) {
            if let Some(Feature::Pad(k)) = check.feature
                && !pads.contains(&k)
            {
                pads.push(k);
            }
            if !kinds.contains(&check.kind) {
                kinds.push(check.kind);
            }
        }
        let open = || now.checks.iter().filter(|c| c.verdict != Verdict::Comfortable);
        Self { pads, electrodes: reading_electrodes(piece, open()), light_rows: rows_of(open()), laid_wires: wires_of(open()), kinds }
    }

    fn has_row(&self, kind: CheckKind) -> bool {
        self.has(&[kind]) && !self.light_rows.is_empty()
    }

    fn has_wire(&self, kind: CheckKind) -> bool {
        self.has(&[kind]) && !self.laid_wires.is_empty()
    }

    fn has(&self, kinds: &[CheckKind]) -> bool {
        kinds.iter().any(|k| self.kinds.contains(k))
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Lever {
    LargerPads,
    SmallerPads,
    ThinnerOverlay,
    ThickerBase,
    ShorterRuns,
    MorePasses,
    OtherThread,
    ConductiveBobbin,
    LongerCharge,
    EarthedSupply,
    WiderRows,
    CloserRows,
    OtherController,
    RunStitch,
    FillStitch,
    WiderPitch,
    LargerHoles,
    LargerElectrodes,
    HigherInputResistance,
    SmallerInputCapacitance,
    FirmerFit,
    LooserFit,
    DampElectrodes,
    GelElectrodes,
    OtherFeed,
    LargerResistor,
    SmallerResistor,
    ShorterPitch,
    HigherSupply,
    LowerSupply,
    LargerBattery,
    WiderSpacing,
    ThickerWire,
    HigherWireVoltage,
    LowerWireVoltage,
    HigherWireCurrent,
    LowerWireCurrent,
    NeedleFurtherOut,
}

struct Trial {
    edits: Vec<Edit>,
    what: &'static str,
    pull: f64,
    after: Estimate,
}

impl Lever {
    const ALL: [Self; 38] = [
        Self::LargerPads,
        Self::SmallerPads,
        Self::ThinnerOverlay,
        Self::ThickerBase,
        Self::ShorterRuns,
        Self::MorePasses,
        Self::OtherThread,
        Self::ConductiveBobbin,
        Self::LongerCharge,
        Self::EarthedSupply,
        Self::WiderRows,
        Self::CloserRows,
        Self::OtherController,
        Self::RunStitch,
        Self::FillStitch,
        Self::WiderPitch,
        Self::LargerHoles,
        Self::LargerElectrodes,
        Self::HigherInputResistance,
        Self::SmallerInputCapacitance,
        Self::FirmerFit,
        Self::LooserFit,
        Self::DampElectrodes,
        Self::GelElectrodes,
        Self::OtherFeed,
        Self::LargerResistor,
        Self::SmallerResistor,
        Self::ShorterPitch,
        Self::HigherSupply,
        Self::LowerSupply,
        Self::LargerBattery,
        Self::WiderSpacing,
        Self::ThickerWire,
        Self::HigherWireVoltage,
        Self::LowerWireVoltage,
        Self::HigherWireCurrent,
        Self::LowerWireCurrent,
        Self::NeedleFurtherOut,
    ];

    const fn what(self) -> &'static str {
        match self {
            Self::LargerPads => "larger pads",
            Self::SmallerPads => "smaller pads",
            Self::ThinnerOverlay => "a thinner overlay",
            Self::ThickerBase => "a thicker base",
            Self::ShorterRuns => "shorter runs",
            Self::MorePasses => "more passes of the run",
            Self::OtherThread => "another thread",
            Self::ConductiveBobbin => "the conductive thread on the bobbin too",
            Self::LongerCharge => "a longer charge time of the controller",
            Self::EarthedSupply => "an earthed supply",
            Self::WiderRows => "wider rows",
            Self::CloserRows => "closer rows",
            Self::OtherController => "another kind of controller",
            Self::RunStitch => "another stitch length of the run",
            Self::FillStitch => "another stitch length of the fill",
            Self::WiderPitch => "a wider pitch of the terminal",
            Self::LargerHoles => "larger holes of the board",
            Self::LargerElectrodes => "larger electrodes",
            Self::HigherInputResistance => "an amplifier of higher input resistance",
            Self::SmallerInputCapacitance => "less capacitance at the amplifier's input: a shorter or guarded lead",
            Self::FirmerFit => "a firmer fit",
            Self::LooserFit => "a looser fit",
            Self::DampElectrodes => "the electrodes moistened",
            Self::GelElectrodes => "gel under the electrodes",
            Self::OtherFeed => "the row fed another way",
            Self::LargerResistor => "a larger resistor at each light",
            Self::SmallerResistor => "a smaller resistor at each light",
            Self::ShorterPitch => "the lights closer together",
            Self::HigherSupply => "a higher supply voltage",
            Self::LowerSupply => "a lower supply voltage",
            Self::LargerBattery => "a larger battery",
            Self::WiderSpacing => "a wider spacing of the laid rows",
            Self::ThickerWire => "a thicker wire",
            Self::HigherWireVoltage => "a higher voltage across the wire",
            Self::LowerWireVoltage => "a lower voltage across the wire",
            Self::HigherWireCurrent => "more current through the wire",
            Self::LowerWireCurrent => "less current through the wire",
            Self::NeedleFurtherOut => "the needle further beside the wire",
        }
    }

    fn helps(self, need: &Need) -> bool {
        use CheckKind::{
            BatteryLife, BendRadius, Clearance, CommonMode, Fit, Headroom, HeatingPower, LightCurrent, LightSpread, NeedleClearance, Noise,
            ReadOutLoss, RunResistance, Settling, Signal, StandingCapacitance, Stitchable, SupplyCurrent, TerminalHole, TerminalPitch,
            Warmth, WireResistance,
        };
        match self {
            Self::LargerPads => need.has(&[Signal]),
            Self::SmallerPads => need.has(&[StandingCapacitance, Settling, Clearance]),
            Self::ThinnerOverlay | Self::EarthedSupply => need.has(&[Signal]),
            Self::ThickerBase => need.has(&[Signal, StandingCapacitance, Settling]),
            Self::ShorterRuns => need.has(&[StandingCapacitance, Settling, RunResistance, Headroom]),
            Self::MorePasses | Self::ConductiveBobbin => {
                need.has(&[Settling, RunResistance, LightSpread, Headroom]) || need.has_row(Warmth)
            }
            Self::OtherThread => need.has(&[Settling, RunResistance, Stitchable(StitchLimit::RowSpacing), LightSpread, Headroom]),
            Self::OtherFeed => need.has(&[LightSpread, Headroom]),
            Self::LargerResistor => need.has(&[LightSpread, LightCurrent, SupplyCurrent, BatteryLife]) || need.has_row(Warmth),
            Self::SmallerResistor | Self::HigherSupply => need.has(&[Headroom]),
            Self::LowerSupply => need.has(&[LightCurrent, SupplyCurrent, BatteryLife]) || need.has_row(Warmth),
            Self::ShorterPitch => need.has(&[LightSpread, Headroom]),
            Self::LargerBattery => need.has(&[BatteryLife]),
            Self::WiderSpacing => need.has(&[BendRadius, NeedleClearance]) || need.has_wire(Warmth),
            Self::ThickerWire => need.has(&[WireResistance]),
            Self::HigherWireVoltage | Self::HigherWireCurrent => need.has(&[HeatingPower]),
            Self::LowerWireVoltage | Self::LowerWireCurrent => need.has_wire(Warmth),
            Self::NeedleFurtherOut => need.has(&[NeedleClearance]),
            Self::LongerCharge => need.has(&[Settling]),
            Self::WiderRows => need.has(&[Stitchable(StitchLimit::RowSpacing)]),
            Self::CloserRows => need.has(&[Signal]),
            Self::OtherController => need.has(&[Signal, StandingCapacitance, Settling, RunResistance]),
            Self::RunStitch => need.has(&[Stitchable(StitchLimit::RunStitch)]),
            Self::FillStitch => need.has(&[Stitchable(StitchLimit::FillStitch)]),
            Self::WiderPitch => need.has(&[TerminalPitch]),
            Self::LargerHoles => need.has(&[TerminalHole]),
            Self::LargerElectrodes | Self::DampElectrodes | Self::GelElectrodes => need.has(&[ReadOutLoss, Noise, CommonMode]),
            Self::HigherInputResistance | Self::SmallerInputCapacitance => need.has(&[ReadOutLoss, CommonMode]),
            Self::FirmerFit | Self::LooserFit => need.has(&[Fit]),
        }
    }

    /// Furthest factor that is tried, for the levers that scale a number.
    const fn furthest(self) -> Option<f64> {
        match self {
            Self::LargerPads => Some(3.0),
            Self::SmallerPads => Some(0.1),
            Self::ThinnerOverlay | Self::CloserRows => Some(0.2),
            Self::ShorterRuns => Some(0.1),
            Self::ThickerBase => Some(5.0),
            Self::LongerCharge => Some(20.0),
            Self::WiderRows | Self::WiderPitch | Self::LargerHoles | Self::FirmerFit => Some(4.0),
            Self::LargerElectrodes => Some(2.5),
            Self::HigherInputResistance => Some(1000.0),
            Self::SmallerInputCapacitance => Some(0.02),
            Self::LooserFit => Some(0.25),
            Self::LargerResistor | Self::LargerBattery => Some(10.0),
            Self::SmallerResistor => Some(0.1),
            Self::ShorterPitch => Some(0.2),
            Self::HigherSupply => Some(2.5),
            Self::LowerSupply => Some(0.5),
            Self::WiderSpacing | Self::NeedleFurtherOut => Some(4.0),
            Self::ThickerWire | Self::HigherWireVoltage | Self::HigherWireCurrent => Some(10.0),
            Self::LowerWireVoltage | Self::LowerWireCurrent => Some(0.1),
            _ => None,
        }
    }

    /// The smallest pull of this lever that makes the piece comfortable, or its furthest pull.
    fn smallest(self, piece: &Piece, library: &Library, need: &Need, now: &Estimate) -> Option<Trial> {
        match self.furthest() {
            Some(furthest) => self.smallest_scale(piece, library, need, furthest),
            None => self.smallest_choice(piece, library, need, now),
        }
    }

    fn smallest_scale(self, piece: &Piece, library: &Library, need: &Need, furthest: f64) -> Option<Trial> {
        let trial = |factor: f64, estimate: fn(&Piece, &Library) -> Result<Estimate, Faults>| {
            let mut changed = piece.clone();
            let edits = self.scale(&mut changed, library, need, factor);
            (!edits.is_empty()).then_some(())?;
            let after = estimate(&changed, library).ok()?;
            Some(Trial { edits, what: self.what(), pull: factor.ln().abs(), after })
        };
        let good = |t: &Trial| t.after.verdict == Verdict::Comfortable;
        let (mut near, mut far) = (0.0, furthest.ln());
        if trial(furthest, estimate_alone).is_some_and(|t| good(&t)) {
            for _ in 0..9 {
                let middle = (near + far) / 2.0;
                if trial(middle.exp(), estimate_alone).is_some_and(|t| good(&t)) {
                    far = middle;
                } else {
                    near = middle;
                }
            }
        }
        // What the search left out has the last word.
        trial(far.exp(), estimate)
    }

    fn scale(self, piece: &mut Piece, library: &Library, need: &Need, factor: f64) -> Vec<Edit> {
        let mut edits = Vec::new();
        match self {
            Self::LargerPads | Self::SmallerPads => {
                for &k in &need.pads {
                    scale_shape(&mut piece.pads[k].shape, factor, &format!("/pads/{k}/shape"), &mut edits);
                }
            }
            Self::ThinnerOverlay => scale_thickest("overlay", &mut piece.stack.overlay, library, factor, &mut edits),
            Self::ThickerBase => scale_thickest("base", &mut piece.stack.base, library, factor, &mut edits),
            Self::ShorterRuns => {
                for &k in &need.pads {
                    scaled(&mut piece.pads[k].run.length_m, &units::RUN_LENGTH, factor, format!("/pads/{k}/run"), &mut edits);
                }
                scale_row(piece, &need.light_rows, &units::RUN_LENGTH, factor, &mut edits);
            }
            Self::LongerCharge => {
                let entry = piece.controller.library.as_deref().and_then(|id| library.controller(id));
                if let Some(mut time) = piece.controller.charge_time_s.or(entry.map(|e| e.charge_time_s.measured)) {
                    scaled(&mut time, &units::CHARGE_TIME, factor, "/controller".into(), &mut edits);
                    piece.controller.charge_time_s = Some(time);
                }
            }
            Self::WiderPitch | Self::LargerHoles => {
                for &k in &need.pads {
                    let terminal = &mut piece.pads[k].run.terminal;
                    let (number, quantity) = match self {
                        Self::WiderPitch => (&mut terminal.pitch_m, &units::TERMINAL_PITCH),
                        _ => (&mut terminal.hole_diameter_m, &units::HOLE),
                    };
                    if let Some(number) = number {
                        scaled(number, quantity, factor, format!("/pads/{k}/run/terminal"), &mut edits);
                    }
                }
            }
            Self::WiderRows | Self::CloserRows => {
                for &k in &need.pads {
                    if let Some(fill) = &mut piece.pads[k].fill {
                        scaled(&mut fill.row_spacing_m, &units::ROW_SPACING, factor, format!("/pads/{k}/fill"), &mut edits);
                    }
                }
            }
            Self::LargerElectrodes => grow_electrodes(piece, &need.electrodes, factor, &mut edits),
            Self::HigherInputResistance => scale_input(piece, &need.electrodes, &units::INPUT_RESISTANCE, factor, &mut edits),
            Self::SmallerInputCapacitance => scale_input(piece, &need.electrodes, &units::INPUT_CAPACITANCE, factor, &mut edits),
            Self::FirmerFit | Self::LooserFit => scale_fit(piece, &need.electrodes, factor, &mut edits),
            Self::LargerResistor | Self::SmallerResistor => scale_row(piece, &need.light_rows, &units::LIGHT_SERIES, factor, &mut edits),
            Self::ShorterPitch => scale_row(piece, &need.light_rows, &units::PITCH, factor, &mut edits),
            Self::HigherSupply | Self::LowerSupply => scale_row(piece, &need.light_rows, &units::SUPPLY_VOLTAGE, factor, &mut edits),
            Self::LargerBattery => scale_row(piece, &need.light_rows, &units::CAPACITY, factor, &mut edits),
            Self::WiderSpacing => scale_wire(piece, &need.laid_wires, &units::MEANDER_SPACING, factor, &mut edits),
            Self::ThickerWire => scale_wire(piece, &need.laid_wires, &units::SECTION, factor, &mut edits),
            Self::HigherWireVoltage | Self::LowerWireVoltage => {
                scale_wire(piece, &need.laid_wires, &units::SUPPLY_VOLTAGE, factor, &mut edits);
            }
            Self::HigherWireCurrent | Self::LowerWireCurrent => {
                scale_wire(piece, &need.laid_wires, &units::WIRE_CURRENT, factor, &mut edits);
            }
            Self::NeedleFurtherOut => scale_wire(piece, &need.laid_wires, &units::NEEDLE_CLEARANCE, factor, &mut edits),
            _ => {}
        }
        edits
    }

    fn smallest_choice(self, piece: &Piece, library: &Library, need: &Need, now: &Estimate) -> Option<Trial> {
        let mut furthest: Option<Trial> = None;
        for (pull, choice) in self.choices(piece, library, need, now) {
            let mut changed = piece.clone();
            let mut edits = Vec::new();
            for &k in &need.pads {
                choice.apply(&mut changed.pads[k], library, k, &mut edits);
            }
            if let Some(row_choice) = choice.of_row() {
                choose(&mut changed, &need.light_rows, library, row_choice, &mut edits);
            }
            if let Choice::Wetter(skin) = choice {
                more_touching(&mut changed, &need.electrodes, skin, &mut edits);
            }
            if choice == Choice::Earth {
                edits.push(Edit {
                    pointer: "/touch/case".into(),
                    from: EditValue::Word(changed.touch.case.word()),
                    to: EditValue::Word(TouchCase::Earthed.word()),
                });
                changed.touch.case = TouchCase::Earthed;
                // An earthed supply has no capacitance to earth to give.
                if changed.touch.supply_to_earth_f.take().is_some() {
                    continue;
                }
            }
            if let Choice::Controller(id) = choice {
                let before = changed.controller.library.as_deref().and_then(|old| library.controller(old));
                edits.push(Edit {
                    pointer: "/controller".into(),
                    from: before.map_or(EditValue::Numbers, |c| EditValue::Entry(c.id)),
                    to: EditValue::Entry(id),
                });
                changed.controller = ControllerChoice { library: Some(id.to_owned()), ..Default::default() };
            }
            if edits.is_empty() {
                continue;
            }
            let Ok(after) = estimate(&changed, library) else { continue };
            let trial = Trial { edits, what: self.what(), pull, after };
            if trial.after.verdict == Verdict::Comfortable {
                return Some(trial);
            }
            if furthest.as_ref().is_none_or(|f| trial.after.chance > f.after.chance) {
                furthest = Some(trial);
            }
        }
        furthest
    }

    /// What can be chosen, smallest pull first. A pull is counted as the logarithm of the factor it works by, plus
    /// the trouble of another spool or supply.
    fn choices(self, piece: &Piece, library: &Library, need: &Need, now: &Estimate) -> Vec<(f64, Choice)> {
        match self {
            Self::MorePasses => {
                let of_pads = need.pads.iter().map(|k| piece.pads[*k].run.passes);
                let most = of_pads.chain(need.light_rows.iter().map(|k| piece.light_rows[*k].run.passes)).max().unwrap_or(1);
                (1..=5).map(|n| ((f64::from(most + n) / f64::from(most)).ln(), Choice::Passes(n))).collect()
            }
            Self::OtherThread => {
                let of_pads = need.pads.iter().map(|k| super::Place::Thread(*k));
                let places = of_pads.chain(need.light_rows.iter().map(|k| super::Place::LightRow(*k, "thread")));
                let present: Vec<_> = places.filter_map(|place| now_thread(now, place)).collect();
                let lowest = present.iter().copied().fold(f64::INFINITY, f64::min);
                let mut threads: Vec<_> = library
                    .threads
                    .iter()
                    .map(|t| (lowest / t.linear_resistance_ohm_per_m.measured.value, t.id))
                    .filter(|(gain, _)| *gain > 1.0 && gain.is_finite())
                    .map(|(gain, id)| (0.5 + gain.ln(), Choice::Thread(id)))
                    .collect();
                threads.sort_by(|a, b| a.0.total_cmp(&b.0));
                threads
            }
            Self::ConductiveBobbin => vec![(0.8, Choice::Bobbin)],
            // Opposite takes one more lead, both ends two.
            Self::OtherFeed => vec![(0.6, Choice::Feed(Feed::Opposite)), (1.0, Choice::Feed(Feed::BothEnds))],
            // Not for what is worn: nobody ties a garment on a body to earth.
            Self::EarthedSupply if piece.touch.case == TouchCase::Battery && piece.stack.ground != GroundKind::Body => {
                vec![(1.5, Choice::Earth)]
            }
            Self::OtherController => {
                let present = piece.controller.library.as_deref();
                library.controllers.iter().filter(|c| Some(c.id) != present).map(|c| (2.0, Choice::Controller(c.id))).collect()
            }
            Self::RunStitch => vec![(0.2, Choice::RunStitch)],
            Self::FillStitch => vec![(0.2, Choice::FillStitch)],
            // A garment that must be moistened is some trouble, one with gel more.
            Self::DampElectrodes => vec![(1.0, Choice::Wetter(Skin::Damp))],
            Self::GelElectrodes => vec![(2.0, Choice::Wetter(Skin::Gel))],
            _ => Vec::new(),
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Choice {
    Passes(u32),
    Thread(&'static str),
    Bobbin,
    Earth,
    Controller(&'static str),
    RunStitch,
    FillStitch,
    Wetter(Skin),
    Feed(Feed),
}

impl Choice {
    /// What it means for a light row.
    const fn of_row(self) -> Option<RowChoice> {
        match self {
            Self::Passes(more) => Some(RowChoice::Passes(more)),
            Self::Thread(id) => Some(RowChoice::Thread(id)),
            Self::Bobbin => Some(RowChoice::Bobbin),
            Self::Feed(feed) => Some(RowChoice::Feed(feed)),
            _ => None,
        }
    }

    fn apply(self, pad: &mut Pad, library: &Library, k: usize, edits: &mut Vec<Edit>) {
        let mut edit = |field: &str, from, to| edits.push(Edit { pointer: format!("/pads/{k}/{field}"), from, to });
        match self {
            Self::Passes(more) => {
                edit("run/passes", EditValue::Count(pad.run.passes), EditValue::Count(pad.run.passes + more));
                pad.run.passes += more;
            }
            Self::Thread(id) => {
                let before = pad.thread.library.as_deref().and_then(|old| library.thread(old));
                edit("thread", before.map_or(EditValue::Numbers, |t| EditValue::Entry(t.id)), EditValue::Entry(id));
                pad.thread = super::ThreadChoice { library: Some(id.to_owned()), ..Default::default() };
            }
            Self::Bobbin if pad.run.bobbin == Bobbin::Plain => {
                edit("run/bobbin", EditValue::Word("plain"), EditValue::Word("same_thread"));
                pad.run.bobbin = Bobbin::SameThread;
            }
            Self::RunStitch => {
                if let Some(Stitch::Running { stitch_length_m } | Stitch::Back { stitch_length_m }) = &mut pad.run.stitch {
                    let q = &units::STITCH_LENGTH;
                    edit(
                        "run/stitch/stitch_length_mm",
                        EditValue::Number(*stitch_length_m, q),
                        EditValue::Number(Stitch::USUAL_LENGTH_M, q),
                    );
                    *stitch_length_m = Stitch::USUAL_LENGTH_M;
                }
            }
            Self::FillStitch => {
                if let Some(fill) = &mut pad.fill {
                    let q = &units::STITCH_LENGTH;
                    edit("fill/stitch_length_mm", EditValue::Number(fill.stitch_length_m, q), EditValue::Number(Stitch::USUAL_LENGTH_M, q));
                    fill.stitch_length_m = Stitch::USUAL_LENGTH_M;
                }
            }
            Self::Bobbin | Self::Earth | Self::Controller(_) | Self::Wetter(_) | Self::Feed(_) => {}
        }
    }
}

fn now_thread(now: &Estimate, place: super::Place) -> Option<f64> {
    now.inputs.iter().find(|i| i.place == place && std::ptr::eq(i.quantity, &units::LINEAR_RESISTANCE)).map(|i| i.measured.value)
}

/// Scales all measures of an outline; `pointer` names the shape.
pub(super) fn scale_shape(shape: &mut Shape, factor: f64, pointer: &str, edits: &mut Vec<Edit>) {
    let at = || pointer.to_owned();
    match shape {
        Shape::Round { diameter_m } => scaled(diameter_m, &units::DIAMETER, factor, at(), edits),
        Shape::Rectangle { width_m, length_m, corner_radius_m } => {
            scaled(width_m, &units::WIDTH, factor, at(), edits);
            scaled(length_m, &units::LENGTH, factor, at(), edits);
            if corner_radius_m.value > 0.0 {
                // Rounded down rather than with the sides, or it might no longer fit between them.
                scaled(corner_radius_m, &units::CORNER_RADIUS, factor.min(1.0), at(), edits);
            }
        }
        Shape::Ring { inner_diameter_m, outer_diameter_m } => {
            scaled(inner_diameter_m, &units::INNER_DIAMETER, factor, at(), edits);
            scaled(outer_diameter_m, &units::OUTER_DIAMETER, factor, at(), edits);
        }
        Shape::Polygon { .. } => {}
    }
}

fn scale_thickest(side: &str, layers: &mut [LayerChoice], library: &Library, factor: f64, edits: &mut Vec<Edit>) {
    let thickness =
        |l: &LayerChoice| l.thickness_m.or_else(|| l.library.as_deref().and_then(|id| library.fabric(id)).map(|f| f.thickness_m.measured));
    let thickest = layers
        .iter()
        .enumerate()
        .filter_map(|(k, l)| thickness(l).map(|t| (k, t)))
        .max_by(|a, b| a.1.value.total_cmp(&b.1.value).then(b.0.cmp(&a.0)));
    if let Some((k, mut thickness)) = thickest {
        scaled(&mut thickness, &units::LAYER_THICKNESS, factor, format!("/stack/{side}/{k}"), edits);
        layers[k].thickness_m = Some(thickness);
    }
}

/// Scales a number and its spread, rounds it away from where it was to what a person would type, and notes the edit.
pub(super) fn scaled(number: &mut Measured, quantity: &'static Quantity, factor: f64, parent: String, edits: &mut Vec<Edit>) {
    let before = *number;
    if before.value == 0.0 {
        // Nothing grows out of nothing.
        return;
    }
    let edge = quantity.from_si(before.value) * factor;
    let step = 10f64.powi(edge.abs().log10().floor() as i32 - 1) / 2.0;
    let rounded = if factor > 1.0 { (edge / step - 1e-9).ceil() * step } else { (edge / step + 1e-9).floor() * step };
    let value = quantity.to_si(significant(rounded, 6));
    let grown = value / before.value;
    // What the edge writes and reads back must be this very spread, so it is rounded there too.
    let spread_edge = significant(quantity.width_from_si(before.standard_uncertainty * grown), 3);
    let standard_uncertainty = if before.spread == Spread::Exact { 0.0 } else { spread_edge / quantity.per_si };
    *number = Measured { value, standard_uncertainty, spread: before.spread };
    edits.push(Edit {
        pointer: format!("{parent}/{}", quantity.field),
        from: EditValue::Number(before, quantity),
        to: EditValue::Number(*number, quantity),
    });
}

impl Trial {
    fn describe(self, now: &Estimate) -> Change {
        let names: Vec<_> = self.edits.iter().filter_map(Edit::in_words).collect();
        let amount = match names.split_first() {
            None => String::new(),
            Some((first, rest)) if rest.iter().all(|n| n == first) => format!(" ({first})"),
            Some(_) => format!(" ({})", names.join(", ")),
        };
        let (before, after) = (percent(now.chance), percent(self.after.chance));
        let outcome = if self.after.verdict == Verdict::Comfortable {
            format!("the piece is comfortable ({after})")
        } else {
            format!("the chance rises from {before} to {after}: {}", self.after.verdict.word())
        };
        let what = self.what;
        let sentence = format!("With {what}{amount} {outcome}.");
        Change { edits: self.edits, what, verdict: self.after.verdict, chance: self.after.chance, sentence }
    }
}
