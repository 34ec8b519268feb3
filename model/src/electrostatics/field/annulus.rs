//! A flat ring among others: functions for its charge all around.
//!
//! The charge is even over each of many narrow ringlets, narrowest at the edges, times cosines and sines of the azimuth.
//! A Gaussian between two circles of radii r and s has the harmonics `exp(-g (r - s)²) exp(-x) I_m(x)`, `x = 2 g r s`; the
//! first factor is averaged over both ringlets exactly, the second, which changes slowly, is taken at their middles.
//!
//! * gives: blocks in 1/F, point charges for the potential elsewhere, density in 1/m²
//! * needs: radii in metres, the inner one above 0; a number of ringlets and of harmonics
//! * source: own; modified Bessel functions by J. C. P. Miller's recurrence and their asymptotic series (Abramowitz &
//!   Stegun 9.7.1, 9.12)
//! * accuracy: the error falls with the square of the ringlets; 24 of them and 17 extrapolated leave some 1e-4
//! * errors: none
//! * example: a ring of 10 mm and 20 mm diameter alone in air: 0.695 pF; a disc of 20 mm has 0.708 pF

use super::interval;
use super::kernel::Kernel;
use crate::geometry::Point;
use nalgebra::DMatrix;
use std::f64::consts::PI;

/// Functions on a ring.
#[derive(Debug, Clone)]
pub(super) struct AnnulusBasis {
    /// Middle radius and width of each ringlet, m.
    ringlets: Vec<[f64; 2]>,
    harmonics: usize,
    outer_m: f64,
}

impl AnnulusBasis {
    /// Ringlets from one radius to another, with so many harmonics each.
    pub(super) fn new(inner_m: f64, outer_m: f64, ringlets: usize, harmonics: usize) -> Self {
        let edge = |k: usize| 0.5 * (inner_m + outer_m) - 0.5 * (outer_m - inner_m) * (PI * k as f64 / ringlets as f64).cos();
        let ringlets = (0..ringlets).map(|k| [0.5 * (edge(k) + edge(k + 1)), edge(k + 1) - edge(k)]).collect();
        Self { ringlets, harmonics, outer_m }
    }

    /// Number of functions.
    pub(super) fn count(&self) -> usize {
        self.ringlets.len() * self.waves()
    }

    pub(super) fn outer_m(&self) -> f64 {
        self.outer_m
    }

    /// Charge of each function.
    pub(super) fn charges(&self) -> Vec<f64> {
        (0..self.count()).map(|f| if f % self.waves() == 0 { 1.0 } else { 0.0 }).collect()
    }

    /// Whether a function is of the last two harmonics.
    pub(super) fn is_highest(&self, function: usize) -> bool {
        let harmonic = (function % self.waves()).div_ceil(2);
        harmonic > 0 && harmonic + 2 > self.harmonics
    }

    /// Potential of each function weighted with each, 1/F: the lower triangle.
    pub(super) fn self_block(&self, kernel: &Kernel) -> DMatrix<f64> {
        let (weights, per_m2) = kernel.terms();
        let waves = self.waves();
        let mut block = DMatrix::zeros(self.count(), self.count());
        let mut bessel = vec![0.0; self.harmonics + 1];
        let mut sum = vec![0.0; self.harmonics + 1];
        for (i, [r, width]) in self.ringlets.iter().enumerate() {
            for (j, [s, other]) in self.ringlets[..=i].iter().enumerate() {
                sum.fill(0.0);
                for (weight, g) in weights.iter().zip(per_m2) {
                    let mean = weight * interval::between(*g, *width, *other, r - s);
                    if mean > 0.0 {
                        scaled_bessel(2.0 * g * r * s, &mut bessel);
                        sum.iter_mut().zip(&bessel).for_each(|(sum, b)| *sum += mean * b);
                    }
                }
                for wave in 0..waves {
                    let harmonic = wave.div_ceil(2);
                    block[(i * waves + wave, j * waves + wave)] = if harmonic == 0 { sum[0] } else { 0.5 * sum[harmonic] };
                }
            }
        }
        block
    }

