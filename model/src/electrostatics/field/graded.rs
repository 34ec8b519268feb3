//! A rule for functions that are smooth except near a point, with a logarithm at it.
//!
//! * gives: distances from that point and weights, in the unit of the length given
//! * source: panels of Gauss-Legendre rules that shrink in proportion (textbook), the innermost with a power of the
//!   variable; own choice of numbers
//! * accuracy: 1e-13 of the integral's size where the conditions of [`fill`] hold
//! * errors: none
//! * example: the integral of ln x cos x from 0 to 1 is -0.946083070367183

use super::gauss::GAUSS_16;

/// Each panel ends at this part of the one before.
const SHRINK: f64 = 1.0 / 3.0;

/// In the innermost panel the distance goes like this power of the variable, which takes the sting out of a logarithm.
const POWER: i32 = 6;

/// Adds distances from 0 to `length` and weights to `rule`. Panels are no longer than `longest`, shrink towards 0 and
/// stop at `smallest`, below which the function has to be a logarithm times something smooth plus something smooth.
pub(super) fn fill(rule: &mut Vec<(f64, f64)>, length: f64, longest: f64, smallest: f64) {
    let mut far = length;
    while far > smallest {
        let near = far * SHRINK;
        let parts = ((far - near) / longest).ceil().max(1.0);
        for part in 0..parts as usize {
            let half = 0.5 * (far - near) / parts;
            let middle = near + half * (2.0 * part as f64 + 1.0);
            rule.extend(GAUSS_16.iter().map(|[x, w]| (middle + half * x, half * w)));
        }
        far = near;
    }
    rule.extend(GAUSS_16.iter().map(|[x, w]| {
        let t = 0.5 * (1.0 + x);
        (far * t.powi(POWER), 0.5 * w * far * f64::from(POWER) * t.powi(POWER - 1))
    }));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_logarithm_is_integrated_to_rounding() {
        // The integral of ln x cos x from 0 to 1 is -Si(1); Abramowitz & Stegun (1964), table 5.1.
        let mut rule = Vec::new();
        fill(&mut rule, 1.0, 0.5, 1e-3);
        let sum: f64 = rule.iter().map(|(x, w)| w * x.ln() * x.cos()).sum();
        assert!((sum + 0.946_083_070_367_183).abs() < 1e-13, "{sum}");
    }
}
