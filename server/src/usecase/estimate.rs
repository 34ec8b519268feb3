//! Estimating one piece, with what every answer shows beside the numbers.

use toile_model::{Change, Estimate, Faults, LIBRARY, Piece, Step, Verdict, estimate, smallest_changes, working};

/// An estimate with what goes with it.
#[derive(Debug)]
pub struct Prepared {
    /// The piece as asked.
    pub piece: Piece,
    /// Its estimate.
    pub estimate: Estimate,
    /// The smallest changes that make it comfortable.
    pub changes: Vec<Change>,
    /// The working, where it was asked for.
    pub working: Option<Vec<Step>>,
}

/// The estimate of a piece alone.
///
/// # Errors
/// Every fault of the piece.
pub fn estimate_create(piece: Piece) -> Result<(Piece, Estimate), Faults> {
    let estimate = estimate(&piece, &LIBRARY)?;
    Ok((piece, estimate))
}

/// Adds the smallest changes and, where it was asked for, the working.
pub fn estimate_complete(piece: Piece, estimate: Estimate, with_working: bool) -> Prepared {
    let changes = smallest_changes(&piece, &LIBRARY, &estimate);
    let working = with_working.then(|| working(&piece, &LIBRARY));
    Prepared { piece, estimate, changes, working }
}

/// Pieces of up to this many pads are estimated in less time than it takes to hand them to another thread.
const QUICK_PADS: usize = 8;

/// Whether the estimate of a piece may be made where it arrives.
pub fn estimate_is_quick(piece: &Piece) -> bool {
    piece.pads.len() <= QUICK_PADS
}

/// Whether what goes with an estimate may be made where it arrives: only a search for changes takes long.
pub fn completion_is_quick(piece: &Piece, estimate: &Estimate) -> bool {
    estimate_is_quick(piece) && estimate.verdict == Verdict::Comfortable
}
