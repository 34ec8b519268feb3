//! What a run does when a stitch breaks, and how fast and how far it may be used: asked for separately, because most
//! callers do not read it and it costs a hundred resistances.
//!
//! Ohm, Hz and m at the best estimates, for every pad and electrode of a piece that [`super::estimate`] has accepted. What a
//! break does to a light row stands in its own result, because there it is the lights that count.

use super::electrode::electrode_runs;
use super::pad::PieceChain;
use super::{Feature, Piece};
use crate::conduction::{Passes, SingleFault, largest_charge_frequency_hz, longest_run};
use crate::materials::Library;

/// One run, looked at closely.
#[derive(Debug, Clone, PartialEq)]
pub struct RunReport {
    /// The pad or electrode it belongs to.
    pub feature: Feature,
    /// All passes, all stitches whole, ohm.
    pub run_ohm: f64,
    /// Times it is sewn.
    pub passes: u32,
    /// Single broken stitches, the one that hurts most first.
    pub faults: Vec<SingleFault>,
    /// Largest charge frequency at which the touched pad still settles as the controller needs, Hz; `None` where nothing
    /// slows it, and for an electrode.
    pub largest_charge_frequency_hz: Option<f64>,
    /// Longest run that still settles in the time given, m; `None` where even no run is too slow, or nothing limits it,
    /// and for an electrode.
    pub longest_run_m: Option<f64>,
}

/// Looks closely at every run.
pub fn run_reports(piece: &Piece, library: &Library) -> Vec<RunReport> {
    let chain = PieceChain::new(piece, library);
    let settled = chain.shared.controller.settled_fraction.value;
    // Runs that are alike break alike.
    let mut known: Vec<(Passes, Vec<SingleFault>)> = Vec::new();
    let mut faults = |passes: Passes| {
        if let Some((_, faults)) = known.iter().find(|(alike, _)| *alike == passes) {
            return faults.clone();
        }
        let faults = passes.single_faults();
        known.push((passes, faults.clone()));
        faults
    };
    let mut reports: Vec<RunReport> = Vec::with_capacity(piece.pads.len() + piece.electrodes.len());
    for (pad, worked) in chain.pads().iter().enumerate() {
        let d = &worked.details;
        reports.push(RunReport {
            feature: Feature::Pad(pad),
            run_ohm: d.run.resistance.run_ohm,
            passes: d.passes,
            faults: faults(d.run.resistance.passes),
            largest_charge_frequency_hz: largest_charge_frequency_hz(&d.charging, settled),
            longest_run_m: longest_run(&d.charging, d.charge_time_s, settled).map(|times| times * d.run.length_m),
        });
    }
    for (k, run) in electrode_runs(&chain).into_iter().enumerate() {
        let passes = run.resistance.passes;
        reports.push(RunReport {
            feature: Feature::Electrode(k),
            run_ohm: run.resistance.run_ohm,
            passes: passes.passes,
            faults: faults(passes),
            largest_charge_frequency_hz: None,
            longest_run_m: None,
        });
    }
    reports
}
