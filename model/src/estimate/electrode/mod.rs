//! Electrodes of a piece.

mod caution;

pub use caution::electrode_cautions;
