//! Free space between conductors lying on the cloth.
//!
//! Every outline is a few parts, each a set of closed loops grown by a radius: a disc is a point grown by its radius, a
//! rounded rectangle is grown by its corner radius, a run is one quadrangle for each leg, mitred at the bends. A ring is a
//! disc with a round hole. Distances between such parts are exact.
//!
//! * gives: the gap between two conductors in metres, 0 where they touch or overlap; bounding boxes
//! * needs: outlines without faults of their own (see [`crate::geometry::extent`])
//! * assumes: the mitre of a bend sharper than a right angle is cut at half the width beyond the corner
//! * source: own (plane geometry)
//! * errors: none
//! * example: two discs of 10 mm, centres 12 mm apart, have a gap of 2 mm

use super::super::{Conductor, Figure};
use crate::geometry::{self, Point};

/// What a conductor covers, in place on the cloth.
#[derive(Debug, Clone)]
pub(in crate::electrostatics) struct Region {
    parts: Vec<Part>,
    /// Lowest and highest x and y.
    low: Point,
    high: Point,
}

#[derive(Debug, Clone)]
struct Part {
    /// Closed loops, even-odd; of one point or two where the part is a grown point or line.
    loops: Vec<Vec<Point>>,
    grown_m: f64,
    /// Radius of a round hole about the only point.
    hole_m: f64,
}

impl Region {
    /// Of one conductor.
    pub(in crate::electrostatics) fn new(conductor: &Conductor) -> Self {
        let put = |points: &[Point]| -> Vec<Point> { points.iter().map(|p| conductor.on_cloth(*p)).collect() };
        let solid = |loops: Vec<Vec<Point>>, grown_m: f64| Part { loops, grown_m, hole_m: 0.0 };
        let parts = match &conductor.figure {
            Figure::Round { diameter_m } => vec![solid(vec![put(&[[0.0; 2]])], diameter_m / 2.0)],
            Figure::Rectangle { width_m, length_m, corner_radius_m } => {
                let (x, y) = (width_m / 2.0 - corner_radius_m, length_m / 2.0 - corner_radius_m);
                vec![solid(vec![put(&[[-x, -y], [x, -y], [x, y], [-x, y]])], *corner_radius_m)]
            }
            Figure::Ring { inner_diameter_m, outer_diameter_m } => {
                vec![Part { loops: vec![put(&[[0.0; 2]])], grown_m: outer_diameter_m / 2.0, hole_m: inner_diameter_m / 2.0 }]
            }
            Figure::Polygon { points_m, holes_m } => {
                vec![solid(std::iter::once(points_m).chain(holes_m).map(|l| put(l)).collect(), 0.0)]
            }
            Figure::Line { points_m, width_m } => legs(points_m, *width_m).iter().map(|leg| solid(vec![put(leg)], 0.0)).collect(),
        };
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for part in &parts {
            for p in part.loops.iter().flatten() {
                for k in 0..2 {
                    low[k] = low[k].min(p[k] - part.grown_m);
                    high[k] = high[k].max(p[k] + part.grown_m);
                }
            }
        }
        Self { parts, low, high }
    }

    /// Free space to another, 0 where they touch or overlap.
    pub(in crate::electrostatics) fn gap_m(&self, other: &Region) -> f64 {
        let pairs = self.parts.iter().flat_map(|a| other.parts.iter().map(move |b| gap_m(a, b)));
        pairs.fold(f64::INFINITY, f64::min).max(0.0)
    }

    /// Distance of a point, 0 inside.
    pub(in crate::electrostatics) fn distance_m(&self, point: Point) -> f64 {
        let point = Part { loops: vec![vec![point]], grown_m: 0.0, hole_m: 0.0 };
        self.parts.iter().map(|part| gap_m(part, &point)).fold(f64::INFINITY, f64::min).max(0.0)
    }

