//! The charge of a disc, its potential the same all round, written down in segments.
//!
//! A charge of density sigma(rho) on a disc of radius a is made of a function f on [0, a] by
//! `sigma~(k) = integral of f(t) cos(kt) dt`, sigma~ being the Hankel transform of sigma. Whatever f, the density has the
//! right square root at the rim, and an f that is nearly constant is the charge of a free disc. f is taken as polynomials
//! (Legendre's) on segments of [0, a]; they need not join. The transform of one is a spherical Bessel function, and by
//! Parseval the energy of two in a world of one dielectric is that of their overlap, so that they are orthogonal:
//! [`Functions::transforms`] gives functions b(k) with `integral from 0 to infinity of b_i b_j dk = 1 if i = j, else 0`.
//!
//! With one segment this is the Legendre form of Love's integral equation. Where the layers are thin beside the radius, f
//! turns within a few thicknesses of the rim, and of any other rim that faces the disc; segments that shrink towards such
//! places cost a number of functions that grows with the logarithm of the ratio only.
//!
//! * gives: the transforms, in square roots of metres; the density from the coefficients
//! * needs: radius and places of the [`Turn`]s, m
//! * source: E. R. Love, Q. J. Mech. Appl. Math. 2 (1949) 428; I. N. Sneddon, Mixed Boundary Value Problems in Potential
//!   Theory (1966); number of functions after L. N. Trefethen, Approximation Theory and Approximation Practice (2013),
//!   ch. 8; segments own
//! * accuracy: errors of a quadratic functional fall like rho^(-2n), rho the ellipse of analyticity, n the degree
//! * never fails
//! * example: radius 12 mm, turns 6 mm beside the rim, precision 1e-6: one segment of 7 functions

use super::bessel;
use super::galerkin::Functions;
use super::gauss::GAUSS_32;
use nalgebra::Complex;
use smallvec::SmallVec;
use std::f64::consts::FRAC_2_PI;

/// A place near which f turns: a branch point off the real axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::electrostatics) struct Turn {
    /// Radius, m.
    pub(in crate::electrostatics) at_m: f64,
    /// Within which distance f turns, m.
    pub(in crate::electrostatics) within_m: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Segment {
    from_m: f64,
    to_m: f64,
    orders: usize,
    /// By which factor the energy of the next function is smaller.
    decay: f64,
}

impl Segment {
    /// The first segment is half of one about the centre, on which f is even.
    fn is_central(&self) -> bool {
        self.from_m == 0.0
    }

    fn centre_and_half(&self) -> [f64; 2] {
        if self.is_central() { [0.0, self.to_m] } else { [0.5 * (self.from_m + self.to_m), 0.5 * (self.to_m - self.from_m)] }
    }

    /// By which factor the energy of a function is smaller than that of the one before, for f with these turns.
    fn decay(&self, turns: &[Turn]) -> f64 {
        let [centre, half] = self.centre_and_half();
        let rate =
            turns.iter().map(|turn| ellipse(Complex::new(turn.at_m - centre, turn.within_m) / half).ln()).fold(f64::INFINITY, f64::min);
        // On the central one every second polynomial is even.
        (-rate * if self.is_central() { 4.0 } else { 2.0 }).exp()
    }
}

/// Sum of the half axes of the ellipse with foci at -1 and 1 that passes through z.
pub(super) fn ellipse(z: Complex<f64>) -> f64 {
    if z.im.is_infinite() {
        return f64::INFINITY;
    }
    let root = (z * z - 1.0).sqrt();
    (z + root).norm().max((z - root).norm()).max(1.0 + 1e-9)
}

/// A disc's functions.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::electrostatics) struct Segments {
    segments: SmallVec<[Segment; 8]>,
    most_orders: usize,
}

