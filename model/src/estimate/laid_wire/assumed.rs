//! What is assumed of laid wires where a piece says nothing: each with spread, source and status, and shown with every answer.

use crate::materials::{Known, Status};
use crate::uncertainty::Measured;
use crate::units;

/// From the side of what is laid to the middle of the needle.
pub(super) static CLEARANCE: Known = Known::new(
    &units::NEEDLE_CLEARANCE,
    Measured::uniform(0.5, 0.8),
    "as programmed over a straight wire; no source",
    Status::CommonPractice,
);

/// Advance of the zigzag.
pub(super) static ADVANCE: Known =
    Known::new(&units::ADVANCE, Measured::exact(4.0), "usual over a wire that lies flat by itself; no source", Status::CommonPractice);

/// Smallest bend radius in outer diameters.
pub(super) const BENDS: [f64; 2] = [4.0, 6.0];

/// Smallest bend radius of what is `outer_m` thick.
pub(super) fn bend_radius(outer_m: f64) -> Known {
    Known {
        measured: Measured::uniform(BENDS[0] * outer_m, BENDS[1] * outer_m),
        source: "4 to 6 outer diameters; no source, the maker of wire or tube knows better",
        status: Status::CommonPractice,
    }
}
