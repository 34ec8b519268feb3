//! Runs of two threads, fills and settling against the reference tables, limits and properties.

use proptest::prelude::*;
use toile_model::conduction::{
    ChargingLine, Edge, EdgeContact, End, FOUR_POINT_SQUARES, FillTerminals, RowFill, Strand, TwoThread, disc_in_square_squares,
    fill_sheet, rectangle_squares, ring_squares, sheet_resistance, two_discs_squares,
};

use crate::reference::{Row, close, drawn, rows};
use crate::tolerances::{FILL, LADDER, LADDER_TIED, SETTLING, SPREADING, SQUARE_WITH_DISC, TABLE_DIGITS};

/// G3: two threads joined at every penetration, by 40-digit ladders; one with its top thread cut in one segment.
#[test]
fn two_threads_joined_at_every_stitch() {
    let mut broken = 0;
    for row in rows("circuit/g3_twothread.csv", 12) {
        let id = row.text("id");
        let stitch_m = row.number("stitch_m");
        let seam = seam_of(&row);
        let [first, last] = ends(row.text("mode"));
        let ohm = match row.optional("broken_segment") {
            Some(segment) => {
                broken += 1;
                // The table counts segments from 1.
                seam.broken_ohm(first, last, segment as u32 - 1, Strand::Top)
            }
            None => seam.resistance_ohm(first, last),
        };
        close(id, ohm, row.number("R_exact_ohm"), if first == End::Tied { LADDER_TIED } else { LADDER });
        close(id, seam.transfer_stitches() * stitch_m, row.number("transfer_length_m"), TABLE_DIGITS);
        close(id, seam.parallel_ohm(), row.number("R_perfect_parallel_ohm"), TABLE_DIGITS);
    }
    assert!(broken >= 1, "{broken} rows with a broken segment");
}

/// The rows of G3 whose first terminal bonds both threads, recomputed with one node for the bond.
#[test]
fn two_threads_bonded_at_the_terminal() {
    let table = rows("circuit/g3_twothread.csv", 12);
    for tied in rows("circuit/g3_tied.csv", 3) {
        let row = table.iter().find(|row| row.text("id") == tied.text("id")).expect("the same case in the table");
        let [first, last] = ends(row.text("mode"));
        close(row.text("id"), seam_of(row).resistance_ohm(first, last), tied.number("R_ideal_tie_ohm"), LADDER);
    }
}

fn seam_of(row: &Row) -> TwoThread {
    let stitch_m = row.number("stitch_m");
    TwoThread {
        stitches: row.number("stitches") as u32,
        top_ohm: row.number("r1_ohm_m") * stitch_m,
        bobbin_ohm: row.number("r2_ohm_m") * stitch_m,
        contact_ohm: row.number("contact_ohm"),
    }
}

fn ends(mode: &str) -> [End; 2] {
    let of = |word| match word {
        "top" => End::Top,
        "bobbin" => End::Bobbin,
        "tied" => End::Tied,
        other => panic!("end {other}"),
    };
    let mut words = mode.split('-');
    [of(words.next().expect("two ends")), of(words.next().expect("two ends"))]
}

/// G4: serpentine fills with contacts between rows, by a sparse nodal solution; every network inside the sheet's bound.
#[test]
fn fills_of_rows() {
    for row in rows("circuit/g4_fill.csv", 6) {
        let id = row.text("id");
        let ohm_per_m = row.number("r_ohm_m");
        let fill = RowFill {
            rows: row.number("rows") as u32,
            stitches_per_row: row.number("stitches_per_row") as u32,
            stitch_ohm: ohm_per_m * row.number("stitch_m"),
            turn_ohm: ohm_per_m * row.number("row_m"),
            contact_ohm: row.number("contact_ohm"),
        };
        let terminals = match row.text("terminals") {
            "ends" => FillTerminals::Ends,
            "left-right-bars" => FillTerminals::Bars,
            "first-last-row" => FillTerminals::Rows,
            other => panic!("{id}: terminals {other}"),
        };
        let ohm = fill.resistance_ohm(terminals).expect("a small fill");
        close(id, ohm, row.number("R_exact_ohm"), FILL);
        if let Some(alone) = row.optional("R_thread_only_ohm") {
            close(id, fill.thread_ohm(), alone, TABLE_DIGITS);
        }
        let sheet = fill_sheet(&fill, row.number("stitch_m"), row.number("row_m"));
        close(id, sheet.along_ohm_sq, row.number("sheet_along_ohm"), TABLE_DIGITS);
        close(id, sheet.across_ohm_sq, row.number("sheet_across_ohm"), TABLE_DIGITS);
        let bounded = sheet_resistance(&fill, terminals);
        assert!((ohm / bounded.ohm - 1.0).abs() <= bounded.relative_error + TABLE_DIGITS, "{id}: {ohm} against {bounded:?}");
    }
}

