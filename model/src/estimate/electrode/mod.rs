//! Electrodes of a piece: what is asked of them, what is assumed, how each is worked out and judged.
//!
//! Every electrode is worked out beside the other features, with inputs of its own ([`super::Place::Electrode`]). One that
//! stimulates is never better than measure first, whatever its numbers, and brings the strongest cautions.

mod assumed;
mod caution;
mod chain;
mod change;
mod checks;
mod coupon;
mod piece;
mod sewn;
mod working;

pub use caution::electrode_cautions;
pub(super) use chain::electrode_runs;
pub(super) use change::{grow_electrodes, more_touching, reading_electrodes, scale_fit, scale_input};
pub(super) use checks::electrodes;
pub use checks::{ElectrodeResult, ReadingResult, StimulationResult};
pub(super) use coupon::{coupon, coupon_measures};
pub use piece::{AmplifierChoice, ContactChoice, Electrode, ElectrodeKind, ElectrodeTexture, Fit, MOST_ELECTRODES, Pair, PulseChoice};
pub(super) use sewn::stitched_electrode;
pub(super) use working::electrode_steps;
