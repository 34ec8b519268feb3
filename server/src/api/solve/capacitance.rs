//! Capacitances between any conductors in a layered stack.

use serde::{Deserialize, Serialize};
use toile_model::electrostatics::{Aim, Conductor as MediumConductor, ConductorMatrix, FieldFault, MOST_UNKNOWNS, WIDEST_M};
use toile_model::{Faults, Inspector, units};
use utoipa::ToSchema;

use super::conductor::{Conductor, Plane};
use super::{Layers, PlainLayer, PlaneOrNone, pf, texts};
use crate::api::method::{MethodChoice, aim};
use crate::api::number::RelativeTolerance;
use crate::api::read::Readable;

/// Any conductors in a layered stack.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CapacitanceQuestion {
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
    /// The conductors.
    #[schema(min_items = 1, max_items = 128)]
    pub conductors: Vec<Conductor>,
    /// How to compute it; `best` where nothing is given.
    pub method: Option<MethodChoice>,
    /// Error that is asked for, 0.001 where nothing is given; the answer says when it was not reached.
    pub relative_tolerance: Option<RelativeTolerance>,
}

impl CapacitanceQuestion {
    /// Layers and conductors, SI.
    ///
    /// # Errors
    /// Shapes that cannot be, and conductors with nothing to keep them apart.
    pub fn to_model(&self) -> Result<(Layers, Vec<MediumConductor>), Faults> {
        let mut inspect = Inspector::new();
        inspect_planes(self, &mut inspect);
        for (k, conductor) in self.conductors.iter().enumerate() {
            conductor.shape.check(&mut inspect, || format!("/conductors/{k}/shape"));
        }
        inspect.finish()?;
        Ok((Layers::new(self.ground, &self.base, &self.overlay), self.conductors.iter().map(Conductor::to_model).collect()))
    }

    /// Method and tolerance.
    pub fn aim(&self) -> Aim {
        aim(self.method, self.relative_tolerance)
    }

    /// What keeps the field from being solved, in the places of the question.
    pub fn faults(&self, fault: FieldFault) -> Faults {
        let mut inspect = Inspector::new();
        let called = |k: usize| match &self.conductors[k].name {
            Some(name) => format!("conductor {} ({name})", k + 1),
            None => format!("conductor {}", k + 1),
        };
        match fault {
            FieldFault::Overlap { first, second } => inspect.refuse(
                format!("/conductors/{second}"),
                called(second),
                format!("It overlaps or touches {} on the same plane.", called(first)),
                "conductors on one plane that do not touch",
            ),
            FieldFault::TooWide { conductor, extent_m } => inspect.refuse(
                format!("/conductors/{conductor}/shape"),
                format!("{} across", units::WIDTH.print(extent_m)),
                format!("The field around {} is too wide to be solved.", called(conductor)),
                format!("at most {} across, or the method closed_form", units::WIDTH.print(WIDEST_M)),
            ),
            FieldFault::TooMuchWork { unknowns } => inspect.refuse(
                "/conductors".into(),
                format!("{unknowns} unknowns"),
                "Solving the field between these conductors takes more than one question may.",
                format!(
                    "conductors that take {MOST_UNKNOWNS} unknowns at the most (fewer, simpler or farther apart), or the method closed_form"
                ),
            ),
            FieldFault::Contact => inspect.refuse(
                if self.base.is_empty() { "/base".into() } else { "/overlay".into() },
                "no layer",
                "Nothing lies between conductors that have to be apart.",
                "at least one layer between ground, the stitched conductors and those on top",
            ),
        }
        inspect.finish().expect_err("a fault was just noted")
    }
}

fn inspect_planes(question: &CapacitanceQuestion, inspect: &mut Inspector) {
    let on = |plane| question.conductors.iter().any(|c| c.plane == plane);
    if question.base.is_empty() && matches!(question.ground, PlaneOrNone::Sheet) && (on(Plane::Stitched) || question.overlay.is_empty()) {
        inspect.refuse(
            "/base".into(),
            "no layer",
            "The conductors would lie on the ground sheet.",
            "at least one layer between ground and conductors",
        );
    }
    if question.overlay.is_empty() && on(Plane::Stitched) && on(Plane::Top) {
        inspect.refuse(
            "/overlay".into(),
            "no layer",
            "The conductors on top would lie on the stitched ones.",
            "at least one layer between the two planes",
        );
    }
}