/// G4: contacts on the edges of a rectangle, by conformal map in 40 digits.
#[test]
fn rectangles_of_sheet() {
    for row in rows("circuit/g4_rect.csv", 13) {
        let id = row.text("id");
        let contact = |edge: &str, from: &str, to: &str| EdgeContact {
            edge: match row.text(edge) {
                "S" => Edge::South,
                "E" => Edge::East,
                "N" => Edge::North,
                "W" => Edge::West,
                other => panic!("{id}: edge {other}"),
            },
            from: row.number(from),
            to: row.number(to),
        };
        let (first, second) = (contact("edge1", "from1", "to1"), contact("edge2", "from2", "to2"));
        let squares = rectangle_squares(row.number("a"), row.number("b"), first, second).expect("contacts apart");
        close(id, squares, row.number("R_over_Rs"), SPREADING);
    }
}

/// G4: rings, discs and a square, closed forms.
#[test]
fn rings_and_discs_of_sheet() {
    for row in rows("circuit/g4_closed.csv", 6) {
        let (id, expected) = (row.text("id"), row.number("R_over_Rs"));
        let squares = match row.text("kind") {
            "annulus" => ring_squares(row.number("a"), row.number("b")),
            "two_discs_infinite" => two_discs_squares(row.number("a1"), row.number("a2"), row.number("d")),
            "square_centre_disc" => disc_in_square_squares(row.number("a"), row.number("side")),
            "vdp_point" => Some(FOUR_POINT_SQUARES),
            other => panic!("{id}: kind {other}"),
        };
        let tolerance = if row.text("kind") == "square_centre_disc" { SQUARE_WITH_DISC } else { SPREADING };
        close(id, squares.expect("contacts apart"), expected, tolerance);
    }
}

/// G5: settling of a distributed line by pole sums in 30 digits.
#[test]
fn charging_a_distributed_line() {
    for row in rows("circuit/g5_rcline.csv", 12) {
        let id = row.text("id");
        let line = ChargingLine {
            source_ohm: row.number("R_source_ohm"),
            run_ohm: row.number("R_total_ohm"),
            run_f: row.number("C_total_F"),
            pad_ohm: 0.0,
            load_f: row.number("C_load_F"),
        };
        let at_sample = line.settling(row.number("sample_time_s"));
        close(id, line.time_to_within_s(0.01), row.number("t_1pct_s"), SETTLING);
        close(id, line.time_to_within_s(0.001), row.number("t_0p1pct_s"), SETTLING);
        close(id, at_sample.reached, row.number("v_far_at_sample"), SETTLING);
        close(id, at_sample.charge_fraction, row.number("charge_fraction_at_sample"), SETTLING);
        close(id, line.elmore_s(), row.number("elmore_s"), TABLE_DIGITS);
    }
}

fn fills() -> impl Strategy<Value = RowFill> {
    (2u32..24, 1u32..24, -2.0..2.0f64, -2.0..1.0f64, -3.0..4.0f64).prop_map(|(rows, stitches_per_row, stitch, turn, contact)| {
        let stitch_ohm = 10f64.powf(stitch);
        RowFill {
            rows,
            stitches_per_row,
            stitch_ohm,
            turn_ohm: stitch_ohm * 10f64.powf(turn),
            contact_ohm: stitch_ohm * 10f64.powf(contact),
        }
    })
}

fn lines() -> impl Strategy<Value = ChargingLine> {
    (-3.0..3.0f64, -3.0..3.0f64, -3.0..3.0f64, any::<bool>()).prop_map(|(source, load, pad, has_pad)| ChargingLine {
        source_ohm: 1e3 * 10f64.powf(source),
        run_ohm: 1e3,
        run_f: 1e-11,
        pad_ohm: if has_pad { 1e3 * 10f64.powf(pad) } else { 0.0 },
        load_f: 1e-11 * 10f64.powf(load),
    })
}

