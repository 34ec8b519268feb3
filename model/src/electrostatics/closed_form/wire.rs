//! A round wire along a plane.
//!
//! In one dielectric the field of a wire of radius r, axis h above a plane, is that of two line
//! charges: `C' = 2 pi eps0 er / arcosh(h/r)`, exactly. Far from a plane a wire acts as a strip of
//! width 4 r, and a wire whose axis lies in the face between two dielectrics as one in their mean;
//! so the strip among the actual layers over the strip in one dielectric carries the exact value
//! over to layers.
//!
//! * gives: F/m; needs: 0 < r < h in metres; a wire nearer than 1.0005 r is held there
//! * source: textbook (images); the transfer is own
//! * accuracy: exact in one dielectric; see [`super::bound::thread`] for layers
//! * example: r = 0.1 mm, h = 1 mm, air: 18.586 pF/m

use super::super::{EPS0, Layer};
use super::admittance::Admittances;
use super::strip;
use std::f64::consts::PI;

/// The nearest a wire may come to the plane, in radii.
pub(super) const NEAREST: f64 = 1.0005;

/// The strip that a wire of radius `radius_m` resembles.
pub(super) fn equivalent_width_m(radius_m: f64) -> f64 {
    4.0 * radius_m
}

/// What a wire's capacitance is over its strip's, both in one dielectric.
pub(super) fn over_strip(radius_m: f64, height_m: f64) -> f64 {
    let height = height_m.max(NEAREST * radius_m);
    let width = equivalent_width_m(radius_m);
    let k = strip::first_wavenumber(width);
    let mut down = Admittances::ground();
    down.through(Layer { thickness_m: height, relative_permittivity: 1.0 }, k);
    let as_strip = strip::capacitance_per_m(&down, &Admittances::air());
    2.0 * PI * EPS0 / (height / radius_m).acosh() / as_strip
}
