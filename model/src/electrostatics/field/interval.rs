//! A Gaussian integrated over one or two intervals.
//!
//! Gaussians separate in x and y, so that the potential between two rectangles with parallel sides is a sum of products
//! of the double integrals given here.
//!
//! * gives: the mean of exp(-g (x - x')²) over x and x' in two intervals, or over x alone; without unit
//! * needs: lengths above 0, g from 0 on, in units whose product has none
//! * source: textbook; the second antiderivative of exp(-g u²) is `F(u) = (u √(pi/g) erf(√g u) + exp(-g u²)/g)/2`, and
//!   where its differences would cancel the mean follows from the moments of u
//! * accuracy: 1e-8 of the largest value, 1
//! * errors: none
//! * example: g = 1, two unit intervals on top of each other: 0.861528

use std::f64::consts::PI;

/// Mean over two intervals of lengths `a` and `b`, their middles `apart`.
pub(in crate::electrostatics) fn between(per_m2: f64, a: f64, b: f64, apart: f64) -> f64 {
    let (g, c) = (per_m2, apart.abs());
    let (wide, narrow) = (0.5 * (a + b), 0.5 * (a - b).abs());
    let gap = c - wide;
    if gap > 0.0 && g * gap * gap > UNFELT {
        return 0.0;
    }
    if g * wide * wide < FLAT {
        return by_moments(g, c * c, (a * a + b * b) / 12.0, (a.powi(4) + b.powi(4)) / 80.0 + a * a * b * b / 24.0);
    }
    let root = g.sqrt();
    let f = |u: f64| {
        let v = root * u;
        v * PI.sqrt() * libm::erf(v) + (-v * v).exp()
    };
    ((f(c + wide) - f(c + narrow) - f(c - narrow) + f(c - wide)) / (2.0 * g * a * b)).max(0.0)
}

#[cfg(test)]
/// Mean over one interval of length `a` whose middle lies `apart` from the point.
pub(in crate::electrostatics) fn from_point(per_m2: f64, a: f64, apart: f64) -> f64 {
    let (g, c, half) = (per_m2, apart.abs(), 0.5 * a);
    let gap = c - half;
    if gap > 0.0 && g * gap * gap > UNFELT {
        return 0.0;
    }
    if g * half * half < FLAT {
        return by_moments(g, c * c, a * a / 12.0, a.powi(4) / 80.0);
    }
    let root = g.sqrt();
    (PI.sqrt() * (libm::erf(root * (c + half)) - libm::erf(root * (c - half))) / (2.0 * root * a)).max(0.0)
}

/// Where a Gaussian is lost in rounding.
const UNFELT: f64 = 40.0;

/// Below this g u² the moments up to the fourth give 1e-8 for all distances: the sixth weighs at most
/// 120 g³/720 times u⁶/7 of the half-widths.
const FLAT: f64 = 0.006;

/// Mean of exp(-g (c + u)²) over an even distribution of u with these second and fourth moments.
fn by_moments(g: f64, c2: f64, second: f64, fourth: f64) -> f64 {
    let curvature = 2.0 * g * (2.0 * g * c2 - 1.0);
    let next = 4.0 * g * g * (4.0 * g * g * c2 * c2 - 12.0 * g * c2 + 3.0);
    (-g * c2).exp() * (1.0 + 0.5 * second * curvature + fourth * next / 24.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Midpoint rule, good to 1e-7 for the widths used.
    fn by_sums(g: f64, a: f64, b: f64, c: f64, n: i32) -> f64 {
        let at = |i: i32, w: f64| w * ((f64::from(i) + 0.5) / f64::from(n) - 0.5);
        let sum: f64 = (0..n).flat_map(|i| (0..n).map(move |j| (-g * (c + at(i, a) - at(j, b)).powi(2)).exp())).sum();
        sum / f64::from(n * n)
    }

    #[test]
    fn both_forms_are_the_double_integral() {
        for g in [1e-4, 3e-3, 0.02, 0.024, 0.3, 1.0, 8.0] {
            for (a, b, c) in [(1.0, 1.0, 0.0), (1.0, 0.25, 0.3), (0.5, 0.1, 2.0), (1.0, 1.0, 7.0)] {
                let (value, sum) = (between(g, a, b, c), by_sums(g, a, b, c, 1000));
                // The midpoint rule errs by g (a² + b²)/(24 n²).
                assert!((value - sum).abs() < 2e-6 * g.min(1.0) + 2e-8, "{g} {a} {b} {c}: {value} {sum}");
                let (value, sum) = (from_point(g, a, c), by_sums(g, a, 1e-9, c, 1000));
                assert!((value - sum).abs() < 2e-6 * g.min(1.0) + 2e-8, "{g} {a} {c}: {value} {sum}");
            }
        }
    }

    #[test]
    fn the_two_forms_meet() {
        for c in [0.0, 0.4, 3.0, 30.0] {
            let g = FLAT;
            let (below, above) = (between(g * (1.0 - 1e-12), 1.0, 1.0, c), between(g * (1.0 + 1e-12), 1.0, 1.0, c));
            assert!((below - above).abs() < 1e-8, "{c} {below} {above}");
            let (below, above) = (from_point(4.0 * g * (1.0 - 1e-12), 1.0, c), from_point(4.0 * g * (1.0 + 1e-12), 1.0, c));
            assert!((below - above).abs() < 1e-8, "{c} {below} {above}");
        }
    }

    #[test]
    fn the_printed_example() {
        assert!((between(1.0, 1.0, 1.0, 0.0) - 0.861_528).abs() < 1e-6);
    }
}
