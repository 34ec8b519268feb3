//! How warm a thread becomes.

use serde::{Deserialize, Serialize};
use toile_model::heat::{CLOTH_LIMITS, CONTACT_LIMITS, HOTTEST_K, HeatPath, Limit, Rise, Surroundings, temperature_rise};
use toile_model::units::AMBIENT;
use toile_model::{Faults, Inspector, heat_cautions};
use utoipa::ToSchema;

use crate::api::answer::CautionAnswer;
use crate::api::number::{
    AmbientC, MediumThicknessMm, PlainCover, PlainCurrentMa, PlainOutsideMm, PlainRowSpacingMm, PlainWireOhmPerM, PowerWPerM,
};
use crate::api::read::Readable;

/// Temperature of surroundings of which nothing is said, degrees Celsius.
const USUAL_C: f64 = 23.0;

/// A thread that warms up.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HeatQuestion {
    /// Power per length; or current and linear resistance.
    pub power_w_per_m: Option<PowerWPerM>,
    /// Current through the thread.
    pub current_ma: Option<PlainCurrentMa>,
    /// Resistance of the thread per length, as warm as it is.
    pub linear_resistance_ohm_per_m: Option<PlainWireOhmPerM>,
    /// Diameter of the thread.
    pub diameter_mm: PlainOutsideMm,
    /// What it lies in; still air where nothing is given.
    pub surroundings: Option<SurroundingsNumbers>,
    /// Temperature of the surroundings; 23 where nothing is given.
    pub ambient_c: Option<AmbientC>,
}

/// What a warm thread lies in.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum SurroundingsNumbers {
    /// Still air on all sides.
    Air {},
    /// Sewn on or into cloth.
    Cloth {
        /// Thickness of the cloth.
        thickness_mm: MediumThicknessMm,
        /// Distance of parallel rows; a single run where nothing is given.
        row_spacing_mm: Option<PlainRowSpacingMm>,
        /// Sides of the cloth that give off heat; 2 where nothing is given.
        #[schema(minimum = 1, maximum = 2)]
        free_sides: Option<u8>,
        /// Thermal resistance of what covers each free side; nothing where nothing is given.
        cover_m2k_per_w: Option<PlainCover>,
    },
}

impl HeatQuestion {
    /// The thread for the model.
    ///
    /// # Errors
    /// A power that is told twice or not at all.
    pub fn to_model(self) -> Result<HeatPath, Faults> {
        let mut inspect = Inspector::new();
        let by_current = self.current_ma.zip(self.linear_resistance_ohm_per_m).map(|(i, r)| i.0 * i.0 * r.0);
        let given = [self.current_ma.is_some(), self.linear_resistance_ohm_per_m.is_some()];
        let allowed = "power_w_per_m, or current_ma with linear_resistance_ohm_per_m";
        match (self.power_w_per_m, given) {
            (Some(_), [false, false]) | (None, [true, true]) => {}
            (Some(_), _) => inspect.refuse("/power_w_per_m".into(), "a power beside a current", "The power is told twice.", allowed),
            (None, _) => inspect.refuse("/power_w_per_m".into(), "nothing", "The power is not told.", allowed),
        }
        inspect.finish()?;
        let surroundings = match self.surroundings {
            None | Some(SurroundingsNumbers::Air {}) => Surroundings::Air,
            Some(SurroundingsNumbers::Cloth { thickness_mm, row_spacing_mm, free_sides, cover_m2k_per_w }) => Surroundings::Cloth {
                thickness_m: thickness_mm.0,
                row_spacing_m: row_spacing_mm.map(|n| n.0),
                free_sides: free_sides.unwrap_or(2),
                cover_m2k_per_w: cover_m2k_per_w.map_or(0.0, |n| n.0),
            },
        };
        Ok(HeatPath {
            power_w_per_m: self.power_w_per_m.map(|n| n.0).or(by_current).unwrap_or(0.0),
            diameter_m: self.diameter_mm.0,
            ambient_k: self.ambient_c.map_or(AMBIENT.to_si(USUAL_C), |n| n.0),
            surroundings,
        })
    }
}

