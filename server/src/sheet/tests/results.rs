//! What the result columns hold, and that it is what the model says.

use super::*;
use toile_model::units::{self, significant};
use toile_model::{Bobbin, Estimate, GroundKind, Held, Measured, Piece, Shape, Stitch, TouchCase, cautions, estimate, examples};

/// The result cells as JSON would print them.
fn expected(piece: &Piece) -> Vec<String> {
    let e: Estimate = estimate(piece, &LIBRARY).unwrap();
    let pad = &e.pads[0];
    let made = e.production.as_ref().unwrap();
    let number = |edge: f64| serde_json::to_string(&significant(edge, 6)).unwrap();
    let of_pad = [
        e.verdict.word().into(),
        number(e.chance),
        number(units::NEEDED_SIGNAL.from_si(pad.signal_f)),
        number(units::MAX_STANDING.from_si(pad.standing_f)),
        number(pad.run_ohm),
        number(units::SETTLED.from_si(pad.settled_fraction)),
        number(units::CAPACITANCE.from_si(pad.pad_f)),
        number(units::CAPACITANCE.from_si(pad.closed_form_f)),
        number(100.0 * pad.relative_error),
    ];
    // What belongs to light rows, laid wires and electrodes.
    let of_others = vec![String::new(); 15];
    let made = [
        number(made.job.stitches()),
        number(made.job.threads.iter().map(|t| t.needle_m.value + t.bobbin_m.value).sum()),
        number(made.costing().machine_s.0 / 60.0),
        made.sample.quote.unit_price.to_string(),
        made.costing().quote.unit_price.to_string(),
        made.costing().unit_interval[0].to_string(),
        made.costing().unit_interval[1].to_string(),
        made.costing().quote.total.to_string(),
        "EUR".into(),
        e.checks[e.weakest].sentence(),
        cautions(piece).iter().map(|caution| caution.subject).collect::<Vec<_>>().join("; "),
        String::new(),
    ];
    [&of_pad[..], &of_others, &made].concat()
}

#[test]
fn a_row_gives_what_the_piece_gives_to_the_last_digit() {
    // The example's layers have spreads of a tenth, and two passes over 180 mm.
    let row = changed(&[("base_1_thickness_mm", "3 ± 0.3"), ("overlay_1_thickness_mm", "1.2 ± 0.12")]);
    assert_eq!(results(row), expected(&examples::round_pad(24.0)));
}

