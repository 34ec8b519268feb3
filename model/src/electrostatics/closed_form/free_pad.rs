//! Free plates: the radius of the disc with the same capacitance in free space.
//!
//! * ellipse with semi-axes p, q: exactly AGM(p, q) (textbook, by the arithmetic-geometric mean)
//! * rectangle w x l, ratio R: AGM(w, l)/sqrt(pi) times 1.0212 - 0.0104 L/(1 + 0.17 L), L = ln^2 R;
//!   own fit to Galerkin values at R = 1 to 8, 0.25 %; the square is 0.36679 x 4 pi eps0 w
//! * between the two by how much of its box the outline fills
//! * hole: factor of the flat ring, W. R. Smythe, "The capacitance of a circular annular disk",
//!   J. Appl. Phys. 22 (1951) 1499, from memory; narrow rings agree with 4 pi^2 eps0 R/ln(32 R/w)
//!
//! All in metres; never fails. Example: a 10 mm square acts as a free disc of 5.762 mm radius.

use std::f64::consts::{FRAC_PI_4, PI};

/// Free radius of an outline in a box `width_m` x `length_m`, of which `filled` (0 to 1) is taken.
pub(super) fn free_radius_m(width_m: f64, length_m: f64, filled: f64) -> f64 {
    let stretch = (length_m / width_m).ln().powi(2);
    let rectangle = 2.0 / PI.sqrt() * (1.0212 - 0.0104 * stretch / (1.0 + 0.17 * stretch));
    let from_ellipse = (filled - FRAC_PI_4) / (1.0 - FRAC_PI_4);
    let factor = (1.0 + (rectangle - 1.0) * from_ellipse).max(0.6);
    0.5 * arithmetic_geometric_mean(width_m, length_m) * factor
}

/// What a concentric hole of relative radius `c` (0 to 1) leaves of a disc's free capacitance.
pub(super) fn hole_factor(c: f64) -> f64 {
    let c = c.clamp(0.0, 0.999_999);
    if c == 0.0 {
        return 1.0;
    }
    let tangent = (1.28 * c).tan();
    let narrow = 1.0 + 0.0143 * tangent * tangent * (tangent / c);
    2.0 / PI * (c.acos() + (1.0 - c * c).sqrt() * c.atanh()) * narrow
}

fn arithmetic_geometric_mean(a: f64, b: f64) -> f64 {
    let (mut a, mut b) = (a, b);
    // Quadratic convergence: six rounds settle any ratio that fits on cloth.
    for _ in 0..6 {
        (a, b) = (0.5 * (a + b), (a * b).sqrt());
    }
    0.5 * (a + b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn free_square_and_narrow_ring() {
        let square = 8.0 * free_radius_m(1.0, 1.0, 1.0) / (4.0 * PI);
        assert!((square / 0.36679 - 1.0).abs() < 1e-3);
        let narrow = 4.0 * PI * PI * 0.95 / (32.0 * 0.95 / 0.1_f64).ln() / 8.0;
        assert!((hole_factor(0.9) / narrow - 1.0).abs() < 0.01);
    }
}
