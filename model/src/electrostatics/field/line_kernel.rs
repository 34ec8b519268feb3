//! The potential that an endless line charge on the stitched plane makes along that plane.
//!
//! At the distance x it is, per charge per metre,
//! `g(x)/(pi eps0)`, `g(x) = integral_0^inf Z(k)/k cos(kx) dk`.
//! The half `(1 - exp(-kD))/E` of Z, with D twice the distance of the nearest layer, belongs to a charge and its image
//! and is a logarithm; the rest is analytic and is integrated along a ray half way between the axes, where neither the
//! wave exp(ikx) oscillates for long nor the poles of Z come near. What it gives is kept as a table in asinh(x/D),
//! because a potential that is smooth near the charge and changes over decades farther off is smooth in that.
//!
//! * gives: g without unit, for 0 < x <= the reach asked for, in metres
//! * assumes: a ground plane under flat lossless layers
//! * source: textbook (Fourier integral, image); contour and table own
//! * accuracy: 1e-12 of g(D), against images in the tests
//! * errors: none
//! * example: 1 mm of air over ground, 2 mm away: g = ln(2)/4

use super::layers::{Layers, Planes, Wavenumber};
use nalgebra::Complex;
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Step of the trapezoid rule in ln k. The integrand is analytic within a quarter turn to either side of the ray, so the
/// rule is off by exp(-2 pi (pi/4)/step) = 5e-16.
const STEP: f64 = 0.14;

/// Below this share of the largest inverse length, wavenumbers add nothing: Z falls like k.
const LOWEST: f64 = 1e-15;

/// Coefficients per piece of the table. A piece is at most 1 wide and the nearest singularity pi/2 away, so the last is
/// 6.4^-17 = 2e-14 of the first.
const COEFFICIENTS: usize = 18;

/// See the module.
#[derive(Debug, Clone)]
pub(super) struct LineKernel {
    per_adjacent: f64,
    image_m: f64,
    pieces_per_unit: f64,
    /// Chebyshev coefficients of the smooth part.
    pieces: Vec<[f64; COEFFICIENTS]>,
}

impl LineKernel {
    /// For distances up to `reach_m`; `layers` must lie over a ground plane.
    pub(super) fn new(layers: &Layers, reach_m: f64) -> Self {
        let nearest = layers.nearest_m(Planes::Stitched);
        let (per_adjacent, image_m) = (1.0 / layers.adjacent(Planes::Stitched), 2.0 * nearest);
        let waves = smooth_waves(layers, nearest, reach_m);
        let widest = (reach_m / image_m).asinh();
        let count = widest.ceil().max(1.0);
        let pieces_per_unit = count / widest;
        let pieces = (0..count as usize)
            .map(|piece| interpolate(|t| smooth_part(&waves, image_m * ((piece as f64 + 0.5 * (1.0 + t)) / pieces_per_unit).sinh())))
            .collect();
        Self { per_adjacent, image_m, pieces_per_unit, pieces }
    }

    /// Distance of the charge's first image, within a part of which [`Self::at`] is a logarithm plus something smooth.
    pub(super) fn image_m(&self) -> f64 {
        self.image_m
    }

    /// g at a distance.
    pub(super) fn at(&self, distance_m: f64) -> f64 {
        let x = distance_m.abs() / self.image_m;
        let place = x.asinh() * self.pieces_per_unit;
        let piece = (place as usize).min(self.pieces.len() - 1);
        let t = 2.0 * (place - piece as f64) - 1.0;
        let (mut last, mut sum) = (0.0, 0.0);
        for c in self.pieces[piece][1..].iter().rev() {
            (last, sum) = (sum, 2.0 * t * sum - last + c);
        }
        self.pieces[piece][0] + t * sum - last + 0.5 * self.per_adjacent * (1.0 / (x * x)).ln_1p()
    }
}