    /// Point charges about the middle for what lies `clear_m` away: a point with the function of its ringlet that comes
    /// first, and the shares of that and of those that follow.
    pub(super) fn points(&self, clear_m: f64, per_clearance: f64) -> Vec<(Point, usize, Vec<f64>)> {
        let mut points = Vec::new();
        for (i, [radius, width]) in self.ringlets.iter().enumerate() {
            let around = (per_clearance * 2.0 * PI * radius / clear_m).ceil() as usize + 2 * self.harmonics + 4;
            let across = (1.5 * width / clear_m).ceil() as usize;
            for [x, weight] in super::rules::legendre(across) {
                let r = radius + 0.5 * x * width;
                for k in 0..around {
                    let angle = 2.0 * PI * k as f64 / around as f64;
                    let share = 0.5 * weight / around as f64;
                    let waves = (0..self.waves()).map(|wave| share * wave_at(wave, angle)).collect();
                    points.push(([r * angle.cos(), r * angle.sin()], i * self.waves(), waves));
                }
            }
        }
        points
    }

    /// The same by circles: their radii, m, and what each function puts on each, `[circle][function]`, at its peak around.
    pub(super) fn circles(&self, clear_m: f64) -> (Vec<f64>, DMatrix<f64>) {
        let (mut radii, mut owners) = (Vec::new(), Vec::new());
        for (i, [radius, width]) in self.ringlets.iter().enumerate() {
            for [x, weight] in super::rules::legendre((1.5 * width / clear_m).ceil() as usize) {
                radii.push(radius + 0.5 * x * width);
                owners.push((i, 0.5 * weight));
            }
        }
        let charges = DMatrix::from_fn(radii.len(), self.count(), |c, f| if f / self.waves() == owners[c].0 { owners[c].1 } else { 0.0 });
        (radii, charges)
    }

    /// Waves around of each function, and whether it is a sine, which then follows its cosine.
    pub(super) fn waves_around(&self) -> Vec<(usize, bool)> {
        (0..self.count()).map(|f| f % self.waves()).map(|wave| (wave.div_ceil(2), wave > 0 && wave % 2 == 0)).collect()
    }

    /// Density of a sum of functions at a place about the middle, 1/m²: 0 outside.
    pub(super) fn density(&self, coefficients: &[f64], x_m: f64, y_m: f64) -> f64 {
        let (r, angle) = (x_m.hypot(y_m), y_m.atan2(x_m));
        let Some(i) = self.ringlets.iter().position(|[radius, width]| (r - radius).abs() <= 0.5 * width * (1.0 + 1e-9)) else {
            return 0.0;
        };
        let own = &coefficients[i * self.waves()..(i + 1) * self.waves()];
        let sum: f64 = own.iter().enumerate().map(|(wave, c)| c * wave_at(wave, angle)).sum();
        sum / (2.0 * PI * self.ringlets[i][0] * self.ringlets[i][1])
    }

    fn waves(&self) -> usize {
        2 * self.harmonics + 1
    }
}

/// 1, cos, sin, cos of twice the angle, and so on.
fn wave_at(wave: usize, angle: f64) -> f64 {
    let turned = wave.div_ceil(2) as f64 * angle;
    if wave % 2 == 1 || wave == 0 { turned.cos() } else { turned.sin() }
}

/// exp(-x) I_m(x) for m from 0 on.
fn scaled_bessel(x: f64, out: &mut [f64]) {
    let last = out.len() - 1;
    if x > 40.0 && x > (2 * last * last) as f64 {
        for (m, value) in out.iter_mut().enumerate() {
            let (mut term, mut sum) = (1.0, 1.0);
            for k in 1..12 {
                let odd = (2 * k - 1) as f64;
                term *= (odd * odd - 4.0 * (m * m) as f64) / (8.0 * k as f64 * x);
                sum += term;
            }
            *value = sum / (2.0 * PI * x).sqrt();
        }
        return;
    }
    // Downwards from where exp(-m²/2x) is lost in rounding; all of them, twice but for the first, come to 1.
    let start = last + 12 + (9.0 * x.sqrt()) as usize;
    let (mut above, mut value, mut total) = (0.0, 1e-280, 0.0);
    for m in (0..=start).rev() {
        if m <= last {
            out[m] = value;
        }
        total += if m == 0 { value } else { 2.0 * value };
        let below = if m > 0 { above + 2.0 * m as f64 / x.max(1e-300) * value } else { 0.0 };
        (above, value) = (value, below);
        if value > 1e200 {
            let scale = 1e-250;
            (above, value, total) = (above * scale, value * scale, total * scale);
            out.iter_mut().skip(m).for_each(|v| *v *= scale);
        }
    }
    out.iter_mut().for_each(|v| *v /= total);
}

