//! The layered field solved: tier 2.
//!
//! The layers are exact in the wavenumber domain (`layers`); what differs from question to question is how the
//! charge on the conductors is written down.

mod annulus;
mod bessel;
mod cells;
mod charge;
mod circle;
mod dense;
mod disc;
mod discs;
mod engine;
mod functions;
mod galerkin;
mod gauss;
mod gaussians;
mod graded;
mod interval;
mod kept;
pub(in crate::electrostatics) mod kernel;
mod ladder;
pub(in crate::electrostatics) mod layers;
mod line;
mod line_kernel;
mod matrix;
pub(in crate::electrostatics) mod memory;
mod mesh;
mod nodes;
mod opening;
pub(in crate::electrostatics) mod outline;
mod overlap;
mod pairs;
mod panel;
mod plate;
pub(in crate::electrostatics) mod rectangle;
pub(in crate::electrostatics) mod rectangles;
mod refine;
mod round;
mod rows;
mod rules;
mod run;
mod segments;
mod side;
mod strip;
mod thread;
mod touch;
mod wavenumbers;

pub use charge::{ChargeCell, charge_cells};
pub use discs::{Disc, DiscMatrix, Discs, MOST_FUNCTIONS, PadsUnderTouch, TouchedDiscs};
pub use layers::Layers;
pub use line::{LineSolved, line};
pub use matrix::conductor_matrix;
pub use opening::{OverOpening, over_opening, round_pad_over_opening, round_touch_over_opening};
pub use rectangle::{RectangleCharge, RectanglePad, rectangle_pad};
pub use rectangles::{PlacedRectangle, RectangleMatrix, rectangle_matrix};
pub use round::{RoundCharge, RoundPad, RoundTouch, round_pad, round_touch};
pub use rows::{RowsSolved, rows};
pub use touch::{GuardBand, SolvedTouch, TouchedPad, felt_beside, solved_touch, touch_of_matrix};

/// Most unknowns that one solution may take. Set so that the slowest answer stays within seconds and 1 GiB.
pub const MOST_UNKNOWNS: usize = 12_000;

/// Largest extent of one conductor, m.
pub const WIDEST_M: f64 = 2.0;

/// Why a field could not be solved. Conductors are counted from 0 in the order given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FieldFault {
    /// Two conductors of one plane overlap or touch.
    Overlap {
        /// The earlier of the two.
        first: usize,
        /// The later.
        second: usize,
    },
    /// A conductor wider than [`WIDEST_M`].
    TooWide {
        /// Which.
        conductor: usize,
        /// Its extent, m.
        extent_m: f64,
    },
    /// More unknowns than [`MOST_UNKNOWNS`] even at the coarsest resolution.
    TooMuchWork {
        /// What it would take.
        unknowns: usize,
    },
    /// Nothing lies between conductors that have to be apart: the two planes, or pad and ground.
    Contact,
}
