//! Runs, fills and settling over the wire: against tables, and refused where they make no sense.

use std::collections::BTreeMap;

use serde_json::{Value, json};
use toile_tests::{reference_rows, round_pad, service, with};

use crate::bad_requests::check_question;

const RUN: &str = "/api/v1/solve/run";
const FILL: &str = "/api/v1/solve/fill";
const SETTLING: &str = "/api/v1/solve/settling";

type Row = BTreeMap<String, String>;

fn table(name: &str) -> Vec<Row> {
    reference_rows(name).into_iter().map(|row| row.into_iter().collect()).collect()
}

#[track_caller]
fn number(row: &Row, column: &str) -> f64 {
    row[column].parse().unwrap_or_else(|_| panic!("{}: {column} is `{}`", row["id"], row[column]))
}

#[track_caller]
fn close(what: &str, value: &Value, expected: f64, tolerance: f64) {
    let value = value.as_f64().unwrap_or_else(|| panic!("{what}: {value}"));
    assert!((value - expected).abs() <= tolerance * expected.abs(), "{what}: {value} against {expected}");
}

fn run() -> Value {
    json!({
        "stitches": 72, "stitch_length_mm": 2.5, "top_ohm_per_m": 165, "bobbin_ohm_per_m": 165, "contact_ohm": 0.3, "ends": "top-top"
    })
}

fn fill() -> Value {
    json!({
        "rows": 31, "stitches_per_row": 8, "stitch_length_mm": 3, "row_spacing_mm": 0.8, "thread_ohm_per_m": 165, "contact_ohm": 2,
        "terminals": "ends"
    })
}

fn settling() -> Value {
    json!({"run_resistance_ohm": 1000, "run_capacitance_pf": 20, "load_pf": 10, "source_ohm": 1000, "sample_time_us": 0.1})
}

/// G3. The bond of the table's tied rows cost it digits; an ideal one stands beside it.
#[test]
fn two_threads_are_as_in_the_table() {
    let tied: BTreeMap<String, f64> =
        table("circuit/g3_tied.csv").iter().map(|row| (row["id"].clone(), number(row, "R_ideal_tie_ohm"))).collect();
    let rows = table("circuit/g3_twothread.csv");
    assert!(rows.len() >= 12);
    for row in &rows {
        let (id, mode) = (&row["id"], row["mode"].trim_end_matches("-broken"));
        let broken: Option<u32> = row["broken_segment"].parse().ok();
        let question = json!({
            "stitches": number(row, "stitches") as u32,
            "stitch_length_mm": number(row, "stitch_m") * 1e3,
            "top_ohm_per_m": number(row, "r1_ohm_m"),
            "bobbin_ohm_per_m": number(row, "r2_ohm_m"),
            "contact_ohm": number(row, "contact_ohm"),
            "ends": mode,
            "broken_segment": broken,
        });
        let answer = service().post(RUN, &question).ok();
        let exact = tied.get(id).copied().unwrap_or_else(|| number(row, "R_exact_ohm"));
        close(id, &answer["resistance_ohm"], exact, 1e-11);
        close(id, &answer["transfer_length_mm"], number(row, "transfer_length_m") * 1e3, 1e-11);
        close(id, &answer["parallel_rule_ohm"], number(row, "R_perfect_parallel_ohm"), 1e-11);
        close(id, &answer["top_only_ohm"], number(row, "R_top_only_ohm"), 1e-11);
    }
}

