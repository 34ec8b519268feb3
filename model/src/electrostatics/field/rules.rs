//! Quadrature and interpolation on [-1, 1].
//!
//! * gives: Gauss-Legendre nodes and weights; Chebyshev points, and the polynomials that are 1 at one of them
//! * source: Newton's method on the Legendre polynomials, P. J. Davis & P. Rabinowitz, Methods of Numerical Integration
//!   (1984), 2.7; Lagrange polynomials through Chebyshev points as a cosine sum, textbook
//! * accuracy: 1e-14
//! * errors: none
//! * example: two nodes at -0.57735 and 0.57735, each of weight 1

use std::f64::consts::PI;
use std::sync::OnceLock;

/// Largest rule.
pub(in crate::electrostatics) const MOST_NODES: usize = 40;

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

/// The zeros of the Chebyshev polynomial of degree `count`.
pub(in crate::electrostatics) fn chebyshev(count: usize) -> impl Iterator<Item = f64> {
    (0..count).map(move |i| -(PI * (i as f64 + 0.5) / count as f64).cos())
}

/// At x the values of the polynomials that are 1 at one of the Chebyshev points and 0 at the others.
pub(in crate::electrostatics) fn lagrange(count: usize, x: f64, out: &mut [f64]) {
    // Sum over degrees of T_k(x_i) T_k(x), by recurrence in k at each point.
    for (value, point) in out.iter_mut().zip(chebyshev(count)) {
        let (mut p0, mut p1, mut q0, mut q1) = (1.0, point, 1.0, x);
        let mut sum = 0.5;
        for _ in 1..count {
            sum += p1 * q1;
            (p0, p1) = (p1, 2.0 * point * p1 - p0);
            (q0, q1) = (q1, 2.0 * x * q1 - q0);
        }
        *value = sum * 2.0 / count as f64;
    }
}

/// The Chebyshev polynomials at x, from degree 0 on.
pub(in crate::electrostatics) fn polynomials(x: f64, out: &mut [f64]) {
    let (mut before, mut value) = (x, 1.0);
    for slot in out {
        *slot = value;
        (before, value) = (value, 2.0 * x * value - before);
    }
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

    #[test]
    fn interpolation_gives_back_polynomials() {
        let mut shares = [0.0; 5];
        lagrange(5, 0.3, &mut shares);
        let value: f64 = shares.iter().zip(chebyshev(5)).map(|(s, x)| s * (x.powi(4) - 2.0 * x)).sum();
        assert!((value - (0.3_f64.powi(4) - 0.6)).abs() < 1e-14);
        let mut t = [0.0; 4];
        polynomials(0.3, &mut t);
        assert!((t[3] - (4.0 * 0.027 - 0.9)).abs() < 1e-15 && t[0] == 1.0);
    }
}
