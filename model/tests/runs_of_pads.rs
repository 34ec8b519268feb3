//! Runs, terminals, ageing and the pad's own resistance in the estimate of a piece.

use toile_model::conduction::{End, Strand, TwoThread};
use toile_model::verdict::CheckKind;
use toile_model::{
    Bobbin, EditValue, Estimate, Feature, LIBRARY, Measured, Piece, TerminalKind, Verdict, estimate, examples, run_reports,
    smallest_changes, working,
};

use crate::reference::close;

fn of(piece: &Piece) -> Estimate {
    estimate(piece, &LIBRARY).expect("a good piece")
}

fn piece_with(edit: impl FnOnce(&mut Piece)) -> Piece {
    let mut piece = examples::round_pad(24.0);
    edit(&mut piece);
    piece
}

fn with(edit: impl FnOnce(&mut Piece)) -> Estimate {
    of(&piece_with(edit))
}

/// One thread known to the digit on both sides, balanced, so that the ladder can be worked out beside it.
fn both_threads(contact_ohm: f64) -> Piece {
    piece_with(|p| {
        let pad = &mut p.pads[0];
        pad.thread.linear_resistance_ohm_per_m = Some(Measured::exact(100.0));
        pad.thread.temperature_coefficient_per_k = Some(Measured::exact(0.0));
        pad.run.bobbin = Bobbin::SameThread;
        pad.run.interlace_fraction = Some(Measured::exact(0.5));
        pad.run.stitch_contact_ohm = Some(Measured::exact(contact_ohm));
        p.stack.sewn_thickness_m = Some(Measured::exact(1e-3));
    })
}

/// 180 mm in 72 stitches of 2.5 mm, each with a leg of 1 mm in both threads.
fn ladder(contact_ohm: f64) -> TwoThread {
    TwoThread { stitches: 72, top_ohm: 0.35, bobbin_ohm: 0.35, contact_ohm }
}

#[test]
fn a_conductive_bobbin_makes_a_ladder() {
    for contact_ohm in [0.0, 0.3, 20.0] {
        let pad = &of(&both_threads(contact_ohm)).pads[0];
        close("run", pad.run_ohm, ladder(contact_ohm).resistance_ohm(End::Top, End::Top) / 2.0, 1e-12);
        close("rule", pad.parallel_ohm, ladder(contact_ohm).parallel_ohm() / 2.0, 1e-12);
        let transfer = pad.transfer_length_m.expect("both threads conduct");
        close("transfer length", transfer + 1.0, ladder(contact_ohm).transfer_stitches() * 2.5e-3 + 1.0, 1e-12);
    }
    assert_eq!(with(|_| ()).pads[0].transfer_length_m, None);
}

#[test]
fn the_contact_of_a_stitch_carries_its_spread() {
    let mut piece = both_threads(0.0);
    piece.pads[0].run.stitch_contact_ohm = None;
    let estimate = of(&piece);
    let check = estimate.checks.iter().find(|c| c.kind == CheckKind::RunResistance).expect("a check of the run");
    let largest = &estimate.inputs[check.shares[0].input];
    assert_eq!(largest.pointer().as_deref(), Some("/pads/0/run/stitch_contact_ohm"));
    // The slope of the ladder, by a step of a whole standard uncertainty to either side: curvature leaves some per cent.
    let c = largest.measured;
    let at = |ohm: f64| ladder(ohm).resistance_ohm(End::Top, End::Top) / 2.0;
    let slope = (at(c.value + c.standard_uncertainty) - at(c.value - c.standard_uncertainty)) / 2.0;
    close("spread", check.standard_uncertainty, slope, 0.1);
    assert!(largest.coupon().contains("cut the top thread"), "{}", largest.coupon());
}

#[test]
fn a_clamp_on_both_threads_resists_less_than_a_board() {
    let kind = |kind| {
        let mut piece = both_threads(5.0);
        piece.pads[0].run.terminal.kind = kind;
        of(&piece).pads[0].run_ohm
    };
    let (board, snap) = (kind(Some(TerminalKind::Board)), kind(Some(TerminalKind::Snap)));
    assert_eq!(kind(None), board);
    assert!(snap < board, "{snap} {board}");
    close("snap", snap, ladder(5.0).resistance_ohm(End::Top, End::Tied) / 2.0, 1e-12);
}

