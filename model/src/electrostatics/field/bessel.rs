//! Bessel functions of the first kind, all orders up to a highest one at once.
//!
//! * gives: spherical `j_l(x)` for l = 0, 1, ... and cylindrical `J_m(x)` for m = 0, 1, ..., as many as the slice holds
//! * needs: x from 0 up
//! * source: three-term recurrences, M. Abramowitz & I. A. Stegun, Handbook of Mathematical Functions (1964), 10.1.19
//!   and 9.1.27; upwards where the argument exceeds the order, else downwards from an order found by J. C. P. Miller's
//!   device (9.12), which is stable there
//! * for complex arguments in the first quadrant, with the exponential taken off: [`spherical_scaled`] and the Hankel
//!   functions [`Hankel`], from the integral 9.6.24 on a bent path and the series 9.7.2
//! * accuracy: 1e-14 of the largest of the orders near the argument (tables of the Handbook, sums of squares)
//! * never fails; values under 1e-250 may come out as 0
//! * example: `j_0(1) = 0.841471`, `j_2(1) = 0.062035`, `J_1(1) = 0.440051`

use nalgebra::Complex;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_3};

/// Fills `out[l]` with `j_l(x)`.
pub(in crate::electrostatics) fn spherical(x: f64, out: &mut [f64]) {
    let (sin, cos) = x.sin_cos();
    spherical_from(x, sin, cos, out);
}

/// [`spherical`] where sine and cosine of x are known already.
#[inline]
pub(in crate::electrostatics) fn spherical_from(x: f64, sin: f64, cos: f64, out: &mut [f64]) {
    let count = out.len();
    if x < SMALLEST {
        at_zero(out);
        return;
    }
    let inverse = 1.0 / x;
    let first = [sin * inverse, (sin * inverse - cos) * inverse];
    if count <= 2 && x > 0.5 {
        out.copy_from_slice(&first[..count]);
    } else if x >= count as f64 {
        out[..2].copy_from_slice(&first);
        for l in 2..count {
            out[l] = (2 * l - 1) as f64 * inverse * out[l - 1] - out[l - 2];
        }
    } else {
        downwards(out, start(x, count - 1, |l| (2 * l + 1) as f64 * inverse), |l| (2 * l + 1) as f64 * inverse);
        // The second function is known exactly only where it is not much smaller than the first, and the first is
        // near a zero only where the second is not.
        let scale = if count < 2 || first[0].abs() >= first[1].abs() { first[0] / out[0] } else { first[1] / out[1] };
        out.iter_mut().for_each(|value| *value *= scale);
    }
}

/// Fills `out[m]` with `J_m(x)`.
pub(in crate::electrostatics) fn cylindrical(x: f64, out: &mut [f64]) {
    let count = out.len();
    if x < SMALLEST {
        at_zero(out);
        return;
    }
    let double = 2.0 / x;
    if x >= count as f64 {
        out[0] = libm::j0(x);
        if count > 1 {
            out[1] = libm::j1(x);
        }
        for m in 2..count {
            out[m] = (m - 1) as f64 * double * out[m - 1] - out[m - 2];
        }
    } else {
        let top = start(x, count - 1, |m| m as f64 * double);
        let sum = downwards(out, top, |m| m as f64 * double);
        out.iter_mut().for_each(|value| *value /= sum);
    }
}