impl Segments {
    /// Segments and orders that should give a quadratic functional to `precision`.
    pub(in crate::electrostatics) fn new(radius_m: f64, turns: &[Turn], precision: f64) -> Self {
        let mut segments = SmallVec::new();
        divide(Segment { from_m: 0.0, to_m: radius_m, orders: 0, decay: 0.0 }, turns, precision, &mut segments);
        let most_orders = segments.iter().map(|s| s.orders).max().unwrap_or(1);
        Self { segments, most_orders }
    }

    /// Half as many functions again on each segment.
    pub(in crate::electrostatics) fn refine(&mut self) {
        for segment in &mut self.segments {
            segment.orders += segment.orders.div_ceil(2);
        }
        self.most_orders = self.segments.iter().map(|s| s.orders).max().unwrap_or(1);
    }

    /// For each function, how many times the resolution may be lowered (by an eighth of the highest order and by one
    /// order at least) before it drops out.
    pub(in crate::electrostatics) fn steps(&self) -> impl Iterator<Item = usize> {
        let step = self.most_orders.div_ceil(8);
        self.segments.iter().flat_map(move |s| {
            // Segments of fewer orders lose fewer at a time.
            let lost = (s.orders * step) as f64 / self.most_orders as f64;
            (0..s.orders).map(move |n| ((s.orders - 1 - n) as f64 / lost) as usize)
        })
    }

    /// By which factor each step of resolution should add less than the one before.
    pub(in crate::electrostatics) fn decay(&self) -> f64 {
        let step = self.most_orders.div_ceil(8);
        let decay = |s: &Segment| s.decay.powf((s.orders * step) as f64 / self.most_orders as f64);
        self.segments.iter().map(decay).fold(0.0, f64::max)
    }

    /// Values at k = 0, which times the root of pi/2 are the charges.
    pub(in crate::electrostatics) fn charges(&self) -> Vec<f64> {
        let mut charges = Vec::with_capacity(self.count());
        for s in &self.segments {
            charges.push((FRAC_2_PI * (s.to_m - s.from_m)).sqrt());
            charges.extend((1..s.orders).map(|_| 0.0));
        }
        charges
    }

    /// The charge density at distance `rho_m` from the centre, for coefficients `x` of the functions, in units of the
    /// coefficients per m^1.5; infinite nowhere: at and beyond the rim it is 0.
    ///
    /// `sigma(rho) = f(a)/sqrt(a^2 - rho^2) - integral from rho to a of f'(t)/sqrt(t^2 - rho^2) dt`; the small steps between
    /// segments are left out, for they would show as spikes.
    pub(in crate::electrostatics) fn density(&self, x: &[f64], rho_m: f64) -> f64 {
        let rim = self.segments.last().map_or(0.0, |s| s.to_m);
        if rho_m >= rim {
            return 0.0;
        }
        let mut sum = 0.0;
        let mut at = 0;
        for s in &self.segments {
            let x = &x[at..at + s.orders];
            at += s.orders;
            if s.to_m == rim {
                sum += s.value_and_slope(x, rim)[0] / (rim * rim - rho_m * rho_m).sqrt();
            }
            if s.to_m > rho_m {
                // With u = sqrt(t^2 - rho^2) the root goes: dt/u = du/t.
                let u = |t: f64| (t * t - rho_m * rho_m).max(0.0).sqrt();
                let (from, to) = (u(s.from_m.max(rho_m)), u(s.to_m));
                let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
                for [node, weight] in GAUSS_32 {
                    let t = (rho_m * rho_m + (middle + half * node).powi(2)).sqrt();
                    sum -= half * weight * s.value_and_slope(x, t)[1] / t;
                }
            }
        }
        sum
    }
}

impl Functions for Segments {
    fn count(&self) -> usize {
        self.segments.iter().map(|s| s.orders).sum()
    }