#[test]
fn every_column_reaches_its_place_in_the_piece() {
    let header: Vec<String> = COLUMNS.iter().flat_map(|c| (0..c.layers()).map(|k| c.name_of(k))).collect();
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    let parsed = Header::read(&header).unwrap();
    let piece = |cells: &[(&str, &str)]| {
        let row: Vec<&str> = header.iter().map(|h| cells.iter().find(|(c, _)| c == h).map_or("", |(_, v)| v)).collect();
        row_to_piece(&parsed, &row, Mark::Point, &LIBRARY)
    };
    let needed =
        [("base_1", "denim"), ("diameter_mm", "20"), ("thread", "steel-90-tex"), ("run_length_mm", "100"), ("controller", "quick-input")];
    let plain = piece(&needed).unwrap();
    let mm = |v: f64| Measured::exact(v / 1e3);
    assert_eq!((plain.stack.ground, plain.touch.case, plain.pads[0].run.passes), (GroundKind::Sheet, TouchCase::Battery, 1));
    assert_eq!(plain.pads[0].run.stitch, None);
    assert_eq!((plain.pads[0].run.bobbin, plain.machine.needles, plain.pads[0].fill.as_ref()), (Bobbin::Plain, 12, None));

    // Each column alone must change the piece, and only by its own value.
    let shapes = ["shape", "diameter_mm", "width_mm", "length_mm", "corner_radius_mm", "inner_diameter_mm", "outer_diameter_mm"];
    let beside = [
        "fill_stitch_length_mm",
        "column_width_mm",
        "density_mm",
        "guard_gap_mm",
        "guard_width_mm",
        "guard_held",
        "currency",
        "exchange_rate",
    ];
    let with_others = ["row_contact_ohm", "stitch_contact_ohm", "terminal_hole_mm"];
    let beside = [&beside[..], &with_others].concat();
    let of_pads = |c: &&Column| {
        c.name != "feature" && !["/light_rows", "/laid_wires", "/electrodes"].iter().any(|other| c.pointer.starts_with(other))
    };
    for column in COLUMNS.iter().filter(of_pads).filter(|c| !shapes.contains(&c.name) && !beside.contains(&c.name)) {
        for layer in 0..column.layers() {
            let name = column.name_of(layer);
            let value = match (name.as_str(), column.quantity(), column.words().last()) {
                ("base_1", ..) => "cork",
                ("thread", ..) => "steel-150-tex",
                ("controller", ..) => "long-wire-input",
                // Satin asks for more columns; it has its own line below.
                ("stitch", ..) => "back",
                (_, Some(q), _) => &format!("{}", q.high),
                (_, _, Some(word)) => word,
                (n, ..) if n.contains('_') => "leather",
                _ => "some name",
            };
            let mut cells: Vec<(&str, &str)> = needed.iter().filter(|(c, _)| *c != name).copied().collect();
            cells.push((&name, value));
            // A layer's number alone needs its entry beside it.
            let end = ["_thickness", "_permittivity", "_water"].iter().filter_map(|part| name.find(part)).min();
            let entry = name[..end.unwrap_or(name.len())].to_owned();
            if entry != name && column.layers() > 1 && entry != "base_1" {
                cells.push((&entry, "leather"));
            }
            let other = piece(&cells).unwrap_or_else(|f| panic!("{name} = {value}: {f:?}"));
            assert_ne!(other, plain, "{name} = {value}");
        }
    }
    let with = |more: &[(&str, &str)]| piece(&[&needed[..1], &needed[2..], more].concat()).unwrap().pads.remove(0);
    assert_eq!(
        with(&[("width_mm", "20"), ("length_mm", "30")]).shape,
        Shape::Rectangle { width_m: mm(20.0), length_m: mm(30.0), corner_radius_m: mm(0.0) }
    );
    assert_eq!(
        with(&[("shape", "Rectangle"), ("width_mm", "20"), ("length_mm", "30"), ("corner_radius_mm", "2")]).shape,
        Shape::Rectangle { width_m: mm(20.0), length_m: mm(30.0), corner_radius_m: mm(2.0) }
    );
    assert_eq!(
        with(&[("inner_diameter_mm", "20"), ("outer_diameter_mm", "30")]).shape,
        Shape::Ring { inner_diameter_m: mm(20.0), outer_diameter_m: mm(30.0) }
    );
    let satin = with(&[("diameter_mm", "20"), ("stitch", "satin"), ("column_width_mm", "2"), ("density_mm", "0.5")]);
    assert_eq!(satin.run.stitch, Some(Stitch::Satin { column_width_m: mm(2.0), density_m: mm(0.5) }));
    let guarded =
        with(&[("diameter_mm", "20"), ("guard_gap_mm", "2"), ("guard_width_mm", "3 ± 0.2"), ("guard_held", "driven")]).guard.unwrap();
    let band = Measured::normal(3.0, 0.2).rescaled(0.0, 1e3);
    assert_eq!((guarded.gap_m, guarded.width_m, guarded.held), (mm(2.0), band, Held::Driven));
    let abroad = piece(&[&needed[..], &[("currency", "sek"), ("exchange_rate", "11.5")]].concat()).unwrap().production;
    assert_eq!((abroad.currency.as_deref(), abroad.exchange_rate.unwrap().to_string()), (Some("SEK"), "11.5".into()));
    let filled = with(&[("diameter_mm", "20"), ("row_spacing_mm", "0.8"), ("fill_stitch_length_mm", "2")]).fill.unwrap();
    assert_eq!((filled.row_spacing_m, filled.stitch_length_m), (mm(0.8), mm(2.0)));
    let touching = with(&[("diameter_mm", "20"), ("row_spacing_mm", "0.3"), ("row_contact_ohm", "1 to 5")]).fill.unwrap();
    assert_eq!(touching.row_contact_ohm, Some(Measured::uniform(1.0, 5.0)));
    let both = with(&[("diameter_mm", "20"), ("bobbin", "same"), ("stitch_contact_ohm", "0.3")]).run;
    assert_eq!((both.bobbin, both.stitch_contact_ohm), (Bobbin::SameThread, Some(Measured::exact(0.3))));
    let board = with(&[("diameter_mm", "20"), ("terminal", "board"), ("terminal_pitch_mm", "5"), ("terminal_hole_mm", "2")]).run.terminal;
    assert_eq!((board.pitch_m, board.hole_diameter_m), (Some(mm(5.0)), Some(mm(2.0))));
    let contact_alone = piece(&[&needed[..], &[("row_contact_ohm", "3")]].concat()).unwrap_err();
    assert_eq!(contact_alone[0].column, "row_contact_ohm");
}

