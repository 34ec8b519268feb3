//! Thread laid in stitches, what it resists, and how fast charge gets through it.
//!
//! Plain numbers in SI; no spreads, no library.

mod ageing;
mod elliptic;
mod fill;
mod fill_sheet;
mod network;
mod passes;
mod reach;
mod rectangle;
mod run;
mod settling;
mod spreading;
mod stitching;
mod two_thread;

pub use ageing::{NewThread, Use, in_use};
pub use fill::{FillTerminals, MeanWay, RowFill};
pub use fill_sheet::{FillSheet, SheetResistance, fill_sheet, sheet_resistance};
pub use passes::{Passes, SingleFault};
pub use reach::{largest_charge_frequency_hz, longest_run};
pub use rectangle::{Edge, EdgeContact, rectangle_squares};
pub use run::{RunResistance, SewnPass, run_resistance};
pub use settling::{ChargingLine, Settling};
pub use spreading::{FOUR_POINT_SQUARES, arcs_squares, disc_in_square_squares, rim_to_disc_squares, ring_squares, two_discs_squares};
pub use stitching::{Layout, MOST_STITCHES, Seam, StitchKind, steps, stitching};
pub use two_thread::{End, Strand, TwoThread};
