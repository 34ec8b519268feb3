//! Conductors on the wire, with their whole geometry.

use serde::Deserialize;
use toile_model::electrostatics::{Conductor as MediumConductor, Figure, Rows, path_length};
use toile_model::geometry::{Point, path_meets_itself};
use toile_model::{Inspector, Measured, Shape, units};
use utoipa::ToSchema;

use crate::api::number::{
    CentreMm, LineWidthMm, PlainCornerRadiusMm, PlainDiameterMm, PlainInnerDiameterMm, PlainLengthMm, PlainOuterDiameterMm,
    PlainRowSpacingMm, PlainThreadDiameterMm, PlainWidthMm, PointMm, RotationDeg,
};

/// One conductor.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Conductor {
    /// Name used in the answer.
    #[schema(max_length = 200)]
    pub name: Option<String>,
    /// Height it lies at.
    pub plane: Plane,
    /// Outline.
    pub shape: ConductorShape,
    /// Middle, x and y; the origin where nothing is given.
    #[schema(min_items = 2, max_items = 2)]
    pub centre_mm: Option<[CentreMm; 2]>,
    /// Turn about the middle.
    pub rotation_deg: Option<RotationDeg>,
    /// Rows of thread; left out for a solid conductor.
    pub rows: Option<RowsOfThread>,
}

impl Conductor {
    /// With its whole geometry, SI.
    pub(super) fn to_model(&self) -> MediumConductor {
        MediumConductor {
            figure: self.shape.figure(),
            rows: self.rows.map(|r| Rows { thread_diameter_m: r.thread_diameter_mm.0, row_spacing_m: r.row_spacing_mm.0 }),
            centre_m: self.centre_mm.map_or([0.0, 0.0], |c| c.map(|x| x.0)),
            rotation_rad: self.rotation_deg.map_or(0.0, |r| r.0),
            on_top: self.plane == Plane::Top,
        }
    }
}

/// Height of a conductor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Plane {
    /// Between base and overlay.
    Stitched,
    /// On the overlay, air above.
    Top,
}

/// Outline of a conductor.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum ConductorShape {
    /// A disc.
    Round {
        /// Diameter.
        diameter_mm: PlainDiameterMm,
    },
    /// A rectangle, width along x and length along y.
    Rectangle {
        /// Side along x.
        width_mm: PlainWidthMm,
        /// Side along y.
        length_mm: PlainLengthMm,
        /// Radius of the corners; 0 where nothing is given.
        corner_radius_mm: Option<PlainCornerRadiusMm>,
    },
    /// A disc with a round hole.
    Ring {
        /// Diameter of the hole.
        inner_diameter_mm: PlainInnerDiameterMm,
        /// Diameter of the rim.
        outer_diameter_mm: PlainOuterDiameterMm,
    },
    /// Any outline that does not meet itself.
    Polygon {
        /// Corners in order, x and y.
        #[schema(min_items = 3, max_items = 5000)]
        points_mm: Vec<PointMm>,
        /// Holes, corners in order.
        #[schema(max_items = 64)]
        holes_mm: Option<Vec<Vec<PointMm>>>,
    },
    /// A run of even width along a path.
    Line {
        /// Points of the path, x and y.
        #[schema(min_items = 2, max_items = 512)]
        points_mm: Vec<PointMm>,
        /// Width of the run.
        width_mm: LineWidthMm,
    },
}

impl ConductorShape {
    /// The outline, m.
    fn figure(&self) -> Figure {
        match self {
            Self::Round { diameter_mm } => Figure::Round { diameter_m: diameter_mm.0 },
            Self::Rectangle { width_mm, length_mm, corner_radius_mm } => {
                Figure::Rectangle { width_m: width_mm.0, length_m: length_mm.0, corner_radius_m: corner_radius_mm.map_or(0.0, |n| n.0) }
            }
            Self::Ring { inner_diameter_mm, outer_diameter_mm } => {
                Figure::Ring { inner_diameter_m: inner_diameter_mm.0, outer_diameter_m: outer_diameter_mm.0 }
            }
            Self::Polygon { points_mm, holes_mm } => {
                Figure::Polygon { points_m: corners(points_mm), holes_m: holes_mm.iter().flatten().map(|h| corners(h)).collect() }
            }
            Self::Line { points_mm, width_mm } => Figure::Line { points_m: steps(points_mm), width_m: width_mm.0 },
        }
    }

    /// Checks what the ranges of the schema cannot tell: outlines that meet themselves, holes, paths that double back.
    pub(super) fn check(&self, inspect: &mut Inspector, pointer: impl Fn() -> String) {
        let exact = |x: f64| Measured::exact(x);
        let shape = match self.figure() {
            Figure::Round { diameter_m } => Shape::Round { diameter_m: exact(diameter_m) },
            Figure::Rectangle { width_m, length_m, corner_radius_m } => {
                Shape::Rectangle { width_m: exact(width_m), length_m: exact(length_m), corner_radius_m: exact(corner_radius_m) }
            }
            Figure::Ring { inner_diameter_m, outer_diameter_m } => {
                Shape::Ring { inner_diameter_m: exact(inner_diameter_m), outer_diameter_m: exact(outer_diameter_m) }
            }
            Figure::Polygon { points_m, holes_m } => Shape::Polygon { points_m, holes_m },
            Figure::Line { points_m, .. } => return check_path(&points_m, inspect, pointer),
        };
        shape.check(inspect, pointer);
    }
}

fn check_path(path: &[Point], inspect: &mut Inspector, pointer: impl Fn() -> String) {
    let at = || format!("{}/points_mm", pointer());
    let allowed = "a path that does not meet itself";
    if path_length(path) == 0.0 {
        inspect.refuse(at(), "one place", "The path has no length.", "two or more points that differ");
    } else if let Some((i, j)) = path_meets_itself(path) {
        let given = format!("steps from ({}) and from ({})", in_mm(path[i]), in_mm(path[j]));
        inspect.refuse(at(), given, "Two steps of the path cross, touch or double back.", allowed);
    }
}

fn in_mm(point: Point) -> String {
    point.map(|x| units::short(units::COORDINATE.from_si(x))).join(", ")
}

fn corners(list: &[PointMm]) -> Vec<Point> {
    list.iter().map(|p| p.0).collect()
}

/// The points of a path; one that is given again right away is no step.
fn steps(list: &[PointMm]) -> Vec<Point> {
    let mut path = corners(list);
    path.dedup();
    path
}

/// Rows of thread that make up a stitched conductor.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RowsOfThread {
    /// Diameter of the thread.
    pub thread_diameter_mm: PlainThreadDiameterMm,
    /// Distance between rows.
    pub row_spacing_mm: PlainRowSpacingMm,
}
