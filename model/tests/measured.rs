//! What was measured stays true: the bounds of the closed forms on cases drawn anew, and the document of accuracy.

use crate::accuracy::{document, without_times};
use crate::trade::{Draws, KINDS, MAPS, trials};

/// Cases of each kind. Rows and threads near others take the field longest.
const CASES: usize = 80;

#[test]
fn bounds_of_the_closed_forms_hold_on_cases_drawn_anew() {
    // Other cases than those that the bounds were made from.
    let mut draws = Draws(4_711);
    let (mut seen, mut outside) = (0, Vec::new());
    for (kind, _) in KINDS {
        for _ in 0..CASES {
            for trial in trials(kind, &mut draws) {
                seen += 1;
                if trial.error > trial.stated {
                    outside.push(trial);
                }
            }
        }
    }
    assert!(seen > 9 * CASES, "{seen} trials");
    assert!(outside.len() * 100 <= seen, "{} of {seen}: {outside:#?}", outside.len());
}

#[test]
fn bounds_are_not_much_wider_than_what_they_bound() {
    // A bound is made for the worst of its cell, so most cases lie well inside, but half of them not by more than this.
    const HALF_WITHIN: f64 = 25.0;
    let mut draws = Draws(815);
    for (kind, _) in KINDS {
        let mut ratios: Vec<f64> =
            (0..CASES).flat_map(|_| trials(kind, &mut draws)).map(|trial| trial.stated / trial.error.max(1e-5)).collect();
        ratios.sort_by(f64::total_cmp);
        assert!(ratios[ratios.len() / 2] < HALF_WITHIN, "{kind:?}: {}", ratios[ratios.len() / 2]);
    }
}

#[test]
fn every_map_is_measured() {
    let mut draws = Draws(99);
    let mut measured: Vec<&str> =
        KINDS.iter().flat_map(|(kind, _)| (0..CASES).flat_map(|_| trials(*kind, &mut draws)).collect::<Vec<_>>()).map(|t| t.map).collect();
    measured.sort_unstable();
    measured.dedup();
    let mut named: Vec<&str> = MAPS.iter().map(|axes| axes.name).collect();
    named.sort_unstable();
    assert_eq!(measured, named);
}

#[test]
fn the_document_of_accuracy_is_in_step() {
    let written = include_str!("../ACCURACY.md");
    let now = document(false);
    assert_eq!(without_times(written), without_times(&now), "cargo run --release -p toile-model --example accuracy");
}
