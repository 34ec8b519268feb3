//! Output of a machine by the trade's formula.

/// Pieces an hour: `60 speed heads / (stitches + set-up stitches)`, the stops counted as the stitches that could have been
/// sewn meanwhile.
///
/// - `stitches_per_min` above 0, `heads` 1 or more;
/// - `stitches` and `set_up_stitches` of one piece, 0 or more, not both 0.
///
/// Assumptions: all heads sew alike and stop together; one piece on each head at a time. Source: embroidery-trade article
/// on pieces per hour. Accuracy: exact for the stated times; against the article's example within its three digits.
///
/// Example (the article's): 800 stitches a minute, one head, 10000 stitches and 4000 for the stops: 3.43 pieces an hour.
///
/// ```
/// assert!((toile_model::production::pieces_per_hour(800.0, 1.0, 10_000.0, 4000.0) - 3.43).abs() < 0.005);
/// ```
pub fn pieces_per_hour(stitches_per_min: f64, heads: f64, stitches: f64, set_up_stitches: f64) -> f64 {
    60.0 * stitches_per_min * heads / (stitches + set_up_stitches)
}
