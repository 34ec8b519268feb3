//! Outlines as closed loops, and how wide they are.
//!
//! Arcs are corners that keep the area.

use super::super::{Conductor, Figure, Outline};
use super::overlap::legs;
use crate::geometry::{self, Point};
use std::f64::consts::{FRAC_PI_2, PI};

/// Closed loops of an outline, in place on the cloth.
pub(in crate::electrostatics) fn loops_of(conductor: &Conductor) -> Vec<Vec<Point>> {
    loops(&conductor.figure).iter().map(|l| l.iter().map(|p| conductor.on_cloth(*p)).collect()).collect()
}

/// Closed loops of a figure about its origin.
pub(super) fn loops(figure: &Figure) -> Vec<Vec<Point>> {
    match figure {
        Figure::Round { diameter_m } => vec![rounded([0.0; 2], 0.5 * diameter_m)],
        Figure::Rectangle { width_m, length_m, corner_radius_m: 0.0 } => vec![geometry::rectangle_outline(*width_m, *length_m)],
        Figure::Rectangle { width_m, length_m, corner_radius_m } => {
            vec![rounded([0.5 * width_m - corner_radius_m, 0.5 * length_m - corner_radius_m], *corner_radius_m)]
        }
        Figure::Ring { inner_diameter_m, outer_diameter_m } => {
            vec![rounded([0.0; 2], 0.5 * outer_diameter_m), rounded([0.0; 2], 0.5 * inner_diameter_m)]
        }
        Figure::Polygon { points_m, holes_m } => std::iter::once(points_m).chain(holes_m).cloned().collect(),
        Figure::Line { points_m, width_m } => {
            // Down one side and back on the other, so that legs share their mitres.
            let legs = legs(points_m, *width_m);
            let out = legs.iter().flat_map(|leg| [leg[0], leg[1]]);
            let back = legs.iter().rev().flat_map(|leg| [leg[2], leg[3]]);
            let mut around: Vec<Point> = out.chain(back).collect();
            around.dedup();
            vec![around]
        }
    }
}

/// The loops of a figure turned so that as much of its edges as possible lies along the axes, and how far the turned
/// figure has to be turned back, rad.
pub(super) fn aligned_loops(figure: &Figure) -> (Vec<Vec<Point>>, f64) {
    let loops = loops(figure);
    if !matches!(figure, Figure::Polygon { .. }) {
        return (loops, 0.0);
    }
    let edges = loops.iter().flat_map(|l| (0..l.len()).map(|i| [l[i], l[(i + 1) % l.len()]]));
    let edges: Vec<[f64; 2]> = edges.map(|[a, b]| [(b[1] - a[1]).atan2(b[0] - a[0]), (b[0] - a[0]).hypot(b[1] - a[1])]).collect();
    let along = |angle: f64| {
        let off = |other: f64| (other - angle - ((other - angle) / FRAC_PI_2).round() * FRAC_PI_2).abs();
        edges.iter().filter(|edge| off(edge[0]) < 1e-6).map(|edge| edge[1]).sum::<f64>()
    };
    let longer = |best: [f64; 2], edge: &[f64; 2]| {
        let length = along(edge[0]);
        if length > best[0] * (1.0 + 1e-9) { [length, edge[0]] } else { best }
    };
    let [_, best] = edges.iter().fold([0.0; 2], longer);
    let angle = best - (best / FRAC_PI_2).round() * FRAC_PI_2;
    if angle == 0.0 {
        return (loops, 0.0);
    }
    (loops.iter().map(|l| straightened(geometry::placed(l, -angle, [0.0; 2]))).collect(), angle)
}

/// Edges that are parallel to an axis but for rounding are made so to the last bit, so that cells end at them.
fn straightened(mut corners: Vec<Point>) -> Vec<Point> {
    for k in 0..corners.len() {
        let next = (k + 1) % corners.len();
        for axis in 0..2 {
            let off = (corners[next][axis] - corners[k][axis]).abs();
            let length = (corners[next][1 - axis] - corners[k][1 - axis]).abs();
            if off < 1e-9 * length {
                corners[next][axis] = corners[k][axis];
            }
        }
    }
    corners
}

/// Corners in a quarter of a circle.
const ARC: usize = 32;

/// A rectangle with half-sides `half`, grown by a radius: corners in the middle of short arcs, as far out as makes up for
/// what the chords cut off.
fn rounded(half: Point, radius_m: f64) -> Vec<Point> {
    let angle = FRAC_PI_2 / ARC as f64;
    let grown = radius_m * (angle / angle.sin()).sqrt();
    let corner = |k: usize| {
        let (sin, cos) = ((k as f64 + 0.5) * angle).sin_cos();
        [half[0].copysign(cos) + grown * cos, half[1].copysign(sin) + grown * sin]
    };
    (0..4 * ARC).map(corner).collect()
}

/// Four areas over the perimeter: the side of a square, the diameter of a disc, twice the width of a band, m.
pub(super) fn width_m(figure: &Figure) -> f64 {
    let [area, perimeter] = area_and_perimeter(figure);
    4.0 * area / perimeter
}

/// Area in m² and length of all edges in m.
pub(super) fn area_and_perimeter(figure: &Figure) -> [f64; 2] {
    match figure.outline() {
        Outline::Round { diameter_m: d } => [PI * d * d / 4.0, PI * d],
        Outline::Rectangle { width_m: w, length_m: l, corner_radius_m: r } => {
            [w * l - (4.0 - PI) * r * r, 2.0 * (w + l) - (8.0 - 2.0 * PI) * r]
        }
        Outline::Ring { inner_diameter_m: i, outer_diameter_m: o } => [PI * (o * o - i * i) / 4.0, PI * (o + i)],
        Outline::Polygon { area_m2, perimeter_m, .. } => [area_m2, perimeter_m],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn loops_have_the_area_of_their_figures() {
        let figures = [
            Figure::Round { diameter_m: 3.0 },
            Figure::Rectangle { width_m: 3.0, length_m: 2.0, corner_radius_m: 0.0 },
            Figure::Rectangle { width_m: 3.0, length_m: 2.0, corner_radius_m: 0.7 },
            Figure::Ring { inner_diameter_m: 1.0, outer_diameter_m: 3.0 },
        ];
        for figure in figures {
            let loops = loops(&figure);
            let extent = geometry::extent(&loops[0], &loops[1..]).expect("no faults");
            let [area, perimeter] = area_and_perimeter(&figure);
            // Straight edges end a little inside the arcs, which are grown by a 3000th of their radius.
            assert!((extent.area_m2 / area - 1.0).abs() < 2e-4 && (extent.perimeter_m / perimeter - 1.0).abs() < 2e-4, "{figure:?}");
        }
    }

    #[test]
    fn most_edges_come_to_lie_along_the_axes() {
        let corners = vec![[0.0, 0.0], [3.0, 0.0], [3.0, 2.0], [1.0, 3.0], [0.0, 2.0]];
        let (turned, angle) = aligned_loops(&Figure::Polygon { points_m: geometry::placed(&corners, 0.4, [0.0; 2]), holes_m: Vec::new() });
        assert!((angle - 0.4).abs() < 1e-12);
        assert_eq!(turned[0][0][1], turned[0][1][1]);
        assert_eq!(turned[0][1][0], turned[0][2][0]);
    }
}
