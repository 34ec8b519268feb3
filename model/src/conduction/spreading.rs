//! Resistance of a sheet between contacts, and from a terminal into a pad: closed forms.
//!
//! Gives resistances in squares: multiply by the sheet resistance in ohm to get ohm.
//! Inputs: lengths above 0 in any one unit; angles in rad; ranges with each function.
//! Assumptions: an even, isotropic sheet with insulated rim; contacts without resistance of their own.
//! Source: with each function. All but the mean into a pad are held against table G4 (closed forms).
//! Accuracy: exact, but for the disc in the middle of a square: of the order (radius/side)^4.
//! Errors: `None` for contacts that meet.
//! Example: a ring of 2.5 mm inner and 20 mm outer radius, from rim to rim: 0.331 squares.

use std::f64::consts::PI;

use super::elliptic::{complete_integral, ratio_of_integrals};

/// From the inner to the outer rim of a ring: ln(outer/inner)/2 pi. Any textbook.
///
/// ```
/// let squares = toile_model::conduction::ring_squares(2.5, 20.0).unwrap();
/// assert!((squares - 0.330_953_400_229).abs() < 1e-12);
/// ```
pub fn ring_squares(inner: f64, outer: f64) -> Option<f64> {
    (inner > 0.0 && outer > inner).then(|| (outer / inner).ln() / (2.0 * PI))
}

/// Between two round contacts of radii `a` and `b`, middles `apart`, on an endless sheet:
/// acosh((d^2 - a^2 - b^2)/(2 a b))/2 pi. Two cylinders, Smythe, Static and Dynamic Electricity (from memory).
pub fn two_discs_squares(a: f64, b: f64, apart: f64) -> Option<f64> {
    let measure = ((apart - a - b) * (apart + a + b) / (2.0 * a * b)).max(0.0);
    // acosh(1 + x) for any x above 0.
    (a > 0.0 && b > 0.0 && apart > a + b).then(|| {
        let x = measure + ((apart * apart - a * a - b * b) / (2.0 * a * b) - 1.0 - measure);
        (x + (x * (x + 2.0)).sqrt()).ln_1p() / (2.0 * PI)
    })
}

/// Between two contacts on the rim of a disc, each an arc of the given half angle, their middles `separation` apart as
/// seen from the centre, rad. Conformal map of the disc to a half plane; K(1-m)/K(m) with the cross ratio m of the four
/// ends of the arcs, whose differences are chords. Own, after any text on conformal maps.
pub fn arcs_squares(half_angle_1: f64, half_angle_2: f64, separation: f64) -> Option<f64> {
    let chord = |a: f64, b: f64| (0.5 * (b - a)).sin().abs();
    let ends = [-half_angle_1, half_angle_1, separation - half_angle_2, separation + half_angle_2];
    let apart = half_angle_1 > 0.0 && half_angle_2 > 0.0 && ends[2] > ends[1] && ends[3] < 2.0 * PI - half_angle_1;
    apart.then(|| cross_ratio_squares(|i, j| chord(ends[i], ends[j]).ln()))
}

/// From a disc in the middle of a square to its whole outline: ln(R/a)/2 pi with R = side/K(1/2), the conformal radius of
/// the square (from memory, any text on conformal maps). Radius up to a tenth of the side.
pub fn disc_in_square_squares(radius: f64, side: f64) -> Option<f64> {
    let conformal_radius = side / complete_integral(0.5f64.ln());
    (radius > 0.0 && radius <= 0.1 * side).then(|| (conformal_radius / radius).ln() / (2.0 * PI))
}

/// Voltage over current of a four-point measurement on the rim of a sheet with fourfold symmetry: ln 2/pi. L. J. van der
/// Pauw, Philips Res. Rep. 13 (1958) 1 (from memory).
pub const FOUR_POINT_SQUARES: f64 = std::f64::consts::LN_2 / PI;

/// Mean way from a terminal on the rim of a solid round pad into its area, which takes the charge evenly: the resistance
/// that delays its charging, (ln(a/e) + 1/8)/pi for a terminal of radius e on a disc of radius a, e below a/2 or so.
///
/// Own: the potential of a rim source with an even sink is -ln|z - 1|/pi + |z|^2/(4 pi) on the unit disc; the mean of the
/// first term over the disc is 0, that of the second 1/(8 pi).
pub fn rim_to_disc_squares(terminal_radius: f64, disc_radius: f64) -> f64 {
    (((disc_radius / terminal_radius).ln() + 0.125) / PI).max(0.0)
}

/// K(1-m)/K(m) for the contacts between points 0 and 1 and between 2 and 3, in this order along a boundary, from the
/// logarithms of their distances on a half plane (any common factors of a point cancel).
pub(super) fn cross_ratio_squares(ln_distance: impl Fn(usize, usize) -> f64) -> f64 {
    let whole = ln_distance(0, 2) + ln_distance(1, 3);
    let ln_m = (ln_distance(0, 1) + ln_distance(2, 3) - whole).min(0.0);
    let ln_rest = (ln_distance(1, 2) + ln_distance(0, 3) - whole).min(0.0);
    ratio_of_integrals(ln_m, ln_rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn opposite_quarter_arcs_are_one_square() {
        let quarter = PI / 4.0;
        assert!((arcs_squares(quarter, quarter, PI).expect("apart") - 1.0).abs() < 1e-14);
        // Contacts and gaps changed over turn squares into their inverse.
        let (narrow, wide) = (arcs_squares(0.3, 0.3, PI).expect("apart"), arcs_squares(PI / 2.0 - 0.3, PI / 2.0 - 0.3, PI).expect("apart"));
        assert!((narrow * wide - 1.0).abs() < 1e-13);
        assert_eq!(arcs_squares(0.5, 0.5, 0.9), None);
    }

    #[test]
    fn small_arcs_tend_to_their_logarithm() {
        // Two small arcs of half width e (as a half disc of radius e/2 each): (2/pi) ln(4/e) at the ends of a diameter.
        let squares = arcs_squares(1e-6, 1e-6, PI).expect("apart");
        assert!((squares - 2.0 / PI * (4e6f64).ln()).abs() < 1e-9, "{squares}");
    }

    #[test]
    fn the_mean_into_a_disc_is_that_of_a_finite_sum() {
        // Potential at the terminal less the mean over the disc, by a sum over a polar grid.
        let e: f64 = 0.01;
        let at = -(e.ln()) / PI + 1.0 / (4.0 * PI);
        let (mut mean, mut area) = (0.0, 0.0);
        for i in 0..400 {
            let r = (f64::from(i) + 0.5) / 400.0;
            for j in 0..400 {
                let angle = 2.0 * PI * (f64::from(j) + 0.5) / 400.0;
                let distance = (r * r + 1.0 - 2.0 * r * angle.cos()).sqrt();
                mean += r * (-distance.ln() / PI + r * r / (4.0 * PI));
                area += r;
            }
        }
        // The grid misses what lies nearest the singular point, some 1e-5.
        assert!((rim_to_disc_squares(e, 1.0) - (at - mean / area)).abs() < 1e-4);
    }
}
