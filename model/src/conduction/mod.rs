//! Thread laid in stitches, what it resists, and how fast charge gets through it.
//!
//! Plain numbers in SI; no spreads, no library.

mod ageing;
mod network;
mod passes;
mod run;
mod settling;
mod stitching;
mod two_thread;

pub use ageing::{NewThread, Use, in_use};
pub use passes::{Passes, SingleFault};
pub use run::{RunResistance, SewnPass, run_resistance};
pub use settling::{Settling, settling};
pub use stitching::{Layout, MOST_STITCHES, Seam, StitchKind, steps, stitching};
pub use two_thread::{End, Strand, TwoThread};
