//! Single parts of the physics on the wire: questions and answers of `/solve/...`, and the layers they share.

mod capacitance;
mod conductor;
mod electrode;
mod fill;
mod heat;
mod laid_wire;
mod light_row;
mod line;
mod production;
mod rows;
mod run;
mod settling;
mod stitching;
mod touch;

pub use capacitance::{CapacitanceAnswer, CapacitanceQuestion};
pub use electrode::{ElectrodeAnswer, ElectrodeQuestion, SignalWord, SkinWord};
pub use fill::{FillAnswer, FillQuestion};
pub use heat::{HeatAnswer, HeatQuestion, LimitAnswer, limits_at};
pub use laid_wire::{ClassWord, LaidKind, LaidWireAnswer, LaidWireQuestion};
pub use light_row::{FeedWord, LightRowAnswer, LightRowQuestion};
pub use line::{LineAnswer, LineQuestion};
pub use production::ProductionQuestion;
pub use rows::{RowsAnswer, RowsQuestion};
pub use run::{RunAnswer, RunQuestion};
pub use settling::{SettlingAnswer, SettlingQuestion};
pub use stitching::{StitchingAnswer, StitchingQuestion};
pub use touch::{TouchAnswer, TouchQuestion};

use serde::Deserialize;
use toile_model::electrostatics::{Aim, Choice, Ground as MediumGround, Layer as MediumLayer, Medium, Notes};
use toile_model::units;
use utoipa::ToSchema;

use super::number::{MediumThicknessMm, Permittivity, RelativeTolerance};

/// What lies under the lowest base layer.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PlaneOrNone {
    /// An ideal plane.
    Sheet,
    /// Air.
    None,
}

impl From<PlaneOrNone> for MediumGround {
    fn from(ground: PlaneOrNone) -> Self {
        match ground {
            PlaneOrNone::Sheet => Self::Plane,
            PlaneOrNone::None => Self::None,
        }
    }
}

/// A layer by numbers.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlainLayer {
    /// Thickness.
    pub thickness_mm: MediumThicknessMm,
    /// Permittivity relative to vacuum.
    pub relative_permittivity: Permittivity,
}

/// The layers of a question, SI.
#[derive(Debug)]
pub struct Layers {
    ground: MediumGround,
    base: Vec<MediumLayer>,
    overlay: Vec<MediumLayer>,
}

impl Layers {
    fn new(ground: PlaneOrNone, base: &[PlainLayer], overlay: &[PlainLayer]) -> Self {
        let layers = |list: &[PlainLayer]| {
            list.iter().map(|l| MediumLayer { thickness_m: l.thickness_mm.0, relative_permittivity: l.relative_permittivity.0 }).collect()
        };
        Self { ground: ground.into(), base: layers(base), overlay: layers(overlay) }
    }

    /// The layers as the model looks at them.
    pub fn medium(&self) -> Medium<'_> {
        Medium { ground: self.ground, base: &self.base, overlay: &self.overlay }
    }
}

/// What to know about a value: the cautions of its method, and whether the tolerance was missed. The closed form is
/// taken whatever its bound, so only a tolerance that came with it counts.
fn texts(notes: Notes, aim: Aim, asked: Option<RelativeTolerance>, reached: f64) -> Vec<String> {
    let mut texts: Vec<String> = notes.iter().map(|note| note.text().to_owned()).collect();
    if reached > aim.relative_tolerance && (asked.is_some() || aim.choice != Choice::ClosedForm) {
        texts.push(format!("the tolerance asked for, {}, is not reached: the bound is {}", aim.relative_tolerance, units::short(reached)));
    }
    texts
}

/// Picofarad from farad, for answers.
fn pf(f: f64) -> f64 {
    units::CAPACITANCE.from_si(f)
}