#[test]
fn fills_are_as_in_the_table() {
    let rows = table("circuit/g4_fill.csv");
    assert!(rows.len() >= 6);
    for row in &rows {
        let question = json!({
            "rows": number(row, "rows") as u32,
            "stitches_per_row": number(row, "stitches_per_row") as u32,
            "stitch_length_mm": number(row, "stitch_m") * 1e3,
            "row_spacing_mm": number(row, "row_m") * 1e3,
            "thread_ohm_per_m": number(row, "r_ohm_m"),
            "contact_ohm": number(row, "contact_ohm"),
            "terminals": row["terminals"],
        });
        let answer = service().post(FILL, &question).ok();
        // The table's sparse solution is refined to 1e-11.
        close(&row["id"], &answer["resistance_ohm"], number(row, "R_exact_ohm"), 1e-10);
        close(&row["id"], &answer["sheet_along_ohm"], number(row, "sheet_along_ohm"), 1e-11);
        close(&row["id"], &answer["sheet_across_ohm"], number(row, "sheet_across_ohm"), 1e-11);
        assert_eq!(answer["method"], "network");
    }
}

#[test]
fn settling_is_as_in_the_table() {
    let rows = table("circuit/g5_rcline.csv");
    assert!(rows.len() >= 12);
    for row in &rows {
        let question = json!({
            "run_resistance_ohm": number(row, "R_total_ohm"),
            "run_capacitance_pf": number(row, "C_total_F") * 1e12,
            "load_pf": number(row, "C_load_F") * 1e12,
            "source_ohm": number(row, "R_source_ohm"),
            "sample_time_us": number(row, "sample_time_s") * 1e6,
        });
        let answer = service().post(SETTLING, &question).ok();
        for (field, expected) in [
            ("time_to_1_percent_us", number(row, "t_1pct_s") * 1e6),
            ("time_to_0_1_percent_us", number(row, "t_0p1pct_s") * 1e6),
            ("reached_at_sample", number(row, "v_far_at_sample")),
            ("charge_fraction_at_sample", number(row, "charge_fraction_at_sample")),
            ("elmore_us", number(row, "elmore_s") * 1e6),
        ] {
            // Twelve digits of the table, those of its inputs included.
            close(&format!("{} {field}", row["id"]), &answer[field], expected, 1e-10);
        }
    }
}

#[test]
fn single_faults_tell_what_another_pass_buys() {
    let answer = service().post(RUN, &with(run(), "/faults", json!(true))).ok();
    let faults = answer["faults"].as_array().expect("a table");
    let ohm = |fault: &Value, field: &str| fault[field].as_f64().expect("both threads conduct, so there is a way");
    assert!(faults.windows(2).all(|pair| ohm(&pair[0], "resistance_ohm") >= ohm(&pair[1], "resistance_ohm")), "{answer}");
    for fault in faults {
        assert!(ohm(fault, "resistance_ohm") > answer["resistance_ohm"].as_f64().expect("a number"));
        assert!(ohm(fault, "one_more_pass_ohm") < 0.6 * ohm(fault, "one_pass_ohm"), "{fault}");
    }
    assert_eq!((&faults[0]["thread"], &faults[0]["segment"]), (&json!("top"), &json!(1)), "the top thread is cut at a terminal on it");
    assert!(service().post(RUN, &run()).ok()["faults"].is_null());
    // The rule "both in parallel" is off by no more than it says.
    let percent = |field: &str| answer[field].as_f64().expect("a number");
    assert!((0.0..percent("parallel_rule_bound_percent")).contains(&percent("parallel_rule_error_percent")), "{answer}");
}

#[test]
fn passes_apart_lose_a_whole_pass_where_joined_ones_lose_a_stitch() {
    let ohm = |question: Value| service().post(RUN, &question).ok()["resistance_ohm"].as_f64().expect("a number");
    let two = with(with(run(), "/passes", json!(2)), "/broken_segment", json!(1));
    let apart = ohm(with(two.clone(), "/passes_joined", json!(false)));
    assert!(ohm(two.clone()) < apart, "{} {apart}", ohm(two.clone()));
    assert!((ohm(with(run(), "/passes", json!(2))) / (0.5 * ohm(run())) - 1.0).abs() < 1e-12);
}

