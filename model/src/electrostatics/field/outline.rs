//! Outlines as closed loops on the cloth, and how wide they are.
//!
//! Circles are polygons of equal area.

use super::super::{Conductor, Figure, Outline};
use super::overlap::legs;
use crate::geometry::Point;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// Closed loops of an outline, in place on the cloth.
pub(in crate::electrostatics) fn loops_of(conductor: &Conductor) -> Vec<Vec<Point>> {
    let put = |points: &[Point]| -> Vec<Point> { points.iter().map(|p| conductor.on_cloth(*p)).collect() };
    let circle = |diameter: f64| put(&arc_loop(diameter));
    match &conductor.figure {
        Figure::Round { diameter_m } => vec![circle(*diameter_m)],
        Figure::Ring { inner_diameter_m, outer_diameter_m } => vec![circle(*outer_diameter_m), circle(*inner_diameter_m)],
        Figure::Rectangle { width_m, length_m, corner_radius_m } => vec![put(&rounded(*width_m, *length_m, *corner_radius_m))],
        Figure::Polygon { points_m, holes_m } => std::iter::once(points_m).chain(holes_m).map(|l| put(l)).collect(),
        Figure::Line { points_m, width_m } => {
            // Down one side and back on the other, so that legs share their mitres.
            let legs = legs(points_m, *width_m);
            let out = legs.iter().flat_map(|leg| [leg[0], leg[1]]);
            let back = legs.iter().rev().flat_map(|leg| [leg[2], leg[3]]);
            let mut around: Vec<Point> = out.chain(back).collect();
            around.dedup();
            vec![put(&around)]
        }
    }
}

/// Sides of the polygon that stands for a circle, of equal area.
const CIRCLE_SIDES: usize = 192;

fn arc_loop(diameter_m: f64) -> Vec<Point> {
    let step = TAU / CIRCLE_SIDES as f64;
    let radius = 0.5 * diameter_m * (step / step.sin()).sqrt();
    (0..CIRCLE_SIDES).map(|k| [radius * (k as f64 * step).cos(), radius * (k as f64 * step).sin()]).collect()
}

fn rounded(width_m: f64, length_m: f64, radius_m: f64) -> Vec<Point> {
    let (x, y) = (width_m / 2.0 - radius_m, length_m / 2.0 - radius_m);
    let corners = [[x, y], [-x, y], [-x, -y], [x, -y]];
    if radius_m == 0.0 {
        return corners.to_vec();
    }
    const STEPS: usize = 32;
    let corner = |n: usize| (0..=STEPS).map(move |s| FRAC_PI_2 * (n as f64 + s as f64 / STEPS as f64));
    (0..4).flat_map(|n| corner(n).map(move |t| [corners[n][0] + radius_m * t.cos(), corners[n][1] + radius_m * t.sin()])).collect()
}

/// Four areas over the perimeter: the side of a square, the diameter of a disc, twice the width of a band, m.
pub(super) fn width_m(figure: &Figure) -> f64 {
    let (area, perimeter) = measures(figure);
    4.0 * area / perimeter
}

fn measures(figure: &Figure) -> (f64, f64) {
    match figure.outline() {
        Outline::Round { diameter_m: d } => (PI * d * d / 4.0, PI * d),
        Outline::Rectangle { width_m, length_m, .. } => (width_m * length_m, 2.0 * (width_m + length_m)),
        Outline::Ring { inner_diameter_m: i, outer_diameter_m: o } => (PI * (o * o - i * i) / 4.0, PI * (o + i)),
        Outline::Polygon { area_m2, perimeter_m, .. } => (area_m2, perimeter_m),
    }
}
