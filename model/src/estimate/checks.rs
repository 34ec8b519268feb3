//! Results held against what is needed.

use super::input::Input;
use super::neighbour::Felt;
use super::pad::{ControllerValues, PadChain, StitchValues};
use super::run::RunStitch;
use super::{Check, Feature, Pad, Piece, Shape};
use crate::geometry::{self, Point};
use crate::uncertainty::{Linear, Share};
use crate::units::{self, COVERAGE_95, Quantity};
use crate::verdict::{Bound, CheckKind, StitchLimit, judge};

/// Stitch lengths that conductive thread bears: shorter ones pile up and break it, longer ones snag.
/// Common practice, no source.
pub(super) const STITCH_LENGTH_M: (f64, f64) = (1.0e-3, 7.0e-3);

/// Widths that a zigzag over a laid wire may have: a machine swings no further. Common practice, no source.
pub(super) const ZIGZAG_WIDTH_M: f64 = 12.0e-3;

/// Widths of a satin column: narrower ones cut the cloth, wider ones snag. Common practice, no source.
const COLUMN_WIDTH_M: (f64, f64) = (1.0e-3, 8.0e-3);

/// A neighbour is quiet while it sees no more than this share of what counts as a touch. Common practice, no source.
const QUIET_SHARE: f64 = 0.5;

/// Shares of the variance below this are not listed.
const SMALLEST_SHARE: f64 = 0.01;

/// Checks of a piece as they come.
pub(super) struct Verdicts<'a> {
    piece: &'a Piece,
    controller: &'a ControllerValues,
    pub(super) checks: Vec<Check>,
}

impl<'a> Verdicts<'a> {
    pub(super) fn new(piece: &'a Piece, controller: &'a ControllerValues) -> Self {
        Self { piece, controller, checks: Vec::with_capacity(6 * piece.pads.len() + 1) }
    }

    /// Adds the checks of pad `k` and returns the number of the weakest. `first_own` is where the pad's own inputs
    /// will stand in the list of the whole estimate.
    pub(super) fn pad(
        &mut self,
        k: usize,
        chain: &mut PadChain,
        gap: Option<Gap>,
        felt: Option<&Felt>,
        shared: &[Input],
        first_own: usize,
    ) -> usize {
        let first = self.checks.len();
        let c = self.controller;
        let gap = gap.map(|gap| gap.with_spread(k, self.piece, chain, shared.len()));
        let inputs = Inputs { shared, own: &chain.inputs, first_own };
        let mut add = |kind, quantity, bound, predicted: &Linear, needed: &Linear| {
            self.checks.push(check(kind, Some(Feature::Pad(k)), quantity, bound, predicted, needed, &inputs));
        };
        add(CheckKind::Signal, &units::NEEDED_SIGNAL, Bound::AtLeast, &chain.signal_f, &c.needed_signal_f);
        add(CheckKind::StandingCapacitance, &units::MAX_STANDING, Bound::AtMost, &chain.standing_f, &c.max_standing_f);
        add(CheckKind::Settling, &units::SETTLED, Bound::AtLeast, &chain.settled, &c.settled_fraction);
        add(CheckKind::RunResistance, &units::MAX_RUN, Bound::AtMost, &chain.run_ohm, &c.max_run_ohm);
        let (limit, quantity, bound, predicted, needed) = closest_stitch_limit(&chain.stitch);
        add(CheckKind::Stitchable(limit), quantity, bound, &predicted, &needed);
        if let Some(free_m) = &chain.terminal.free_m {
            let kept = Linear::exact(self.piece.machine.clearance_m);
            add(CheckKind::TerminalPitch, &units::CLEARANCE, Bound::AtLeast, free_m, &kept);
        }
        if let Some([hole_m, needed_m]) = &chain.terminal.hole_m {
            add(CheckKind::TerminalHole, &units::HOLE, Bound::AtLeast, hole_m, needed_m);
        }
        if let Some(gap) = gap {
            add(CheckKind::Clearance, &units::CLEARANCE, Bound::AtLeast, &gap, &Linear::exact(self.piece.machine.clearance_m));
        }
        if let Some(felt) = felt {
            add(CheckKind::Neighbour, &units::NEIGHBOUR_SIGNAL, Bound::AtMost, &felt.signal_f, &c.needed_signal_f.times(QUIET_SHARE));
        }
        weakest(&self.checks, first)
    }

    /// Adds the checks of the whole piece.
    pub(super) fn piece(&mut self) {
        let mut kinds: Vec<_> = Vec::new();
        for thread in self.piece.threads() {
            if !kinds.contains(&thread) {
                kinds.push(thread);
            }
        }
        let machine = self.piece.machine;
        // The zigzag over what is laid is sewn in plain thread, which a decorative one may do.
        let plain = machine.decorative_threads.max(u32::from(!self.piece.laid_wires.is_empty()));
        let needles = Linear::exact(kinds.len() as f64 + f64::from(plain));
        let limit = Linear::exact(f64::from(machine.needles));
        let none = Inputs { shared: &[], own: &[], first_own: 0 };
        let kind = CheckKind::Stitchable(StitchLimit::Needles);
        self.checks.push(check(kind, None, &units::NEEDLES, Bound::AtMost, &needles, &limit, &none));
    }
}

