//! The layered kernel as a sum of Gaussians with positive weights.
//!
//! As a function of u = k², Z(√u)/√u is the resolvent of the operator "minus the second derivative, weighted by the
//! permittivity" across the layers. It is therefore a mixture of exp(-u t) with positive weights f(t), the diffusion of
//! heat across the same stack, and so the potential at distance rho of a unit charge,
//! `G = 1/(2 pi eps0) int Z(k) J0(k rho) dk`, is a positive mixture of Gaussians:
//! `G(rho) = 1/(4 pi eps0) int f(t) exp(-rho²/4t) dt/t`. The trapezoid rule in ln t converges geometrically here,
//! because f has no singularity in the right half-plane. A sum of Gaussians separates in x and y, and a Galerkin matrix
//! made from it is positive definite whatever the basis.
//!
//! f comes from Z by a Talbot contour: all poles of Z(√u) and its cut lie on the negative axis, which the contour goes
//! around. Where t is so small that no boundary is felt, f = 1/(E √(pi t)) exactly. Below and above the grid the
//! trapezoid sum goes on as a geometric series; two more Gaussians stand for the one, one for the other.
//!
//! * gives: weights in 1/F (V/C) and exponents in 1/m², `G(rho) = sum of weight exp(-rho² per_m2)`
//! * needs: distances from 1e-6 m to 4 m; the grid is the same for every stack, so that sums may be kept and compared
//! * source: own combination; contour after L. N. Trefethen, J. A. C. Weideman, T. Schmelzer, "Talbot quadratures and
//!   rational approximations", 2006 (from memory); sums of Gaussians for 1/r are common in quantum chemistry
//! * accuracy: 1e-7 of G, against images in one dielectric, over ground out to 4 m included (1 - G falls like rho^-3
//!   there), and against a direct integral over k in layers; 2e-7 at 4 m over a layer of 1 µm, where rounding tells
//! * errors: none; a plane lying on the ground gives weights of 0
//! * example: in air G(1 m) = 1/(4 pi eps0) = 8.98755e9 1/F

use super::super::{EPS0, Ground};
use super::layers::{Layers, Planes};
use nalgebra::Complex;
use std::f64::consts::{LN_2, PI};

/// Step of the grid in log2 t, as a fraction: t = 2^(2n/3) m². Aliasing of the trapezoid rule with this step is 1.5e-9
/// of G where it falls like 1/rho and 4e-8 where it falls like 1/rho³.
pub(super) const STEP: [i32; 2] = [2, 3];

/// First grid index: t = 2^-46 m², Gaussians of 0.24 µm.
pub(super) const FIRST: i32 = -69;

/// The grid goes at least so far: t = 2^13.3 m²...
const LAST_AT_LEAST: i32 = 20;
/// ... and at most so far, however thick the layers.
const LAST_AT_MOST: i32 = 60;

/// Nodes of the contour, of which half are needed. The contour's error is 3.89^-nodes of the transform, 7e-15: over thin layers the far field is
/// a small difference, and some of that shows.
const CONTOUR_NODES: usize = 24;

/// exp(-36) = 2e-16: what a boundary reflects is lost in rounding.
const UNFELT: f64 = 36.0;

/// A positive sum of Gaussians.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Gaussians {
    /// In 1/F. The first [`NARROW`] and the last are the closing terms, the others lie on the grid from [`FIRST`] on.
    pub(super) weights: Vec<f64>,
    /// In 1/m².
    pub(super) per_m2: Vec<f64>,
}

impl Gaussians {
    /// Of one stack, between these planes.
    pub(super) fn new(layers: &Layers, planes: Planes) -> Self {
        let step = LN_2 * f64::from(STEP[0]) / f64::from(STEP[1]);
        let density = HeatKernel::new(layers, planes);
        // Far out f falls like t^-1/2 without ground and like t^-3/2 over it; the weight of a term does the same.
        let fall: f64 = match layers.ground() {
            Ground::None => (-0.5 * step).exp(),
            Ground::Plane => (-1.5 * step).exp(),
        };
        // How much the last ratio may differ from that: the closing term holds 4 % of G(4 m) without ground, 6e-5 over it.
        let settled = if layers.ground() == Ground::None { 1e-6 } else { 1e-3 };
        let (mut weights, mut per_m2) = (vec![0.0; NARROW], vec![0.0; NARROW]);
        let mut previous = 0.0;
        for n in FIRST..=LAST_AT_MOST {
            let t = grid_m2(n);
            let f = density.at(t);
            weights.push(step * f / (4.0 * PI * EPS0));
            per_m2.push(0.25 / t);
            if n >= LAST_AT_LEAST && (f / (previous * fall) - 1.0).abs() < settled {
                break;
            }
            previous = f;
        }
        // Under the grid f goes on like t^-1/2.
        let narrow = (-0.5 * step).exp();
        let under = (1..=UNDER).map(|n| (weights[2] * narrow.powi(-n), per_m2[2] * (step * f64::from(n)).exp()));
        for (n, [weight, p]) in join_narrow(under).into_iter().enumerate() {
            (weights[n], per_m2[n]) = (weight, p);
        }
        // In space the terms over the grid keep their sum and the sum of their exponents.
        let (sum, moment) = (geometric(fall), geometric(fall * (-step).exp()));
        let last = weights.len() - 1;
        weights.push(weights[last] * sum);
        per_m2.push(per_m2[last] * moment / sum);
        Self { weights, per_m2 }
    }

