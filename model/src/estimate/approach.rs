//! The signal while the finger comes down.

use super::pad::PieceChain;
use super::{Faults, LayerChoice, Piece};
use crate::materials::Library;
use crate::uncertainty::Measured;
use crate::units::COVERAGE_95;

/// Signal with the finger at one distance over the cover.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ApproachPoint {
    /// Air between cover and finger, m.
    pub distance_m: f64,
    /// Change of the pad's capacitance, F.
    pub signal_f: f64,
    /// 95 % interval of the signal, F.
    pub interval_95: (f64, f64),
}

/// Distances that tell the course of a touch: from lying on the cover to a hand's breadth over it, m.
pub const APPROACH_M: [f64; 12] = [0.0, 0.5e-3, 1e-3, 2e-3, 3e-3, 5e-3, 8e-3, 12e-3, 20e-3, 30e-3, 50e-3, 80e-3];

/// Signal on pad `pad` against the distance of the finger over the cover, one point for each of `distances_m` (0 to 1 m).
///
/// The finger stays the flat disc of the touch; a real fingertip is rounded, which shows from some millimetres on.
///
/// # Errors
/// [`Faults`] of the piece.
///
/// # Panics
/// When the piece has no such pad.
pub fn approach_curve(piece: &Piece, library: &Library, pad: usize, distances_m: &[f64]) -> Result<Vec<ApproachPoint>, Faults> {
    piece.check(library)?;
    let mut alone = piece.clone();
    alone.pads = vec![piece.pads[pad].clone()];
    let covers = alone.stack.overlay.len();
    let point = |distance_m: f64| {
        let mut lifted = alone.clone();
        if distance_m > 0.0 {
            lifted.stack.overlay.push(LayerChoice {
                thickness_m: Some(Measured::exact(distance_m)),
                relative_permittivity: Some(Measured::exact(1.0)),
                ..Default::default()
            });
        }
        debug_assert!(lifted.stack.overlay.len() <= covers + 1);
        let chain = PieceChain::new(&lifted, library).pads().remove(0);
        let half = COVERAGE_95 * chain.signal_f.standard_uncertainty();
        let signal_f = chain.signal_f.value;
        ApproachPoint { distance_m, signal_f, interval_95: (signal_f - half, signal_f + half) }
    };
    Ok(distances_m.iter().map(|d| point(*d)).collect())
}
