//! Wires, tubes and rovings laid on cloth and held by a zigzag.

use serde::{Deserialize, Serialize};
use toile_model::heat::{HeatPath, Rise, Surroundings, temperature_rise};
use toile_model::laid_wire::{Laid, MOST_POINTS, held};
use toile_model::materials::{ConductorClass, Status};
use toile_model::units::AMBIENT;
use toile_model::{self as model, Conduction, Faults, Inspector, LIBRARY};
use utoipa::ToSchema;

use super::heat::{LimitAnswer, limits_at, warm_cautions};
use crate::api::answer::CautionAnswer;
use crate::api::number::{
    AmbientC, PlainAdvanceMm, PlainAreaMm2, PlainBendRadiusMm, PlainCover, PlainInterlaceFraction, PlainLinearMass, PlainMeanderHeightMm,
    PlainMeanderSpacingMm, PlainMeanderWidthMm, PlainMetalDiameterMm, PlainNeedleClearanceMm, PlainOutsideMm, PlainPace, PlainRunLengthMm,
    PlainSupplyV, PlainWireCurrentMa, PlainWireOhmPerM, PointMm, StitchedThicknessMm,
};
use crate::api::read::Readable;

/// What is taken where nothing is said; common practice, no source.
const USUAL_CLEARANCE_M: f64 = 0.5e-3;
const USUAL_ADVANCE_M: f64 = 4e-3;
const USUAL_THICKNESS_M: f64 = 1e-3;
const USUAL_INTERLACE: f64 = 0.5;
const USUAL_STITCHES_PER_S: f64 = 400.0 / 60.0;
const USUAL_C: f64 = 20.0;

/// Smallest bend radius in outer diameters where nothing is said: 4 to 6, common practice.
const USUAL_BEND: f64 = 6.0;

/// Something laid on cloth.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LaidWireQuestion {
    /// What is laid.
    pub kind: LaidKind,
    /// The metal of a wire; not for tubes and rovings.
    pub conductor: Option<ConductorNumbers>,
    /// Diameter over all; that of the metal where nothing is given.
    pub outer_diameter_mm: Option<PlainOutsideMm>,
    /// Mass per length over all; from metal and covering where nothing is given.
    pub linear_mass_g_per_m: Option<PlainLinearMass>,
    /// Its way over the cloth.
    pub course: CourseNumbers,
    /// The zigzag that holds it.
    pub hold: Option<HoldNumbers>,
    /// Smallest bend radius that it bears; 6 outer diameters where nothing is given.
    pub min_bend_radius_mm: Option<PlainBendRadiusMm>,
    /// Voltage across a wire.
    pub supply_v: Option<PlainSupplyV>,
    /// Current through a wire, in place of a voltage.
    pub current_ma: Option<PlainWireCurrentMa>,
    /// Temperature of the surroundings; 20 where nothing is given.
    pub ambient_c: Option<AmbientC>,
    /// Sides of the cloth that give off heat; 2 where nothing is given.
    #[schema(minimum = 1, maximum = 2)]
    pub free_sides: Option<u8>,
    /// Thermal resistance of what covers each free side; nothing where nothing is given.
    pub cover_m2k_per_w: Option<PlainCover>,
}

/// What is laid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LaidKind {
    /// A wire or a strand.
    Wire,
    /// A tube.
    Tube,
    /// A roving, a cord or anything else that does not conduct.
    Roving,
}

impl From<LaidKind> for model::LaidKind {
    fn from(word: LaidKind) -> Self {
        match word {
            LaidKind::Wire => Self::Wire,
            LaidKind::Tube => Self::Tube,
            LaidKind::Roving => Self::Roving,
        }
    }
}

/// The metal of a wire. One of metal and linear resistance; with a metal, one of diameter, gauge and section.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ConductorNumbers {
    /// Id of a metal of the library.
    #[schema(max_length = 200)]
    pub metal: Option<String>,
    /// Resistance per length at 20 degrees Celsius, in place of a metal.
    pub linear_resistance_ohm_per_m: Option<PlainWireOhmPerM>,
    /// Diameter of the metal.
    pub diameter_mm: Option<PlainMetalDiameterMm>,
    /// American gauge.
    #[schema(minimum = -3, maximum = 56)]
    pub gauge: Option<i32>,
    /// Section of the metal.
    pub area_mm2: Option<PlainAreaMm2>,
    /// For copper of a nominal section: its class after IEC 60228, whose largest resistance is then told too.
    pub class: Option<ClassWord>,
    /// Whether the copper is coated with metal; not where nothing is given.
    pub coated: Option<bool>,
}

/// Class of a conductor after IEC 60228.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ClassWord {
    /// Classes 1 and 2.
    SolidOrStranded,
    /// Class 5.
    Flexible,
}