#[test]
fn a_large_fill_is_a_sheet_with_its_bound() {
    let large = with(with(fill(), "/rows", json!(1000)), "/stitches_per_row", json!(800));
    let answer = service().post(FILL, &large).ok();
    assert_eq!(answer["method"], "sheet");
    assert!(answer["relative_error"].as_f64().expect("a bound") < 0.01, "{answer}");
    let apart = service().post(FILL, &with(large, "/contact_ohm", json!(null))).ok();
    assert_eq!(apart["resistance_ohm"], apart["thread_only_ohm"]);
    assert!(apart["sheet_across_ohm"].is_null());
    // No resistance of contact at all is a number too.
    let joined = service().post(FILL, &with(fill(), "/contact_ohm", json!(0))).ok();
    assert!(joined["resistance_ohm"].as_f64().expect("a number") > 0.0, "{joined}");
}

#[test]
fn what_lets_nothing_settle_or_hinders_nothing_is_null() {
    let at_once = json!({"run_resistance_ohm": 0, "run_capacitance_pf": 5, "load_pf": 5, "source_ohm": 0, "sample_time_us": 1});
    let answer = service().post(SETTLING, &at_once).ok();
    assert_eq!((&answer["time_to_1_percent_us"], &answer["charge_fraction_at_sample"]), (&json!(0.0), &json!(1.0)));
    assert!(answer["largest_charge_frequency_khz"].is_null() && answer["longest_run_times"].is_null(), "{answer}");
    let slow = service().post(SETTLING, &with(settling(), "/source_ohm", json!(1e6))).ok();
    assert!(slow["longest_run_times"].is_null(), "{slow}");
    let usual = service().post(SETTLING, &with(settling(), "/sample_time_us", json!(1))).ok();
    let times = usual["longest_run_times"].as_f64().expect("a number");
    let longer = with(
        with(with(settling(), "/sample_time_us", json!(1)), "/run_resistance_ohm", json!(1000.0 * times)),
        "/run_capacitance_pf",
        json!(20.0 * times),
    );
    close("longest run", &service().post(SETTLING, &longer).ok()["charge_fraction_at_sample"], 0.99, 1e-8);
    // A pad's own resistance delays.
    let with_pad = service().post(SETTLING, &with(settling(), "/pad_ohm", json!(2000))).ok();
    let without = service().post(SETTLING, &settling()).ok();
    assert!(with_pad["time_to_1_percent_us"].as_f64() > without["time_to_1_percent_us"].as_f64());
}

#[test]
fn faulty_questions_are_refused_at_their_place() {
    for (pointer, to, words) in [
        ("/stitches", json!(0), "1 to 100000"),
        ("/stitches", json!(2.5), "a whole number"),
        ("/stitches", json!(1e9), "a whole number"),
        ("/stitch_length_mm", json!(0), "0.05 to 100"),
        ("/top_ohm_per_m", json!(-1), "0.0001 to 10000000"),
        ("/bobbin_ohm_per_m", json!(null), "null"),
        ("/bobbin_ohm_per_m", json!({"value": 3, "plus_minus": 1}), "an object"),
        ("/contact_ohm", json!(-0.1), "0 to 1000000000"),
        ("/ends", json!("top_top"), "did you mean `top-top`"),
        ("/ends", json!("bobbin-bobbin"), "one of top-top, top-bobbin, tied-top, tied-bobbin"),
        ("/broken_segment", json!(0), "1 to 100000"),
        ("/broken_segment", json!(73), "The run has no such stitch."),
        ("/passes", json!(51), "1 to 50"),
        ("/passes_joined", json!("yes"), "a text"),
        ("/pases", json!(2), "did you mean `passes`"),
    ] {
        check_question(RUN, with(run(), pointer, to), &[pointer], words);
    }
    for (pointer, to, words) in [
        ("/rows", json!(0), "1 to 10000"),
        ("/rows", json!(10_001), "1 to 10000"),
        ("/stitches_per_row", json!(0), "1 to 10000"),
        ("/row_spacing_mm", json!(0.01), "0.05 to 50"),
        ("/thread_ohm_per_m", json!(0), "0.0001 to"),
        ("/contact_ohm", json!("open"), "a text"),
        ("/terminals", json!("corners"), "one of ends, left-right-bars, first-last-row"),
    ] {
        check_question(FILL, with(fill(), pointer, to), &[pointer], words);
    }
    let one_row = with(with(fill(), "/rows", json!(1)), "/terminals", json!("first-last-row"));
    check_question(FILL, one_row, &["/rows"], "Nothing lies between");
    for (pointer, to, words) in [
        ("/run_resistance_ohm", json!(-1), "0 to 1000000000"),
        ("/run_capacitance_pf", json!(-1), "0 to"),
        ("/load_pf", json!("3 pF"), "a text"),
        ("/source_ohm", json!(1e10), "0 to 1000000000"),
        ("/sample_time_us", json!(0), "0.000001 to"),
        ("/settled_percent", json!(100), "1 to 99.9999"),
        ("/pad_ohm", json!(-3), "0 to"),
    ] {
        check_question(SETTLING, with(settling(), pointer, to), &[pointer], words);
    }
    check_question(
        SETTLING,
        json!({}),
        &["/load_pf", "/run_capacitance_pf", "/run_resistance_ohm", "/sample_time_us", "/source_ohm"],
        "missing",
    );
}

