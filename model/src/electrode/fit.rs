//! How hard a band presses what it holds against the body.
//!
//! Gives a pressure in Pa. Inputs: tension of the band in N, 0 or more; its width and the girth of the body where it lies
//! in m, above 0. Assumes a round body and a band without stiffness; flat places press less, bony ones more.
//! Source: law of Laplace for a cylinder, p = T/(w r), any textbook. Accuracy: exact for the cylinder; no body is one,
//! and measured pressures under bands scatter by half of it or more (from memory).
//! Example: 10 N, 40 mm wide, girth 900 mm: 1745 Pa, 13 mmHg.

use std::f64::consts::TAU;

/// Pressure of a band around the body, Pa.
///
/// ```
/// assert!((toile_model::electrode::band_pressure_pa(10.0, 0.04, 0.9) - 1745.33).abs() < 0.01);
/// ```
pub fn band_pressure_pa(tension_n: f64, width_m: f64, girth_m: f64) -> f64 {
    TAU * tension_n / (width_m * girth_m)
}
