//! How much thread surface a stitched electrode turns towards the skin, per area of its footprint.
//!
//! Gives a pure number. Inputs: thread diameter, row spacing, stitch length and loop height in m, all above 0.
//! Assumes round threads; of a fill the half of each row that faces the skin counts, of a loop pile the whole round of
//! every loop and of the thread between two loops.
//! Source: own geometry. Accuracy: nothing outside to compare with; pressed loops hide part of themselves, so the
//! estimate takes it for uncertain by [`GAIN_ERROR`].
//! Example: thread of 0.25 mm, rows 1 mm apart, a loop of 1.5 mm every 2 mm: pi 0.25 (2 1.5 + 2) / (2 1) = 1.96.

use std::f64::consts::PI;

/// How far the surface may be off, as a fraction; judgement, see the module's accuracy.
pub const GAIN_ERROR: f64 = 0.4;

/// How an electrode is stitched, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Texture {
    /// Rows of stitches that leave a loop standing at each step.
    LoopPile {
        /// Distance between rows.
        row_spacing_m: f64,
        /// Distance between loops within a row.
        stitch_length_m: f64,
        /// How far a loop stands out.
        loop_height_m: f64,
    },
    /// Flat rows.
    Fill {
        /// Distance between rows.
        row_spacing_m: f64,
    },
}

/// Surface of thread towards the skin, per footprint.
///
/// ```
/// use toile_model::electrode::{Texture, surface_gain};
/// let pile = Texture::LoopPile { row_spacing_m: 1e-3, stitch_length_m: 2e-3, loop_height_m: 1.5e-3 };
/// assert!((surface_gain(pile, 0.25e-3) - 1.963_495).abs() < 1e-6);
/// ```
pub fn surface_gain(texture: Texture, thread_diameter_m: f64) -> f64 {
    let round = PI * thread_diameter_m;
    match texture {
        Texture::LoopPile { row_spacing_m, stitch_length_m, loop_height_m } => {
            round * (2.0 * loop_height_m + stitch_length_m) / (stitch_length_m * row_spacing_m)
        }
        // Rows nearer than the thread is thick lie on each other and turn no more of it outwards.
        Texture::Fill { row_spacing_m } => round / 2.0 / row_spacing_m.max(thread_diameter_m),
    }
}
