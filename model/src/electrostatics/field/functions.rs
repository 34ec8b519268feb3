//! The functions that the charge of a disc is made of where it is not alike all round, and how many of them to take.
//!
//! * gives: sets of functions, graded by how fine they are; which discs want more; the density of a function, m^-1.5
//! * needs: by which factor the energy falls from order to order, azimuthal and radial
//! * source: own; the density is the integral of Weber and Schafheitlin, M. Abramowitz & I. A. Stegun, Handbook of Mathematical
//!   Functions (1964), 11.4.33, which for these orders ends as a Jacobi polynomial
//! * accuracy: densities to 1e-12 (their integrals are the capacitances, in the tests)
//! * never fails
//! * example: 3 azimuthal and 3 radial orders give 6 functions, with sines 9

use super::discs::MOST_FUNCTIONS;
use super::ladder::Ladder;
use std::f64::consts::{FRAC_2_PI, SQRT_2};

/// One function: its transform is `j_(m+2n)(ka)`, its azimuth 1, the root of 2 times cos(m phi), or of sin(m phi).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Function {
    pub(super) m: usize,
    pub(super) n: usize,
    pub(super) sine: bool,
}

impl Function {
    pub(super) fn l(&self) -> usize {
        self.m + 2 * self.n
    }

    /// Its density at a share of the radius below 1, m^-1.5.
    pub(super) fn density(&self, radius_m: f64, ratio: f64, angle: f64) -> f64 {
        let (m, z) = (self.m as f64, ratio * ratio);
        // n!/Gamma(n + 1/2) times the root of pi, and Jacobi's polynomial P_n^(m, -1/2)(1 - 2z) by its recurrence in n, which
        // does not cancel as the series would.
        let front: f64 = (1..=self.n).map(|i| i as f64 / (i as f64 - 0.5)).product();
        let (mut p, mut before) = (1.0, 0.0);
        for n in 0..self.n {
            let n1 = n as f64;
            let (alpha, beta) = (m, -0.5);
            let c = 2.0 * n1 + alpha + beta;
            let x = 1.0 - 2.0 * z;
            let next = if n == 0 {
                0.5 * (alpha - beta + (alpha + beta + 2.0) * x)
            } else {
                ((c + 1.0) * ((c + 2.0) * c * x + alpha * alpha - beta * beta) * p - 2.0 * (n1 + alpha) * (n1 + beta) * (c + 2.0) * before)
                    / (2.0 * (n1 + 1.0) * (n1 + alpha + beta + 1.0) * c)
            };
            (before, p) = (p, next);
        }
        let azimuth = match (self.m, self.sine) {
            (0, _) => 1.0,
            (_, false) => SQRT_2 * (m * angle).cos(),
            (_, true) => SQRT_2 * (m * angle).sin(),
        };
        let norm = (FRAC_2_PI * radius_m * (2 * self.l() + 1) as f64).sqrt();
        norm * front / (radius_m * radius_m) * ratio.powi(self.m as i32) * p / (1.0 - z).sqrt() * azimuth
    }
}

/// How many functions a disc has, and how fast they fall off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Size {
    pub(super) azimuthal: usize,
    pub(super) radial: usize,
    /// Of energy, per azimuthal order.
    pub(super) azimuthal_decay: f64,
    /// Of energy, per radial order.
    pub(super) radial_decay: f64,
}

impl Size {
    /// What each function uses up of the resolution, below 1.
    fn share(&self, f: &Function) -> f64 {
        f.m as f64 / self.azimuthal as f64 + f.n as f64 / self.radial as f64
    }

    pub(super) fn functions(&self, sines: bool) -> Vec<Function> {
        let all = (0..self.azimuthal).flat_map(|m| (0..self.radial).map(move |n| (m, n)));
        all.flat_map(|(m, n)| [Function { m, n, sine: false }, Function { m, n, sine: true }])
            .filter(|f| (!f.sine || (sines && f.m > 0)) && self.share(f) < 1.0)
            .collect()
    }

