//! Gauss-Legendre rules, and rules for what has a logarithm at one end.
//!
//! * gives: abscissas and weights, without unit
//! * source: nodes by Newton's method on the Legendre recurrence (textbook); the graded rule is own
//! * accuracy: n points are exact up to degree 2n - 1, here to rounding
//! * errors: none
//! * example: two points on [-1, 1] lie at 1/sqrt(3) with weight 1

use std::f64::consts::PI;

/// Points and weights of the rule with `count` points on [-1, 1], in rising order.
pub(super) fn legendre(count: usize) -> Vec<(f64, f64)> {
    (0..count)
        .map(|i| {
            let mut x = -((i as f64 + 0.75) / (count as f64 + 0.5) * PI).cos();
            let mut slope = 1.0;
            // Quadratic convergence from a guess that is good to a few per cent of the spacing.
            for _ in 0..8 {
                let (mut before, mut value) = (1.0, x);
                for n in 1..count {
                    let n = n as f64;
                    (before, value) = (value, ((2.0 * n + 1.0) * x * value - n * before) / (n + 1.0));
                }
                slope = count as f64 * (x * value - before) / (x * x - 1.0);
                x -= value / slope;
            }
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}

/// Points per panel of a [`Graded`] rule.
const POINTS: usize = 12;

/// Each panel of a [`Graded`] rule ends at this part of the one before.
const SHRINK: f64 = 1.0 / 3.0;

/// In the innermost panel the distance goes like this power of the variable, which takes the sting out of a logarithm.
const POWER: i32 = 6;

/// A rule for functions that are smooth except near the point from which distances are counted.
#[derive(Debug)]
pub(super) struct Graded {
    gauss: Vec<(f64, f64)>,
}

impl Graded {
    pub(super) fn new() -> Self {
        Self { gauss: legendre(POINTS) }
    }

    /// Adds distances from 0 to `length` and weights to `rule`. Panels are no longer than `longest`, shrink towards 0 and
    /// stop at `smallest`, below which the function has to be a logarithm times something smooth plus something smooth.
    pub(super) fn fill(&self, rule: &mut Vec<(f64, f64)>, length: f64, longest: f64, smallest: f64) {
        let mut far = length;
        while far > smallest {
            let near = far * SHRINK;
            let parts = ((far - near) / longest).ceil().max(1.0);
            for part in 0..parts as usize {
                let half = 0.5 * (far - near) / parts;
                let middle = near + half * (2.0 * part as f64 + 1.0);
                rule.extend(self.gauss.iter().map(|(x, w)| (middle + half * x, half * w)));
            }
            far = near;
        }
        rule.extend(self.gauss.iter().map(|(x, w)| {
            let t = 0.5 * (1.0 + x);
            (far * t.powi(POWER), 0.5 * w * far * f64::from(POWER) * t.powi(POWER - 1))
        }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gauss_is_exact_up_to_its_degree() {
        for count in [1, 2, 5, 12, 40] {
            for power in 0..2 * count as i32 {
                let sum: f64 = legendre(count).iter().map(|(x, w)| w * x.powi(power)).sum();
                let exact = if power % 2 == 0 { 2.0 / f64::from(power + 1) } else { 0.0 };
                assert!((sum - exact).abs() < 1e-14, "{count} {power}");
            }
        }
    }

    #[test]
    fn a_logarithm_is_integrated_to_rounding() {
        // The integral of ln x cos x from 0 to 1 is -Si(1); Abramowitz & Stegun (1964), table 5.1.
        let mut rule = Vec::new();
        Graded::new().fill(&mut rule, 1.0, 0.5, 1e-3);
        let sum: f64 = rule.iter().map(|(x, w)| w * x.ln() * x.cos()).sum();
        assert!((sum + 0.946_083_070_367_183).abs() < 1e-13, "{sum}");
    }
}