impl From<ClassWord> for ConductorClass {
    fn from(word: ClassWord) -> Self {
        match word {
            ClassWord::SolidOrStranded => Self::SolidOrStranded,
            ClassWord::Flexible => Self::Flexible,
        }
    }
}

/// The way over the cloth.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum CourseNumbers {
    /// Straight, or gently curved.
    Straight {
        /// Length.
        length_mm: PlainRunLengthMm,
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
        width_mm: PlainMeanderWidthMm,
        /// Across the rows.
        height_mm: PlainMeanderHeightMm,
        /// From row to row.
        spacing_mm: PlainMeanderSpacingMm,
    },
}

/// The zigzag over what is laid. What is left out is usual: 0.5 mm beside it, 4 mm advance, 400 stitches a minute.
#[derive(Debug, Clone, Copy, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HoldNumbers {
    /// From its side to the needle.
    pub clearance_mm: Option<PlainNeedleClearanceMm>,
    /// Distance of penetrations on one side.
    pub advance_mm: Option<PlainAdvanceMm>,
    /// Thickness of the cloth; 1 where nothing is given.
    pub thickness_mm: Option<StitchedThicknessMm>,
    /// Depth of the interlacing point from the face; 0.5 where nothing is given.
    pub interlace_fraction: Option<PlainInterlaceFraction>,
    /// Pace of the machine.
    pub stitches_per_minute: Option<PlainPace>,
}

/// Something laid, for working it out.
#[derive(Debug)]
pub struct LaidModel {
    laid: Laid,
    outer_m: f64,
    kg_per_m: Option<f64>,
    row_spacing_m: Option<f64>,
    wire: Option<WireModel>,
}

/// The wire of it.
#[derive(Debug)]
struct WireModel {
    /// Ohm per m at 20 degrees Celsius, least, best and most.
    at_20: [f64; 3],
    coefficient: f64,
    largest: Option<(f64, &'static str)>,
    source: &'static str,
    status: &'static str,
}

impl LaidWireQuestion {
    /// The wire and its way.
    ///
    /// # Errors
    /// A wire without a metal, a tube with one, a metal told twice, a section that the standard does not have, a way that
    /// cannot be laid, and two ways of telling the power.
    pub fn to_model(&self) -> Result<LaidModel, Faults> {
        const { assert!(MOST_POINTS == 5000) };
        let wire = self.as_in_a_piece();
        let mut inspect = Inspector::new();
        wire.check(&mut inspect, &LIBRARY, str::to_owned);
        inspect.finish()?;
        Ok(LaidModel {
            laid: wire.course.laid().expect("a fault was noted otherwise"),
            outer_m: wire.outer_m().expect("a fault was noted otherwise"),
            kg_per_m: wire.kg_per_m(&LIBRARY),
            row_spacing_m: wire.row_spacing_m(),
            wire: wire.conductor.as_ref().and_then(WireModel::of),
        })
    }

