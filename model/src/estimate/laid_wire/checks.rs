//! What a laid wire is held against, and how well it stands.

use super::chain::{LaidWireChain, laid_wire_chain};
use super::piece::LaidWire;
use crate::estimate::checks::{Inputs, STITCH_LENGTH_M, StitchCheck, ZIGZAG_WIDTH_M, check, closest, weakest};
use crate::estimate::pad::PieceChain;
use crate::estimate::{Check, CourseChoice, Feature, Input};
use crate::materials::Status;
use crate::uncertainty::Linear;
use crate::units::{self, Quantity};
use crate::verdict::{Bound, CheckKind, StitchLimit, Verdict};

/// What is predicted for one laid wire, SI, at the best estimates.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidWireResult {
    /// Its name.
    pub name: String,
    /// That of its weakest check.
    pub verdict: Verdict,
    /// The lowest chance of its checks.
    pub chance: f64,
    /// The weakest of its checks, a number in `Estimate::checks`.
    pub weakest: usize,
    /// Length, m.
    pub length_m: f64,
    /// Rows of a meander, 1 otherwise.
    pub rows: f64,
    /// Area that a meander serves, m2.
    pub area_m2: Option<f64>,
    /// Sharpest bend, m; `None` where nothing bends.
    pub bend_radius_m: Option<f64>,
    /// Diameter over all, m.
    pub outer_m: f64,
    /// Mass, kg; `None` where neither a metal nor a mass per length is told.
    pub mass_kg: Option<f64>,
    /// Stitches of the zigzag.
    pub stitches: f64,
    /// Width of the zigzag, m.
    pub zigzag_m: f64,
    /// What a wire resists; `None` for tubes and rovings.
    pub wire: Option<WireResult>,
}

/// What a wire resists, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WireResult {
    /// At 20 degrees Celsius, ohm/m.
    pub ohm_per_m: f64,
    /// The whole length in use, ohm.
    pub ohm: f64,
    /// Largest that IEC 60228 allows the length at 20 degrees Celsius, ohm, and how well that is known.
    pub standard_ohm: Option<(f64, Status)>,
    /// Where the metal's numbers come from.
    pub source: &'static str,
    /// How far they can be trusted.
    pub status: Status,
    /// What current does; `None` without one.
    pub heating: Option<HeatingResult>,
}

/// What current does to a wire, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatingResult {
    /// Current, A.
    pub current_a: f64,
    /// Power, W.
    pub power_w: f64,
    /// Power per length, W/m.
    pub power_w_per_m: f64,
    /// Power per area of a meander, W/m2.
    pub power_w_per_m2: Option<f64>,
    /// Temperature of the surroundings, K.
    pub ambient_k: f64,
    /// Bounds on how much warmer it settles, K.
    pub rise_k: [f64; 2],
}

/// Works out every laid wire of a piece; adds their checks, inputs and notes to those of the estimate.
pub(in super::super) fn laid_wires(
    chain: &PieceChain<'_>,
    checks: &mut Vec<Check>,
    inputs: &mut Vec<Input>,
    notes: &mut Vec<String>,
) -> Vec<LaidWireResult> {
    let wires = &chain.piece.laid_wires;
    let drawn = wires.iter().any(|wire| matches!(wire.course, CourseChoice::Path { .. }));
    let warm = wires.iter().any(LaidWire::is_powered);
    for (text, applies) in [
        ("a path is as long as drawn; rounded corners make what is laid a little shorter", drawn),
        ("a heated wire's resistance is that at the temperature of the surroundings; copper warmed by 50 K has a fifth more", warm),
    ] {
        if applies {
            notes.push(text.to_owned());
        }
    }
    wires.iter().enumerate().map(|(k, wire)| one(chain, k, wire, checks, inputs)).collect()
}

