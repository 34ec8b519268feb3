//! A run looked at closely, on the wire: what a broken stitch does, and how fast and how far the run may be used.

use serde::Serialize;
use toile_model::RunReport;
use toile_model::conduction::{SingleFault, Strand};
use toile_model::units::significant;
use utoipa::ToSchema;

use super::answer::DIGITS;

/// One run, looked at closely.
#[derive(Serialize, ToSchema)]
pub struct RunReportAnswer<'a> {
    /// Name of the pad or electrode.
    pad: &'a str,
    /// Its place in the piece.
    pointer: String,
    /// All passes, all stitches whole.
    run_ohm: f64,
    /// Times it is sewn.
    passes: u32,
    /// Single broken stitches, the one that hurts most first.
    faults: Vec<RunFaultAnswer>,
    /// Largest charge frequency at which the touched pad settles as the controller needs; null where nothing slows it, and
    /// for an electrode.
    largest_charge_frequency_khz: Option<f64>,
    /// Longest run that settles in the time given; null where even no run is too slow, or nothing limits it, and for an electrode.
    longest_run_mm: Option<f64>,
}

/// One broken stitch and what it does.
#[derive(Serialize, ToSchema)]
pub struct RunFaultAnswer {
    /// The thread that is cut: top or bobbin.
    thread: &'static str,
    /// The stitch of one pass, counted from 1 at the pad or electrode.
    stitch: u32,
    /// The run as it is laid; null where it is open.
    run_ohm: Option<f64>,
    /// The same break in one pass alone; null where it is open.
    one_pass_ohm: Option<f64>,
    /// The same break with one pass more.
    one_more_pass_ohm: Option<f64>,
}

impl<'a> RunReportAnswer<'a> {
    /// Puts the report of a run on the wire; `name` is that of its pad or electrode.
    pub fn new(report: &RunReport, name: &'a str) -> Self {
        Self {
            pad: name,
            pointer: report.feature.pointer(),
            run_ohm: out(report.run_ohm),
            passes: report.passes,
            faults: report.faults.iter().map(Into::into).collect(),
            largest_charge_frequency_khz: report.largest_charge_frequency_hz.map(|hz| out(hz / 1e3)),
            longest_run_mm: report.longest_run_m.map(|m| out(m * 1e3)),
        }
    }
}

impl From<&SingleFault> for RunFaultAnswer {
    fn from(fault: &SingleFault) -> Self {
        Self {
            thread: match fault.strand {
                Strand::Top => "top",
                Strand::Bobbin => "bobbin",
            },
            stitch: fault.stitch + 1,
            run_ohm: fault.run_ohm.map(out),
            one_pass_ohm: fault.one_pass_ohm.map(out),
            one_more_pass_ohm: fault.one_more_ohm.map(out),
        }
    }
}

fn out(value: f64) -> f64 {
    significant(value, DIGITS)
}
