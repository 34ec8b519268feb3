//! Estimating one piece, with what every answer shows beside the numbers.

use toile_model::electrostatics::Choice;
use toile_model::materials::Library;
use toile_model::{
    APPROACH_M, ApproachPoint, Change, Estimate, Faults, GroundKind, Inspector, Pad, Piece, Run, RunReport, Shape, Step, ThreadChoice,
    Verdict, approach_curve, estimate, run_reports, smallest_changes, working,
};

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
    /// The signal while a finger comes down, where it was asked for.
    pub approach: Option<Vec<Curve>>,
    /// Every run looked at closely, where it was asked for.
    pub runs: Option<Vec<RunReport>>,
}

/// The pads of one kind, and the signal of each while a finger comes down on it.
pub type Curve = (Vec<usize>, Vec<ApproachPoint>);

/// What is wanted beside the estimate itself.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wanted {
    /// The working.
    pub working: bool,
    /// The signal while a finger comes down.
    pub approach: bool,
    /// Every run looked at closely.
    pub runs: bool,
}

/// The estimate of a piece alone.
///
/// # Errors
/// Every fault of the piece.
pub fn estimate_create(piece: Piece, library: &Library) -> Result<(Piece, Estimate), Faults> {
    let estimate = estimate(&piece, library)?;
    Ok((piece, estimate))
}

/// Adds the smallest changes and what was wanted.
///
/// # Errors
/// Curves were wanted of more kinds of pads than [`MOST_CURVES`], or more kinds of runs closely than [`MOST_RUNS`].
pub fn estimate_complete(piece: Piece, estimate: Estimate, library: &Library, wanted: Wanted) -> Result<Prepared, Faults> {
    let approach = if wanted.approach { Some(approach(&piece, library)?) } else { None };
    let changes = smallest_changes(&piece, library, &estimate);
    let working = wanted.working.then(|| working(&piece, library));
    let runs = if wanted.runs { Some(runs(&piece, library)?) } else { None };
    Ok(Prepared { piece, estimate, changes, working, approach, runs })
}

/// Most curves in one answer: each takes as long as a dozen estimates of its pad.
pub const MOST_CURVES: usize = 16;

fn approach(piece: &Piece, library: &Library) -> Result<Vec<Curve>, Faults> {
    let mut kinds: Vec<Vec<usize>> = Vec::new();
    for (k, pad) in piece.pads.iter().enumerate() {
        match kinds.iter_mut().find(|kind| felt_alike(piece, &piece.pads[kind[0]], pad)) {
            Some(kind) => kind.push(k),
            None => kinds.push(vec![k]),
        }
    }
    if kinds.len() > MOST_CURVES {
        let mut inspect = Inspector::new();
        let message = "The course of a touch is worked out for a few kinds of pads at a time.";
        inspect.refuse("/pads".into(), format!("{} kinds of pads", kinds.len()), message, format!("at most {MOST_CURVES} kinds"));
        inspect.finish()?;
    }
    kinds
        .into_iter()
        .map(|kind| {
            let points = approach_curve(piece, library, kind[0], &APPROACH_M)?;
            Ok((kind, points))
        })
        .collect()
}

/// Most kinds of runs that are looked at closely in one answer: a long one takes as long as a thousand estimates.
pub const MOST_RUNS: usize = 16;

fn runs(piece: &Piece, library: &Library) -> Result<Vec<RunReport>, Faults> {
    let of_pads = piece.pads.iter().map(|pad| (&pad.run, &pad.thread));
    let of_electrodes = piece.electrodes.iter().map(|electrode| (&electrode.run, &electrode.thread));
    let mut kinds: Vec<(&Run, &ThreadChoice)> = Vec::new();
    for kind in of_pads.chain(of_electrodes) {
        if !kinds.contains(&kind) {
            kinds.push(kind);
        }
    }
    if kinds.len() > MOST_RUNS {
        let mut inspect = Inspector::new();
        let message = "Runs are looked at closely for a few kinds of runs at a time.";
        let list = if piece.pads.is_empty() { "/electrodes" } else { "/pads" };
        inspect.refuse(list.into(), format!("{} kinds of runs", kinds.len()), message, format!("at most {MOST_RUNS} kinds"));
        inspect.finish()?;
    }
    Ok(run_reports(piece, library))
}

/// Whether a touch of either pad gives the same signal: name, place and turn do not matter, and the run only where it
/// stands over the body that touches.
fn felt_alike(piece: &Piece, a: &Pad, b: &Pad) -> bool {
    let run = piece.stack.ground != GroundKind::Body || a.run == b.run;
    run && a.shape == b.shape && a.fill == b.fill && a.thread == b.thread && a.guard == b.guard
}

/// Pieces of up to this many pads in closed form are estimated in less time than it takes to hand them to another thread.
const QUICK_PADS: usize = 8;

/// Whether the estimate of a piece may be made where it arrives.
pub fn estimate_is_quick(piece: &Piece) -> bool {
    let plain = |pad: &Pad| !matches!(pad.shape, Shape::Polygon { .. });
    piece.aim.choice == Choice::ClosedForm
        && piece.pads.len() <= QUICK_PADS
        && piece.pads.iter().all(plain)
        && piece.electrodes.is_empty()
        && piece.light_rows.is_empty()
        && piece.laid_wires.is_empty()
}

/// Whether what goes with an estimate may be made where it arrives: the search for changes takes long, and so do curves.
pub fn completion_is_quick(piece: &Piece, estimate: &Estimate, wanted: Wanted) -> bool {
    estimate_is_quick(piece) && estimate.verdict == Verdict::Comfortable && !wanted.approach && !wanted.runs
}