/// Between which temperatures a thread settles.
#[derive(Debug, Serialize, ToSchema)]
pub struct HeatAnswer {
    /// Power per length.
    pub power_w_per_m: f64,
    /// Power per area; null for a single run and in air.
    pub power_w_per_dm2: Option<f64>,
    /// How much warmer than its surroundings it settles, no less and no more.
    pub rise_k: [f64; 2],
    /// Its temperature, no less and no more.
    pub temperature_c: [f64; 2],
    /// What bears how much, by the temperature above.
    pub limits: Vec<LimitAnswer>,
    /// How it was worked out.
    pub method: &'static str,
    /// Where the correlations come from.
    pub source: &'static str,
    /// What to know about it.
    pub notes: Vec<&'static str>,
    /// Cautions that apply.
    pub cautions: Vec<CautionAnswer>,
}

/// A temperature that should not be reached.
#[derive(Debug, Serialize, ToSchema)]
pub struct LimitAnswer {
    /// What bears no more.
    pub what: &'static str,
    /// Where it ends.
    pub temperature_c: f64,
    /// Whether it is reached: no, perhaps or yes, by the bounds of the temperature.
    pub reached: &'static str,
    /// Where the number comes from.
    pub source: &'static str,
    /// standard, published, common practice or from memory.
    pub status: &'static str,
}

/// The cautions of whatever warms up.
pub fn warm_cautions() -> Vec<CautionAnswer> {
    heat_cautions().into_iter().map(Into::into).collect()
}

/// The limits of skin and cloth, held against bounds of a temperature, K.
pub fn limits_at(low_k: f64, high_k: f64) -> Vec<LimitAnswer> {
    let answer = |limit: &Limit| LimitAnswer {
        what: limit.what,
        temperature_c: AMBIENT.from_si(limit.temperature_k),
        reached: if high_k < limit.temperature_k {
            "no"
        } else if low_k < limit.temperature_k {
            "perhaps"
        } else {
            "yes"
        },
        source: limit.source,
        status: limit.status.word(),
    };
    CONTACT_LIMITS.iter().chain(&CLOTH_LIMITS).map(answer).collect()
}

impl HeatAnswer {
    /// Puts the balance of a thread on the wire.
    pub fn of(path: &HeatPath) -> Self {
        let Rise { low_k, high_k } = temperature_rise(path);
        let spacing_m = match path.surroundings {
            Surroundings::Cloth { row_spacing_m, .. } => row_spacing_m,
            Surroundings::Air => None,
        };
        let mut notes = vec!["a steady state in still air; a broken or thin stitch, a fold or a cushion is hotter than this"];
        if high_k >= HOTTEST_K {
            notes.push("beyond 1000 K nothing is worked out: this burns");
        }
        Self {
            power_w_per_m: path.power_w_per_m,
            power_w_per_dm2: spacing_m.map(|p| path.power_w_per_m / p / 100.0),
            rise_k: [low_k, high_k],
            temperature_c: [low_k, high_k].map(|k| AMBIENT.from_si(path.ambient_k + k)),
            limits: limits_at(path.ambient_k + low_k, path.ambient_k + high_k),
            method: match path.surroundings {
                Surroundings::Air => "power per length against natural convection and radiation of a thin horizontal cylinder",
                Surroundings::Cloth { .. } => {
                    "cloth as a fin that carries the heat sideways and gives it off by natural convection and radiation"
                }
            },
            source: "Churchill & Chu 1975, Int. J. Heat Mass Transfer 18, 1049 (cylinder); McAdams 1954, Heat Transmission (level faces)",
            notes,
            cautions: warm_cautions(),
        }
    }
}

impl Readable for HeatQuestion {
    const SCHEMA: &'static str = "HeatQuestion";
}
