//! A row fill as an anisotropic sheet: for fills that are too large to be solved stitch by stitch.
//!
//! Gives the sheet resistance along and across the rows (ohm in a square) and the resistance between terminals (ohm) with
//! a bound on how far the network of the same fill can be from it.
//! Inputs: as [`RowFill`]; 2 rows or more, contacts not infinite.
//! Assumptions: what conducts across the rows is spread evenly along them, and the turns evenly along the edges. What
//! the corners add, where the thread begins and ends, comes from a small fill of the same thread solved stitch by stitch.
//! Source: own. Cosines across the rows leave one evenly shunted chain along them for each, so that a corner contact is one
//! penetration by itself. The limits that no fill leaves come from Rayleigh's monotony law, a conductor added anywhere
//! lowers the resistance (Rayleigh 1871; Doyle & Snell, Random Walks and Electric Networks, 1984; both from memory): all
//! turns left out, or one at both ends of every row; rows shorted, or cut at every stitch.
//! Accuracy: between first and last penetration the bound is what a small fill of half the size changes, at most the
//! limits. In the fills tried (20 to 900 rows, 12 to 700 stitches, contacts of 1/100 to 250,000 stitches) the network lay
//! inside it; where neighbouring rows share their current over some 30 stitches or more, only the limits are left, which
//! can be a factor of 2 and more apart.
//! Errors: none.
//! Example: 120 rows of 110 stitches of 0.4 ohm, turns of 0.11 ohm, contacts of 1 ohm: 3.7493 ohm from end to end
//! within 0.006 %.

use std::f64::consts::PI;

use super::fill::{FillTerminals, RowFill};

/// A fill as a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FillSheet {
    /// Along the rows, ohm in a square.
    pub along_ohm_sq: f64,
    /// Across the rows, ohm in a square.
    pub across_ohm_sq: f64,
}

/// A resistance with its bound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SheetResistance {
    /// Geometric mean of the two limits, ohm.
    pub ohm: f64,
    /// How far the network can be from it, relative.
    pub relative_error: f64,
}

/// Resistance of a sheet along and across rows `row_spacing_m` apart of stitches of `stitch_length_m`.
pub fn fill_sheet(fill: &RowFill, stitch_length_m: f64, row_spacing_m: f64) -> FillSheet {
    FillSheet {
        along_ohm_sq: fill.stitch_ohm / stitch_length_m * row_spacing_m,
        across_ohm_sq: fill.contact_ohm * stitch_length_m / row_spacing_m,
    }
}

/// Between terminals of a fill of any size, with its bound.
///
/// ```
/// use toile_model::conduction::{FillTerminals, RowFill, sheet_resistance};
/// let fill = RowFill { rows: 120, stitches_per_row: 110, stitch_ohm: 0.4, turn_ohm: 0.11, contact_ohm: 1.0 };
/// let sheet = sheet_resistance(&fill, FillTerminals::Ends);
/// let network = fill.resistance_ohm(FillTerminals::Ends).unwrap();
/// assert!((network / sheet.ohm - 1.0).abs() <= sheet.relative_error && sheet.relative_error < 0.01);
/// ```
pub fn sheet_resistance(fill: &RowFill, terminals: FillTerminals) -> SheetResistance {
    let [least, most] = limits(fill, terminals);
    let between = SheetResistance { ohm: (least * most).sqrt(), relative_error: (most / least).sqrt() - 1.0 };
    if terminals != FillTerminals::Ends || most <= least {
        return between;
    }
    let tried = [longer(fill), larger(fill)];
    let best = tried.into_iter().flatten().min_by(|a, b| a.1.total_cmp(&b.1));
    let Some((ohm, relative_error)) = best else { return between };
    let ohm = ohm.clamp(least, most);
    if relative_error < between.relative_error { SheetResistance { ohm, relative_error } } else { between }
}

/// Rows and stitches of the small fill that shows what corners add.
const TWIN: u32 = 96;

