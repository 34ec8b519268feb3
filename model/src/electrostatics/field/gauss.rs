//! Gauss-Legendre rules.
//!
//! * gives: nodes and weights on [-1, 1], made while compiling
//! * source: Newton's method on the Legendre polynomials, P. J. Davis & P. Rabinowitz, Methods of Numerical Integration
//!   (1984), 2.7
//! * accuracy: exact for polynomials up to degree 2n - 1 to 1e-15
//! * never fails
//! * example: two nodes at -0.57735 and 0.57735, each of weight 1

use std::f64::consts::PI;

/// Node and weight.
pub(in crate::electrostatics) type Node = [f64; 2];

/// The rule of 16 nodes.
pub(in crate::electrostatics) static GAUSS_16: [Node; 16] = rule();
/// The rule of 32 nodes.
pub(in crate::electrostatics) static GAUSS_32: [Node; 32] = rule();

/// The rule of `N` nodes, in rising order.
const fn rule<const N: usize>() -> [Node; N] {
    let mut nodes = [[0.0; 2]; N];
    let mut i = 0;
    while i < N.div_ceil(2) {
        let mut x = cosine(PI * (i as f64 + 0.75) / (N as f64 + 0.5));
        let mut slope = 1.0;
        let mut step = 0;
        while step < 8 {
            let (mut before, mut p) = (0.0, 1.0);
            let mut n = 0;
            while n < N {
                (before, p) = (p, ((2 * n + 1) as f64 * x * p - n as f64 * before) / (n + 1) as f64);
                n += 1;
            }
            slope = N as f64 * (before - x * p) / (1.0 - x * x);
            x -= p / slope;
            step += 1;
        }
        let weight = 2.0 / ((1.0 - x * x) * slope * slope);
        nodes[i] = [-x, weight];
        nodes[N - 1 - i] = [x, weight];
        i += 1;
    }
    nodes
}

/// Cosine between 0 and pi/2 by its series, good enough to start from.
const fn cosine(angle: f64) -> f64 {
    let (mut term, mut sum, mut n) = (1.0, 1.0, 1);
    while n < 12 {
        term *= -angle * angle / ((2 * n - 1) * (2 * n)) as f64;
        sum += term;
        n += 1;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn powers(rule: &[Node]) {
        for power in 0..2 * rule.len() as i32 {
            let sum: f64 = rule.iter().map(|[x, w]| w * x.powi(power)).sum();
            let exact = if power % 2 == 0 { 2.0 / f64::from(power + 1) } else { 0.0 };
            assert!((sum - exact).abs() < 1e-14, "{} nodes, power {power}: {sum}", rule.len());
        }
    }

    #[test]
    fn powers_are_integrated_exactly() {
        powers(&rule::<1>());
        powers(&rule::<2>());
        powers(&rule::<3>());
        powers(&rule::<8>());
        powers(&GAUSS_16);
        powers(&GAUSS_32);
    }
}