/// Wavenumbers along the ray, and step times what is left of Z there.
fn smooth_waves(layers: &Layers, nearest_m: f64, reach_m: f64) -> Vec<(f64, Complex<f64>)> {
    let per_adjacent = 1.0 / layers.adjacent(Planes::Stitched);
    let lowest = (LOWEST / reach_m.max(layers.base_m())).ln();
    // exp(-2 k d) has fallen to 1e-16.
    let highest = (36.8 * FRAC_1_SQRT_2 / nearest_m).ln();
    let count = ((highest - lowest) / STEP).ceil().max(1.0) as usize;
    let turn = Complex::new(FRAC_1_SQRT_2, FRAC_1_SQRT_2);
    let waves = (0..=count).map(|i| {
        let size = (highest - STEP * i as f64).exp();
        let k = turn * size;
        let waves = layers.at(k);
        let [decay, lost] = k.decay(nearest_m);
        // Two ways to write one difference; each is without cancellation where it is used.
        let rest =
            if size * nearest_m > 0.5 { (decay - waves.stitched_shortfall) * per_adjacent } else { waves.stitched - lost * per_adjacent };
        (size, rest * STEP)
    });
    waves.filter(|(_, rest)| *rest != Complex::new(0.0, 0.0)).collect()
}

fn smooth_part(waves: &[(f64, Complex<f64>)], distance_m: f64) -> f64 {
    let x = distance_m * FRAC_1_SQRT_2;
    let term = |(size, rest): &(f64, Complex<f64>)| {
        let phase = size * x;
        if phase > 40.0 {
            return 0.0;
        }
        let (sin, cos) = phase.sin_cos();
        (-phase).exp() * (rest.re * cos - rest.im * sin)
    };
    waves.iter().map(term).sum()
}

/// Chebyshev coefficients of a function on [-1, 1].
fn interpolate(function: impl Fn(f64) -> f64) -> [f64; COEFFICIENTS] {
    let angle = |i: usize| PI * (i as f64 + 0.5) / COEFFICIENTS as f64;
    let values: [f64; COEFFICIENTS] = std::array::from_fn(|i| function(angle(i).cos()));
    std::array::from_fn(|n| {
        let sum: f64 = values.iter().enumerate().map(|(i, v)| v * (n as f64 * angle(i)).cos()).sum();
        sum * if n == 0 { 1.0 } else { 2.0 } / COEFFICIENTS as f64
    })
}

#[cfg(test)]
mod tests {
    use super::super::super::{Ground, Layer, Medium};
    use super::*;

    #[test]
    fn a_dielectric_on_ground_is_a_row_of_images() {
        // Images at 2 n h with weights from the two reflections, textbook: over a base e of thickness h the charge 1 at
        // the plane has g = 1/(e + 1) [ln(1/x) - (1 + q) sum q^(n-1) (-1)^(n-1) ln(1/sqrt(x^2 + 4 n^2 h^2))], q the
        // contrast (e - 1)/(e + 1).
        let h = 1e-3;
        for e in [1.0, 2.6, 80.0_f64] {
            let base = [Layer { thickness_m: h, relative_permittivity: e }];
            let layers = Layers::new(&Medium { ground: Ground::Plane, base: &base, overlay: &[] }, None);
            let kernel = LineKernel::new(&layers, 1.0);
            let q = -(e - 1.0) / (e + 1.0);
            for x in [1e-9, 1e-5, 1e-3, 7e-3, 0.1, 1.0_f64] {
                let mut exact = -x.ln();
                let mut weight = 1.0;
                for n in 1..4000 {
                    let image = x.hypot(2.0 * f64::from(n) * h);
                    exact += (1.0 - q) * weight * image.ln();
                    weight *= q;
                }
                exact /= e + 1.0;
                let error = (kernel.at(x) - exact).abs();
                assert!(error < 1e-12, "permittivity {e}, {x} m: {} against {exact}", kernel.at(x));
            }
        }
    }

    #[test]
    fn air_over_ground_gives_the_module_example() {
        let base = [Layer { thickness_m: 1e-3, relative_permittivity: 1.0 }];
        let layers = Layers::new(&Medium { ground: Ground::Plane, base: &base, overlay: &[] }, None);
        assert!((LineKernel::new(&layers, 5e-3).at(2e-3) - 0.25 * 2_f64.ln()).abs() < 1e-14);
    }
}
