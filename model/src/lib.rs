//! The physics of stitched electronics: a piece in, an estimate out.
//!
//! Tells whether touch pads and conductive runs stitched on cloth can work, how sure that is, and why. Plain data in,
//! plain data out: this crate knows no HTTP, no JSON, no storage, no files, no clock and no randomness.
//!
//! ```
//! use toile_model::{LIBRARY, Verdict, estimate, examples};
//! let piece = examples::round_pad(24.0);
//! let estimate = estimate(&piece, &LIBRARY).unwrap();
//! println!("{}", estimate.sentence());
//! assert_eq!(estimate.pads.len(), 1);
//! ```
//!
//! # Main types
//! - [`Piece`]: what the customer wants stitched, SI, every number with a spread ([`Measured`]).
//! - [`LIBRARY`]: threads, fabrics and controllers with source and status.
//! - [`estimate()`]: piece and library in, [`Estimate`] out; [`working`] and [`smallest_changes`] on request.
//! - [`electrostatics`], [`conduction`], [`touch`]: the single parts, plain numbers in and out.
//!
//! # Units
//! SI everywhere inside: m, F, ohm, s, K, kg/m. [`units::Quantity`] holds the edge's names, units and ranges.
//!
//! # Where it holds
//! Electrostatics of thin conductors in plane layers (quasi-static, below some 10 MHz), one finger centred on one
//! pad, neighbours not yet in the signal. Every capacitance states its method and error bound; a result outside
//! its method's measured range says so in its notes.
//!
//! # What it does not do
//! No wave effects, no noise of the controller, no moisture transport, no mechanics, no promise of safety.

#![deny(missing_docs)]

pub mod conduction;
pub mod electrode;
pub mod electrostatics;
pub mod examples;
pub mod geometry;
pub mod heat;
pub mod laid_wire;
pub mod lights;
pub mod materials;
pub mod money;
pub mod production;
pub mod touch;
pub mod uncertainty;
pub mod units;
pub mod verdict;

mod estimate;

pub use estimate::*;
pub use materials::LIBRARY;
pub use uncertainty::Measured;
pub use verdict::Verdict;

/// Version of the model: changes whenever any result may change.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");