/// The weakest of the checks from `first` on: worst verdict, then lowest chance, then the first of them.
pub(super) fn weakest(checks: &[Check], first: usize) -> usize {
    (first..checks.len())
        .min_by(|a, b| {
            let (a, b) = (&checks[*a], &checks[*b]);
            b.verdict.cmp(&a.verdict).then(a.chance.total_cmp(&b.chance))
        })
        .unwrap_or(first)
}

/// The inputs behind the numbers of one feature: those of the whole piece, then its own.
pub(super) struct Inputs<'a> {
    pub(super) shared: &'a [Input],
    pub(super) own: &'a [Input],
    /// Where its own will stand in the list of the whole estimate.
    pub(super) first_own: usize,
}

impl Inputs<'_> {
    fn get(&self, number: usize) -> &Input {
        self.shared.get(number).unwrap_or_else(|| &self.own[number - self.shared.len()])
    }

    pub(super) fn in_estimate(&self, number: usize) -> usize {
        if number < self.shared.len() { number } else { self.first_own + number - self.shared.len() }
    }
}

/// One requirement, judged.
pub(super) fn check(
    kind: CheckKind,
    feature: Option<Feature>,
    quantity: &'static Quantity,
    bound: Bound,
    predicted: &Linear,
    needed: &Linear,
    inputs: &Inputs<'_>,
) -> Check {
    let margin = bound.margin(predicted, needed);
    let judgement = judge(&margin, |number| {
        let input = inputs.get(number);
        (input.unmeasured() && input.coupon_measures()).then(|| input.reach_95())
    });
    let standard_uncertainty = predicted.standard_uncertainty();
    let half = COVERAGE_95 * standard_uncertainty;
    let most = if matches!(kind, CheckKind::Settling | CheckKind::LightSpread) { 1.0 } else { f64::INFINITY };
    // A signal may be negative in earnest (the finger shades the pad); the other quantities may not.
    let least = if matches!(kind, CheckKind::Signal | CheckKind::Neighbour) { f64::NEG_INFINITY } else { 0.0 };
    let shares = margin.shares(SMALLEST_SHARE).into_iter().map(|s| Share { input: inputs.in_estimate(s.input), ..s }).collect();
    Check {
        kind,
        feature,
        quantity,
        bound,
        needed: needed.value,
        predicted: predicted.value,
        standard_uncertainty,
        interval_95: ((predicted.value - half).max(least.min(predicted.value)), (predicted.value + half).min(most.max(predicted.value))),
        chance: judgement.chance,
        verdict: judgement.verdict,
        shares,
        measure: judgement.measure.map(|number| inputs.in_estimate(number)),
    }
}

pub(super) type StitchCheck = (StitchLimit, &'static Quantity, Bound, Linear, Linear);

/// Of all limits of stitching, the one with the lowest chance; among equals the one with the least room.
pub(super) fn closest_stitch_limit(s: &StitchValues) -> StitchCheck {
    let mut limits: Vec<StitchCheck> = Vec::with_capacity(8);
    let mut between = |limit, quantity, value: &Linear, (low, high): (f64, f64)| {
        limits.push((limit, quantity, Bound::AtLeast, value.clone(), Linear::exact(low)));
        limits.push((limit, quantity, Bound::AtMost, value.clone(), Linear::exact(high)));
    };
    match &s.run {
        RunStitch::Along { stitch_length_m } => between(StitchLimit::RunStitch, &units::STITCH_LENGTH, stitch_length_m, STITCH_LENGTH_M),
        RunStitch::Satin(satin) => between(StitchLimit::ColumnWidth, &units::COLUMN_WIDTH, &satin.column_width_m, COLUMN_WIDTH_M),
    }
    if let Some([_, stitch_length_m]) = &s.fill {
        between(StitchLimit::FillStitch, &units::STITCH_LENGTH, stitch_length_m, STITCH_LENGTH_M);
    }
    // Rows and zigzags nearer than a thread's width leave no room for the needle.
    if let Some([row_spacing_m, _]) = &s.fill {
        limits.push((StitchLimit::RowSpacing, &units::ROW_SPACING, Bound::AtLeast, row_spacing_m.clone(), s.thread_diameter_m.clone()));
    }
    if let RunStitch::Satin(satin) = &s.run {
        limits.push((StitchLimit::Density, &units::SATIN_DENSITY, Bound::AtLeast, satin.density_m.clone(), s.thread_diameter_m.clone()));
    }
    closest(limits)
}

/// Of several limits, the one with the lowest chance; among equals the one with the least room. There must be one.
pub(super) fn closest(limits: Vec<StitchCheck>) -> StitchCheck {
    let rank = |l: &StitchCheck| {
        let margin = l.2.margin(&l.3, &l.4);
        (judge(&margin, |_| None).chance, margin.value / l.4.value)
    };
    limits
        .into_iter()
        .map(|limit| (rank(&limit), limit))
        .min_by(|(a, _), (b, _)| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)))
        .map(|(_, limit)| limit)
        .expect("there are limits")
}