    /// No more than the gap, quickly: the distance between the boxes around both.
    pub(in crate::electrostatics) fn gap_at_least_m(&self, other: &Region) -> f64 {
        let apart = |k: usize| (other.low[k] - self.high[k]).max(self.low[k] - other.high[k]).max(0.0);
        apart(0).hypot(apart(1))
    }

    /// Longest side of the box around it, along x or y.
    pub(in crate::electrostatics) fn extent_m(&self) -> f64 {
        (self.high[0] - self.low[0]).max(self.high[1] - self.low[1])
    }
}

/// The corners of each leg of a run, mitred where legs meet. Points on top of each other are one.
pub(in crate::electrostatics) fn legs(path: &[Point], width_m: f64) -> Vec<[Point; 4]> {
    let path = without_repeats(path);
    let half = width_m / 2.0;
    let directions: Vec<Point> = path.windows(2).map(|w| unit(w[0], w[1])).collect();
    let leg = |k: usize| {
        let u = directions[k];
        let normal = [-u[1], u[0]];
        // How far the left and right edges go beyond the joint with the next leg (negative: short of it).
        let mitre = |next: Option<&Point>| -> [f64; 2] {
            let Some(v) = next else { return [0.0; 2] };
            let turn = (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]);
            let shift = (half * (turn / 2.0).tan()).clamp(-half, half);
            [-shift, shift]
        };
        let last = mitre(directions.get(k + 1));
        let first = if k == 0 {
            [0.0; 2]
        } else {
            let v = directions[k - 1];
            let turn = (v[0] * u[1] - v[1] * u[0]).atan2(u[0] * v[0] + u[1] * v[1]);
            let shift = (half * (turn / 2.0).tan()).clamp(-half, half);
            [-shift, shift]
        };
        let at = |p: Point, side: f64, beyond: f64| {
            [p[0] + side * half * normal[0] + beyond * u[0], p[1] + side * half * normal[1] + beyond * u[1]]
        };
        [at(path[k], -1.0, -first[1]), at(path[k + 1], -1.0, last[1]), at(path[k + 1], 1.0, last[0]), at(path[k], 1.0, -first[0])]
    };
    (0..directions.len()).map(leg).collect()
}

/// A path without points that repeat the one before.
pub(in crate::electrostatics) fn without_repeats(path: &[Point]) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::with_capacity(path.len());
    for p in path {
        if kept.last() != Some(p) {
            kept.push(*p);
        }
    }
    kept
}

fn unit(a: Point, b: Point) -> Point {
    let length = (b[0] - a[0]).hypot(b[1] - a[1]);
    [(b[0] - a[0]) / length, (b[1] - a[1]) / length]
}

fn gap_m(a: &Part, b: &Part) -> f64 {
    for (ring, inner) in [(a, b), (b, a)] {
        if ring.hole_m > 0.0 {
            let centre = ring.loops[0][0];
            let reach = inner.loops.iter().flatten().map(|p| (p[0] - centre[0]).hypot(p[1] - centre[1])).fold(0.0, f64::max);
            if reach + inner.grown_m < ring.hole_m {
                return ring.hole_m - reach - inner.grown_m;
            }
        }
    }
    let covered = inside(&a.loops, b.loops[0][0]) || inside(&b.loops, a.loops[0][0]);
    let apart = a.loops.iter().flat_map(|x| b.loops.iter().map(move |y| geometry::distance(x, y))).fold(f64::INFINITY, f64::min);
    if covered { 0.0 } else { apart - a.grown_m - b.grown_m }
}

