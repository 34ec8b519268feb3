//! One question, whichever method answers it: the cheapest whose bound meets the tolerance.

use super::field::{self, FieldFault};
use super::rows_error;
use super::{Accuracy, Aim, Choice, Conductor, ConductorMatrix, CrossSection, LineCapacitance, Medium, Method, Notes, RowsPlate};
use super::{conductor_matrix, line_capacitance, rows_plate};

/// Maxwell's matrix of any number of conductors.
///
/// What rows of thread differ from the plates that stand for them is part of the bound, with either method.
///
/// # Errors
/// [`FieldFault`] where the field is asked for, or needed, and cannot be solved. Where it would only be too much work,
/// [`Choice::Best`] answers by the closed form.
pub fn capacitances(medium: &Medium<'_>, conductors: &[Conductor], aim: Aim) -> Result<ConductorMatrix, FieldFault> {
    let closed = || {
        let placed: Vec<_> = conductors.iter().map(Conductor::placed).collect();
        conductor_matrix(medium, &placed)
    };
    let solve = || {
        let mut matrix = field::conductor_matrix(medium, conductors, aim.relative_tolerance)?;
        let rows = conductors.iter().map(|c| rows_error(&c.figure.outline(), c.rows)).fold(0.0, f64::max);
        matrix.relative_error += rows;
        matrix.diagonal_error += rows;
        Ok(matrix)
    };
    match aim.choice {
        Choice::ClosedForm => Ok(closed()),
        Choice::Field => solve(),
        Choice::Best => {
            let cheap = closed();
            if cheap.valid && cheap.relative_error <= aim.relative_tolerance {
                return Ok(cheap);
            }
            match solve() {
                Err(FieldFault::TooMuchWork { .. } | FieldFault::Contact) => Ok(cheap),
                solved => solved,
            }
        }
    }
}

/// Capacitance per metre of an endless run.
///
/// Height, permittivities and the plate part are those of the closed form, which the solved value replaces. Where line
/// and ground touch, only the closed form has an answer.
pub fn per_length(medium: &Medium<'_>, cross_section: CrossSection, aim: Aim) -> LineCapacitance {
    let closed = line_capacitance(medium, cross_section);
    if closed_is_enough(aim, &closed.accuracy) {
        return closed;
    }
    match field::line(medium, cross_section, aim.relative_tolerance) {
        // Where layers end inside the thread the field knows two limits alone, which may lie farther apart.
        Ok(line) if aim.choice == Choice::Field || line.relative_error < closed.accuracy.relative_error => LineCapacitance {
            per_m_f: line.per_m_f,
            method: match cross_section {
                CrossSection::Strip { .. } => Method::SolvedStrip,
                CrossSection::Thread { .. } => Method::SolvedThread,
            },
            accuracy: Accuracy { relative_error: line.relative_error, valid: line.valid, notes: line.notes },
            ..closed
        },
        _ => closed,
    }
}

fn closed_is_enough(aim: Aim, accuracy: &Accuracy) -> bool {
    match aim.choice {
        Choice::ClosedForm => true,
        Choice::Best => accuracy.valid && accuracy.relative_error <= aim.relative_tolerance,
        Choice::Field => false,
    }
}

/// Capacitance per area of an endless field of parallel threads over ground, in air; lengths in m. Where threads overlap or
/// touch the ground, only the closed form has an answer.
pub fn rows(thread_diameter_m: f64, row_spacing_m: f64, height_m: f64, aim: Aim) -> RowsPlate {
    let closed = rows_plate(thread_diameter_m, row_spacing_m, height_m);
    if closed_is_enough(aim, &closed.accuracy) {
        return closed;
    }
    match field::rows(thread_diameter_m, row_spacing_m, height_m, aim.relative_tolerance) {
        Ok(rows) => RowsPlate {
            capacitance_per_m2_f: rows.per_m2_f,
            offset_m: rows.offset_m,
            accuracy: Accuracy { relative_error: rows.relative_error, valid: true, notes: Notes::NONE },
            method: Method::SolvedRows,
        },
        Err(_) => closed,
    }
}