/// The nearest other pad.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gap {
    other: usize,
    gap_m: f64,
}

impl Gap {
    /// The gap with the spread of both outlines: each measure moves the edge by half of itself at the most.
    fn with_spread(self, k: usize, piece: &Piece, chain: &mut PadChain, shared: usize) -> Linear {
        let mut gap = Linear::exact(self.gap_m);
        for measure in &chain.measures {
            gap = gap.plus(-0.5, &measure.plus(-1.0, &Linear::exact(measure.value)));
        }
        for input in outline_inputs(&piece.pads[self.other].shape, self.other) {
            if input.measured.standard_uncertainty > 0.0 && self.other != k {
                let measure = chain.also(shared, input);
                gap = gap.plus(-0.5, &measure.plus(-1.0, &Linear::exact(measure.value)));
            }
        }
        gap
    }
}

fn outline_inputs(shape: &Shape, pad: usize) -> Vec<Input> {
    // The hole of a ring and the roundness of corners move no edge that a neighbour sees.
    let mut inputs = shape_inputs(shape, pad);
    inputs.retain(|input| ![&units::INNER_DIAMETER, &units::CORNER_RADIUS].contains(&input.quantity));
    inputs
}

/// All measures of an outline, in the order of the shape's fields.
pub(super) fn shape_inputs(shape: &Shape, pad: usize) -> Vec<Input> {
    use super::input::{Origin, Place};
    let one = |quantity: &'static Quantity, measured| Input {
        place: Place::Shape(pad),
        quantity,
        measured,
        origin: Origin::Given,
        source: "given with the piece",
        status: crate::materials::Status::Given,
    };
    match *shape {
        Shape::Round { diameter_m } => vec![one(&units::DIAMETER, diameter_m)],
        Shape::Ring { inner_diameter_m, outer_diameter_m } => {
            vec![one(&units::INNER_DIAMETER, inner_diameter_m), one(&units::OUTER_DIAMETER, outer_diameter_m)]
        }
        Shape::Rectangle { width_m, length_m, corner_radius_m } => {
            vec![one(&units::WIDTH, width_m), one(&units::LENGTH, length_m), one(&units::CORNER_RADIUS, corner_radius_m)]
        }
        Shape::Polygon { .. } => Vec::new(),
    }
}

/// For every pad with a centre, the nearest other pad with one.
pub(super) fn nearest_gaps(piece: &Piece) -> Vec<Option<Gap>> {
    let placed: Vec<Option<Placed<'_>>> = piece.pads.iter().map(Placed::new).collect();
    let mut gaps: Vec<Option<Gap>> = vec![None; placed.len()];
    for (k, a) in placed.iter().enumerate() {
        let Some(a) = a else { continue };
        for (other, b) in placed.iter().enumerate().skip(k + 1) {
            let Some(b) = b else { continue };
            let least = (a.centre[0] - b.centre[0]).hypot(a.centre[1] - b.centre[1]) - a.reach - b.reach;
            let known = |k: usize| gaps[k].map_or(f64::INFINITY, |g: Gap| g.gap_m);
            // Circles around both pads keep the exact distance from being worked out for pads far apart.
            if least >= known(k) && least >= known(other) {
                continue;
            }
            let gap_m = if a.round && b.round { least.max(0.0) } else { geometry::clearance(&a.corners(), &b.corners()) };
            for (at, neighbour) in [(k, other), (other, k)] {
                if gap_m < gaps[at].map_or(f64::INFINITY, |g| g.gap_m) {
                    gaps[at] = Some(Gap { other: neighbour, gap_m });
                }
            }
        }
    }
    gaps
}

struct Placed<'a> {
    pad: &'a Pad,
    centre: Point,
    reach: f64,
    round: bool,
}

/// Radius of the circle about its origin that holds an outline, m.
pub(super) fn reach_m(shape: &Shape) -> f64 {
    match shape {
        Shape::Round { diameter_m } => diameter_m.value / 2.0,
        Shape::Ring { outer_diameter_m, .. } => outer_diameter_m.value / 2.0,
        Shape::Rectangle { width_m, length_m, .. } => width_m.value.hypot(length_m.value) / 2.0,
        Shape::Polygon { points_m, .. } => points_m.iter().map(|p| p[0].hypot(p[1])).fold(0.0, f64::max),
    }
}

impl<'a> Placed<'a> {
    fn new(pad: &'a Pad) -> Option<Self> {
        let centre = pad.centre_m?;
        let round = matches!(pad.shape, Shape::Round { .. } | Shape::Ring { .. });
        Some(Self { pad, centre, reach: reach_m(&pad.shape), round })
    }

    fn corners(&self) -> Vec<Point> {
        let outline = match &self.pad.shape {
            Shape::Round { diameter_m: d } | Shape::Ring { outer_diameter_m: d, .. } => geometry::round_outline(d.value),
            Shape::Rectangle { width_m, length_m, .. } => geometry::rectangle_outline(width_m.value, length_m.value),
            Shape::Polygon { points_m, .. } => points_m.clone(),
        };
        geometry::placed(&outline, self.pad.rotation_rad, self.centre)
    }
}