fn refused(pointer: &str, to: Value, words: &str) {
    check_question("/api/v1/estimates", with(round_pad(), pointer, to), &[pointer], words);
}

#[test]
fn pieces_with_faulty_runs_are_refused_at_their_place() {
    for (pointer, to, words) in [
        ("/after_washes", json!(-1), "0 to 1000"),
        ("/after_washes", json!(1001), "0 to 1000"),
        ("/after_washes", json!(2.5), "a whole number"),
        ("/after_washes", json!({"low": 5, "high": 10}), "an object"),
        ("/after_wash", json!(5), "did you mean `after_washes`"),
        ("/stretch_percent", json!(101), "0 to 100"),
        ("/stretch_percent", json!("ten"), "a text"),
        ("/pads/0/thread/growth_per_wash_percent", json!(-1), "0 to 100"),
        ("/pads/0/thread/growth_per_wash", json!(2), "did you mean `growth_per_wash_percent`"),
        ("/pads/0/thread/stretch_factor", json!(1000), "0 to 100"),
        ("/pads/0/fill/row_contact_ohm", json!(0), "0.000001 to"),
        ("/pads/0/run/stitch_contact_ohm", json!(-0.3), "0 to 1000000"),
        ("/pads/0/run/passes_joined", json!("joined"), "a text"),
        ("/pads/0/run/terminal/kind", json!("stud"), "one of board, snap, crimp"),
        ("/pads/0/run/terminal/kind", json!("Board"), "did you mean `board`"),
        ("/pads/0/run/terminal/pitch_mm", json!(0), "0.2 to 100"),
        ("/pads/0/run/terminal/hole_diameter_mm", json!(50), "0.2 to 20"),
        ("/machine/needle_diameter_mm", json!(9), "0.3 to 3"),
        ("/machine/needle_diameter_mm", json!({"value": 0.9, "plus_minus": 0.1}), "an object"),
        // Things that do not go together.
        ("/pads/0/run/stitch_contact_ohm", json!(0.3), "only where the bobbin conducts too"),
        ("/pads/0/run/terminal/hole_diameter_mm", json!(2), "belongs to a board"),
        ("/pads/0/sheet_resistance_ohm_sq", json!(0.1), "filled with rows of thread"),
    ] {
        refused(pointer, to, words);
    }
    let snap = with(round_pad(), "/pads/0/run/terminal", json!({"kind": "snap", "hole_diameter_mm": 2}));
    check_question("/api/v1/estimates", snap, &["/pads/0/run/terminal/hole_diameter_mm"], "belongs to a board");
}

