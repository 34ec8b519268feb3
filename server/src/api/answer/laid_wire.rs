//! What is predicted for a laid wire, on the wire.

use serde::Serialize;
use toile_model as model;
use toile_model::units;
use utoipa::ToSchema;

use super::light_row::WarmthAnswer;
use super::{VerdictWord, out};

/// What is predicted for one laid wire.
#[derive(Serialize, ToSchema)]
pub struct LaidWireResultAnswer<'a> {
    /// Its name.
    name: &'a str,
    /// Its place in the piece.
    pointer: String,
    /// That of its weakest check.
    verdict: VerdictWord,
    /// The lowest chance of its checks.
    chance: f64,
    /// Length.
    length_mm: f64,
    /// Rows of a meander; 1 otherwise.
    rows: f64,
    /// Area that a meander serves, each row half a spacing to either side; null for another way.
    area_dm2: Option<f64>,
    /// Radius of its sharpest bend; null where nothing bends.
    bend_radius_mm: Option<f64>,
    /// Diameter over all.
    outer_diameter_mm: f64,
    /// Mass of the length; null where neither a metal nor a mass per length is told.
    mass_g: Option<f64>,
    /// Stitches of the zigzag that holds it.
    stitches: f64,
    /// Width of the zigzag.
    zigzag_width_mm: f64,
    /// What a wire resists; null for tubes and rovings.
    wire: Option<WireResultAnswer>,
}

/// What a wire of a piece resists, and what current does to it.
#[derive(Serialize, ToSchema)]
pub struct WireResultAnswer {
    /// Per length at 20 degrees Celsius.
    linear_resistance_ohm_per_m: f64,
    /// The whole length in use.
    resistance_ohm: f64,
    /// Largest that IEC 60228 allows the length at 20 degrees Celsius; null where no class is named.
    standard_ohm: Option<f64>,
    /// How well that is known: published (second-hand) or from memory.
    standard_status: Option<&'static str>,
    /// Where the metal's numbers come from.
    source: &'static str,
    /// standard, published, common practice, from memory or given.
    status: &'static str,
    /// What current does; null without one.
    heating: Option<WireHeatingAnswer>,
}

/// What current does to a wire of a piece.
#[derive(Serialize, ToSchema)]
pub struct WireHeatingAnswer {
    /// Current.
    current_ma: f64,
    /// Power.
    power_w: f64,
    /// Power per area of a meander; null for another way.
    power_w_per_dm2: Option<f64>,
    /// How warm it becomes.
    warmth: WarmthAnswer,
}

impl<'a> LaidWireResultAnswer<'a> {
    /// Puts the result of wire `k` on the wire.
    pub(super) fn new(k: usize, wire: &'a model::LaidWireResult) -> Self {
        let mm = |m: f64| out(units::RUN_LENGTH.from_si(m));
        Self {
            name: &wire.name,
            pointer: model::Feature::LaidWire(k).pointer(),
            verdict: wire.verdict.into(),
            chance: out(wire.chance),
            length_mm: mm(wire.length_m),
            rows: wire.rows,
            area_dm2: wire.area_m2.map(|m2| out(m2 * 100.0)),
            bend_radius_mm: wire.bend_radius_m.map(mm),
            outer_diameter_mm: mm(wire.outer_m),
            mass_g: wire.mass_kg.map(|kg| out(kg * 1e3)),
            stitches: wire.stitches,
            zigzag_width_mm: mm(wire.zigzag_m),
            wire: wire.wire.as_ref().map(WireResultAnswer::new),
        }
    }
}

impl WireResultAnswer {
    fn new(wire: &model::WireResult) -> Self {
        Self {
            linear_resistance_ohm_per_m: out(wire.ohm_per_m),
            resistance_ohm: out(wire.ohm),
            standard_ohm: wire.standard_ohm.map(|(ohm, _)| out(ohm)),
            standard_status: wire.standard_ohm.map(|(_, status)| status.word()),
            source: wire.source,
            status: wire.status.word(),
            heating: wire.heating.as_ref().map(|h| WireHeatingAnswer {
                current_ma: out(units::CURRENT.from_si(h.current_a)),
                power_w: out(h.power_w),
                power_w_per_dm2: h.power_w_per_m2.map(|w| out(w / 100.0)),
                warmth: WarmthAnswer::new(h.power_w_per_m, h.ambient_k, h.rise_k),
            }),
        }
    }
}
