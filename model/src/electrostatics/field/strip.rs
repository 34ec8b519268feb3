//! An endless flat strip among layers, solved.
//!
//! The charge is written as a sum of `cos(2 n s)` in an angle s that runs from edge to edge, `x = a tanh(c cos s)/tanh c`:
//! like Chebyshev functions with the edge singularity of a thin strip, but with the edges drawn apart as far as the nearest layer
//! asks, so that a strip a thousand heights wide takes no more unknowns than a narrow one. The potential of each term
//! comes from quadrature graded towards the point where it is wanted, with the kernel of [`super::line_kernel`], and is
//! set to one at as many points as there are unknowns.
//!
//! * gives: F/m
//! * needs: width in metres, above 0; layers over a ground plane
//! * assumes: thin perfect conductor, flat endless lossless layers
//! * source: own; for the plain Chebyshev form see R. Kress, Linear Integral Equations (from memory)
//! * accuracy: the error stated is what the last refinement changed, reduced as the changes before it tell, and never
//!   under 1e-11. Against the table of strips 1e-12 (the table's own error)
//! * errors: none; where the refinement ends before the tolerance is met, the stated error says so
//! * example: 3 mm wide, 1 mm of permittivity 2.6 over ground, air above: 103.764 pF/m

use super::super::EPS0;
use super::graded;
use super::layers::Layers;
use super::line_kernel::LineKernel;
use super::refine::{Refined, refined};
use nalgebra::{DMatrix, DVector};
use std::f64::consts::PI;

/// Numbers of unknowns, tried one after the other.
const ORDERS: [usize; 9] = [4, 6, 9, 13, 19, 28, 42, 63, 90];

/// What rounding and the kernel's table leave: the table is good to 1e-12.
const FLOOR: f64 = 1e-11;

/// Capacitance per metre of a strip on the stitched plane of `layers`, which must lie over a ground plane.
pub(in crate::electrostatics) fn strip(layers: &Layers, width_m: f64, relative_tolerance: f64) -> Refined {
    let half_m = 0.5 * width_m;
    let kernel = LineKernel::new(layers, width_m);
    let squeeze = squeeze(kernel.image_m() / half_m);
    refined(&ORDERS, FLOOR, relative_tolerance, |count| capacitance(&kernel, half_m, squeeze, count))
}

/// The constant c of the angle: 0 for a strip narrower than its nearest layer is far, else such that the edges are seen on the
/// scale `image` over half the width.
fn squeeze(image: f64) -> f64 {
    // dx/d(cos s) at the edge is c (1 - tanh^2 c)/tanh c of the half width, close to 4 c exp(-2c) for large c.
    let mut c = 0.01;
    if image < 1.0 {
        for _ in 0..40 {
            c = (0.5 * (4.0 * c / image).ln()).max(0.5);
        }
        // Drawn apart a little less, fewer terms serve edges and middle alike (tried from 0.6 to 1.2).
        c *= 0.7;
    }
    c
}

fn capacitance(kernel: &LineKernel, half_m: f64, squeeze: f64, count: usize) -> Option<f64> {
    let mut rule = Vec::new();
    let mut potentials = DMatrix::<f64>::zeros(count, count);
    let scale = half_m / squeeze.tanh();
    for i in 0..count {
        let at = PI * (i as f64 + 0.5) / (2 * count) as f64;
        let here = (squeeze * at.cos()).cosh();
        let slope = scale * squeeze * at.sin() / (here * here);
        let smallest = (0.02 * kernel.image_m() / slope).min(0.05 * at);
        for (side, length) in [(-1.0, at), (1.0, PI - at)] {
            rule.clear();
            graded::fill(&mut rule, length, 7.0 / count as f64, smallest);
            for (away, weight) in &rule {
                let s = at + side * away;
                // tanh p - tanh q = sinh(p - q)/(cosh p cosh q), and likewise for the cosines: no digits are lost close by.
                let apart = 2.0 * squeeze * (0.5 * (at + s)).sin() * (0.5 * away).sin();
                let distance = scale * apart.sinh() / (here * (squeeze * s.cos()).cosh());
                let value = weight * kernel.at(distance);
                let twice = 2.0 * (2.0 * s).cos();
                let (mut before, mut term) = (0.5 * twice, 1.0);
                for n in 0..count {
                    potentials[(i, n)] += value * term;
                    (before, term) = (term, twice * term - before);
                }
            }
        }
    }
    let density = potentials.lu().solve(&DVector::from_element(count, 1.0))?;
    Some(PI * PI * EPS0 * density[0])
}

#[cfg(test)]
mod tests {
    use super::super::super::{Ground, Layer, Medium};
    use super::*;

    fn on_ground(width_m: f64, thickness_m: f64, relative_permittivity: f64) -> Refined {
        let base = [Layer { thickness_m, relative_permittivity }];
        strip(&Layers::new(&Medium { ground: Ground::Plane, base: &base, overlay: &[] }, None), width_m, 1e-10)
    }

    #[test]
    fn gives_the_module_example() {
        let found = on_ground(3e-3, 1e-3, 2.6);
        assert!((found.value - 103.764e-12).abs() < 1e-15 && found.relative_error < 1e-10, "{found:?}");
    }

    #[test]
    fn a_strip_a_hundred_thousand_heights_wide_is_solved() {
        // Plate and Kirchhoff's edges for two dimensions, eps0 (w/h + (2/pi) (1 + ln(pi w/h))), left by about
        // (4/pi^2) (h/w) ln(pi w/h).
        let found = on_ground(1.0, 1e-5, 1.0);
        let wide = 1e5_f64;
        let plate = EPS0 * (wide + 2.0 / PI * (1.0 + (PI * wide).ln()));
        assert!((found.value / plate - 1.0).abs() < 1e-9 && found.relative_error < 1e-9, "{found:?} {plate:e}");
    }
}
