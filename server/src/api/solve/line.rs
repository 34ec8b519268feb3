//! Capacitance per length of an endless strip or thread.

use serde::{Deserialize, Serialize};
use toile_model::electrostatics::{Aim, CrossSection as MediumSection, LineCapacitance};
use toile_model::{Faults, Inspector};
use utoipa::ToSchema;

use super::{Layers, PlainLayer, PlaneOrNone, pf, texts};
use crate::api::method::{MethodChoice, aim};
use crate::api::number::{LineWidthMm, RelativeTolerance};
use crate::api::read::Readable;

/// Capacitance per length of an endless strip or thread.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LineQuestion {
    /// What lies under the lowest base layer.
    pub ground: PlaneOrNone,
    /// Layers from ground to the stitched plane, upwards.
    #[schema(max_items = 16)]
    #[serde(default)]
    pub base: Vec<PlainLayer>,
    /// Layers from the stitched plane up.
    #[schema(max_items = 16)]
    #[serde(default)]
    pub overlay: Vec<PlainLayer>,
    /// Section of the conductor.
    pub cross_section: CrossSection,
    /// How to compute it; `best` where nothing is given.
    pub method: Option<MethodChoice>,
    /// Error that is asked for, 0.001 where nothing is given; the answer says when it was not reached.
    pub relative_tolerance: Option<RelativeTolerance>,
}

impl LineQuestion {
    /// Layers and section, SI.
    ///
    /// # Errors
    /// A ground sheet without a layer over it.
    pub fn to_model(&self) -> Result<(Layers, MediumSection), Faults> {
        let mut inspect = Inspector::new();
        if self.base.is_empty() && matches!(self.ground, PlaneOrNone::Sheet) {
            inspect.refuse(
                "/base".into(),
                "no layer",
                "The run would lie on the ground sheet.",
                "at least one layer between ground and run",
            );
        }
        inspect.finish()?;
        let section = match self.cross_section {
            CrossSection::Strip { width_mm } => MediumSection::Strip { width_m: width_mm.0 },
            CrossSection::Thread { diameter_mm } => MediumSection::Thread { diameter_m: diameter_mm.0 },
        };
        Ok((Layers::new(self.ground, &self.base, &self.overlay), section))
    }

    /// Method and tolerance.
    pub fn aim(&self) -> Aim {
        aim(self.method, self.relative_tolerance)
    }
}

/// Section of an endless conductor.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum CrossSection {
    /// A flat strip on the stitched plane.
    Strip {
        /// Width.
        width_mm: LineWidthMm,
    },
    /// A round thread, its axis on the stitched plane.
    Thread {
        /// Diameter.
        diameter_mm: ThreadMm,
    },
}

/// Diameter of a thread or wire, where thick ones are of interest too.
pub type ThreadMm = LineWidthMm;

/// Capacitance per length.
#[derive(Debug, Serialize, ToSchema)]
pub struct LineAnswer {
    /// Capacitance per metre.
    pub capacitance_pf_per_m: f64,
    /// Bound on its relative error.
    pub relative_error: f64,
    /// Method that made it.
    pub method: &'static str,
    /// Whether the case lies inside the method's measured range.
    pub valid: bool,
    /// What to know about it.
    pub notes: Vec<String>,
}

impl LineAnswer {
    /// Puts a capacitance on the wire.
    pub fn new(question: &LineQuestion, line: &LineCapacitance) -> Self {
        Self {
            capacitance_pf_per_m: pf(line.per_m_f),
            relative_error: line.accuracy.relative_error,
            method: line.method.name(),
            valid: line.accuracy.valid,
            notes: texts(line.accuracy.notes, question.aim(), question.relative_tolerance, line.accuracy.relative_error),
        }
    }
}

impl Readable for LineQuestion {
    const SCHEMA: &'static str = "LineQuestion";
}