    /// The sum at one distance, 1/F.
    pub(super) fn at(&self, rho_squared_m2: f64) -> f64 {
        self.weights.iter().zip(&self.per_m2).map(|(weight, per_m2)| weight * (-rho_squared_m2 * per_m2).exp()).sum()
    }
}

/// Terms that stand for many narrow ones.
pub(super) const NARROW: usize = 2;

/// Terms under the grid that are summed: each weighs 2^-1/3 of the one before, so that the rest is 1e-16 of the sum.
const UNDER: i32 = 160;

/// Two Gaussians (weight, exponent) in place of many that are too narrow to be told apart. In k each weighs
/// `weight/exponent`; the two keep the sum of that, and the sums of it times the logarithm of the exponent and its square:
/// against charge with edges, which grows like 1/√distance, a narrow Gaussian counts like a polynomial of degree 2 in that
/// logarithm. The split between the two is such that for a geometric series the first moment of t is kept as well, which
/// matters against smooth charge.
pub(super) fn join_narrow(terms: impl Iterator<Item = (f64, f64)>) -> [[f64; 2]; NARROW] {
    const SPLIT: f64 = 0.599;
    let [mut sum, mut first, mut second] = [0.0; 3];
    for (weight, p) in terms {
        let (weight, log) = (weight / p, p.ln());
        sum += weight;
        first += weight * log;
        second += weight * log * log;
    }
    if sum <= 0.0 {
        return [[0.0, 1.0]; NARROW];
    }
    let mean = first / sum;
    let spread = (second / sum - mean * mean).max(0.0).sqrt();
    let wide = (mean - SPLIT * spread).exp();
    let narrow = (mean + spread / SPLIT).exp();
    let share = 1.0 / (1.0 + SPLIT * SPLIT);
    [[share * sum * wide, wide], [(1.0 - share) * sum * narrow, narrow]]
}

/// t of a grid index.
fn grid_m2(n: i32) -> f64 {
    (f64::from(STEP[0] * n) / f64::from(STEP[1])).exp2()
}

/// r + r² + r³ + ...
fn geometric(ratio: f64) -> f64 {
    ratio / (1.0 - ratio)
}

/// f(t): how heat let go on one plane is found on the other after the "time" t in m².
struct HeatKernel<'a> {
    layers: &'a Layers,
    planes: Planes,
    adjacent: f64,
    /// Below this nothing of the layers is felt.
    early_m2: f64,
    contour: Vec<[Complex<f64>; 2]>,
}

impl<'a> HeatKernel<'a> {
    fn new(layers: &'a Layers, planes: Planes) -> Self {
        // Without overlay both planes are one.
        let planes = if layers.overlay_m() > 0.0 { planes } else { Planes::Stitched };
        // A boundary d away reflects exp(-d²/t) and lets exp(-d²/4t) through.
        let nearest = layers.nearest_m(planes);
        let early_m2 = nearest * nearest / if planes == Planes::Across { 4.0 * UNFELT } else { UNFELT };
        Self { layers, planes, adjacent: layers.adjacent(planes), early_m2, contour: contour() }
    }

    fn at(&self, t: f64) -> f64 {
        if t < self.early_m2 {
            return if self.planes == Planes::Across { 0.0 } else { 1.0 / (self.adjacent * (PI * t).sqrt()) };
        }
        let transform = |u: Complex<f64>| {
            let k = u.sqrt();
            self.layers.at(k).impedance(self.planes) / k
        };
        let sum: f64 = self.contour.iter().map(|[z, factor]| (factor * transform(z / t)).im).sum();
        (sum / t).max(0.0)
    }
}

/// Upper half of the contour: z, and `exp(z) z' 2/nodes`.
fn contour() -> Vec<[Complex<f64>; 2]> {
    let n = CONTOUR_NODES as f64;
    let node = |i: usize| {
        let theta = (2 * i + 1) as f64 * PI / n;
        let (sin, cos) = (0.6407 * theta).sin_cos();
        let z = Complex::new(0.5017 * theta * cos / sin - 0.6122, 0.2645 * theta) * n;
        let slope = Complex::new(0.5017 * (cos / sin - 0.6407 * theta / (sin * sin)), 0.2645) * n;
        [z, z.exp() * slope * (2.0 / n)]
    };
    (0..CONTOUR_NODES / 2).map(node).collect()
}

