//! Titles above the header, and stretches answered apart.

use super::*;
use crate::sheet::Head;

const TITLES: &str = "Bellweather Library: reading chairs\nAsked on,2 March,\"by \"\"phone\"\"\"\n\n";

#[test]
fn titles_above_the_header_are_kept_and_told() {
    let (plain, _) = answered(good_sheet());
    for titles in [TITLES, "\n\n", "Thread,Controller\n", "sep=,\nOffer 12\n", ",,,,,,,,,\nOffer\n", "Run length,of the,controller\n"] {
        let (out, summary) = answered(format!("{titles}{}", good_sheet()));
        assert_eq!(out, format!("{titles}{plain}"));
        assert_eq!((summary.rows, summary.problems), (1, 0));
        let told = summary.notes.iter().any(|n| n.contains("above it"));
        assert_eq!(told, titles.contains(|c: char| c.is_alphanumeric()), "{:?}", summary.notes);
    }
    let (_, summary) = answered(format!("{TITLES}{}", good_sheet()));
    assert_eq!(summary.notes, ["The header is row 4; the 2 rows above it were kept as they are."]);
}

#[test]
fn titles_do_not_hide_the_dialect() {
    let table = good_sheet().replace(',', ";").replace("0.8", "0,8");
    let (out, summary) = answered(format!("Chairs, lamps, covers, and more, much more\nOffer, of spring\n{table}"));
    assert_eq!((summary.dialect.delimiter(), summary.dialect.mark, summary.problems), (';', Mark::Comma, 0), "{out}");
}

#[test]
fn a_formula_in_a_title_is_defused() {
    let (out, summary) = answered(format!("=HYPERLINK(\"\"x\"\"),Chairs\n{}", good_sheet()));
    assert!(out.starts_with("\"'=HYPERLINK(\"\"\"\"x\"\"\"\")\",Chairs\n"), "{out}");
    assert_eq!(summary.defused, 1);
}

#[test]
fn a_fault_speaks_of_the_row_that_comes_nearest_to_a_header() {
    let (_, fault) = stopped(format!("{TITLES}{}", good_sheet().replace("run_length_mm", "how far")), &limits());
    assert!(matches!(fault, SheetFault::MissingColumns { .. }) && fault.to_string().contains("run_length_mm"), "{fault}");
    let (_, fault) = stopped(format!("Thread\n{}", good_sheet().replace("base_1,", "diameter,")), &limits());
    assert!(matches!(fault, SheetFault::SameField { .. }), "{fault}");
    let late = "Chairs\n".repeat(HEADER_WITHIN) + &good_sheet();
    assert!(matches!(stopped(late, &limits()).1, SheetFault::NoKnownColumn { .. }));
    let (_, fault) = stopped(format!("{TITLES}{}{}", good_sheet(), "x\",".repeat(600)), &limits());
    assert!(matches!(fault, SheetFault::TooManyColumns { row: 6, .. }), "{fault}");
}

/// A kept head answers any stretch of rows by itself, and the stretches together are the whole.
#[test]
fn stretches_answered_apart_are_the_whole() {
    let mut text = format!("{TITLES}{}", good_sheet());
    for k in 0..300 {
        text += &format!("pad {k},wool-felt,3,wool-felt,{},0.8,silver-polyamide-40-tex,180,2,patient-input\n", 10 + k % 7);
        text += if k % 50 == 0 { "bad,row\n\n=1+1,\"two\nlines\",3\n" } else { "" };
    }
    let (whole, summary) = answered(&text);
    for most in [1, 7, 1000] {
        let (head, mut rows) = Head::read(text.as_bytes(), &limits()).unwrap();
        let mut stretches = Vec::new();
        let mut stretch = String::new();
        while rows.take(most, &mut stretch).unwrap() > 0 {
            stretches.push(stretch.clone());
        }
        let kept = serde_json::to_string(&head).unwrap();
        // Backwards, each by a worker of its own from a kept head.
        let mut answers: Vec<Vec<u8>> = Vec::new();
        let mut all = Tally::default();
        for stretch in stretches.iter().rev() {
            let head: Head = serde_json::from_str(&kept).unwrap();
            let limits = limits();
            let plan = head.plan(&LIBRARY, &limits).unwrap();
            let mut out = Vec::new();
            let (tally, fault) = Worker::new(&plan).answer(stretch, &mut out);
            assert!(fault.is_none());
            all.add(&tally);
            answers.push(out);
        }
        let limits = limits();
        let plan = head.plan(&LIBRARY, &limits).unwrap();
        let mut out = Vec::new();
        all.add(&plan.begin(&mut out));
        out.extend(answers.into_iter().rev().flatten());
        assert_eq!(String::from_utf8(out).unwrap(), whole, "{most} rows at a time");
        assert_eq!(Summary::of(&plan, &all, &rows), summary);
    }
}
