//! Gauss-Legendre quadrature on [-1, 1] with any number of nodes.
//!
//! * gives: nodes and weights
//! * source: Newton's method on the Legendre polynomials, P. J. Davis & P. Rabinowitz, Methods of Numerical Integration
//!   (1984), 2.7
//! * accuracy: 1e-14
//! * errors: none
//! * example: two nodes at -0.57735 and 0.57735, each of weight 1

use std::f64::consts::PI;
use std::sync::OnceLock;

/// Largest rule.
pub(in crate::electrostatics) const MOST_NODES: usize = 24;

/// Nodes and weights of the Gauss-Legendre rule with 1 to [`MOST_NODES`] nodes (more are taken as that many).
pub(in crate::electrostatics) fn legendre(count: usize) -> &'static [[f64; 2]] {
    static RULES: OnceLock<Vec<Vec<[f64; 2]>>> = OnceLock::new();
    &RULES.get_or_init(|| (0..=MOST_NODES).map(gauss).collect())[count.clamp(1, MOST_NODES)]
}

fn gauss(n: usize) -> Vec<[f64; 2]> {
    let node = |i: usize| {
        let mut x = -(PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
        let mut slope = 1.0;
        for _ in 0..100 {
            let (mut before, mut p) = (1.0, x);
            for k in 2..=n {
                (before, p) = (p, ((2 * k - 1) as f64 * x * p - (k - 1) as f64 * before) / k as f64);
            }
            slope = n as f64 * (before - x * p) / (1.0 - x * x);
            let step = p / slope;
            x -= step;
            if step.abs() < 1e-15 {
                break;
            }
        }
        [x, 2.0 / ((1.0 - x * x) * slope * slope)]
    };
    (0..n).map(node).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rule_is_exact_for_polynomials() {
        for n in 1..=MOST_NODES {
            let moment: f64 = legendre(n).iter().map(|[x, w]| w * x.powi(2 * n as i32 - 2)).sum();
            assert!((moment * (2 * n - 1) as f64 / 2.0 - 1.0).abs() < 1e-12, "{n} {moment}");
        }
    }
}
