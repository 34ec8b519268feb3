//! A laid wire of a piece on the wire, and its conversion to the model's.

use serde::Deserialize;
use toile_model::{self as model, MOST_LAID_WIRES};
use utoipa::ToSchema;

use super::warmth::{SupplyKind, Warmth};
use crate::api::number::{
    AdvanceMm, ConductorAreaMm2, LinearMassGPerM, MaxResistanceOhm, MeanderHeightMm, MeanderSpacingMm, MeanderWidthMm, MetalDiameterMm,
    MinBendRadiusMm, NeededPowerW, NeedleClearanceMm, OutsideMm, PointMm, RunLengthMm, SupplyV, WireCurrentMa, WireOhmPerM,
};
use crate::api::solve::{ClassWord, LaidKind};

/// A wire, a tube or a roving fixed by a zigzag over it.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LaidWire {
    /// What it is called; `laid wire 1` and so on where nothing is given.
    #[schema(max_length = 200)]
    name: Option<String>,
    /// What is laid.
    kind: LaidKind,
    /// The metal of a wire; not for tubes and rovings.
    conductor: Option<WireConductor>,
    /// Diameter over all; that of the metal where nothing is given.
    outer_diameter_mm: Option<OutsideMm>,
    /// Mass per length over all; from metal and covering where nothing is given.
    linear_mass_g_per_m: Option<LinearMassGPerM>,
    /// Its way over the cloth.
    course: LaidCourse,
    /// The zigzag that holds it.
    hold: Option<LaidHold>,
    /// Smallest bend radius that it bears; 4 to 6 outer diameters where nothing is given.
    min_bend_radius_mm: Option<MinBendRadiusMm>,
    /// Voltage across a wire.
    supply_v: Option<SupplyV>,
    /// Current through a wire, in place of a voltage.
    current_ma: Option<WireCurrentMa>,
    /// What the power comes from; a battery where nothing is given.
    supply_kind: Option<SupplyKind>,
    /// Power that it must give; not looked at where nothing is given.
    needed_power_w: Option<NeededPowerW>,
    /// Largest resistance that it may have; not looked at where nothing is given.
    max_resistance_ohm: Option<MaxResistanceOhm>,
    /// How warm it may become.
    warmth: Option<Warmth>,
}

/// The metal of a wire. One of metal and linear resistance; with a metal, one of diameter, gauge and section.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WireConductor {
    /// Id of a metal of the library.
    #[schema(max_length = 200)]
    metal: Option<String>,
    /// Resistance per length at 20 degrees Celsius, in place of a metal.
    linear_resistance_ohm_per_m: Option<WireOhmPerM>,
    /// Diameter of the metal.
    diameter_mm: Option<MetalDiameterMm>,
    /// American gauge.
    #[schema(minimum = -3, maximum = 56)]
    gauge: Option<i32>,
    /// Section of the metal.
    area_mm2: Option<ConductorAreaMm2>,
    /// For copper of a nominal section: its class after IEC 60228, whose largest resistance is then told too.
    class: Option<ClassWord>,
    /// Whether the copper is coated with metal; by the metal's name where nothing is given.
    coated: Option<bool>,
}

/// The way over the cloth.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum LaidCourse {
    /// Straight, or gently curved.
    Straight {
        /// Length.
        length_mm: RunLengthMm,
    },
    /// From point to point, corners rounded as widely as they allow.
    Path {
        /// Points of the path, x and y.
        #[schema(min_items = 2, max_items = 5000)]
        points_mm: Vec<PointMm>,
    },
    /// Rows to and fro over a rectangle.
    Meander {
        /// Along the rows, turns included.
        width_mm: MeanderWidthMm,
        /// Across the rows.
        height_mm: MeanderHeightMm,
        /// From row to row.
        spacing_mm: MeanderSpacingMm,
    },
}

/// The zigzag over what is laid; usual where nothing is given.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LaidHold {
    /// From its side to the middle of the needle; 0.5 to 0.8 where nothing is given.
    clearance_mm: Option<NeedleClearanceMm>,
    /// Distance of penetrations on one side; 4 where nothing is given.
    advance_mm: Option<AdvanceMm>,
}

const _: () = assert!(MOST_LAID_WIRES == 64 && model::laid_wire::MOST_POINTS == 5000);

impl From<LaidWire> for model::LaidWire {
    fn from(wire: LaidWire) -> Self {
        Self {
            name: wire.name,
            kind: wire.kind.into(),
            conductor: wire.conductor.map(Into::into),
            outer_diameter_m: wire.outer_diameter_mm.map(|n| n.0),
            linear_mass_kg_per_m: wire.linear_mass_g_per_m.map(|n| n.0),
            course: wire.course.into(),
            hold: wire.hold.map(Into::into).unwrap_or_default(),
            min_bend_radius_m: wire.min_bend_radius_mm.map(|n| n.0),
            supply_v: wire.supply_v.map(|n| n.0),
            current_a: wire.current_ma.map(|n| n.0),
            supply_kind: wire.supply_kind.map(Into::into).unwrap_or_default(),
            needed_power_w: wire.needed_power_w.map(|n| n.0),
            max_resistance_ohm: wire.max_resistance_ohm.map(|n| n.0),
            warmth: wire.warmth.map(Into::into).unwrap_or_default(),
        }
    }
}

impl From<WireConductor> for model::ConductorChoice {
    fn from(wire: WireConductor) -> Self {
        Self {
            metal: wire.metal,
            linear_resistance_ohm_per_m: wire.linear_resistance_ohm_per_m.map(|n| n.0),
            diameter_m: wire.diameter_mm.map(|n| n.0),
            gauge: wire.gauge,
            area_m2: wire.area_mm2.map(|n| n.0),
            class: wire.class.map(Into::into),
            coated: wire.coated,
        }
    }
}

impl From<LaidCourse> for model::CourseChoice {
    fn from(wire: LaidCourse) -> Self {
        match wire {
            LaidCourse::Straight { length_mm } => Self::Straight { length_m: length_mm.0 },
            LaidCourse::Path { points_mm } => Self::Path { points_m: points_mm.into_iter().map(|p| p.0).collect() },
            LaidCourse::Meander { width_mm, height_mm, spacing_mm } => {
                Self::Meander { width_m: width_mm.0, height_m: height_mm.0, spacing_m: spacing_mm.0 }
            }
        }
    }
}

impl From<LaidHold> for model::HoldChoice {
    fn from(wire: LaidHold) -> Self {
        Self { clearance_m: wire.clearance_mm.map(|n| n.0), advance_m: wire.advance_mm.map(|n| n.0) }
    }
}
