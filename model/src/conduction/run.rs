//! Resistance of a stitched run: one thread or two, one pass or several.
//!
//! Gives the resistance from end to end (ohm) of a run whose top thread conducts, alone or with a conductive bobbin
//! thread that it meets at every penetration.
//! Inputs: thread of one pass in m and stitches as [`super::stitching()`] counts them; linear resistance in use, ohm/m,
//! from [`super::in_use`]; contact at a penetration, ohm, 0 or more; 1 pass or more.
//! Assumptions: all passes alike and joined to each other at both ends of the run. Whether they also touch on the way
//! changes nothing while all are whole: equal passes lie at equal potentials everywhere (see [`super::Passes`] for broken
//! ones). The three strands that a back stitch lays over each step count as joined in every hole when the bobbin
//! conducts; with a plain bobbin they count as one thread laid three times, which is the safe side.
//! Source: Ohm's law; the ladder of [`super::TwoThread`].
//! Accuracy: exact for the stated joints; neighbouring zigzags of a satin column touch, which lowers the resistance.
//! Errors: none.
//! Example: 255.44 mm of thread of 100 ohm/m, 2 passes, plain bobbin: 12.772 ohm.

use super::passes::Passes;
use super::two_thread::End;

/// One pass as it is sewn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SewnPass {
    /// Stitches.
    pub stitches: u32,
    /// Stitches that lie over each step of the line: 1, or 3 for a back stitch.
    pub strands: u32,
    /// Top thread, m.
    pub top_thread_m: f64,
    /// Bobbin thread, m, where it is the same conductor; `None` for plain thread.
    pub bobbin_thread_m: Option<f64>,
}

/// Resistance of a run and its parts, ohm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunResistance {
    /// All passes together.
    pub run_ohm: f64,
    /// Top thread of one pass.
    pub top_ohm: f64,
    /// Bobbin thread of one pass; `None` for a plain bobbin.
    pub bobbin_ohm: Option<f64>,
    /// All passes with perfect joints at all penetrations: the rule "both threads in parallel".
    pub parallel_ohm: f64,
    /// The passes, for what happens when one breaks.
    pub passes: Passes,
}

/// Resistance from end to end of `passes` equal passes.
///
/// ```
/// use toile_model::conduction::{End, SewnPass, run_resistance};
/// let pass = SewnPass { stitches: 57, strands: 1, top_thread_m: 0.25544, bobbin_thread_m: None };
/// assert!((run_resistance(&pass, 100.0, 1.0, [End::Top; 2], 2).run_ohm - 12.772).abs() < 1e-12);
/// // The same line with the same thread on the bobbin, of which 203 mm lie below: the ladder of both.
/// let both = run_resistance(&SewnPass { bobbin_thread_m: Some(0.203), ..pass }, 100.0, 1.0, [End::Top; 2], 2);
/// assert!(both.parallel_ohm < both.run_ohm && both.run_ohm < 12.772);
/// ```
pub fn run_resistance(pass: &SewnPass, ohm_per_m: f64, contact_ohm: f64, ends: [End; 2], passes: u32) -> RunResistance {
    let top_ohm = ohm_per_m * pass.top_thread_m;
    let bobbin_ohm = pass.bobbin_thread_m.map(|thread_m| ohm_per_m * thread_m);
    let passes = Passes { passes, ends, ..Passes::one(pass, top_ohm, bobbin_ohm, contact_ohm) };
    RunResistance { run_ohm: passes.whole_ohm(), top_ohm, bobbin_ohm, parallel_ohm: passes.parallel_ohm(), passes }
}
