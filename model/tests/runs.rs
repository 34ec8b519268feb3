//! Runs of two threads, fills and settling against the reference tables, limits and properties.

use proptest::prelude::*;
use toile_model::conduction::{End, Strand, TwoThread};

use crate::reference::{Row, close, drawn, rows};
use crate::tolerances::{LADDER, LADDER_TIED, TABLE_DIGITS};

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
}