/// Fills `out[l]` with `j_l(z) exp(iz)`, which stays in range where the imaginary part of z is large; |z| above 1e-3.
pub(in crate::electrostatics) fn spherical_scaled(z: Complex<f64>, out: &mut [Complex<f64>]) {
    let count = out.len();
    let i = Complex::new(0.0, 1.0);
    let inverse = z.inv();
    let twice = (i * z * 2.0).exp();
    // sin z exp(iz) and cos z exp(iz).
    let [sin, cos] = [(twice - 1.0) / (i * 2.0), (twice + 1.0) * 0.5];
    let first = [sin * inverse, (sin * inverse - cos) * inverse];
    let factor = |l: usize| inverse * (2 * l + 1) as f64;
    // Upwards the error grows like exp(l^2/|z|) off the real axis.
    if z.norm() > (count * count) as f64 {
        for l in 0..count {
            out[l] = if l < 2 { first[l] } else { factor(l - 1) * out[l - 1] - out[l - 2] };
        }
        return;
    }
    let mut top = (count - 1).max(z.norm() as usize);
    let (mut before, mut here) = (Complex::from(0.0), Complex::from(1.0));
    while here.norm_sqr() < 1e18 {
        (before, here) = (here, factor(top) * here - before);
        top += 1;
    }
    // Squares have to stay in range too, for the division at the end.
    let (mut above, mut here) = (Complex::from(0.0), Complex::from(1e-120));
    for order in (0..=top).rev() {
        if order < count {
            out[order] = here;
        }
        if order > 0 {
            (above, here) = (here, factor(order) * here - above);
            if here.re.abs() + here.im.abs() > 1e120 {
                (above, here) = (above * 1e-200, here * 1e-200);
                out.iter_mut().skip(order).for_each(|value| *value *= 1e-200);
            }
        }
    }
    let scale = if count < 2 || first[0].norm_sqr() >= first[1].norm_sqr() { first[0] / out[0] } else { first[1] / out[1] };
    out.iter_mut().for_each(|value| *value *= scale);
}

/// Hankel functions of the first kind for complex arguments, with the path of their integral made ready.
pub(in crate::electrostatics) struct Hankel {
    /// For small and for larger arguments: `cosh t - 1` and the weight, along the path.
    paths: [Vec<[Complex<f64>; 2]>; 2],
}

impl Hankel {
    /// Makes the path ready.
    pub(in crate::electrostatics) fn new() -> Self {
        Self { paths: [path(0.1), path(0.05)] }
    }

    /// Fills `out[m]` with `H_m(z) exp(-iz)`; z in the first quadrant, |z| above 0.5.
    pub(in crate::electrostatics) fn scaled(&self, z: Complex<f64>, out: &mut [Complex<f64>]) {
        // H_m(z) = 2/(pi i) exp(-i m pi/2) K_m(w) with w = -iz.
        let w = Complex::new(z.im, -z.re);
        let size = z.norm();
        let k = if size > 25.0 { far(w) } else { bent(w, &self.paths[usize::from(size > 4.0)]) };
        let first = [k[0] * Complex::new(0.0, -1.0 / FRAC_PI_2), k[1] * (-1.0 / FRAC_PI_2)];
        let double = z.inv() * 2.0;
        for m in 0..out.len() {
            out[m] = if m < 2 { first[m] } else { double * (m - 1) as f64 * out[m - 1] - out[m - 2] };
        }
    }
}

/// `K_0(w) exp(w)` and `K_1(w) exp(w)` by the asymptotic series, which at |w| = 25 falls below 1e-16.
fn far(w: Complex<f64>) -> [Complex<f64>; 2] {
    let root = (Complex::from(FRAC_PI_2) / w).sqrt();
    [0.0, 4.0].map(|mu| {
        let (mut term, mut sum) = (Complex::from(1.0), Complex::from(1.0));
        for n in 1..40 {
            let odd = f64::from(2 * n - 1);
            let next = term * (mu - odd * odd) / (w * (8 * n) as f64);
            if next.norm_sqr() > term.norm_sqr() || next.norm_sqr() < 1e-34 {
                break;
            }
            term = next;
            sum += term;
        }
        root * sum
    })
}

/// The same by `K_m(w) = integral from 0 to infinity of exp(-w cosh t) cosh(mt) dt` along the path.
fn bent(w: Complex<f64>, path: &[[Complex<f64>; 2]]) -> [Complex<f64>; 2] {
    let mut sum = [Complex::from(0.0); 2];
    for [rise, weight] in path {
        let exponent = w * rise;
        // Only ever growing along the path: the rest is nothing.
        if exponent.re > 40.0 {
            break;
        }
        let value = (-exponent).exp() * weight;
        sum[0] += value;
        sum[1] += value * (rise + 1.0);
    }
    sum
}

/// The path `t + i pi/3 tanh t`, along which the exponential dies for every w with an angle of -90 to 0 degrees. The
/// trapezoidal rule converges exponentially on it.
fn path(step: f64) -> Vec<[Complex<f64>; 2]> {
    let node = |n: u32| {
        let t = step * f64::from(n);
        let tanh = t.tanh();
        let slope = Complex::new(1.0, FRAC_PI_3 * (1.0 - tanh * tanh));
        let weight = slope * if n == 0 { 0.5 * step } else { step };
        [Complex::new(t, FRAC_PI_3 * tanh).cosh() - 1.0, weight]
    };
    // cosh 7 = 548, enough for |w| of 0.5 even where only a quarter of it counts.
    (0..(7.0 / step) as u32).map(node).collect()
}

