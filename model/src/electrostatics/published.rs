//! Published closed forms as they stand in print, for hand checks and for tests.
//!
//! The estimate does not use them: each covers one layer and one shape, and none takes an overlay. They are what a
//! practitioner finds in a book, so the working shows them beside the value used, and the tests hold the value used
//! against them where both apply. Their measured errors are those of the reference tables.

use std::f64::consts::PI;

use crate::units::VACUUM_PERMITTIVITY as EPS0;

/// Impedance of free space, ohm.
const ETA0: f64 = 376.730_313_668;

/// Disc of radius `a_m` on a layer of thickness `h_m` and permittivity `er` over a ground plane, air above; F.
///
/// Chew & Kong 1980, IEEE Trans. MTT-28(2) 98-104 (coefficients from memory, confirmed numerically). Valid for h/a up
/// to about 0.5: there within 1 % for er 1 to 10; at h/a = 1 within 8 %.
///
/// Example: a = 10 mm, h = 1 mm, er = 2.6: 8.53 pF (field solution 8.553 pF).
///
/// ```
/// let c = toile_model::electrostatics::published::disc_over_grounded_layer(0.010, 0.001, 2.6);
/// assert!((c / 8.553e-12 - 1.0).abs() < 0.01);
/// ```
pub fn disc_over_grounded_layer(a_m: f64, h_m: f64, er: f64) -> f64 {
    let bracket = (a_m / (2.0 * h_m)).ln() + 1.41 * er + 1.77 + h_m / a_m * (0.268 * er + 1.65);
    EPS0 * er * PI * a_m * a_m / h_m * (1.0 + 2.0 * h_m / (PI * er * a_m) * bracket)
}

/// Disc of radius `a_m` at `h_m` over a ground plane in air; F.
///
/// Nishiyama & Nakamura 1993, IEEE Trans. CHMT 16(3) 360 for a pair of discs 2 h apart (coefficients from memory,
/// consistent with the reference to 1.1 %), valid for h/a 0.005 to 5.
///
/// Example: a = 5 mm, h = 0.882904 mm: 1.197 pF.
pub fn disc_in_air(a_m: f64, h_m: f64) -> f64 {
    let b = h_m / a_m;
    let factor = if b <= 0.5 { 1.0 + 2.367 * b.powf(0.867) } else { 1.0 + 2.564 * b.powf(0.982) };
    EPS0 * PI * a_m * a_m / h_m * factor
}

/// Endless strip of width `w_m` on a layer of thickness `h_m` and permittivity `er` over a ground plane, air above;
/// F/m.
///
/// Hammerstad & Jensen 1980, IEEE MTT-S Digest 407-409 (coefficients from memory, confirmed numerically), valid for
/// w/h 0.01 to 100 and er up to 128; measured within 0.22 % for w/h 0.05 to 50, er 1 to 10.
///
/// Example: w = 3 mm, h = 1 mm, er = 2.6: 103.8 pF/m.
pub fn strip_over_grounded_layer(w_m: f64, h_m: f64, er: f64) -> f64 {
    let u = w_m / h_m;
    let f = 6.0 + (2.0 * PI - 6.0) * (-(30.666 / u).powf(0.7528)).exp();
    let z01 = ETA0 / (2.0 * PI) * (f / u + (1.0 + 4.0 / (u * u)).sqrt()).ln();
    let a = 1.0 + ((u.powi(4) + (u / 52.0).powi(2)) / (u.powi(4) + 0.432)).ln() / 49.0 + (1.0 + (u / 18.1).powi(3)).ln() / 18.7;
    let b = 0.564 * ((er - 0.9) / (er + 3.0)).powf(0.053);
    let ee = (er + 1.0) / 2.0 + (er - 1.0) / 2.0 * (1.0 + 10.0 / u).powf(-a * b);
    EPS0 * ee * ETA0 / z01
}
