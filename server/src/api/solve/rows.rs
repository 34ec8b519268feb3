//! Capacitance per area of an endless field of parallel threads.

use serde::{Deserialize, Serialize};
use toile_model::electrostatics::{Aim, RowsPlate};
use toile_model::{Faults, Inspector, units};
use utoipa::ToSchema;

use super::{pf, texts};
use crate::api::method::{MethodChoice, aim};
use crate::api::number::{HeightMm, PlainRowSpacingMm, PlainThreadDiameterMm, RelativeTolerance};
use crate::api::read::Readable;

/// An endless field of parallel round threads over ground, in air.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RowsQuestion {
    /// Diameter of the thread.
    pub thread_diameter_mm: PlainThreadDiameterMm,
    /// Distance between rows.
    pub row_spacing_mm: PlainRowSpacingMm,
    /// Height of the axes over ground.
    pub height_mm: HeightMm,
    /// How to compute it; `best` where nothing is given.
    pub method: Option<MethodChoice>,
    /// Error that is asked for, 0.001 where nothing is given; the answer says when it was not reached.
    pub relative_tolerance: Option<RelativeTolerance>,
}

impl RowsQuestion {
    /// Thread diameter, row spacing and height, m.
    ///
    /// # Errors
    /// Threads that overlap or reach the ground.
    pub fn to_model(self) -> Result<[f64; 3], Faults> {
        let (diameter, spacing, height) = (self.thread_diameter_mm.0, self.row_spacing_mm.0, self.height_mm.0);
        let mut inspect = Inspector::new();
        if spacing < diameter {
            let allowed = format!("at least the thread diameter, {}", units::ROW_SPACING.print(diameter));
            inspect.refuse("/row_spacing_mm".into(), units::ROW_SPACING.print(spacing), "The threads overlap.", allowed);
        }
        if height <= diameter / 2.0 {
            let allowed = format!("more than half of the thread diameter, {}", units::HEIGHT.print(diameter / 2.0));
            inspect.refuse("/height_mm".into(), units::HEIGHT.print(height), "The threads reach the ground.", allowed);
        }
        inspect.finish()?;
        Ok([diameter, spacing, height])
    }

    /// Method and tolerance.
    pub fn aim(self) -> Aim {
        aim(self.method, self.relative_tolerance)
    }
}

/// Capacitance per area of a field of threads.
#[derive(Debug, Serialize, ToSchema)]
pub struct RowsAnswer {
    /// Capacitance per square metre.
    pub capacitance_pf_per_m2: f64,
    /// How much further from ground than the axes an even plate of the same capacitance lies; negative: nearer.
    pub offset_mm: f64,
    /// Bound on the relative error of the capacitance.
    pub relative_error: f64,
    /// Method that made it.
    pub method: &'static str,
    /// Whether the case lies inside the method's measured range.
    pub valid: bool,
    /// What to know about it.
    pub notes: Vec<String>,
}

impl RowsAnswer {
    /// Puts a plate on the wire.
    pub fn new(question: &RowsQuestion, plate: &RowsPlate) -> Self {
        Self {
            capacitance_pf_per_m2: pf(plate.capacitance_per_m2_f),
            offset_mm: plate.offset_m * 1e3,
            relative_error: plate.accuracy.relative_error,
            method: plate.method.name(),
            valid: plate.accuracy.valid,
            notes: texts(plate.accuracy.notes, question.aim(), question.relative_tolerance, plate.accuracy.relative_error),
        }
    }
}

impl Readable for RowsQuestion {
    const SCHEMA: &'static str = "RowsQuestion";
}
