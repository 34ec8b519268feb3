//! Conductors with their whole geometry: what the field solver sees.

use super::{Outline, Placed, Rows};
use crate::geometry::{self, Point};

/// The outline of a thin flat conductor about its own origin, m.
#[derive(Debug, Clone, PartialEq)]
pub enum Figure {
    /// A disc about the origin.
    Round {
        /// Diameter.
        diameter_m: f64,
    },
    /// A rectangle about the origin, perhaps with rounded corners.
    Rectangle {
        /// Along x.
        width_m: f64,
        /// Along y.
        length_m: f64,
        /// Of the corners, 0 to half of the shorter side.
        corner_radius_m: f64,
    },
    /// A flat ring about the origin.
    Ring {
        /// Diameter of the hole.
        inner_diameter_m: f64,
        /// Outer diameter.
        outer_diameter_m: f64,
    },
    /// Corners in order, either way round; holes likewise.
    Polygon {
        /// Of the outline.
        points_m: Vec<Point>,
        /// Of each hole.
        holes_m: Vec<Vec<Point>>,
    },
    /// A run: a band of even width along a path, cut off square at its ends.
    Line {
        /// The middle of the band.
        points_m: Vec<Point>,
        /// Across the path.
        width_m: f64,
    },
}

/// One conductor of several: a figure, turned about its origin, then moved.
#[derive(Debug, Clone, PartialEq)]
pub struct Conductor {
    /// Its outline.
    pub figure: Figure,
    /// Its rows, if it is not solid.
    pub rows: Option<Rows>,
    /// Where the figure's origin lies, m.
    pub centre_m: Point,
    /// Turn about the origin, anticlockwise, rad.
    pub rotation_rad: f64,
    /// On top of the overlay instead of on the stitched plane.
    pub on_top: bool,
}

impl Figure {
    /// The outline by its measures, as the closed forms take it. A line is a rectangle of its length and width.
    ///
    /// # Panics
    /// On a polygon that [`geometry::extent`] refuses.
    pub fn outline(&self) -> Outline {
        match self {
            Self::Round { diameter_m } => Outline::Round { diameter_m: *diameter_m },
            Self::Rectangle { width_m, length_m, corner_radius_m } => {
                Outline::Rectangle { width_m: *width_m, length_m: *length_m, corner_radius_m: *corner_radius_m }
            }
            Self::Ring { inner_diameter_m, outer_diameter_m } => {
                Outline::Ring { inner_diameter_m: *inner_diameter_m, outer_diameter_m: *outer_diameter_m }
            }
            Self::Polygon { points_m, holes_m } => {
                let e = geometry::extent(points_m, holes_m).expect("a polygon without faults");
                Outline::Polygon {
                    area_m2: e.area_m2,
                    perimeter_m: e.perimeter_m,
                    hole_area_m2: e.hole_area_m2,
                    box_width_m: e.width_m,
                    box_length_m: e.length_m,
                }
            }
            Self::Line { points_m, width_m } => {
                Outline::Rectangle { width_m: *width_m, length_m: path_length(points_m).max(*width_m), corner_radius_m: 0.0 }
            }
        }
    }

    /// The figure's middle, about its origin.
    pub fn middle(&self) -> Point {
        match self {
            Self::Polygon { points_m, .. } => geometry::centroid(points_m),
            Self::Line { points_m, .. } => middle_of_path(points_m),
            _ => [0.0, 0.0],
        }
    }
}

impl Conductor {
    /// As the closed forms take it: outline and middle.
    pub fn placed(&self) -> Placed {
        let at = self.on_cloth(self.figure.middle());
        let line = match &self.figure {
            Figure::Line { points_m, width_m } => Some((path_length(points_m).max(*width_m), *width_m)),
            _ => None,
        };
        Placed { outline: self.figure.outline(), rows: self.rows, x_m: at[0], y_m: at[1], on_top: self.on_top, line }
    }

    /// Its edges as closed rings on the cloth, m; circles as polygons of equal area.
    pub fn rings_m(&self) -> Vec<Vec<Point>> {
        super::field::outline::loops_of(self)
    }

    /// A point of the figure, where it lies on the cloth.
    pub fn on_cloth(&self, point: Point) -> Point {
        let (sin, cos) = self.rotation_rad.sin_cos();
        [self.centre_m[0] + cos * point[0] - sin * point[1], self.centre_m[1] + sin * point[0] + cos * point[1]]
    }
}

/// Length of a path, m.
pub fn path_length(path: &[Point]) -> f64 {
    path.windows(2).map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1])).sum()
}

/// The point half way along a path.
fn middle_of_path(path: &[Point]) -> Point {
    let mut left = path_length(path) / 2.0;
    for step in path.windows(2) {
        let length = (step[1][0] - step[0][0]).hypot(step[1][1] - step[0][1]);
        if length >= left && length > 0.0 {
            let t = left / length;
            return [step[0][0] + t * (step[1][0] - step[0][0]), step[0][1] + t * (step[1][1] - step[0][1])];
        }
        left -= length;
    }
    path[0]
}