/// Capacitances between all conductors.
#[derive(Debug, Serialize, ToSchema)]
pub struct CapacitanceAnswer {
    /// Maxwell matrix in the order given: charges over voltages; off-diagonals are negative.
    pub maxwell_pf: Vec<Vec<f64>>,
    /// Names in the order given.
    pub names: Vec<String>,
    /// Bound on the relative error of every entry of the matrix.
    pub relative_error: f64,
    /// Bound for the diagonal and for a pad and the finger over it alone: neighbours are known less well.
    pub diagonal_relative_error: f64,
    /// Method that made it.
    pub method: &'static str,
    /// Whether the case lies inside the method's measured range.
    pub valid: bool,
    /// What to know about it.
    pub notes: Vec<String>,
}

impl CapacitanceAnswer {
    /// Puts a matrix on the wire.
    pub fn new(question: &CapacitanceQuestion, matrix: &ConductorMatrix) -> Self {
        let notes = texts(matrix.notes, question.aim(), question.relative_tolerance, matrix.relative_error);
        let name = |(k, c): (usize, &Conductor)| c.name.clone().unwrap_or_else(|| format!("conductor {}", k + 1));
        Self {
            maxwell_pf: matrix.maxwell_f.chunks(matrix.count).map(|row| row.iter().map(|c| pf(*c)).collect()).collect(),
            names: question.conductors.iter().enumerate().map(name).collect(),
            relative_error: matrix.relative_error,
            diagonal_relative_error: matrix.diagonal_error,
            method: matrix.method.name(),
            valid: matrix.valid,
            notes,
        }
    }
}

impl Readable for CapacitanceQuestion {
    const SCHEMA: &'static str = "CapacitanceQuestion";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(fault: FieldFault, pointer: &str, given: &str, message: &str, allowed: &str) {
        let question: CapacitanceQuestion = serde_json::from_str(
            r#"{"ground": "sheet", "base": [{"thickness_mm": 3, "relative_permittivity": 1.4}], "conductors": [
                {"plane": "stitched", "shape": {"kind": "round", "diameter_mm": 24}},
                {"name": "dimmer", "plane": "stitched", "shape": {"kind": "round", "diameter_mm": 24}}]}"#,
        )
        .unwrap();
        let faults = question.faults(fault).0;
        let [told] = &faults[..] else { panic!("{faults:?}") };
        assert_eq!((told.pointer.as_str(), told.given.as_str()), (pointer, given));
        assert_eq!((told.message.as_str(), told.allowed.as_str()), (message, allowed));
    }

    #[test]
    fn what_keeps_the_field_from_being_solved_is_told_at_its_place() {
        check(
            FieldFault::Overlap { first: 0, second: 1 },
            "/conductors/1",
            "conductor 2 (dimmer)",
            "It overlaps or touches conductor 1 on the same plane.",
            "conductors on one plane that do not touch",
        );
        check(
            FieldFault::TooWide { conductor: 1, extent_m: 2.5 },
            "/conductors/1/shape",
            "2500 mm across",
            "The field around conductor 2 (dimmer) is too wide to be solved.",
            "at most 2000 mm across, or the method closed_form",
        );
        check(
            FieldFault::TooMuchWork { unknowns: 30_000 },
            "/conductors",
            "30000 unknowns",
            "Solving the field between these conductors takes more than one question may.",
            "conductors that take 12000 unknowns at the most (fewer, simpler or farther apart), or the method closed_form",
        );
        check(
            FieldFault::Contact,
            "/overlay",
            "no layer",
            "Nothing lies between conductors that have to be apart.",
            "at least one layer between ground, the stitched conductors and those on top",
        );
    }
}
