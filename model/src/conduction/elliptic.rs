//! The ratio of complete elliptic integrals that a conformal map of two contacts ends in.
//!
//! Gives K(1 - m)/K(m), the resistance in squares between two boundary contacts whose cross ratio is m.
//! Inputs: the logarithms of m and of 1 - m, both known on their own so that neither loses digits near 0 or 1.
//! Source: K(m) = pi/(2 AGM(1, sqrt(1 - m))), Gauss; Abramowitz & Stegun 17.6 (from memory).
//! Accuracy: 1e-15 against K(1/2) = 1.854 074 677 301 371 9 and the limit ln(16/m)/pi.
//! Errors: none.
//! Example: m = 1/2: 1 square.

/// K(1 - m)/K(m) from ln m and ln(1 - m).
pub(super) fn ratio_of_integrals(ln_m: f64, ln_rest: f64) -> f64 {
    mean_of_one_and(0.5 * ln_rest) / mean_of_one_and(0.5 * ln_m)
}

/// Complete elliptic integral of the first kind, K(m), from ln(1 - m).
pub(super) fn complete_integral(ln_rest: f64) -> f64 {
    std::f64::consts::FRAC_PI_2 / mean_of_one_and(0.5 * ln_rest)
}

/// Arithmetic-geometric mean of 1 and e^x, x <= 0. For a tiny second number it is pi/(2 ln(4/e^x)) to the square of it.
fn mean_of_one_and(x: f64) -> f64 {
    if x < -20.0 {
        return std::f64::consts::FRAC_PI_2 / (4f64.ln() - x);
    }
    let (mut a, mut g) = (1.0, x.exp());
    // Digits double at every turn; from e^-20 eight turns suffice.
    for _ in 0..12 {
        (a, g) = (0.5 * (a + g), (a * g).sqrt());
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_values() {
        let half = 0.5f64.ln();
        assert!((complete_integral(half) - 1.854_074_677_301_371_9).abs() < 1e-15);
        assert!((ratio_of_integrals(half, half) - 1.0).abs() < 1e-15);
        // The lemniscate's neighbour: m = (sqrt 2 - 1)^2 gives K(1-m)/K(m) = sqrt 2 (second singular value, k = sqrt 2 - 1).
        let m = (2f64.sqrt() - 1.0).powi(2);
        assert!((ratio_of_integrals(m.ln(), (1.0 - m).ln()) - 2f64.sqrt()).abs() < 1e-15);
    }

    #[test]
    fn both_sides_of_the_switch_agree() {
        let (near, far) = (mean_of_one_and(-19.999_999), mean_of_one_and(-20.000_001));
        assert!((near / far - 1.0).abs() < 1e-7 && near > far, "{near} {far}");
        assert!((mean_of_one_and(-21.0) * (4f64.ln() + 21.0) - std::f64::consts::FRAC_PI_2).abs() < 1e-15);
    }
}