/// Even-odd over all loops, so that a point in a hole is outside.
fn inside(loops: &[Vec<Point>], point: Point) -> bool {
    loops.iter().filter(|corners| geometry::contains(corners, point)).count() % 2 == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(figure: Figure, x: f64, y: f64, rotation_rad: f64) -> Region {
        Region::new(&Conductor { figure, rows: None, centre_m: [x, y], rotation_rad, on_top: false })
    }

    fn disc(x: f64, diameter_m: f64) -> Region {
        at(Figure::Round { diameter_m }, x, 0.0, 0.0)
    }

    fn rectangle(x: f64, corner_radius_m: f64, rotation_rad: f64) -> Region {
        at(Figure::Rectangle { width_m: 2.0, length_m: 2.0, corner_radius_m }, x, 0.0, rotation_rad)
    }

    #[track_caller]
    fn gap(a: &Region, b: &Region, expected: f64) {
        assert!((a.gap_m(b) - expected).abs() < 1e-12 && (b.gap_m(a) - expected).abs() < 1e-12, "{} {}", a.gap_m(b), b.gap_m(a));
        assert!(a.gap_at_least_m(b) <= a.gap_m(b) + 1e-12 || expected == 0.0);
    }

    #[test]
    fn discs_and_rectangles() {
        gap(&disc(0.0, 10.0), &disc(12.0, 10.0), 2.0);
        gap(&disc(0.0, 10.0), &disc(10.0, 10.0), 0.0);
        gap(&disc(0.0, 10.0), &disc(1.0, 2.0), 0.0);
        gap(&rectangle(0.0, 0.0, 0.0), &disc(4.0, 2.0), 2.0);
        gap(&rectangle(0.0, 0.5, 0.0), &disc(4.0, 2.0), 2.0);
        // Turned by 45° a corner points at the disc; rounding takes (sqrt 2 - 1) r of it.
        let eighth = std::f64::consts::FRAC_PI_4;
        gap(&rectangle(0.0, 0.0, eighth), &disc(4.0, 2.0), 3.0 - 2.0_f64.sqrt());
        gap(&rectangle(0.0, 0.5, eighth), &disc(4.0, 2.0), 3.0 - 2.0_f64.sqrt() + 0.5 * (2.0_f64.sqrt() - 1.0));
        // Rounded until it is a disc.
        gap(&rectangle(0.0, 1.0, 0.3), &disc(4.0, 2.0), 2.0);
    }

    #[test]
    fn a_hole_leaves_room() {
        let ring = at(Figure::Ring { inner_diameter_m: 6.0, outer_diameter_m: 10.0 }, 0.0, 0.0, 0.0);
        gap(&ring, &disc(0.0, 4.0), 1.0);
        gap(&ring, &disc(0.5, 4.0), 0.5);
        gap(&ring, &disc(2.0, 4.0), 0.0);
        gap(&ring, &disc(7.0, 2.0), 1.0);
        gap(&ring, &at(Figure::Ring { inner_diameter_m: 12.0, outer_diameter_m: 14.0 }, 0.0, 0.0, 0.0), 1.0);
        let frame = at(
            Figure::Polygon { points_m: geometry::rectangle_outline(10.0, 10.0), holes_m: vec![geometry::rectangle_outline(6.0, 6.0)] },
            0.0,
            0.0,
            0.0,
        );
        gap(&frame, &rectangle(0.0, 0.0, 0.0), 2.0);
        gap(&frame, &disc(0.5, 5.0), 0.0);
        gap(&frame, &disc(9.0, 2.0), 3.0);
    }

    #[test]
    fn a_run_is_mitred_at_its_bends() {
        let run = at(Figure::Line { points_m: vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]], width_m: 2.0 }, 0.0, 0.0, 0.0);
        // The outer corner of the bend lies at (11, -1), its inner one at (9, 1).
        gap(&run, &at(Figure::Round { diameter_m: 2.0 }, 14.0, -5.0, 0.0), 4.0);
        gap(&run, &at(Figure::Round { diameter_m: 2.0 }, 6.0, 5.0, 0.0), 2.0);
        gap(&run, &at(Figure::Round { diameter_m: 2.0 }, -3.0, 0.0, 0.0), 2.0);
        assert_eq!(run.extent_m(), 11.0);
    }

    #[test]
    fn crossing_runs_overlap() {
        let line = |rotation| at(Figure::Line { points_m: vec![[-5.0, 0.0], [5.0, 0.0]], width_m: 1.0 }, 0.0, 0.0, rotation);
        gap(&line(0.0), &line(1.0), 0.0);
    }
}