#[cfg(test)]
mod tests {
    use super::super::super::{Layer, Medium};
    use super::*;

    /// Distances from 1 µm to 4 m.
    fn distances() -> impl Iterator<Item = f64> {
        (0..=66).map(|i| 1e-6 * 10_f64.powf(f64::from(i) / 10.0))
    }

    fn gaussians(ground: Ground, base: &[Layer], overlay: &[Layer], planes: Planes) -> Gaussians {
        Gaussians::new(&Layers::new(&Medium { ground, base, overlay }, None), planes)
    }

    /// 1/r - 1/√(r² + 4h²) without cancellation.
    fn image_pair(r: f64, h: f64) -> f64 {
        let far = r.hypot(2.0 * h);
        4.0 * h * h / (r * far * (r + far))
    }

    #[test]
    fn free_space_is_one_over_rho() {
        let sum = gaussians(Ground::None, &[], &[], Planes::Stitched);
        for rho in distances() {
            let error = sum.at(rho * rho) * 4.0 * PI * EPS0 * rho - 1.0;
            // At 1 µm the closing term at the narrow end has lost 2e-8; elsewhere aliasing of 2e-9 is all there is.
            assert!(error.abs() < 5e-8, "{rho} {error}");
        }
    }

    #[test]
    fn over_ground_in_one_dielectric_it_is_a_pair_of_images() {
        for h in [1e-6, 1e-4, 3e-3, 0.1, 10.0] {
            let base = [Layer { thickness_m: h, relative_permittivity: 1.0 }];
            let sum = gaussians(Ground::Plane, &base, &[], Planes::Stitched);
            for rho in distances() {
                let error = sum.at(rho * rho) * 4.0 * PI * EPS0 / image_pair(rho, h) - 1.0;
                // The aliasing of 4e-8 of the far field, and the rounding of f where the field is what two charges
                // of opposite sign leave.
                assert!(error.abs() < 5e-8 + 1e-13 * rho / h, "{h} {rho} {error}");
            }
        }
    }

    #[test]
    fn across_an_overlay_of_air_it_is_a_pair_of_images_too() {
        let air = |thickness_m| [Layer { thickness_m, relative_permittivity: 1.0 }];
        for (h, d) in [(3e-3, 1e-3), (0.2e-3, 2e-3), (20e-3, 0.05e-3)] {
            let sum = gaussians(Ground::Plane, &air(h), &air(d), Planes::Across);
            for rho in distances() {
                let (near, far) = (rho.hypot(d), rho.hypot(2.0 * h + d));
                let exact = (far - near) * (far + near) / (near * far * (near + far));
                let exact = if exact > 0.0 { 4.0 * h * (h + d) / (near * far * (near + far)) } else { exact };
                let error = sum.at(rho * rho) * 4.0 * PI * EPS0 / exact - 1.0;
                assert!(error.abs() < 1e-7, "{h} {d} {rho} {error}");
            }
        }
    }

    #[test]
    fn weights_are_positive_and_their_transform_is_the_impedance() {
        // The sum of the Gaussians' own transforms must give Z(k)/k back, whatever the layers.
        let layer = |t: f64, e: f64| Layer { thickness_m: t, relative_permittivity: e };
        let base = [layer(1e-5, 100.0), layer(3e-3, 1.4), layer(2e-4, 8.0)];
        let overlay = [layer(1e-4, 3.0), layer(1e-3, 1.0), layer(2e-3, 80.0)];
        for ground in [Ground::Plane, Ground::None] {
            for planes in [Planes::Stitched, Planes::Top, Planes::Across] {
                let layers = Layers::new(&Medium { ground, base: &base, overlay: &overlay }, None);
                let sum = Gaussians::new(&layers, planes);
                assert!(sum.weights.iter().all(|weight| *weight >= 0.0));
                for i in 0..30 {
                    let k = 0.5 * 1.5_f64.powi(i);
                    let own: f64 = sum
                        .weights
                        .iter()
                        .zip(&sum.per_m2)
                        .map(|(weight, per_m2)| weight * PI / per_m2 * (-k * k / (4.0 * per_m2)).exp() * EPS0)
                        .sum();
                    let z = layers.at(k).impedance(planes) / k;
                    // Same sum, same aliasing: 4e-8 of Z; across, Z fades like exp(-kd) and the error with the part
                    // of it that does not.
                    let whole = layers.at(k).impedance(Planes::Stitched) / k;
                    assert!(
                        (own - z).abs() < 1e-7 * if planes == Planes::Across { whole } else { z },
                        "{ground:?} {planes:?} {k} {own} {z}"
                    );
                }
            }
        }
    }
}