fn seams() -> impl Strategy<Value = TwoThread> {
    (1u32..400, -3.0..3.0f64, -3.0..3.0f64, -5.0..5.0f64).prop_map(|(stitches, top, bobbin, contact)| TwoThread {
        stitches,
        top_ohm: 10f64.powf(top),
        bobbin_ohm: 10f64.powf(bobbin),
        contact_ohm: 10f64.powf(contact),
    })
}

proptest! {
    #![proptest_config(drawn(400))]

    /// Between perfect joints and the top thread alone; falling with better joints and growing with length; the rule
    /// "both in parallel" off by no more than its bound says.
    #[test]
    fn a_second_thread_helps_as_far_as_its_joints_do(seam in seams()) {
        let ohm = seam.resistance_ohm(End::Top, End::Top);
        let alone = f64::from(seam.stitches) * seam.top_ohm;
        // Rounding in the last digits.
        let slack = 1.0 + 1e-12;
        prop_assert!(seam.parallel_ohm() <= ohm * slack && ohm <= alone * slack, "{ohm}");
        prop_assert!(ohm / seam.parallel_ohm() - 1.0 <= seam.parallel_rule_bound() * slack + 1e-12);
        let better = TwoThread { contact_ohm: seam.contact_ohm / 2.0, ..seam };
        let longer = TwoThread { stitches: seam.stitches + 1, ..seam };
        for ends in [[End::Top, End::Top], [End::Top, End::Bobbin], [End::Tied, End::Top]] {
            let ohm = seam.resistance_ohm(ends[0], ends[1]);
            prop_assert!(better.resistance_ohm(ends[0], ends[1]) <= ohm * slack);
            // A terminal on each thread of a short seam with poor contacts gains from one contact more.
            if ends[1] == End::Top {
                prop_assert!(longer.resistance_ohm(ends[0], ends[1]) >= ohm / slack);
            }
            for stitch in [0, seam.stitches / 2, seam.stitches - 1] {
                prop_assert!(seam.broken_ohm(ends[0], ends[1], stitch, Strand::Top) >= ohm / slack);
            }
        }
    }
    /// Better contacts never raise the resistance of a fill, and no contact takes it below its thread.
    #[test]
    fn contacts_between_rows_only_help(fill in fills()) {
        // Rounding in the last digits.
        let slack = 1.0 + 1e-11;
        for terminals in [FillTerminals::Ends, FillTerminals::Bars, FillTerminals::Rows] {
            let ohm = fill.resistance_ohm(terminals).expect("a small fill");
            let better = RowFill { contact_ohm: fill.contact_ohm / 2.0, ..fill };
            prop_assert!(better.resistance_ohm(terminals).expect("a small fill") <= ohm * slack);
        }
        let ohm = fill.resistance_ohm(FillTerminals::Ends).expect("a small fill");
        prop_assert!(ohm <= fill.thread_ohm() * slack);
        let hardly = RowFill { contact_ohm: 1e12 * fill.stitch_ohm, ..fill }.resistance_ohm(FillTerminals::Ends).expect("a small fill");
        // Some 500 contacts of a million million stitches each still carry a little.
        prop_assert!((hardly / fill.thread_ohm() - 1.0).abs() < 1e-5, "{hardly}");
    }

    /// What has charged grows with time and falls with every resistance; the pad is never ahead of the charge drawn.
    #[test]
    fn charging_only_goes_on(line in lines(), at in -1.0..1.0f64) {
        let time_s = line.elmore_s() * 10f64.powf(at);
        let now = line.settling(time_s);
        let later = line.settling(1.1 * time_s);
        // Pole sums end in the last digits of 1.
        let slack = 1e-12;
        prop_assert!(later.reached >= now.reached - slack && later.charge_fraction >= now.charge_fraction - slack);
        prop_assert!(now.reached <= now.charge_fraction + slack, "{now:?}");
        for slower in [
            ChargingLine { source_ohm: 1.2 * line.source_ohm, ..line },
            ChargingLine { run_ohm: 1.2 * line.run_ohm, ..line },
            ChargingLine { pad_ohm: line.pad_ohm + 100.0, ..line },
        ] {
            prop_assert!(slower.settling(time_s).charge_fraction <= now.charge_fraction + slack, "{slower:?}");
        }
    }
}