    /// How often the resolution may be lowered by a [`STEPS`]th before the function drops out, if the finest drop out first.
    pub(super) fn steps(&self, f: &Function) -> usize {
        let finest = |m: usize| {
            let room = (1.0 - m as f64 / self.azimuthal as f64) * self.radial as f64;
            self.share(&Function { m, n: (room.ceil() as usize).max(1) - 1, sine: false })
        };
        let top = (0..self.azimuthal).map(finest).fold(0.0, f64::max);
        // Shares are fractions of small numbers; the margin keeps equal ones on one step.
        ((top - self.share(f)).max(0.0) * STEPS + 1e-9) as usize
    }

    /// By which factor a step adds less than the one before.
    pub(super) fn decay(&self) -> f64 {
        self.azimuthal_decay.powf(self.azimuthal as f64 / STEPS).max(self.radial_decay.powf(self.radial as f64 / STEPS))
    }
}

const STEPS: f64 = 5.0;

/// Where the functions of each disc start, and after the last the number of all.
pub(super) fn starts(sets: &[Vec<Function>]) -> Vec<usize> {
    let mut starts = vec![0];
    sets.iter().for_each(|set| starts.push(starts[starts.len() - 1] + set.len()));
    starts
}

/// About as many functions as these sizes come to.
pub(super) fn number(sizes: &[Size], sines: bool) -> usize {
    sizes.iter().map(|size| size.azimuthal * size.radial / if sines { 1 } else { 2 }).sum()
}

/// Takes functions away, from the largest first, until there are not too many.
pub(super) fn cap(sizes: &mut [Size], sines: bool) {
    while number(sizes, sines) > MOST_FUNCTIONS {
        let Some(largest) = sizes.iter_mut().max_by_key(|size| size.azimuthal * size.radial) else { return };
        // Many discs of few functions each stay as they are: they are what was asked for.
        if largest.azimuthal <= 2 && largest.radial <= 3 {
            return;
        }
        largest.azimuthal = (largest.azimuthal * 4 / 5).max(largest.azimuthal.min(2));
        largest.radial = (largest.radial * 4 / 5).max(largest.radial.min(3));
    }
}

/// Which discs want more functions.
pub(super) struct Shortage {
    tolerance: f64,
    /// Of each disc, the greatest share of a capacitance that its further functions would add.
    missing: Vec<f64>,
    /// What its last functions added, azimuthal and radial ones.
    last: Vec<[f64; 2]>,
}

impl Shortage {
    pub(super) fn new(count: usize, tolerance: f64) -> Self {
        Self { tolerance, missing: vec![0.0; count], last: vec![[0.0; 2]; count] }
    }

    pub(super) fn add(&mut self, ladder: &Ladder, gains: &[[f64; 3]], value: f64) {
        for (group, missing) in self.missing.iter_mut().enumerate() {
            *missing = missing.max(ladder.beyond_in(group, gains[group]) / value);
        }
    }

    pub(super) fn by_direction(&mut self, disc: usize, size: &Size, f: &Function, gain: f64) {
        let radial = f.n as f64 / size.radial as f64 > f.m as f64 / size.azimuthal as f64;
        self.last[disc][usize::from(radial)] += gain;
    }

    /// More functions for the discs that lack them. False where none does, or where there is no room.
    pub(super) fn grow(&self, sizes: &mut [Size], sines: bool) -> bool {
        // The discs' errors add up.
        let allowed = self.tolerance / sizes.len() as f64;
        if self.missing.iter().sum::<f64>() <= self.tolerance || number(sizes, sines) > MOST_FUNCTIONS * 3 / 4 {
            return false;
        }
        for ((size, missing), [azimuthal, radial]) in sizes.iter_mut().zip(&self.missing).zip(&self.last) {
            if *missing <= allowed {
                continue;
            }
            // As many steps as the rate of decay says, within reason.
            let steps = (missing / allowed).ln() / -size.decay().min(0.9).ln();
            let factor = 1.0 + (steps / STEPS).clamp(0.2, 0.7);
            let more = |count: usize| (count as f64 * factor).ceil() as usize;
            if *radial >= 0.25 * azimuthal || size.azimuthal == 1 {
                size.radial = more(size.radial);
            }
            if *azimuthal >= 0.25 * radial && size.azimuthal > 1 {
                size.azimuthal = more(size.azimuthal);
            }
        }
        true
    }
}