#[cfg(test)]
mod tests {
    use super::super::super::{EPS0, Ground, Medium};
    use super::super::dense::Factors;
    use super::super::layers::{Layers, Planes};
    use super::*;

    #[test]
    fn bessel_functions_at_tabled_places() {
        // Abramowitz & Stegun (1964), tables 9.8 and 9.9: exp(-x) I_0, I_1 at 1 and 5; I_2 by recurrence.
        let mut out = [0.0; 3];
        for (x, expected) in
            [(1.0, [0.465_759_607_6, 0.207_910_415_4, 0.049_938_776_9]), (5.0, [0.183_540_812_6, 0.163_972_266_9, 0.117_951_905_9])]
        {
            scaled_bessel(x, &mut out);
            out.iter().zip(expected).for_each(|(v, e)| assert!((v - e).abs() < 1e-9, "{x} {v} {e}"));
        }
        // Both ways meet; nothing at all is 1 and no harmonics.
        let (mut below, mut above) = ([0.0; 4], [0.0; 4]);
        scaled_bessel(40.0, &mut below);
        scaled_bessel(40.0 + 1e-12, &mut above);
        below.iter().zip(above).for_each(|(a, b)| assert!((a / b - 1.0).abs() < 1e-12));
        scaled_bessel(1e-9, &mut out);
        assert!((out[0] - 1.0).abs() < 1e-8 && out[1] < 1e-9);
        scaled_bessel(3e5, &mut below[..1]);
        assert!((below[0] * (2.0 * PI * 3e5_f64).sqrt() - 1.0).abs() < 1e-6);
    }

    fn alone(inner: f64, outer: f64, ringlets: usize) -> f64 {
        let kernel = Kernel::new(&Layers::new(&Medium { ground: Ground::None, base: &[], overlay: &[] }, None), Planes::Stitched);
        let basis = AnnulusBasis::new(inner, outer, ringlets, 0);
        let charges = Factors::new(basis.self_block(&kernel)).expect("positive").solve(DMatrix::from_element(ringlets, 1, 1.0));
        charges.sum()
    }

    #[test]
    fn a_ring_with_a_vanishing_hole_is_a_disc() {
        // 8 eps0 a. A hole of a hundredth takes some 1e-6 of the capacitance (its area times the charge there, squared).
        let exact = 8.0 * EPS0 * 10e-3;
        let (fine, coarse) = (alone(0.1e-3, 10e-3, 48), alone(0.1e-3, 10e-3, 34));
        assert!((2.0 * fine - coarse - exact).abs() < 2e-4 * exact, "{fine} {coarse} {exact}");
    }

    #[test]
    fn the_printed_example() {
        let value = 2.0 * alone(5e-3, 10e-3, 48) - alone(5e-3, 10e-3, 34);
        assert!((value / 0.695e-12 - 1.0).abs() < 1e-3, "{value}");
    }

    #[test]
    fn harmonics_answer_like_points() {
        // Potential of one function on another by point charges of two rings apart enough for that.
        let kernel = Kernel::new(&Layers::new(&Medium { ground: Ground::None, base: &[], overlay: &[] }, None), Planes::Stitched);
        let basis = AnnulusBasis::new(5e-3, 10e-3, 4, 2);
        let block = basis.self_block(&kernel);
        let points = basis.points(0.05e-3, 1.0);
        let (first, last) = (0, 3 * 5);
        for wave in 0..5 {
            let of = |begin: usize| points.iter().filter(move |p| p.1 == begin);
            let sum: f64 = of(first)
                .map(|p| {
                    of(last).map(|q| p.2[wave] * q.2[wave] * kernel.at((p.0[0] - q.0[0]).powi(2) + (p.0[1] - q.0[1]).powi(2))).sum::<f64>()
                })
                .sum();
            // What the middles of ringlets a seventh as wide as their radius make of the slowly changing factor.
            assert!((block[(last + wave, first + wave)] / sum - 1.0).abs() < 2e-3, "{wave} {} {sum}", block[(last + wave, first + wave)]);
        }
    }
}