#[test]
fn the_examples_of_the_table_make_a_row_that_is_answered() {
    let columns: Vec<_> = COLUMNS.iter().filter(|c| !c.example.is_empty()).collect();
    let header: Vec<String> = columns.iter().map(|c| c.name_of(0)).collect();
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    let row: Vec<&str> = columns.iter().map(|c| c.example).collect();
    let (_, summary) = answered(sheet(&header, &[&row]));
    assert_eq!((summary.rows, summary.problems), (1, 0));
}

#[test]
fn units_spreads_and_names_as_people_write_them() {
    let plain = results(good_sheet());
    for same in [
        [("diameter_mm", "2.4 cm"), ("run_length_mm", "0.18 m")],
        [("diameter_mm", "24 mm"), ("base_1", "Wool felt, soft")],
        [("thread", "SILVER polyamide 40 tex"), ("controller", "Patient Input")],
        [("passes", "2.0"), ("ground", "sheet")],
        [("touch_case", "Battery"), ("bobbin", "plain")],
        [("stitch_length_mm", "2.5"), ("stitch", "running stitch")],
        [("fill_stitch_length_mm", "3"), ("shape", "circle")],
        [("pad", "another name"), ("needles", "12")],
        [("temperature_c", "23"), ("customer", "Bellweather Library")],
        [("temperature_c", "296.15 K"), ("settled_percent", "")],
    ] {
        assert_eq!(results(changed(&same)), plain, "{same:?}");
    }
    for other in [("diameter_mm", "24 ± 6"), ("diameter_mm", "18 to 30"), ("ground", "none"), ("bobbin", "same thread")] {
        let cells = results(changed(&[other]));
        assert_ne!(cells, plain, "{other:?}");
        assert_eq!(cells[PROBLEM], "", "{other:?}");
    }
    let in_header = good_sheet()
        .replace("diameter_mm", "Ø pad [cm]")
        .replace(",24,", ",2.4,")
        .replace("run_length_mm", "Run Length (m)")
        .replace(",180,", ",0.18,");
    assert_eq!(results(in_header), plain);
}

#[test]
fn layers_may_leave_gaps_and_keep_their_headers() {
    let two = results(changed(&[("base_2", "denim"), ("base_3", "")]));
    let gap = results(changed(&[("base_2", ""), ("base_3", "denim")]));
    assert_eq!(two, gap);
    let faulty = results(changed(&[("base_2", ""), ("base_3", "denim"), ("base_3_thickness_mm", "900")]));
    assert!(
        faulty[PROBLEM].starts_with("base_3_thickness_mm: The thickness is outside the allowed range. Given: 900."),
        "{}",
        faulty[PROBLEM]
    );
}