/// Differences of sums over thousands of cosines keep this much.
const ROUNDING: f64 = 1e-9;

/// A fill of short rows: every two rows more add the same, once the ends are far apart. From networks of the same rows.
fn longer(fill: &RowFill) -> Option<(f64, f64)> {
    if fill.stitches_per_row > TWIN {
        return None;
    }
    let with = |rows: u32| RowFill { rows, ..*fill }.resistance_ohm(FillTerminals::Ends);
    if fill.rows <= TWIN {
        return Some((with(fill.rows)?, ROUNDING));
    }
    let rows = TWIN + fill.rows % 2;
    let pairs = |size: u32| f64::from(fill.rows - size) / 2.0;
    let by = |size: u32| Some(with(size)? + pairs(size) * (with(size)? - with(size - 2)?));
    let (ohm, nearer) = (by(rows)?, by(rows - TWIN / 2)?);
    Some((ohm, (ohm - nearer).abs() / ohm + ROUNDING))
}

/// A fill whose neighbouring rows share their current over a few stitches: the sheet and what its corners add.
fn larger(fill: &RowFill) -> Option<(f64, f64)> {
    let shared_over = (0.5 * fill.contact_ohm / fill.stitch_ohm).sqrt();
    if shared_over > 0.25 * f64::from(fill.stitches_per_row.min(TWIN)) {
        return None;
    }
    let (near, far) = (corners(fill, TWIN / 2)?, corners(fill, TWIN)?);
    let ohm = corner_to_corner(fill, edge_siemens(fill)) + far;
    Some((ohm, (far - near).abs() / ohm + ROUNDING))
}

/// What the two corners add to the sheet, ohm: a fill of the same thread with at most `size` rows and stitches, solved as
/// a network, less its sheet.
fn corners(fill: &RowFill, size: u32) -> Option<f64> {
    // An even number of rows stays even, or the thread would end on the other side.
    let rows = if fill.rows > size { size - size % 2 + fill.rows % 2 } else { fill.rows };
    let twin = RowFill { rows, stitches_per_row: fill.stitches_per_row.min(size), ..*fill };
    Some(twin.resistance_ohm(FillTerminals::Ends)? - corner_to_corner(&twin, edge_siemens(&twin)))
}

/// What the turns at one edge add to the contacts of one gap on the average, S.
///
/// A turn shorts every other gap. Rows then shift by turns up and down against an even slope, which dies away along them
/// as `cosh q = 1 + 2 contact conductance/stitch conductance`; the shift takes part of the turn's current back.
fn edge_siemens(fill: &RowFill) -> f64 {
    let (contact, along, turn) = (1.0 / fill.contact_ohm, 1.0 / fill.stitch_ohm, 1.0 / fill.turn_ohm);
    let q = 2.0 * (contact / along).sqrt().asinh();
    let shift = 4.0 * contact - along * (-q).exp_m1();
    0.5 * turn * shift / (shift + 2.0 * turn)
}

/// Resistances that the fill lies between, whatever its size, ohm.
fn limits(fill: &RowFill, terminals: FillTerminals) -> [f64; 2] {
    let gaps = f64::from(fill.rows - 1);
    match terminals {
        FillTerminals::Bars => {
            let exact = f64::from(fill.stitches_per_row) * fill.stitch_ohm / f64::from(fill.rows);
            [exact, exact]
        }
        FillTerminals::Rows => {
            // Rows shorted, and rows cut at every stitch: the two ends of a row then alternate between contact and turn.
            let (contact, turn) = (1.0 / fill.contact_ohm, 1.0 / fill.turn_ohm);
            let shorted = gaps / (f64::from(fill.stitches_per_row + 1) * contact + turn);
            let turns = |first: u32| f64::from((fill.rows - 1 + first) / 2);
            let column = |turns: f64| 1.0 / (turns / (contact + turn) + (gaps - turns) / contact);
            let inner = f64::from(fill.stitches_per_row - 1) * contact / gaps;
            [shorted, 1.0 / (inner + column(turns(1)) + column(turns(0)))]
        }
        FillTerminals::Ends => [corner_to_corner(fill, 1.0 / fill.turn_ohm), corner_to_corner(fill, 0.0).min(fill.thread_ohm())],
    }
}