fn one(chain: &PieceChain<'_>, k: usize, wire: &LaidWire, checks: &mut Vec<Check>, inputs: &mut Vec<Input>) -> LaidWireResult {
    let worked = laid_wire_chain(chain, k, wire);
    let first = checks.len();
    let of = Inputs { shared: &chain.inputs, own: &worked.inputs, first_own: inputs.len() };
    let feature = Some(Feature::LaidWire(k));
    let mut add = |kind, quantity: &'static Quantity, bound, predicted: &Linear, needed: &Linear| {
        checks.push(check(kind, feature, quantity, bound, predicted, needed, &of));
    };
    if let Some(w) = &worked.wire {
        if let Some(most) = &w.max_ohm {
            add(CheckKind::WireResistance, &units::MAX_RESISTANCE, Bound::AtMost, &w.ohm, most);
        }
        if let Some(h) = &w.heat {
            if let Some(needed) = &h.needed_w {
                add(CheckKind::HeatingPower, &units::NEEDED_POWER, Bound::AtLeast, &h.power_w, needed);
            }
            add(CheckKind::Warmth, &units::MAX_TEMPERATURE, Bound::AtMost, &h.warm_k, &h.max_temperature_k);
        }
    }
    if let Some(bend) = &worked.bend_m {
        add(CheckKind::BendRadius, &units::BEND_RADIUS, Bound::AtLeast, bend, &worked.least_bend_m);
    }
    let half_needle = Linear::exact(chain.piece.machine.needle_diameter_m / 2.0);
    let nearest = match &worked.next_row_m {
        Some(next) if next.value < worked.beside_m.value => next,
        _ => &worked.beside_m,
    };
    add(CheckKind::NeedleClearance, &units::NEEDLE_CLEARANCE, Bound::AtLeast, nearest, &half_needle);
    let (limit, quantity, bound, predicted, needed) = closest(zigzag_limits(&worked));
    add(CheckKind::Stitchable(limit), quantity, bound, &predicted, &needed);
    let weakest = weakest(checks, first);
    inputs.extend_from_slice(&worked.inputs);
    result(k, wire, &worked, &checks[weakest], weakest)
}

/// What the machine limits of the zigzag: how far it swings, and the stitch length, which plain thread takes longer than
/// conductive thread does.
fn zigzag_limits(worked: &LaidWireChain) -> Vec<StitchCheck> {
    let width = (&worked.zigzag_m, Bound::AtMost, ZIGZAG_WIDTH_M, StitchLimit::ZigzagWidth, &units::ZIGZAG_WIDTH);
    let stitch = (&worked.stitch_m, Bound::AtLeast, STITCH_LENGTH_M.0, StitchLimit::ZigzagStitch, &units::STITCH_LENGTH);
    let limits = [width, stitch];
    limits.into_iter().map(|(value, bound, limit, kind, quantity)| (kind, quantity, bound, value.clone(), Linear::exact(limit))).collect()
}

fn result(k: usize, wire: &LaidWire, worked: &LaidWireChain, weakest_check: &Check, weakest: usize) -> LaidWireResult {
    let d = &worked.details;
    let laid = &d.laid;
    let length_m = worked.length_m.value;
    let heating = |w: &super::chain::WireValues| {
        w.heat.as_ref().map(|h| HeatingResult {
            current_a: h.current_a,
            power_w: h.power_w.value,
            power_w_per_m: h.power_w.value / length_m,
            power_w_per_m2: laid.area_m2.map(|m2| h.power_w.value / m2),
            ambient_k: h.ambient_k,
            rise_k: [h.rise.low_k, h.rise.high_k],
        })
    };
    LaidWireResult {
        name: Feature::LaidWire(k).called(wire.name.as_deref()),
        verdict: weakest_check.verdict,
        chance: weakest_check.chance,
        weakest,
        length_m,
        rows: laid.rows,
        area_m2: laid.area_m2,
        bend_radius_m: laid.bend_radius_m,
        outer_m: d.outer_m,
        mass_kg: d.kg_per_m.map(|kg| kg * length_m),
        stitches: d.hold.stitches,
        zigzag_m: d.hold.width_m,
        wire: worked.wire.as_ref().zip(d.conductor).map(|(w, c)| WireResult {
            ohm_per_m: c.ohm_per_m,
            ohm: w.ohm.value,
            standard_ohm: c.largest.map(|(ohm, status)| (ohm * length_m, status)),
            source: c.source,
            status: c.status,
            heating: heating(w),
        }),
    }
}
