//! Measures the closed forms against the field over the trade's range and writes their bounds,
//! `src/electrostatics/closed_form/measured.rs`:
//!
//! `cargo run --release -p toile-model --example closed_form_map`
//!
//! The sample is drawn from a fixed seed. A cell of a map takes the worst of its cases, or their 99.5th percentile where
//! single cases are far off, times [`MARGIN`]; a cell with fewer than [`ENOUGH`] cases takes the largest of its neighbours' too. A
//! knot takes the largest of the cells that meet there.

#[path = "../tests/trade.rs"]
mod trade;

use std::collections::BTreeMap;
use std::fmt::Write;
use trade::{Axes, Draws, KINDS, MAPS, Trial, trials};

/// A bound over what was measured in its cell.
const MARGIN: f64 = 1.2;

/// Cases that a cell needs to speak for itself; half of a cell's due where a map has few.
const ENOUGH: usize = 40;

/// No bound is smaller: what the tables of weights in the closed forms are rounded to, with a margin.
const LEAST: f64 = 1e-5;

/// Larger errors are no errors any more but another answer.
const MOST: f64 = 1e3;

const SEED: u64 = 20_261_125;

fn main() {
    let mut measured: BTreeMap<&str, Vec<Trial>> = BTreeMap::new();
    for (kind, cases, _) in KINDS {
        let started = std::time::Instant::now();
        let mut draws = Draws(SEED);
        let mut slowest: f64 = 0.0;
        for _ in 0..cases {
            let begun = std::time::Instant::now();
            for trial in trials(kind, &mut draws) {
                measured.entry(trial.map).or_default().push(trial);
            }
            slowest = slowest.max(begun.elapsed().as_secs_f64());
        }
        println!("{kind:?}: {cases} cases in {:.1} s, the slowest {slowest:.2} s", started.elapsed().as_secs_f64());
    }
    let mut text = String::from(
        "//! Bounds of the closed forms, measured against the field. Written by `examples/closed_form_map.rs`, which says how;\n\
         //! not to be edited by hand.\n\nuse super::map::Map;\n",
    );
    for axes in MAPS {
        let trials = measured.get(axes.name).map_or(&[][..], Vec::as_slice);
        let bounds = knots(axes, trials);
        write(&mut text, axes, trials, &bounds);
        summary(axes, trials, &bounds);
    }
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/electrostatics/closed_form/measured.rs");
    std::fs::write(path, text).expect("the source can be written");
}

fn cell(knots: &[f64], number: f64) -> usize {
    knots[1..knots.len() - 1].iter().take_while(|knot| number >= **knot).count()
}

/// The bound at every knot.
fn knots(axes: &Axes, trials: &[Trial]) -> Vec<f64> {
    let (columns, rows) = (axes.y.len() - 1, axes.x.len() - 1);
    let mut errors = vec![Vec::new(); rows * columns];
    for trial in trials {
        errors[cell(axes.x, trial.x) * columns + cell(axes.y, trial.y)].push(trial.error);
    }
    let enough = ENOUGH.min(trials.len() / (2 * rows * columns)).max(5);
    let mut cells: Vec<Option<f64>> = errors.iter_mut().map(|errors| bound(errors, axes.part)).collect();
    let around = |i: usize, j: usize| {
        let (x, y) = (i.saturating_sub(1)..(i + 2).min(rows), j.saturating_sub(1)..(j + 2).min(columns));
        x.flat_map(move |x| y.clone().map(move |y| x * columns + y))
    };
    // Cells that cannot speak for themselves, outwards from those that can.
    while cells.iter().any(Option::is_none) || errors.iter().any(|errors| errors.len() < enough) {
        let before = cells.clone();
        let mut filled = false;
        for i in 0..rows {
            for j in 0..columns {
                let here = i * columns + j;
                if errors[here].len() < enough {
                    cells[here] = around(i, j).filter_map(|cell| before[cell]).reduce(f64::max);
                    filled |= before[here].is_none() && cells[here].is_some();
                }
            }
        }
        if !filled {
            break;
        }
    }
    let mut bounds = Vec::new();
    for x in 0..=rows {
        for y in 0..=columns {
            let meeting =
                (x.saturating_sub(1)..(x + 1).min(rows)).flat_map(|i| (y.saturating_sub(1)..(y + 1).min(columns)).map(move |j| (i, j)));
            bounds.push(meeting.filter_map(|(i, j)| cells[i * columns + j]).fold(LEAST, f64::max));
        }
    }
    bounds
}

fn bound(errors: &mut [f64], part: f64) -> Option<f64> {
    errors.sort_by(f64::total_cmp);
    let at = ((part * errors.len() as f64).ceil() as usize).checked_sub(1)?;
    Some((MARGIN * errors[at]).clamp(LEAST, MOST))
}

fn write(text: &mut String, axes: &Axes, trials: &[Trial], bounds: &[f64]) {
    writeln!(text, "\n/// By {}: {} cases.", axes.numbers, trials.len()).expect("text");
    writeln!(text, "#[rustfmt::skip]\npub(super) static {}: Map = Map {{", axes.name).expect("text");
    let list = |numbers: &[f64]| numbers.iter().map(|n| format!("{n:?}")).collect::<Vec<_>>().join(", ");
    writeln!(text, "    x: &[{}],\n    y: &[{}],\n    bounds: &[", list(axes.x), list(axes.y)).expect("text");
    for row in bounds.chunks(axes.y.len()) {
        // Rounded up to three digits.
        let digits: Vec<String> = row.iter().map(|b| format!("{:.2e}", b * 1.005)).collect();
        writeln!(text, "        {},", digits.join(", ")).expect("text");
    }
    text.push_str("    ],\n};\n");
}

fn summary(axes: &Axes, trials: &[Trial], bounds: &[f64]) {
    let mut errors: Vec<f64> = trials.iter().map(|t| t.error).collect();
    errors.sort_by(f64::total_cmp);
    let at = |part: f64| errors.get((part * errors.len() as f64) as usize).copied().unwrap_or(f64::NAN);
    let mut sorted = bounds.to_vec();
    sorted.sort_by(f64::total_cmp);
    let inside = trials.iter().filter(|t| t.error <= t.stated).count();
    println!(
        "{:32} {:6} cases, error: median {:.4} 99 % {:.4} worst {:.4}; bounds {:.4} to {:.4}; inside those stated now {:.2} %",
        axes.name,
        trials.len(),
        at(0.5),
        at(0.99),
        errors.last().copied().unwrap_or(f64::NAN),
        sorted[0],
        sorted[sorted.len() - 1],
        100.0 * inside as f64 / trials.len().max(1) as f64,
    );
}