#[test]
fn washing_warmth_and_stretch_raise_the_resistance_with_their_spreads() {
    let new = with(|_| ());
    let washed = with(|p| p.after_washes = 30);
    // 0 to 4 % a wash for silver on polyamide: 1.02^30.
    close("30 washes", washed.pads[0].run_ohm / new.pads[0].run_ohm, 1.02f64.powi(30), 1e-9);
    let spread = |e: &Estimate| e.checks.iter().find(|c| c.kind == CheckKind::RunResistance).expect("a check").standard_uncertainty;
    assert!(spread(&washed) > 2.0 * spread(&new), "{} {}", spread(&washed), spread(&new));
    let growth = washed.inputs.iter().find(|i| i.quantity.field == "growth_per_wash_percent").expect("an input");
    assert!(growth.unmeasured() && !growth.source.is_empty());
    // What does not matter for a new piece at rest is not listed.
    assert!(new.inputs.iter().all(|i| !["growth_per_wash_percent", "stretch_factor"].contains(&i.quantity.field)));
    let steel = |washes| {
        with(|p| {
            p.pads[0].thread.library = Some("steel-150-tex".into());
            p.after_washes = washes;
        })
    };
    close("steel", steel(30).pads[0].run_ohm / steel(0).pads[0].run_ohm, 1.0005f64.powi(30), 1e-9);
    let stretched = with(|p| {
        p.stretch = Some(Measured::exact(0.1));
        p.pads[0].thread.stretch_factor = Some(Measured::exact(2.0));
    });
    close("stretch", stretched.pads[0].run_ohm / new.pads[0].run_ohm, 1.2, 1e-9);
    let warm = with(|p| p.temperature_k = Some(Measured::exact(333.15)));
    assert!(warm.pads[0].run_ohm > new.pads[0].run_ohm);
    // The pad's own thread ages with the run.
    assert!(washed.pads[0].pad_ohm > 1.7 * new.pads[0].pad_ohm);
}

#[test]
fn the_pads_own_resistance_enters_settling() {
    // A resistive thread: some 80 kohm of rows delay a pad whose run is a few stitches of it.
    let resistive = |row_contact: Option<f64>| {
        with(|p| {
            let pad = &mut p.pads[0];
            pad.thread.linear_resistance_ohm_per_m = Some(Measured::exact(1e5));
            pad.run.length_m = Measured::exact(0.01);
            pad.fill.as_mut().expect("rows").row_contact_ohm = row_contact.map(Measured::exact);
            p.controller.charge_time_s = Some(Measured::exact(2e-7));
        })
    };
    let apart = resistive(None);
    let area = std::f64::consts::FRAC_PI_4 * 0.024 * 0.024;
    // 31 rows of 7 stitches and 30 turns, each with a leg of 2 x 0.75 x 3 mm, at 3 degrees over 20; a third of it all.
    let metres = area / 0.8e-3 + 31.0 * 7.0 * 4.5e-3 + 30.0 * (0.8e-3 + 4.5e-3);
    close("apart", apart.pads[0].pad_ohm, 1e5 * (1.0 + 3.0 * 0.00315) * metres / 3.0, 1e-9);
    let joined = resistive(Some(10.0));
    assert!(joined.pads[0].pad_ohm < 0.2 * apart.pads[0].pad_ohm, "{} {}", joined.pads[0].pad_ohm, apart.pads[0].pad_ohm);
    let settled = |e: &Estimate| e.pads[0].settled_fraction;
    assert!(settled(&apart) < settled(&joined) - 0.05, "{} {}", settled(&apart), settled(&joined));
    // Solid cloth spreads the current: a square or two of its sheet resistance.
    let solid = with(|p| {
        p.pads[0].fill = None;
        p.pads[0].sheet_resistance_ohm_sq = Some(Measured::exact(100.0));
    });
    assert!((30.0..100.0).contains(&solid.pads[0].pad_ohm), "{}", solid.pads[0].pad_ohm);
}