#[test]
fn an_estimate_can_be_asked_after_thirty_washes() {
    let pad = |piece: &Value| service().estimate(piece)["pads"][0].clone();
    let number = |pad: &Value, field: &str| pad[field].as_f64().unwrap_or_else(|| panic!("{field}: {pad}"));
    let new = pad(&round_pad());
    let washed = pad(&with(round_pad(), "/after_washes", json!(30)));
    assert!(number(&washed, "run_ohm") > 1.5 * number(&new, "run_ohm"), "{washed}");
    assert!(number(&washed, "pad_ohm") > 1.5 * number(&new, "pad_ohm"), "{washed}");
    let measured = with(with(round_pad(), "/after_washes", json!(30)), "/pads/0/thread/growth_per_wash_percent", json!(0));
    assert_eq!(number(&pad(&measured), "run_ohm"), number(&new, "run_ohm"));
    let caution = |piece: &Value| {
        let answer = service().estimate(piece);
        let cautions = answer["cautions"].as_array().expect("cautions").clone();
        cautions.into_iter().find(|c| c["subject"] == "washing").expect("a caution about washing")["text"].clone()
    };
    assert_ne!(caution(&with(round_pad(), "/after_washes", json!(30))), caution(&round_pad()));
}

#[test]
fn a_run_of_two_threads_shows_its_ladder() {
    let both = with(round_pad(), "/pads/0/run/bobbin", json!("same_thread"));
    let pad = service().estimate(&both)["pads"][0].clone();
    assert!(pad["transfer_length_mm"].as_f64().is_some_and(|mm| (0.5..20.0).contains(&mm)), "{pad}");
    assert!(pad["parallel_rule_ohm"].as_f64() < pad["run_ohm"].as_f64(), "{pad}");
    let plain = service().estimate(&round_pad())["pads"][0].clone();
    assert!(plain["transfer_length_mm"].is_null() && plain["parallel_rule_ohm"] == plain["run_ohm"], "{plain}");
}

#[test]
fn runs_are_looked_at_closely_when_asked() {
    let asked = |piece: &Value, query: &str| service().post(&format!("/api/v1/estimates{query}"), piece);
    assert!(asked(&round_pad(), "").ok()["runs"].is_null());
    let report = asked(&round_pad(), "?runs=true").ok()["runs"][0].clone();
    let faults = report["faults"].as_array().expect("faults");
    assert_eq!((&report["pad"], &report["passes"]), (&json!("pad 1"), &json!(2)));
    assert!(faults.iter().all(|f| f["thread"] == "top" && f["one_pass_ohm"].is_null()), "a plain bobbin carries nothing: {report}");
    assert!(report["longest_run_mm"].as_f64().expect("a limit") > 180.0);
    assert!(report["largest_charge_frequency_khz"].as_f64().expect("a limit") > 250.0);
    // Sixteen kinds of runs at the most, each a little longer than the one before.
    let of = |kinds: u32| {
        let pad = |k: u32| with(round_pad()["pads"][0].clone(), "/run/length_mm", json!(100 + k));
        with(round_pad(), "/pads", (0..kinds).map(pad).collect())
    };
    assert_eq!(asked(&of(16), "?runs=true").ok()["runs"].as_array().map(Vec::len), Some(16));
    let many = asked(&of(17), "?runs=true");
    assert_eq!((many.status, many.problem().pointers()), (422, vec!["/pads"]));
    assert!(many.problem().words().contains("at most 16 kinds"), "{}", many.text());
}

#[test]
fn terminals_have_checks_of_their_own() {
    let board = with(round_pad(), "/pads/0/run/terminal", json!({"kind": "board", "pitch_mm": 1.27, "hole_diameter_mm": 0.9}));
    let answer = service().estimate(&board);
    let checks = answer["checks"].as_array().expect("checks");
    for kind in ["terminal_pitch", "terminal_hole"] {
        let check = checks.iter().find(|c| c["check"] == kind).unwrap_or_else(|| panic!("{kind}: {answer}"));
        assert_eq!((&check["verdict"], &check["pointer"]), (&json!("out of reach"), &json!("/pads/0")), "{check}");
    }
}