/// Arguments under this are 0: their functions of order 1 and above would underflow in products.
const SMALLEST: f64 = 1e-30;

fn at_zero(out: &mut [f64]) {
    out.fill(0.0);
    out[0] = 1.0;
}

/// An order so far above `highest` that starting the recurrence there with 0 and 1 does no harm: the solution that
/// grows upwards has grown by 1e9, the wanted one shrunk by as much.
fn start(x: f64, highest: usize, factor: impl Fn(usize) -> f64) -> usize {
    let mut order = highest.max(x as usize);
    let (mut before, mut here) = (0.0, 1.0_f64);
    while here.abs() < 1e9 {
        (before, here) = (here, factor(order) * here - before);
        order += 1;
    }
    order
}

/// Runs the recurrence `f[l-1] = factor(l) f[l] - f[l+1]` down from `top`; returns `f[0] + 2 f[2] + 2 f[4] + ...`.
fn downwards(out: &mut [f64], top: usize, factor: impl Fn(usize) -> f64) -> f64 {
    let (mut above, mut here) = (0.0, 1e-200);
    let mut sum = 0.0;
    for order in (0..=top).rev() {
        if order < out.len() {
            out[order] = here;
        }
        if order % 2 == 0 {
            sum += if order == 0 { here } else { 2.0 * here };
        }
        if order > 0 {
            (above, here) = (here, factor(order) * here - above);
            // Kept in range; what becomes 0 by it is negligible beside the lower orders.
            if here.abs() > 1e200 {
                (above, here, sum) = (above * 1e-250, here * 1e-250, sum * 1e-250);
                out.iter_mut().skip(order).for_each(|value| *value *= 1e-250);
            }
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn near(value: f64, expected: f64, digits: i32) {
        assert!((value / expected - 1.0).abs() < 0.6 * 10_f64.powi(1 - digits), "{value} for {expected}");
    }

    #[test]
    fn spherical_functions_agree_with_their_explicit_forms() {
        // Abramowitz & Stegun 10.1.11.
        for x in [0.8, 2.0, 5.0, 11.0, 40.0] {
            let mut j = [0.0; 3];
            spherical(x, &mut j);
            let (s, c) = f64::sin_cos(x);
            assert!((j[0] - s / x).abs() < 1e-15);
            assert!((j[1] - (s / x - c) / x).abs() < 1e-15);
            assert!((j[2] - ((3.0 / (x * x) - 1.0) * s / x - 3.0 * c / (x * x))).abs() < 1e-15);
        }
    }

    #[test]
    fn small_arguments_follow_the_leading_power() {
        // j_l(x) = x^l/(2l+1)!! (1 - x^2/(2(2l+3)) + ...), 10.1.2.
        for x in [1e-8, 1e-3, 0.05] {
            let mut j = [0.0; 9];
            spherical(x, &mut j);
            let mut lead = 1.0;
            for (l, value) in j.iter().enumerate() {
                let l2 = 2.0 * l as f64;
                let series = 1.0 - x * x / (2.0 * (l2 + 3.0)) * (1.0 - x * x / (4.0 * (l2 + 5.0)));
                assert!((value / (lead * series) - 1.0).abs() < 1e-10, "l = {l}, x = {x}");
                lead *= x / (l2 + 3.0);
            }
        }
    }

    #[test]
    fn squares_of_spherical_functions_add_up_to_one() {
        // 10.1.50: sum of (2l+1) j_l^2 = 1.
        for x in [0.3, 1.0, std::f64::consts::PI, 4.493_409_457_909_064, 20.0, 57.0, 99.0] {
            let mut j = [0.0; 160];
            spherical(x, &mut j);
            let sum: f64 = j.iter().enumerate().map(|(l, j)| (2 * l + 1) as f64 * j * j).sum();
            assert!((sum - 1.0).abs() < 1e-13, "x = {x}: {sum}");
        }
    }

    #[test]
    fn both_directions_meet() {
        let (mut up, mut down) = ([0.0; 30], [0.0; 31]);
        spherical(30.5, &mut up);
        spherical(30.5, &mut down);
        let mut long = [0.0; 200];
        spherical(30.5, &mut long);
        for l in 0..30 {
            assert!((up[l] - long[l]).abs() < 1e-15 && (down[l] - long[l]).abs() < 1e-15);
        }
    }

    #[test]
    fn cylindrical_functions_agree_with_the_handbook() {
        // Abramowitz & Stegun, tables 9.1 and 9.4.
        let mut j = [0.0; 101];
        cylindrical(1.0, &mut j);
        near(j[0], 0.765_197_686_557_966_6, 15);
        near(j[1], 0.440_050_585_7, 10);
        near(j[5], 2.497_577_302e-4, 10);
        near(j[10], 2.630_615_124e-10, 10);
        cylindrical(10.0, &mut j);
        near(j[0], -0.245_935_764_451_348_3, 15);
        near(j[10], 0.207_486_106_6, 10);
        near(j[50], 1.784_513_608e-30, 10);
        let mut few = [0.0; 11];
        cylindrical(50.0, &mut few);
        near(few[0], 0.055_812_327_669_251_8, 14);
        near(few[10], -0.113_847_849_1, 10);
    }

    #[test]
    fn squares_of_cylindrical_functions_add_up_to_one() {
        // 9.1.76: J_0^2 + 2 sum of J_m^2 = 1.
        for x in [1e-3, 0.7, 2.404_825_557_695_773, 12.0, 80.0] {
            let mut j = [0.0; 140];
            cylindrical(x, &mut j);
            let sum: f64 = j.iter().map(|j| 2.0 * j * j).sum::<f64>() - j[0] * j[0];
            assert!((sum - 1.0).abs() < 1e-13, "x = {x}: {sum}");
        }
    }

    #[test]
    fn complex_functions_meet_the_real_ones_and_each_other() {
        for x in [0.6, 2.0, 9.0, 24.9, 25.1, 70.0] {
            let (mut j, mut h, mut jm) = ([Complex::from(0.0); 9], [Complex::from(0.0); 9], [0.0; 9]);
            spherical_scaled(Complex::from(x), &mut j);
            Hankel::new().scaled(Complex::from(x), &mut h);
            let mut real = [0.0; 9];
            spherical(x, &mut real);
            cylindrical(x, &mut jm);
            let turn = Complex::new(0.0, x).exp();
            for m in 0..9 {
                assert!((j[m] / turn - real[m]).norm() < 1e-14, "j_{m}({x}) {} {}", j[m] / turn, real[m]);
                assert!(
                    ((h[m] * turn).re - jm[m]).abs() < 1e-13 * (1.0 + h[m].norm()),
                    "H_{m}({x}): {:e} off {:e}",
                    jm[m],
                    (h[m] * turn).re - jm[m]
                );
            }
            assert!(((h[0] * turn).im - libm::y0(x)).abs() < 1e-14 && ((h[1] * turn).im - libm::y1(x)).abs() < 1e-14);
        }
        for z in [Complex::new(1.0, 0.8), Complex::new(12.0, 3.0), Complex::new(30.0, 29.0), Complex::new(4000.0, 3900.0)] {
            // Explicit forms of order 2, and Wronskian-like sums: j_0 by its series of exponentials.
            let mut j = [Complex::from(0.0); 9];
            spherical_scaled(z, &mut j);
            let i = Complex::new(0.0, 1.0);
            let twice = (i * z * 2.0).exp();
            let [s, c] = [(twice - 1.0) / (i * 2.0), (twice + 1.0) * 0.5];
            let explicit = ((z * z).inv() * 3.0 - 1.0) * s / z - c * 3.0 / (z * z);
            assert!((j[2] / explicit - 1.0).norm() < 1e-13, "{z}");
            // 9.1.28 holds the two starting values against each other: H_0' = -H_1. The scale exp(-iz) adds its own slope.
            let at = |z: Complex<f64>| {
                let mut h = [Complex::from(0.0); 2];
                Hankel::new().scaled(z, &mut h);
                h
            };
            let step = 1e-5 * z.norm();
            let slope = (at(z + step)[0] - at(z - step)[0]) / (2.0 * step) + i * at(z)[0];
            // The difference quotient is good to the square of the step and to rounding over it.
            assert!((slope / at(z)[1] + 1.0).norm() < 1e-8, "{z}: {}", slope / at(z)[1]);
        }
    }
}
