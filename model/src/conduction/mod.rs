//! Thread laid in stitches, what it resists, and how fast charge gets through it.
//!
//! Plain numbers in SI; no spreads, no library. A perfect joint between top and bobbin thread is assumed at every
//! penetration.

mod run;
mod settling;
mod stitching;

pub use run::{Joint, RunResistance, run_resistance};
pub use settling::{Settling, settling};
pub use stitching::{Layout, MOST_STITCHES, Seam, StitchKind, steps, stitching};