    fn transforms(&self, k: f64, scratch: &mut Vec<f64>, out: &mut [f64]) {
        let mut out = out.iter_mut();
        for s in &self.segments {
            let [centre, half] = s.centre_and_half();
            if s.is_central() {
                scratch.resize(2 * s.orders - 1, 0.0);
                bessel::spherical(k * half, scratch);
                let scale = FRAC_2_PI * half;
                for (n, value) in (0..s.orders).zip(&mut out) {
                    let sign = if n % 2 == 0 { 1.0 } else { -1.0 };
                    *value = sign * (scale * (4 * n + 1) as f64).sqrt() * scratch[2 * n];
                }
            } else {
                scratch.resize(s.orders, 0.0);
                bessel::spherical(k * half, scratch);
                let (sin, cos) = (k * centre).sin_cos();
                let scale = FRAC_2_PI * 2.0 * half;
                for (n, value) in (0..s.orders).zip(&mut out) {
                    let wave = [cos, -sin, -cos, sin][n % 4];
                    *value = (scale * (2 * n + 1) as f64).sqrt() * wave * scratch[n];
                }
            }
        }
    }
}

impl Segment {
    /// f and its slope at t for coefficients of this segment's functions.
    fn value_and_slope(&self, x: &[f64], t: f64) -> [f64; 2] {
        let [centre, half] = self.centre_and_half();
        let u = (t - centre) / half;
        let every = if self.is_central() { 2 } else { 1 };
        let scale = FRAC_2_PI / (self.to_m - self.from_m);
        // P_n and its derivative by their recurrences; P_n' = P_(n-2)' + (2n-1) P_(n-1).
        let (mut p, mut slope) = ([0.0, 1.0], [0.0, 0.0]);
        let mut sum = [0.0; 2];
        for n in 0..=every * (self.orders - 1) {
            if n % every == 0 {
                let c = x[n / every] * (scale * (2 * n + 1) as f64).sqrt();
                sum[0] += c * p[1];
                sum[1] += c * slope[1] / half;
            }
            let n1 = n as f64;
            slope = [slope[1], slope[0] + (2.0 * n1 + 1.0) * p[1]];
            p = [p[1], ((2.0 * n1 + 1.0) * u * p[1] - n1 * p[0]) / (n1 + 1.0)];
        }
        sum
    }
}

/// Divides a segment where that saves functions.
fn divide(whole: Segment, turns: &[Turn], precision: f64, into: &mut SmallVec<[Segment; 8]>) {
    let decay = whole.decay(turns);
    let orders = if decay > 0.0 { (1 + (precision.ln() / decay.ln()).ceil().min(1e6) as usize).max(LEAST_ORDERS) } else { 1 };
    let start = into.len();
    if orders > FEW_ORDERS {
        let cut = whole.cut(turns);
        divide(Segment { to_m: cut, ..whole }, turns, precision, into);
        divide(Segment { from_m: cut, ..whole }, turns, precision, into);
        // Each further segment costs sines of its own.
        let cost: usize = into[start..].iter().map(|s| s.orders + 2).sum();
        if cost < orders + 2 {
            return;
        }
        into.truncate(start);
    }
    into.push(Segment { orders, decay, ..whole });
}

/// So many at least, so that what the last of them add says something about those left out.
const LEAST_ORDERS: usize = 3;

/// Segments of so few orders are not divided further.
const FEW_ORDERS: usize = 9;

impl Segment {
    /// Where to cut: at the turn that costs most if it lies inside, else so that a small piece is left beside it.
    fn cut(&self, turns: &[Turn]) -> f64 {
        let [centre, half] = self.centre_and_half();
        let rate = |turn: &&Turn| ellipse(Complex::new(turn.at_m - centre, turn.within_m) / half);
        let Some(worst) = turns.iter().min_by(|a, b| rate(a).total_cmp(&rate(b))) else { return centre };
        let (length, within) = (self.to_m - self.from_m, worst.within_m);
        let margin = within.min(0.2 * length);
        if worst.at_m > self.from_m + margin && worst.at_m < self.to_m - margin {
            return worst.at_m;
        }
        let small = (0.2 * length).max((2.0 * within).min(0.5 * length));
        if worst.at_m >= 0.5 * (self.from_m + self.to_m) { self.to_m - small } else { self.from_m + small }
    }
}
