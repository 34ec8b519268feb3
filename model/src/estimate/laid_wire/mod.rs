//! Laid wires of a piece: what is asked of them, what is assumed, how each is worked out and judged.
//!
//! A wire, a tube or a roving is worked out beside the other features, with inputs of its own
//! ([`super::Place::LaidWire`]). Tubes and rovings have a length, stitches and a mass alone.

mod assumed;
mod chain;
mod change;
mod checks;
mod coupon;
mod piece;
mod working;

pub(super) use chain::stitched_wire;
pub(super) use change::{scale_wire, wires_of};
pub(super) use checks::laid_wires;
pub use checks::{HeatingResult, LaidWireResult, WireResult};
pub(super) use coupon::{coupon, coupon_measures};
pub use piece::{Conduction, ConductorChoice, CourseChoice, HoldChoice, LaidKind, LaidWire, MOST_LAID_WIRES};
pub(super) use working::laid_wire_steps;
