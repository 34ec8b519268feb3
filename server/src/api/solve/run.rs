//! A run of two threads joined at every stitch.

use serde::{Deserialize, Serialize};
use toile_model::conduction::{End, Passes, SingleFault, Strand};
use toile_model::{Faults, Inspector};
use utoipa::ToSchema;

use crate::api::number::{PlainBobbinOhmPerM, PlainContactOhm, PlainStitchLengthMm, PlainTopOhmPerM};
use crate::api::read::Readable;

/// Two threads joined by a contact at every penetration, both ends included.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RunQuestion {
    /// Stitches of one pass; one penetration more joins the threads.
    #[schema(minimum = 1, maximum = 100_000)]
    pub stitches: u32,
    /// Length of one stitch.
    pub stitch_length_mm: PlainStitchLengthMm,
    /// Top thread per metre of run.
    pub top_ohm_per_m: PlainTopOhmPerM,
    /// Bobbin thread per metre of run.
    pub bobbin_ohm_per_m: PlainBobbinOhmPerM,
    /// Contact between the threads at one penetration.
    pub contact_ohm: PlainContactOhm,
    /// What the terminals touch, first and last.
    pub ends: RunEnds,
    /// Stitch whose top thread is cut, counted from 1; none where nothing is given.
    #[schema(minimum = 1, maximum = 100_000)]
    pub broken_segment: Option<u32>,
    /// Passes side by side; 1 where nothing is given.
    #[schema(minimum = 1, maximum = 50)]
    pub passes: Option<u32>,
    /// Whether the passes touch at every penetration; true where nothing is given.
    pub passes_joined: Option<bool>,
    /// Whether to answer with the table of single faults; false where nothing is given.
    pub faults: Option<bool>,
}

/// What the first and the last terminal touch.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RunEnds {
    /// Both the top thread.
    TopTop,
    /// The first the top thread, the last the bobbin thread.
    TopBobbin,
    /// The first bonds both threads, the last touches the top thread.
    TiedTop,
    /// The first bonds both threads, the last touches the bobbin thread.
    TiedBobbin,
}

impl From<RunEnds> for [End; 2] {
    fn from(ends: RunEnds) -> Self {
        match ends {
            RunEnds::TopTop => [End::Top, End::Top],
            RunEnds::TopBobbin => [End::Top, End::Bobbin],
            RunEnds::TiedTop => [End::Tied, End::Top],
            RunEnds::TiedBobbin => [End::Tied, End::Bobbin],
        }
    }
}

impl RunQuestion {
    /// The passes, with the stitch of one that is broken, counted from 0.
    ///
    /// # Errors
    /// A broken stitch that the run does not have.
    pub fn to_model(self) -> Result<(Passes, Option<u32>), Faults> {
        let mut inspect = Inspector::new();
        if let Some(segment) = self.broken_segment.filter(|s| *s > self.stitches) {
            let allowed = format!("1 to {}, the stitches of the run", self.stitches);
            inspect.refuse("/broken_segment".into(), segment.to_string(), "The run has no such stitch.", allowed);
        }
        inspect.finish()?;
        let stitch_m = self.stitch_length_mm.0;
        let passes = Passes {
            passes: self.passes.unwrap_or(1),
            joined: self.passes_joined.unwrap_or(true),
            stitches: self.stitches,
            top_ohm: self.top_ohm_per_m.0 * stitch_m,
            bobbin_ohm: Some(self.bobbin_ohm_per_m.0 * stitch_m),
            contact_ohm: self.contact_ohm.0,
            ends: self.ends.into(),
        };
        Ok((passes, self.broken_segment.map(|s| s - 1)))
    }
}

/// Resistance of a run of two threads.
#[derive(Debug, Serialize, ToSchema)]
pub struct RunAnswer {
    /// From terminal to terminal, with the broken stitch where one is named.
    pub resistance_ohm: f64,
    /// Length over which the threads share a current that enters one of them.
    pub transfer_length_mm: f64,
    /// All stitches whole, by the rule "both threads in parallel": as if every joint were perfect.
    pub parallel_rule_ohm: f64,
    /// How much more than the rule the whole run resists.
    pub parallel_rule_error_percent: f64,
    /// What that cannot exceed with both terminals on the top thread: twice the ratio of the threads times the transfer
    /// length over the length.
    pub parallel_rule_bound_percent: f64,
    /// The top thread alone.
    pub top_only_ohm: f64,
    /// Single faults, the one that hurts most first; only where asked for.
    pub faults: Option<Vec<FaultAnswer>>,
}

/// One broken stitch and what it does.
#[derive(Debug, Serialize, ToSchema)]
pub struct FaultAnswer {
    /// The thread that is cut: top or bobbin.
    pub thread: &'static str,
    /// The stitch, counted from 1.
    pub segment: u32,
    /// The run as it is laid; null where it is open.
    pub resistance_ohm: Option<f64>,
    /// The same break in one pass alone; null where it is open.
    pub one_pass_ohm: Option<f64>,
    /// The same break with one pass more.
    pub one_more_pass_ohm: Option<f64>,
}

impl From<&SingleFault> for FaultAnswer {
    fn from(fault: &SingleFault) -> Self {
        Self {
            thread: match fault.strand {
                Strand::Top => "top",
                Strand::Bobbin => "bobbin",
            },
            segment: fault.stitch + 1,
            resistance_ohm: fault.run_ohm,
            one_pass_ohm: fault.one_pass_ohm,
            one_more_pass_ohm: fault.one_more_ohm,
        }
    }
}

impl RunAnswer {
    /// Works out a run.
    pub fn new(question: &RunQuestion, passes: &Passes, broken: Option<u32>) -> Self {
        let ladder = passes.ladder().expect("the question names both threads");
        let whole_ohm = passes.whole_ohm();
        let parallel_rule_ohm = passes.parallel_ohm();
        Self {
            resistance_ohm: broken.and_then(|stitch| passes.broken_ohm(stitch, Strand::Top)).unwrap_or(whole_ohm),
            transfer_length_mm: ladder.transfer_stitches() * question.stitch_length_mm.0 * 1e3,
            parallel_rule_ohm,
            parallel_rule_error_percent: 100.0 * (whole_ohm - parallel_rule_ohm).max(0.0) / parallel_rule_ohm,
            parallel_rule_bound_percent: 100.0 * ladder.parallel_rule_bound(),
            top_only_ohm: f64::from(passes.stitches) * passes.top_ohm / f64::from(passes.passes),
            faults: question.faults.unwrap_or(false).then(|| passes.single_faults().iter().map(Into::into).collect()),
        }
    }
}

impl Readable for RunQuestion {
    const SCHEMA: &'static str = "RunQuestion";
}