#[test]
fn an_answered_sheet_is_answered_again_in_place() {
    let (once, _) = answered(good_sheet());
    let (twice, summary) = answered(&once);
    assert_eq!(twice, once);
    assert!(summary.columns.iter().any(|c| c.understood == Understood::Result("signal_pf")));

    // Stale results, some columns gone, others moved to the front.
    let mut header = vec!["problem", "Signal_pF"];
    header.extend(COLUMNS_USED);
    let mut row = vec!["old, \"stale\"", "99"];
    row.extend(GOOD_ROW);
    let (out, _) = answered(sheet(&header, &[&row]));
    let table = Table::of(&out, b',');
    let fresh = results(good_sheet());
    assert_eq!((table.rows[0][0].as_str(), table.rows[0][1].as_str()), ("", fresh[2].as_str()));
    let added: Vec<&str> = RESULT_COLUMNS.into_iter().filter(|name| !["problem", "signal_pf"].contains(name)).collect();
    assert_eq!(table.header[12..], added);
    assert_eq!((table.cell(0, "main_reason"), table.cell(0, "cautions")), (fresh[PROBLEM - 2].as_str(), fresh[PROBLEM - 1].as_str()));
}

#[test]
fn remembered_answers_do_not_cover_a_name_that_is_too_long() {
    let long = "n".repeat(201);
    let wide = "ü".repeat(200);
    let rows: Vec<Vec<&str>> = ["a", "b", &long, &wide, "c"].iter().map(|name| [&[*name], &GOOD_ROW[1..]].concat()).collect();
    let rows: Vec<&[&str]> = rows.iter().map(Vec::as_slice).collect();
    let (out, summary) = answered(sheet(&COLUMNS_USED, &rows));
    let table = Table::of(&out, b',');
    assert_eq!((summary.rows, summary.problems), (5, 1));
    assert!(table.cell(2, "problem").starts_with("pad: The text is too long."), "{}", table.cell(2, "problem"));
    for row in [1, 3, 4] {
        assert_eq!(table.results(row), table.results(0));
    }
}

#[test]
fn verdicts_add_up() {
    let rows: Vec<Vec<String>> = (1..=40)
        .map(|k| {
            let mut row: Vec<String> = GOOD_ROW.iter().map(|c| (*c).into()).collect();
            row[4] = k.to_string();
            row
        })
        .collect();
    let rows: Vec<Vec<&str>> = rows.iter().map(|r| r.iter().map(String::as_str).collect()).collect();
    let rows: Vec<&[&str]> = rows.iter().map(Vec::as_slice).collect();
    let (out, s) = answered(sheet(&COLUMNS_USED, &rows));
    let table = Table::of(&out, b',');
    let count = |word: &str| (0..40).filter(|k| table.cell(*k, "verdict") == word).count() as u64;
    assert_eq!(
        [s.comfortable, s.tight, s.measure_first, s.out_of_reach],
        ["comfortable", "tight", "measure first", "out of reach"].map(count)
    );
    assert_eq!((s.comfortable + s.tight + s.measure_first + s.out_of_reach, s.problems), (40, 0));
}

#[test]
fn a_mistyped_header_is_told_in_every_row() {
    let sheet = "pad;base_1;Overlay;Overlay thicknes (mm);diameter_mm;thread;run_length_mm;controller\n\
        a;wool-felt;wool-felt;8;24;steel-90-tex;180;patient-input\n\
        b;wool-felt;wool-felt;8;24;steel-90-tex;180;patient-input\n";
    let (answer, summary) = answered(sheet);
    assert_eq!((summary.rows, summary.problems), (2, 0));
    let told = "The column \"\"Overlay thicknes (mm)\"\" was not read; perhaps overlay_1_thickness_mm is meant.";
    assert_eq!(answer.matches(told).count(), 2, "{answer}");
}
