//! The layered field solved: tier 2.
//!
//! The layers are exact in the wavenumber domain ([`layers`]); what differs from question to question is how the
//! charge on the conductors is written down.

mod bessel;
mod discs;
mod gauss;
mod ladder;
pub(in crate::electrostatics) mod layers;
mod pairs;
mod round;
mod segments;
mod wavenumbers;

pub use discs::{Disc, DiscMatrix, Discs, MOST_FUNCTIONS, PadsUnderTouch, TouchedDiscs};
pub use layers::Layers;
pub use round::{RoundCharge, RoundPad, RoundTouch, round_pad, round_touch};

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