    /// As a piece has it.
    fn as_in_a_piece(&self) -> model::LaidWire {
        let h = self.hold.unwrap_or_default();
        model::LaidWire {
            name: None,
            kind: self.kind.into(),
            conductor: self.conductor.as_ref().map(ConductorNumbers::as_in_a_piece),
            outer_diameter_m: self.outer_diameter_mm.map(|n| n.0.into()),
            linear_mass_kg_per_m: self.linear_mass_g_per_m.map(|n| n.0.into()),
            course: self.course.as_in_a_piece(),
            hold: model::HoldChoice { clearance_m: h.clearance_mm.map(|n| n.0.into()), advance_m: h.advance_mm.map(|n| n.0.into()) },
            min_bend_radius_m: self.min_bend_radius_mm.map(|n| n.0.into()),
            supply_v: self.supply_v.map(|n| n.0.into()),
            current_a: self.current_ma.map(|n| n.0.into()),
            supply_kind: model::SupplyKind::default(),
            needed_power_w: None,
            max_resistance_ohm: None,
            warmth: model::WarmthChoice::default(),
        }
    }
}

impl CourseNumbers {
    fn as_in_a_piece(&self) -> model::CourseChoice {
        match self {
            Self::Straight { length_mm } => model::CourseChoice::Straight { length_m: length_mm.0.into() },
            Self::Path { points_mm } => model::CourseChoice::Path { points_m: points_mm.iter().map(|p| p.0).collect() },
            Self::Meander { width_mm, height_mm, spacing_mm } => {
                model::CourseChoice::Meander { width_m: width_mm.0.into(), height_m: height_mm.0.into(), spacing_m: spacing_mm.0.into() }
            }
        }
    }
}

impl ConductorNumbers {
    fn as_in_a_piece(&self) -> model::ConductorChoice {
        model::ConductorChoice {
            metal: self.metal.clone(),
            linear_resistance_ohm_per_m: self.linear_resistance_ohm_per_m.map(|n| n.0.into()),
            diameter_m: self.diameter_mm.map(|n| n.0.into()),
            gauge: self.gauge,
            area_m2: self.area_mm2.map(|n| n.0.into()),
            class: self.class.map(Into::into),
            coated: self.coated,
        }
    }
}

impl WireModel {
    fn of(conductor: &model::ConductorChoice) -> Option<Self> {
        let largest = conductor.largest_ohm_per_m().map(|(ohm_per_m, status)| (ohm_per_m, status.word()));
        Some(match conductor.conduction(&LIBRARY)? {
            Conduction::PerLength(ohm) => Self {
                at_20: [ohm.value; 3],
                coefficient: 0.0,
                largest,
                source: "given with the question; taken to stay so when it warms",
                status: Status::Given.word(),
            },
            Conduction::Metal(metal, section) => {
                let of = |resistivity: f64| resistivity / section.area_m2();
                let resistivity = metal.resistivity_ohm_m.measured;
                let (low, high) = resistivity.named_limits();
                Self {
                    at_20: [low, resistivity.value, high].map(of),
                    coefficient: metal.temperature_coefficient_per_k.measured.value,
                    largest,
                    source: metal.resistivity_ohm_m.source,
                    status: metal.resistivity_ohm_m.status.word(),
                }
            }
        })
    }
}

/// Something laid, worked out.
#[derive(Debug, Serialize, ToSchema)]
pub struct LaidWireAnswer {
    /// Length of the wire.
    pub length_mm: f64,
    /// Rows of a meander; 1 otherwise.
    pub rows: f64,
    /// Area that a meander serves, each row half a spacing to either side; null for another way.
    pub area_dm2: Option<f64>,
    /// Radius of its sharpest bend; null where nothing bends.
    pub bend_radius_mm: Option<f64>,
    /// Smallest bend radius that it bears.
    pub needed_bend_radius_mm: f64,
    /// Whether its bends are wide enough.
    pub bends_fit: bool,
    /// Mass of the length; null where neither a metal nor a mass per length is told.
    pub mass_g: Option<f64>,
    /// The zigzag that holds it.
    pub hold: HoldAnswer,
    /// What it resists; null for tubes and rovings.
    pub resistance: Option<ResistanceAnswer>,
    /// What current does; null without one.
    pub heating: Option<HeatingAnswer>,
    /// What to know about it.
    pub notes: Vec<&'static str>,
    /// Cautions that apply.
    pub cautions: Vec<CautionAnswer>,
}

/// The zigzag.
#[derive(Debug, Serialize, ToSchema)]
pub struct HoldAnswer {
    /// Stitches.
    pub stitches: f64,
    /// Width of the zigzag.
    pub width_mm: f64,
    /// Top thread.
    pub top_thread_mm: f64,
    /// Bobbin thread.
    pub bobbin_thread_mm: f64,
    /// Time of sewing alone.
    pub sewing_s: f64,
}

/// What a wire resists.
#[derive(Debug, Serialize, ToSchema)]
pub struct ResistanceAnswer {
    /// Per length at 20 degrees Celsius.
    pub linear_resistance_ohm_per_m: f64,
    /// Of the whole length at the temperature of the surroundings.
    pub resistance_ohm: f64,
    /// The same at the ends of what the metal may have.
    pub resistance_range_ohm: [f64; 2],
    /// Largest that IEC 60228 allows the length at 20 degrees Celsius; null where no class is named.
    pub standard_ohm: Option<f64>,
    /// How well that is known: published (second-hand) or from memory.
    pub standard_status: Option<&'static str>,
    /// Where the metal's numbers come from.
    pub source: &'static str,
    /// standard, published, common practice, from memory or given.
    pub status: &'static str,
}

/// What current does to a wire.
#[derive(Debug, Serialize, ToSchema)]
pub struct HeatingAnswer {
    /// Current.
    pub current_ma: f64,
    /// Voltage across the wire.
    pub voltage_v: f64,
    /// Power.
    pub power_w: f64,
    /// Power per length.
    pub power_w_per_m: f64,
    /// Power per area of a meander; null for another way.
    pub power_w_per_dm2: Option<f64>,
    /// How much warmer than its surroundings it settles, no less and no more.
    pub rise_k: [f64; 2],
    /// Its temperature, no less and no more.
    pub temperature_c: [f64; 2],
    /// What bears how much.
    pub limits: Vec<LimitAnswer>,
}

impl LaidWireAnswer {
    /// Works out what was asked.
    pub fn new(question: &LaidWireQuestion, model: &LaidModel) -> Self {
        let laid = &model.laid;
        let h = question.hold.unwrap_or_default();
        let thickness_m = h.thickness_mm.map_or(USUAL_THICKNESS_M, |n| n.0);
        let hold = held(
            laid.length_m,
            model.outer_m,
            h.clearance_mm.map_or(USUAL_CLEARANCE_M, |n| n.0),
            h.advance_mm.map_or(USUAL_ADVANCE_M, |n| n.0),
            thickness_m,
            h.interlace_fraction.map_or(USUAL_INTERLACE, |n| n.0),
            h.stitches_per_minute.map_or(USUAL_STITCHES_PER_S, |n| n.0),
        );
        let needed = question.min_bend_radius_mm.map_or(USUAL_BEND * model.outer_m, |n| n.0);
        let ambient_k = question.ambient_c.map_or(AMBIENT.to_si(USUAL_C), |n| n.0);
        let resistance = model.wire.as_ref().map(|wire| {
            let warm = (1.0 + wire.coefficient * (ambient_k - 293.15)).max(0.1);
            let [low, best, high] = wire.at_20.map(|ohm| ohm * laid.length_m * warm);
            ResistanceAnswer {
                linear_resistance_ohm_per_m: wire.at_20[1],
                resistance_ohm: best,
                resistance_range_ohm: [low, high],
                standard_ohm: wire.largest.map(|(ohm, _)| ohm * laid.length_m),
                standard_status: wire.largest.map(|(_, status)| status),
                source: wire.source,
                status: wire.status,
            }
        });
        let heating = resistance.as_ref().and_then(|r| question.heating(model, r.resistance_ohm, thickness_m, ambient_k));
        let mut notes =
            vec!["zigzag, bends and pace are those of common practice where nothing is given; stitch a sample before promising them"];
        if matches!(question.course, CourseNumbers::Path { .. }) {
            notes.push("a path is as long as drawn; rounded corners make the wire a little shorter");
        }
        if question.linear_mass_g_per_m.is_none() && model.kg_per_m.is_some() {
            notes.push("the covering is weighed as PVC, 1300 kg/m3");
        }
        if heating.is_some() {
            notes.push("the resistance is that at the temperature of the surroundings; copper warmed by 50 K has a fifth more");
        }
        Self {
            length_mm: laid.length_m * 1e3,
            rows: laid.rows,
            area_dm2: laid.area_m2.map(|m2| m2 * 100.0),
            bend_radius_mm: laid.bend_radius_m.map(|m| m * 1e3),
            needed_bend_radius_mm: needed * 1e3,
            bends_fit: laid.bend_radius_m.is_none_or(|r| r >= needed * (1.0 - 1e-9)),
            mass_g: model.kg_per_m.map(|kg| kg * laid.length_m * 1e3),
            hold: HoldAnswer {
                stitches: hold.stitches,
                width_mm: hold.width_m * 1e3,
                top_thread_mm: hold.top_thread_m * 1e3,
                bobbin_thread_mm: hold.bobbin_thread_m * 1e3,
                sewing_s: hold.sewing_s,
            },
            cautions: if heating.is_some() { warm_cautions() } else { Vec::new() },
            resistance,
            heating,
            notes,
        }
    }
}

impl LaidWireQuestion {
    fn heating(&self, model: &LaidModel, ohm: f64, thickness_m: f64, ambient_k: f64) -> Option<HeatingAnswer> {
        let laid = &model.laid;
        let current = match (self.supply_v, self.current_ma) {
            (Some(volt), _) => volt.0 / ohm,
            (None, Some(current)) => current.0,
            (None, None) => return None,
        };
        let power_w = current * current * ohm;
        let power_w_per_m = power_w / laid.length_m;
        let Rise { low_k, high_k } = temperature_rise(&HeatPath {
            power_w_per_m,
            diameter_m: model.outer_m,
            ambient_k,
            surroundings: Surroundings::Cloth {
                thickness_m: thickness_m.max(1e-5),
                row_spacing_m: model.row_spacing_m,
                free_sides: self.free_sides.unwrap_or(2),
                cover_m2k_per_w: self.cover_m2k_per_w.map_or(0.0, |n| n.0),
            },
        });
        Some(HeatingAnswer {
            current_ma: current * 1e3,
            voltage_v: current * ohm,
            power_w,
            power_w_per_m,
            power_w_per_dm2: laid.area_m2.map(|m2| power_w / m2 / 100.0),
            rise_k: [low_k, high_k],
            temperature_c: [low_k, high_k].map(|k| AMBIENT.from_si(ambient_k + k)),
            limits: limits_at(ambient_k + low_k, ambient_k + high_k),
        })
    }
}

impl Readable for LaidWireQuestion {
    const SCHEMA: &'static str = "LaidWireQuestion";
}
