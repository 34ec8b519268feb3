//! What was measured stays true: the bounds of the closed forms on cases drawn anew, and the document of accuracy.

use crate::accuracy::{document, without_times};
use crate::trade::{Draws, KINDS, MAPS, trials};

/// A bound is made for the worst of its cell, so most cases lie well inside, but half of them not by more than this.
const HALF_WITHIN: f64 = 60.0;

#[test]
fn bounds_of_the_closed_forms_hold_on_cases_drawn_anew() {
    // Other cases than those that the bounds were made from.
    let mut draws = Draws(4_711);
    let (mut seen, mut outside, mut maps) = (0, Vec::new(), Vec::new());
    for (kind, _, cases) in KINDS {
        let mut ratios = Vec::new();
        for trial in (0..cases).flat_map(|_| trials(kind, &mut draws)) {
            seen += 1;
            maps.push(trial.map);
            // No error is known better than to 1e-5; a bound over 1 says that the value is none.
            if trial.stated < 1.0 {
                ratios.push(trial.stated / trial.error.max(1e-5));
            }
            if trial.error > trial.stated {
                outside.push(trial);
            }
        }
        ratios.sort_by(f64::total_cmp);
        let half = ratios.get(ratios.len() / 2).copied().unwrap_or_default();
        assert!(half < HALF_WITHIN, "{kind:?}: half of the bounds are {half} times too wide");
    }
    assert!(seen > 600, "{seen} trials");
    assert!(outside.len() * 100 <= seen, "{} of {seen}: {outside:#?}", outside.len());
    for map in maps {
        assert!(MAPS.iter().any(|axes| axes.name == map), "{map} has no knots");
    }
}

#[test]
fn the_document_of_accuracy_is_in_step() {
    let written = include_str!("../ACCURACY.md");
    let now = document(false);
    assert_eq!(without_times(written), without_times(&now), "cargo run --release -p toile-model --example accuracy");
}