/// From the first to the last penetration of the fill with `turn` S more between neighbouring rows at both their ends,
/// ohm.
fn corner_to_corner(fill: &RowFill, turn: f64) -> f64 {
    let rows = f64::from(fill.rows);
    let stitches = f64::from(fill.stitches_per_row);
    let along = 1.0 / fill.stitch_ohm;
    // An even number of rows ends where it began, on the left.
    let same_side = fill.rows.is_multiple_of(2);
    let mut ohm = if same_side { 0.0 } else { stitches / along / rows };
    for p in 1..fill.rows {
        let angle = f64::from(p) * PI / (2.0 * rows);
        let across = 4.0 * angle.sin().powi(2);
        let weight = 2.0 / rows * angle.cos().powi(2);
        // Shunt of a station between rows, and at either end.
        let (shunt, end) = (across / fill.contact_ohm, across * (1.0 / fill.contact_ohm + turn));
        let half = (shunt / along).sqrt() / 2.0;
        let q = 2.0 * half.asinh();
        let (fall_inner, fall) = ((-q * (stitches - 1.0)).exp(), (-q * stitches).exp());
        let (less_inner, less) = (-(-q * (stitches - 1.0)).exp_m1(), -(-q * stitches).exp_m1());
        let chain = 2.0 * along * half * (-q / 2.0).exp();
        // Both ends driven alike, and against each other.
        let even = 1.0 / (end + chain * less_inner / (1.0 + fall));
        let odd = 1.0 / (end + chain * (1.0 + fall_inner) / less);
        let odd_row = p % 2 == 1;
        ohm += weight
            * match (same_side, odd_row) {
                (true, true) => 2.0 * (even + odd),
                (true, false) => 0.0,
                (false, true) => 2.0 * even,
                (false, false) => 2.0 * odd,
            };
    }
    ohm
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILL: RowFill = RowFill { rows: 9, stitches_per_row: 7, stitch_ohm: 0.4, turn_ohm: 0.11, contact_ohm: 2.5 };

    #[test]
    fn every_network_lies_between_its_limits() {
        for rows in [2, 3, 8, 15] {
            for stitches_per_row in [1, 2, 9, 20] {
                for contact_ohm in [1e-4, 0.05, 1.0, 40.0, 1e5] {
                    for turn_ohm in [1e-3, 0.11, 3.0] {
                        let fill = RowFill { rows, stitches_per_row, turn_ohm, contact_ohm, ..FILL };
                        for terminals in [FillTerminals::Ends, FillTerminals::Bars, FillTerminals::Rows] {
                            let ohm = fill.resistance_ohm(terminals).expect("a small fill");
                            let [least, most] = limits(&fill, terminals);
                            // Rounding in the last digits.
                            assert!(
                                least <= ohm * (1.0 + 1e-11) && ohm <= most * (1.0 + 1e-11),
                                "{fill:?} {terminals:?}: {least} {ohm} {most}"
                            );
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn large_fills_lie_inside_their_bound() {
        for (rows, stitches_per_row) in [(130, 120), (131, 120), (220, 20), (41, 400), (20, 300), (110, 12)] {
            for contact_ohm in [0.004, 0.1, 1.0, 40.0, 1e3, 1e4] {
                let fill = RowFill { rows, stitches_per_row, contact_ohm, ..FILL };
                let ohm = fill.resistance_ohm(FillTerminals::Ends).expect("not too large");
                let sheet = sheet_resistance(&fill, FillTerminals::Ends);
                let off = (ohm / sheet.ohm - 1.0).abs();
                assert!(off <= sheet.relative_error, "{fill:?}: {ohm} {sheet:?}");
            }
        }
    }
}
