//! Closed forms: explicit expressions, no equation solved by iteration, no mesh, no heap.
//!
//! A pile of layers enters only through its admittance at a few wavenumbers ([`admittance`]);
//! a disc or strip then follows from two trial charges ([`disc`], [`strip`]); other outlines are
//! clusters of discs ([`shape`]); rows of thread are plates at another height ([`rows`]); the
//! fingertip is put together from four discs ([`finger`]). [`bound`] holds every error bound.

mod admittance;
mod bound;
mod disc;
mod finger;
mod free_pad;
mod line;
mod map;
mod matrix;
mod measured;
mod pad;
mod rows;
mod shape;
mod strip;
mod wire;

use super::{Outline, Rows};

/// Bound of the relative error that comes from taking rows of thread for a plate, whatever then solves the plate.
pub fn rows_error(outline: &Outline, rows: Option<Rows>) -> f64 {
    rows.map_or(0.0, |rows| bound::rows_on_pad(rows.row_spacing_m, shape::Shape::new(outline).narrowest_m()))
}

pub use disc::{DISC_NODES, DiscTerm, disc_terms};
pub use finger::touch_capacitances;
pub use line::line_capacitance;
pub use matrix::conductor_matrix;
pub use pad::pad_capacitance;
pub use rows::rows_plate;