#[test]
fn terminals_keep_their_distance_and_take_the_needle() {
    let board = |pitch_mm: f64, hole_mm: f64| {
        piece_with(|p| {
            let terminal = &mut p.pads[0].run.terminal;
            terminal.kind = Some(TerminalKind::Board);
            terminal.pitch_m = Some(Measured::exact(pitch_mm / 1e3));
            terminal.hole_diameter_m = Some(Measured::exact(hole_mm / 1e3));
        })
    };
    let check = |piece: &Piece, kind| of(piece).checks.into_iter().find(|c| c.kind == kind).expect("a check of the terminal");
    let wide = board(5.08, 2.0);
    let free = check(&wide, CheckKind::TerminalPitch);
    // The blade of 0.9 mm is wider than two passes of thread.
    close("free", free.predicted, 4.18e-3, 1e-12);
    assert_eq!((free.verdict, free.feature), (Verdict::Comfortable, Some(Feature::Pad(0))));
    assert_eq!(check(&wide, CheckKind::TerminalHole).verdict, Verdict::Comfortable);
    assert!(free.sentence().contains("neighbouring contacts"), "{}", free.sentence());
    let narrow = board(1.27, 0.9);
    for kind in [CheckKind::TerminalPitch, CheckKind::TerminalHole] {
        assert_eq!(check(&narrow, kind).verdict, Verdict::OutOfReach, "{kind:?}");
    }
    // Each alone is mended by its own change.
    for (piece, what, at_least) in
        [(board(1.27, 2.0), "a wider pitch of the terminal", 1.9e-3), (board(5.08, 0.9), "larger holes of the board", 1.15e-3)]
    {
        let now = of(&piece);
        let changes = smallest_changes(&piece, &LIBRARY, &now);
        let change = changes.iter().find(|c| c.what == what).unwrap_or_else(|| panic!("{what}: {changes:?}"));
        assert_eq!(change.verdict, Verdict::Comfortable, "{}", change.sentence);
        let EditValue::Number(to, _) = change.edits[0].to else { panic!("{change:?}") };
        assert!((at_least..1.3 * at_least).contains(&to.value), "{what}: {}", to.value);
    }
    // Nothing is checked that was not told.
    assert!(with(|_| ()).checks.iter().all(|c| !matches!(c.kind, CheckKind::TerminalPitch | CheckKind::TerminalHole)));
}

#[test]
fn a_report_of_a_run_tells_what_a_break_does() {
    let piece = both_threads(5.0);
    let report = &run_reports(&piece, &LIBRARY)[0];
    let expected = of(&piece);
    close("whole", report.run_ohm, expected.pads[0].run_ohm, 1e-15);
    assert!(report.faults.iter().all(|f| f.run_ohm.is_some_and(|ohm| ohm > report.run_ohm)), "{report:?}");
    assert!(report.faults.iter().any(|f| f.strand == Strand::Bobbin));
    // One pass of a plain bobbin opens; the second pass that is there keeps it closed, and apart it is as one pass less.
    let mut alone = examples::round_pad(24.0);
    alone.pads[0].run.passes_joined = false;
    let report = &run_reports(&alone, &LIBRARY)[0];
    let worst = &report.faults[0];
    assert_eq!(worst.one_pass_ohm, None);
    close("one of two", worst.run_ohm.expect("the other pass"), 2.0 * report.run_ohm, 1e-12);
    close("one of three", worst.one_more_ohm.expect("two passes"), report.run_ohm, 1e-12);
    // Frequency and length where settling ends.
    let mut longest = piece.clone();
    let report = &run_reports(&piece, &LIBRARY)[0];
    longest.pads[0].run.length_m = Measured::exact(report.longest_run_m.expect("a limit"));
    let settled = &of(&longest).pads[0];
    // Whole stitches of the longer run, and the way back of the touch that a longer run changes.
    close("longest", settled.settled_fraction, 0.99, 1e-3);
    let mut quick = piece;
    quick.controller.charge_time_s = Some(Measured::exact(0.5 / report.largest_charge_frequency_hz.expect("a limit")));
    close("quickest", of(&quick).pads[0].settled_fraction, 0.99, 1e-9);
}

#[test]
fn the_ladder_of_the_working_can_be_repeated_by_hand() {
    let mut piece = both_threads(2.0);
    for kind in [None, Some(TerminalKind::Crimp)] {
        piece.pads[0].run.terminal.kind = kind;
        let steps = working(&piece, &LIBRARY);
        let run = steps.iter().find(|s| s.symbol == "R_run").expect("a step of the run");
        let value = |name: &str| run.inputs.iter().find(|i| i.symbol == name).expect("an input of the step").value;
        let (n, r1, r2, c) = (value("N"), value("R1"), value("R2"), value("c"));
        let q = (1.0 + (r1 + r2) / (2.0 * c)).acosh();
        let decay = |m: f64| (-q * m).exp();
        let ends = match kind {
            None => 2.0 * r1 * r1 * (1.0 - decay(n)) / ((1.0 + decay(n + 1.0)) * (q.exp() - 1.0) * (r1 + r2)),
            Some(_) => r1 * r1 * (1.0 - decay(2.0 * n)) / ((1.0 + decay(2.0 * n + 1.0)) * (q.exp() - 1.0) * (r1 + r2)),
        };
        // acosh by hand loses some digits.
        close("R_run", (n * r1 * r2 / (r1 + r2) + ends) / value("passes"), run.result, 1e-9);
        close("R_run", run.result, of(&piece).pads[0].run_ohm, 1e-12);
    }
    let washed = working(&piece_with(|p| p.after_washes = 12), &LIBRARY);
    let used = washed.iter().find(|s| s.symbol == "r_use").expect("a step of the thread");
    assert!(used.formula.contains("washes") && used.note.is_some());
}
