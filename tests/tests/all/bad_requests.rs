//! Requests that must be refused: the right status, every fault at its place, in words that help, and never a 500.

use serde_json::{Value, json};
use toile_tests::{Answer, Service, limits, round_pad, service, with};

const ESTIMATES: &str = "/api/v1/estimates";
const CHARGE: &str = "/api/v1/pictures/charge";
const CAPACITANCE: &str = "/api/v1/solve/capacitance";
const LINE: &str = "/api/v1/solve/line";
const ROWS: &str = "/api/v1/solve/rows";
const STITCHING: &str = "/api/v1/solve/stitching";
const TOUCH: &str = "/api/v1/solve/touch";

/// Posts a body that must be refused with this status, with faults at exactly these places, and with these words
/// somewhere in what is said.
#[track_caller]
fn check_bytes(path: &str, media_type: &str, body: &str, status: u16, pointers: &[&str], words: &str) {
    check_answer(&service().post_bytes(path, media_type, body.to_owned()), status, pointers, words);
}

#[track_caller]
fn check_answer(answer: &Answer, status: u16, pointers: &[&str], words: &str) {
    let problem = answer.problem();
    assert_eq!(answer.status, status, "{}", answer.text());
    let (mut found, mut wanted) = (problem.pointers(), pointers.to_vec());
    found.sort_unstable();
    wanted.sort_unstable();
    assert_eq!(found, wanted, "{}", answer.text());
    assert!(problem.words().contains(words), "no {words:?} in: {}", problem.words());
    assert!(problem.kind.starts_with("/reference#"), "{}", problem.kind);
    // What is wrong is told in words for people, not in those of the parser's types.
    for jargon in ["f64", "u32", "enum ", "struct ", "variant", "serde", "panicked"] {
        assert!(!problem.words().contains(jargon), "{jargon:?} in: {}", problem.words());
    }
}

/// Posts a piece that must be refused with one fault.
#[track_caller]
fn check_piece(piece: Value, pointer: &str, words: &str) {
    check_bytes(ESTIMATES, "application/json", &piece.to_string(), 422, &[pointer], words);
}

/// Posts the small good piece with one place written anew, which must be refused there.
#[track_caller]
fn check_place(pointer: &str, to: Value, words: &str) {
    check_piece(with(round_pad(), pointer, to), pointer, words);
}

/// Posts a question that must be refused.
#[track_caller]
pub fn check_question(path: &str, question: Value, pointers: &[&str], words: &str) {
    check_bytes(path, "application/json", &question.to_string(), 422, pointers, words);
}

#[test]
fn what_is_not_json_cannot_be_read() {
    for (body, words) in [
        ("", "empty"),
        (" ", "not JSON"),
        ("hello", "not JSON"),
        ("{\"stack\":", "not JSON"),
        ("{\"stack\": NaN}", "not JSON"),
        ("{\"stack\": Infinity}", "not JSON"),
        ("{\"stack\": 1e999}", "not JSON"),
        ("{'stack': 1}", "not JSON"),
        ("{\"stack\": {}} trailing", "not JSON"),
        ("{\"stack\": 01}", "not JSON"),
        ("\u{feff}{}", "not JSON"),
        ("<piece/>", "not JSON"),
        ("stack=1&pads=2", "not JSON"),
    ] {
        check_bytes(ESTIMATES, "application/json", body, 400, &[], words);
        check_bytes(TOUCH, "application/json", body, 400, &[], words);
    }
    let deep = format!("{}{}", "[".repeat(5000), "]".repeat(5000));
    check_bytes(ESTIMATES, "application/json", &deep, 400, &[], "recursion limit");
    let not_text = service().post_bytes(ESTIMATES, "application/json", vec![b'"', 0xff, 0xfe, b'"']);
    check_answer(&not_text, 400, &[], "not JSON");
}

#[test]
fn the_media_type_must_fit() {
    let good = round_pad().to_string();
    for media_type in ["text/plain", "text/csv", "application/x-www-form-urlencoded", "application/jsonx", "application"] {
        check_bytes(ESTIMATES, media_type, &good, 415, &[], "this call takes application/json");
    }
    let none = service().send(service().request("POST", ESTIMATES).body(good.clone()));
    check_answer(&none, 415, &[], "given is none");
    for media_type in ["application/json; charset=utf-8", "Application/JSON"] {
        service().post_bytes(ESTIMATES, media_type, good.clone()).ok();
    }
    check_bytes("/api/v1/batches", "application/json", "{}", 415, &[], "this call takes text/csv");
}

#[test]
fn a_body_that_is_no_piece_is_refused_as_a_whole() {
    for (body, words) in [("[]", "a list"), ("3", "a number"), ("null", "null"), ("\"piece\"", "a text"), ("true", "true or false")] {
        check_bytes(ESTIMATES, "application/json", body, 422, &[""], words);
    }
    check_bytes(ESTIMATES, "application/json", "{}", 422, &[""], "The piece has no feature.");
    // Pads ask for more than the piece as such does.
    let bare = json!({"pads": round_pad()["pads"]}).to_string();
    check_bytes(ESTIMATES, "application/json", &bare, 422, &["/controller", "/stack"], "missing: pads need it");
}

#[test]
fn unknown_fields_are_named_with_the_nearest_known_one() {
    for (pointer, near) in [
        ("/stack/base/0/thicknes_mm", "`thickness_mm`"),
        ("/stack/base/0/relative_permitivity", "`relative_permittivity`"),
        ("/pads/0/run/lenght_mm", "`length_mm`"),
        ("/pads/0/shape/diametre_mm", "`diameter_mm`"),
        ("/temperature", "`temperature_c`"),
        ("/controller/charge_time_ms", "`charge_time_us`"),
        ("/touch/finger_diameter_mm", "`fingertip_diameter_mm`"),
        ("/machine/needle", "`needles`"),
        ("/Name", "`name`"),
        ("/stack/overlays", "`overlay`"),
    ] {
        check_place(pointer, json!(1), near);
    }
    check_place("/weather", json!("fine"), "The field `weather` is not known here.");
    check_place("/pads/0/a~1b", json!(1), "not known");
    check_place("/pads/0/fill/__proto__", json!(1), "not known");
    let long = "x".repeat(3000);
    check_place(&format!("/{long}"), json!(1), "not known");
}

#[test]
fn missing_fields_are_named() {
    for pointer in [
        "/stack",
        "/controller",
        "/stack/ground",
        "/stack/base",
        "/pads/0/shape",
        "/pads/0/thread",
        "/pads/0/run",
        "/pads/0/run/length_mm",
        "/pads/0/shape/kind",
        "/pads/0/shape/diameter_mm",
        "/pads/0/fill/row_spacing_mm",
        "/pads/0/fill/stitch_length_mm",
    ] {
        let mut piece = round_pad();
        let (parent, name) = pointer.rsplit_once('/').expect("a pointer");
        let removed = piece.pointer_mut(parent).and_then(Value::as_object_mut).expect("an object").remove(name);
        assert!(removed.is_some(), "{pointer}");
        check_piece(piece, pointer, "missing");
    }
    for pads in [json!([]), json!(null)] {
        check_piece(with(round_pad(), "/pads", pads), "", "at least one entry in pads");
    }
    let narrow = with(round_pad(), "/pads/0/run/stitch", json!({"kind": "satin", "density_mm": 0.5}));
    check_piece(narrow, "/pads/0/run/stitch/column_width_mm", "missing");
}

#[test]
fn numbers_must_be_numbers_in_range() {
    let thickness = "/stack/base/0/thickness_mm";
    for (pointer, to, words) in [
        (thickness, json!("3"), "a text"),
        (thickness, json!("NaN"), "a text"),
        (thickness, json!([3]), "a list"),
        (thickness, json!(true), "true or false"),
        (thickness, json!(-3), "0.01 to 200"),
        (thickness, json!(0), "0.01 to 200"),
        (thickness, json!(1e300), "0.01 to 200"),
        (thickness, json!(200.1), "0.01 to 200"),
        ("/stack/base/0/relative_permittivity", json!(0.5), "1 to 100"),
        ("/pads/0/shape/diameter_mm", json!(null), "null"),
        ("/pads/0/shape/diameter_mm", json!(0.4), "0.5 to 1000"),
        ("/pads/0/shape/diameter_mm", json!(1e9), "0.5 to 1000"),
        ("/pads/0/run/length_mm", json!(0), "0.1 to 100000"),
        ("/pads/0/run/passes", json!(0), "1 to 50"),
        ("/pads/0/run/passes", json!(51), "1 to 50"),
        ("/pads/0/run/passes", json!(1.5), "a whole number"),
        ("/pads/0/run/passes", json!(-1), "1 to 50"),
        ("/pads/0/run/passes", json!(5_000_000_000_u64), "1 to 50"),
        ("/pads/0/run/interlace_fraction", json!(1.2), "0 to 1"),
        ("/pads/0/run/stitch/stitch_length_mm", json!(0.01), "0.05 to 100"),
        ("/pads/0/run/terminal/contact_resistance_ohm", json!(-1), "0 to 1000000"),
        ("/pads/0/fill/row_spacing_mm", json!(0.001), "0.05 to 50"),
        ("/pads/0/thread/linear_resistance_ohm_per_m", json!(0), "0.001 to"),
        ("/pads/0/thread/diameter_mm", json!(50), "0.01 to 5"),
        ("/pads/0/centre_mm", json!([0, 0, 0]), "2 entries"),
        ("/pads/0/centre_mm/1", json!(1e7), "-5000 to 5000"),
        ("/pads/0/rotation_deg", json!(1000), "-360 to 360"),
        ("/controller/settled_percent", json!(100), "1 to 99.9999"),
        ("/controller/needed_signal_pf", json!(-0.5), "0.0001 to 1000"),
        ("/touch/fingertip_diameter_mm", json!(0), "1 to 60"),
        ("/touch/body_to_earth_pf", json!(-1), "0 to 100000"),
        ("/temperature_c", json!(-273.15), "-60 to 200"),
        ("/temperature_c", json!(5000), "-60 to 200"),
        ("/machine/needles", json!(0), "1 to 24"),
        ("/machine/clearance_mm", json!(-1), "0 to 100"),
        ("/quantity", json!(0), "1 to 10000000"),
        ("/quantity", json!("many"), "a text"),
        ("/name", json!(3), "a number"),
    ] {
        let piece = match pointer.rsplit_once('/') {
            Some((parent @ "/pads/0/run/stitch", _)) => with(with(round_pad(), parent, json!({"kind": "running"})), pointer, to),
            Some((parent @ "/pads/0/centre_mm", _)) => with(with(round_pad(), parent, json!([0, 0])), pointer, to),
            _ => with(round_pad(), pointer, to),
        };
        check_piece(piece, pointer, words);
    }
}

#[test]
fn spreads_must_make_sense() {
    let at = "/stack/base/0/thickness_mm";
    for (to, place, words) in [
        (json!({"low": 3.2, "high": 2.8}), "", "low limit above its high limit"),
        (json!({"low": 0, "high": 3}), "/low", "0.01 to 200"),
        (json!({"low": 3, "high": 300}), "/high", "0.01 to 200"),
        (json!({"value": 3, "plus_minus": -0.2}), "/plus_minus", "0 to"),
        (json!({"value": 3, "plus_minus": 1e9}), "/plus_minus", "0 to"),
        (json!({"value": 3, "plus_minus": 200}), "/plus_minus", "0 to"),
        (json!({"value": 300, "plus_minus": 1}), "/value", "0.01 to 200"),
        (json!({"value": 3}), "/plus_minus", "missing"),
        (json!({"high": 3}), "/low", "missing"),
        (json!({"value": 3, "plus_minus": 0.2, "unit": "mm"}), "/unit", "not known"),
        (json!({"value": 3, "plus_minus": 0.2, "low": 2.8}), "/low", "not known"),
        (json!({"value": "3", "plus_minus": 0.2}), "/value", "a text"),
        (json!({"value": 3, "plus_minus": null}), "/plus_minus", "null"),
    ] {
        check_piece(with(round_pad(), at, to), &format!("{at}{place}"), words);
    }
    let neither = service().post(ESTIMATES, &with(round_pad(), at, json!({})));
    assert_eq!(neither.status, 422);
    assert!(neither.problem().words().contains("missing"), "{}", neither.text());
}

#[test]
fn null_for_a_field_that_may_be_left_out_leaves_it_out() {
    let plain = service().estimate(&round_pad());
    for pointer in
        ["/stack/base/0/relative_permittivity", "/name", "/touch", "/touch/case", "/temperature_c", "/pads/0/run/terminal", "/machine"]
    {
        assert_eq!(service().estimate(&with(round_pad(), pointer, json!(null))), plain, "{pointer}");
    }
}

#[test]
fn a_range_is_told_with_its_unit_once() {
    for piece in [
        with(round_pad(), "/pads/0/shape", json!({"kind": "round"})),
        with(round_pad(), "/pads/0/shape/diameter_mm", json!("x")),
        with(round_pad(), "/pads/0/shape/diameter_mm", json!(-1)),
        with(round_pad(), "/pads/0/shape/diameter_mm", json!({"low": -1, "high": 3})),
    ] {
        let answer = service().post(ESTIMATES, &piece);
        for fault in answer.problem().faults {
            assert!(fault.allowed.starts_with("0.5 to 1000 mm") && !fault.allowed.contains("mm mm"), "{}", answer.text());
        }
    }
}

#[test]
fn words_must_be_known_ones() {
    for (pointer, to, words) in [
        ("/stack/ground", json!("shet"), "did you mean `sheet`"),
        ("/stack/ground", json!(1), "one of"),
        ("/touch/case", json!("Battery"), "did you mean `battery`"),
        ("/touch/case", json!("solar"), "one of earthed, battery, worn"),
        ("/pads/0/run/bobbin", json!("same thread"), "same_thread"),
    ] {
        check_place(pointer, to, words);
    }
    check_piece(
        with(round_pad(), "/pads/0/shape", json!({"kind": "rounded", "diameter_mm": 3})),
        "/pads/0/shape/kind",
        "did you mean `round`",
    );
    check_piece(with(round_pad(), "/pads/0/shape", json!({"kind": 7})), "/pads/0/shape/kind", "one of round, rectangle, ring, polygon");
    check_piece(with(round_pad(), "/pads/0/shape", json!("round")), "/pads/0/shape", "a text");
    check_piece(
        with(round_pad(), "/pads/0/run/stitch", json!({"kind": "cross"})),
        "/pads/0/run/stitch/kind",
        "one of running, back, satin",
    );
    let extra = json!({"kind": "round", "diameter_mm": 24, "width_mm": 3});
    check_piece(with(round_pad(), "/pads/0/shape", extra), "/pads/0/shape/width_mm", "not known");
}

#[test]
fn entries_of_the_library_must_exist() {
    check_piece(with(round_pad(), "/stack/base/0", json!({"library": "velvet"})), "/stack/base/0/library", "wool-felt");
    check_place("/pads/0/thread/library", json!("gold"), "silver-polyamide-40-tex");
    check_place("/controller/library", json!(""), "patient-input");
    check_place("/controller/library", json!("x".repeat(5000)), "patient-input");
    check_place("/pads/0/thread/library", json!("silver-polyamid-40-tex"), "did you mean `silver-polyamide-40-tex`");
    // An unknown entry and a spread the wrong way round are told together with faults of the body's shape.
    let mut four = with(round_pad(), "/stack/ground", json!("table"));
    four = with(four, "/pads/0/thread/library", json!("silber"));
    four = with(four, "/pads/0/run/length_mm", json!("20"));
    four = with(four, "/stack/base/0/thickness_mm", json!({"low": 3, "high": 2}));
    let places = ["/stack/ground", "/pads/0/thread/library", "/pads/0/run/length_mm", "/stack/base/0/thickness_mm"];
    check_answer(&service().post(ESTIMATES, &four), 422, &places, "one of sheet, metal, body, none");
    let by_numbers = with(round_pad(), "/stack/base/0", json!({"thickness_mm": 3}));
    check_piece(by_numbers, "/stack/base/0/relative_permittivity", "needed where no library entry is named");
    let answer = service().post(ESTIMATES, &with(round_pad(), "/controller", json!({"charge_time_us": 5})));
    let missing = ["max_run_ohm", "max_standing_pf", "needed_signal_pf", "series_resistance_ohm", "settled_percent"];
    check_answer(&answer, 422, &missing.map(|field| format!("/controller/{field}")).each_ref().map(String::as_str), "patient-input");
}

#[test]
fn shapes_must_be_possible() {
    let shape = |shape: Value, place: &str, words: &str| {
        check_piece(with(round_pad(), "/pads/0/shape", shape), &format!("/pads/0/shape/{place}"), words);
    };
    shape(json!({"kind": "ring", "inner_diameter_mm": 30, "outer_diameter_mm": 20}), "inner_diameter_mm", "leaves no ring");
    shape(json!({"kind": "ring", "inner_diameter_mm": 19.9, "outer_diameter_mm": 20}), "inner_diameter_mm", "leaves no ring");
    let round_corners = json!({"kind": "rectangle", "width_mm": 10, "length_mm": 20, "corner_radius_mm": 6});
    shape(round_corners, "corner_radius_mm", "more than half of the shorter side");
    let polygon = |points: Value| json!({"kind": "polygon", "points_mm": points});
    shape(polygon(json!([[0, 0], [10, 10], [10, 0], [0, 10]])), "points_mm", "cross");
    shape(polygon(json!([[0, 0], [10, 0]])), "points_mm", "3");
    shape(polygon(json!([])), "points_mm", "3");
    shape(polygon(json!([[0, 0], [5, 0], [10, 0]])), "points_mm", "");
    shape(polygon(json!([[0, 0], [0, 0], [0, 0]])), "points_mm", "");
    shape(polygon(json!([[0, 0], [1e6, 0], [0, 10]])), "points_mm/1/0", "-5000 to 5000");
    shape(polygon(json!([[0, 0], [10], [0, 10]])), "points_mm/1", "2 entries");
    shape(polygon(json!([[0, 0], "corner", [0, 10]])), "points_mm/1", "a text");
    shape(polygon(json!([[0, 0], [10, "x"], [0, 10]])), "points_mm/1/1", "a text");
    let ring_of = |n: usize| {
        json!((0..n).map(|k| std::f64::consts::TAU * k as f64 / n as f64).map(|a| [50.0 * a.cos(), 50.0 * a.sin()]).collect::<Vec<_>>())
    };
    service().estimate(&with(round_pad(), "/pads/0/shape", polygon(ring_of(5000))));
    shape(polygon(ring_of(5001)), "points_mm", "3 to 5000 entries");
    shape(polygon(ring_of(20_000)), "points_mm", "3 to 5000 entries");
    let holed = |hole: Value| json!({"kind": "polygon", "points_mm": [[0, 0], [20, 0], [20, 20], [0, 20]], "holes_mm": [hole]});
    service().estimate(&with(round_pad(), "/pads/0/shape", holed(json!([[5, 5], [8, 5], [8, 8]]))));
    shape(holed(json!([[50, 50], [60, 50], [60, 60]])), "holes_mm/0", "not wholly inside");
    shape(holed(json!([[15, 5], [25, 5], [25, 8]])), "holes_mm/0", "not wholly inside");
}

#[test]
fn contradictions_and_excess_are_refused() {
    let earthed = with(with(round_pad(), "/touch/case", json!("earthed")), "/touch/supply_to_earth_pf", json!(20));
    check_piece(earthed, "/touch/supply_to_earth_pf", "no capacitance to earth");
    let layer = json!({"library": "wool-felt"});
    check_place("/stack/base", json!([]), "1 to 16");
    check_place("/stack/base", json!(vec![layer.clone(); 17]), "1 to 16");
    check_place("/stack/overlay", json!(vec![layer; 17]), "0 to 16");
    check_place("/pads", json!(vec![round_pad()["pads"][0].clone(); 257]), "0 to 256");
    check_place("/pads", json!({"0": 1}), "an object");
    check_place("/name", json!("a".repeat(201)), "at most 200 characters");
    service().estimate(&with(round_pad(), "/name", json!("ä".repeat(200))));
}

#[test]
fn orders_and_rates_must_make_sense() {
    for (pointer, to, words) in [
        ("/production/heads", json!(0), "1 to 100"),
        ("/production/heads", json!(2.5), "a whole number"),
        ("/production/pieces_per_frame", json!(0), "1 to 1000"),
        ("/production/quantities", json!([10, 0]), "1 to 10000000"),
        ("/production/quantities", json!(vec![5; 21]), "0 to 20 entries"),
        ("/production/quantities", json!(10), "a list"),
        ("/production/currency", json!("euro"), "3"),
        ("/production/currency", json!("XYZ"), "no currency of ISO 4217"),
        ("/production/currency", json!(978), "a text"),
        ("/production/exchange_rate", json!(1.1), "nothing is exchanged"),
        ("/production/exchange_rate", json!(0), "0.000001 to 1000000"),
        ("/production/decorative_stitches", json!(-1), "0 to 10000000"),
        ("/production/boards", json!(1001), "0 to 1000"),
        ("/production/jig", json!("yes"), "true or false"),
        ("/production/material_per_piece", json!(-0.01), "0 to 1000000"),
        ("/production/material_per_piece", json!(1e300), "0 to 1000000"),
        ("/production/material_per_piece", json!("3.80"), "a text"),
        ("/production/quantity", json!(3), "`quantities`"),
        ("/production/rates/labour_per_hour", json!(-36), "0 to 1000000"),
        ("/production/rates/labour_per_hour", json!({"low": 30, "high": 40}), "an object"),
        ("/production/rates/labor_per_hour", json!(36), "`labour_per_hour`"),
        ("/production/rates/margin_percent", json!(100), "0 to 95"),
        ("/production/rates/yield_percent", json!(0), "1 to 100"),
        ("/production/rates/conductive_stitches_per_min", json!(0), "10 to 3000 stitches/min"),
        ("/production/rates/trim_s", json!("quick"), "0 to 600 s"),
        ("/production/rates/trim_s", json!({"low": 9, "high": 6}), "low limit above its high limit"),
        ("/production/rates/sample_tries", json!({"value": 2, "plus_minus": -1}), "0 to"),
        ("/production/rates/thread_per_m/gold", json!(3), "silver-polyamide-40-tex"),
        ("/production/rates/thread_per_m/steel-90-tex", json!(-1), "0 to 100000"),
        ("/production/rates", json!([]), "a list"),
        ("/production", json!("soon"), "a text"),
    ] {
        let place = match (pointer, &to) {
            ("/production/quantities", Value::Array(list)) if list.len() == 2 => "/production/quantities/1",
            (_, Value::Object(spread)) if spread.contains_key("plus_minus") => "/production/rates/sample_tries/plus_minus",
            _ => pointer,
        };
        check_piece(with(round_pad(), pointer, to), place, words);
    }
    let abroad = with(round_pad(), "/production/currency", json!("JPY"));
    check_piece(abroad.clone(), "/production/exchange_rate", "for JPY an exchange rate is needed");
    service().estimate(&with(abroad, "/production/exchange_rate", json!(171.23)));
    let ask = |question: Value, pointers: &[&str], words: &str| check_question("/api/v1/solve/production", question, pointers, words);
    ask(json!({}), &["/sewing"], "missing");
    ask(json!({"sewing": {"plain_stitches": -5}}), &["/sewing/plain_stitches"], "0 to 100000000");
    ask(json!({"sewing": {"plain_stiches": 5}}), &["/sewing/plain_stiches"], "`plain_stitches`");
    ask(json!({"sewing": {"threads": [{"library": "gold"}]}}), &["/sewing/threads/0/library"], "silver-polyamide-40-tex");
    ask(json!({"sewing": {"threads": [{"needle_m": {"low": 3, "high": 2}}]}}), &["/sewing/threads/0/needle_m"], "low limit");
    ask(json!({"sewing": {}, "quantity": 0}), &["/quantity"], "1 to 10000000");
    ask(json!({"sewing": {}, "production": {"currency": "JPY"}}), &["/production/exchange_rate"], "needed");
}

#[test]
fn a_field_given_twice_is_refused() {
    let twice = round_pad().to_string().replacen("{", "{\"quantity\":1,\"quantity\":2,", 1);
    let answer = service().post_bytes(ESTIMATES, "application/json", twice);
    assert_eq!(answer.status, 422, "{}", answer.text());
    assert_eq!(answer.problem().pointers(), ["/quantity"], "{}", answer.text());
    // Also where the first of the two is what is wrong: the second hides it from whoever looks at values.
    let hidden = with(round_pad(), "/pads/0/run", json!(1)).to_string();
    let run = "\"run\":1";
    let hidden = hidden.replacen(run, "\"run\":{\"length\":1},\"run\":{\"length_mm\":180}", 1);
    let answer = service().post_bytes(ESTIMATES, "application/json", hidden);
    assert_eq!((answer.status, answer.problem().pointers()), (422, vec!["/pads/0/run"]), "{}", answer.text());
}

#[test]
fn every_fault_is_told_at_once() {
    let mut piece = round_pad();
    for (pointer, to) in [
        ("/stack/base/0/thickness_mm", json!(-3)),
        ("/stack/ground", json!("sand")),
        ("/pads/0/shape/diameter_mm", json!("big")),
        ("/pads/0/run/passes", json!(99)),
        ("/controller/library", json!("nothing-known")),
        ("/colour", json!("red")),
        ("/temperature_c", json!(900)),
    ] {
        piece = with(piece, pointer, to);
    }
    let answer = service().post(ESTIMATES, &piece);
    let problem = answer.problem();
    assert_eq!(answer.status, 422);
    for pointer in
        ["/stack/base/0/thickness_mm", "/stack/ground", "/pads/0/shape/diameter_mm", "/pads/0/run/passes", "/colour", "/temperature_c"]
    {
        assert_eq!(problem.pointers().iter().filter(|p| **p == pointer).count(), 1, "{pointer}: {}", answer.text());
    }
    assert!(problem.detail.contains("fields are not allowed"), "{}", problem.detail);

    // Where every field can be read, those that the model refuses are told together with each other.
    let earthed = with(with(round_pad(), "/touch/case", json!("earthed")), "/touch/supply_to_earth_pf", json!(20));
    let many = with(with(earthed, "/controller/library", json!("unknown")), "/pads/0/run/length_mm", json!(-1));
    let answer = service().post(ESTIMATES, &many);
    check_answer(&answer, 422, &["/controller/library", "/pads/0/run/length_mm", "/touch/supply_to_earth_pf"], "3 fields");
    // The value told is the one given.
    let length = answer.problem().faults.into_iter().find(|f| f.pointer == "/pads/0/run/length_mm").expect("the length");
    assert_eq!(length.value, json!(-1));
}

#[test]
fn a_refusal_stays_short() {
    let pads: Vec<Value> = (0..256).map(|_| json!({"bad": 1})).collect();
    let answer = service().post(ESTIMATES, &with(round_pad(), "/pads", json!(pads)));
    assert_eq!(answer.status, 422);
    assert!(answer.problem().faults.len() <= 200);
    let long = service().post(ESTIMATES, &with(round_pad(), "/stack/ground", json!("s".repeat(100_000))));
    assert_eq!(long.status, 422);
    assert!(long.body.len() < 2000, "{} bytes", long.body.len());
}

#[test]
fn addresses_methods_and_queries_must_fit() {
    for path in [
        "/api/v1/estimate",
        "/api/v2/estimates",
        "/api",
        "/api/v1/solve",
        "/nothing",
        "/..%2f..%2fetc/passwd",
        "/js/",
        "/index.html/",
        "/%00",
        "/%ff",
    ] {
        check_answer(&service().get(path), 404, &[], "Nothing lives at");
    }
    check_bytes("/api/v1/solve/everything", "application/json", "{}", 404, &[], "Nothing lives at");
    for path in ["/reference/nothing.js", "/reference/%ff"] {
        check_answer(&service().get(path), 404, &[], "no such file");
    }
    for path in ["/api/v1/webhooks/%ff", "/api/v1/webhooks/%00/deliveries", "/api/v1/jobs/%ff", "/api/v1/jobs/a%20b/result"] {
        check_answer(&service().get(path), 404, &[], "the id that the address names");
    }
    check_answer(&service().post_bytes("/api/v1/webhooks/x/deliveries/%ff/resend", "application/json", ""), 404, &[], "the id that");
    for (method, path, allow) in [
        ("GET", ESTIMATES, "POST"),
        ("PUT", ESTIMATES, "POST"),
        ("DELETE", "/api/v1/batches", "POST"),
        ("POST", "/api/v1/threads", "GET"),
        ("PATCH", "/health/live", "GET"),
        ("POST", "/", "GET"),
    ] {
        let answer = service().send(service().request(method, path));
        check_answer(&answer, 405, &[], "Allow");
        assert!(answer.header("allow").split(',').any(|m| m == allow), "{method} {path}: {}", answer.header("allow"));
    }
    let good = round_pad().to_string();
    for query in ["working=yes", "working=1", "workings=true", "working=true&working=false", "x=1"] {
        check_bytes(
            &format!("{ESTIMATES}?{query}"),
            "application/json",
            &good,
            422,
            &[""],
            "inputs, working, approach and runs, each true or false",
        );
    }
    for query in ["working=true", "working=false", "approach=true", ""] {
        service().post_bytes(&format!("{ESTIMATES}?{query}"), "application/json", good.clone()).ok();
    }
}

#[test]
fn how_capacitances_are_computed_must_be_said_in_range() {
    let guard = |to: Value| with(round_pad(), "/pads/0/guard", to);
    for (piece, pointer, words) in [
        (with(round_pad(), "/method", json!("exact")), "/method", "one of best, closed_form, field"),
        (with(round_pad(), "/method", json!("closed form")), "/method", "did you mean `closed_form`"),
        (with(round_pad(), "/relative_tolerance", json!(0)), "/relative_tolerance", "0.000000001 to 1"),
        (with(round_pad(), "/relative_tolerance", json!(1.5)), "/relative_tolerance", "0.000000001 to 1"),
        (with(round_pad(), "/relative_tolerance", json!({"low": 0.1, "high": 0.2})), "/relative_tolerance", "an object"),
        (with(round_pad(), "/relative_tolerances", json!(0.1)), "/relative_tolerances", "did you mean `relative_tolerance`"),
        (with(round_pad(), "/stack/opening_diameter_mm", json!(0.4)), "/stack/opening_diameter_mm", "0.5 to 1000 mm"),
        (with(round_pad(), "/stack/opening_diameter_mm", json!("wide")), "/stack/opening_diameter_mm", "a text"),
        (with(round_pad(), "/stack/overlay/0/water_fraction", json!(-0.1)), "/stack/overlay/0/water_fraction", "0 to 0.95"),
        (with(round_pad(), "/stack/base/0/water_fraction", json!(1)), "/stack/base/0/water_fraction", "0 to 0.95"),
        (with(round_pad(), "/touch/off_centre_mm", json!(-1)), "/touch/off_centre_mm", "0 to 500 mm"),
        (with(round_pad(), "/touch/off_center_mm", json!(1)), "/touch/off_center_mm", "did you mean `off_centre_mm`"),
        (guard(json!({"gap_mm": 0.1, "width_mm": 2, "held": "ground"})), "/pads/0/guard/gap_mm", "0.2 to 100 mm"),
        (guard(json!({"gap_mm": 2, "width_mm": 0, "held": "ground"})), "/pads/0/guard/width_mm", "0.2 to 100 mm"),
        (guard(json!({"gap_mm": 2, "width_mm": 3})), "/pads/0/guard/held", "missing"),
        (guard(json!({"gap_mm": 2, "held": "driven"})), "/pads/0/guard/width_mm", "missing"),
        (guard(json!({"gap_mm": 2, "width_mm": 3, "held": "tied"})), "/pads/0/guard/held", "one of ground, driven"),
        (guard(json!({"gap_mm": 2, "width_mm": 3, "held": "driven", "rows": 1})), "/pads/0/guard/rows", "not known"),
        (guard(json!("ground")), "/pads/0/guard", "a text"),
    ] {
        check_piece(piece, pointer, words);
    }
}

#[test]
fn what_the_field_cannot_answer_is_refused() {
    let open = with(round_pad(), "/stack/opening_diameter_mm", json!(10));
    let guard = json!({"gap_mm": 2, "width_mm": 3, "held": "ground"});
    let off = with(round_pad(), "/touch/off_centre_mm", json!(4));
    let triangle = json!({"kind": "polygon", "points_mm": [[0, 0], [30, 0], [15, 26]]});
    for (piece, pointer, words) in [
        (with(open.clone(), "/stack/ground", json!("none")), "/stack/opening_diameter_mm", "no ground to open"),
        (with(open.clone(), "/touch/off_centre_mm", json!(4)), "/touch/off_centre_mm", "come down on the middle"),
        (with(open.clone(), "/pads/0/guard", guard.clone()), "/stack/opening_diameter_mm", "round pads without a guard"),
        (with(open.clone(), "/pads/0/shape", triangle.clone()), "/stack/opening_diameter_mm", "round pads without a guard"),
        (with(open, "/method", json!("closed_form")), "/method", "has no closed form"),
        (with(off.clone(), "/method", json!("closed_form")), "/method", "has no closed form"),
        (with(with(round_pad(), "/pads/0/guard", guard.clone()), "/method", json!("closed_form")), "/method", "best or field"),
        (with(with(round_pad(), "/pads/0/guard", guard), "/pads/0/shape", triangle), "/pads/0/guard", "round, rectangular and ring pads"),
    ] {
        check_piece(piece, pointer, words);
    }
    service().estimate(&off);
}

#[test]
fn the_course_of_a_touch_is_told_of_a_few_kinds_of_pads() {
    let pads = |n: usize| {
        let kind = |k: usize| with(round_pad()["pads"][0].clone(), "/shape/diameter_mm", json!(20.0 + k as f64));
        with(round_pad(), "/pads", json!((0..n).map(kind).collect::<Vec<_>>())).to_string()
    };
    let path = format!("{ESTIMATES}?approach=true");
    service().post_bytes(&path, "application/json", pads(16)).ok();
    check_bytes(&path, "application/json", &pads(17), 422, &["/pads"], "at most 16 kinds");
}

#[test]
fn a_picture_is_refused_as_an_estimate_is() {
    let charge = |query: &str, body: &str, status: u16, pointers: &[&str], words: &str| {
        check_bytes(&format!("{CHARGE}{query}"), "application/json", body, status, pointers, words);
    };
    let good = round_pad().to_string();
    charge("?pad=1", &good, 422, &[""], "The piece has no such pad.");
    charge("?pad=1", &good, 422, &[""], "pad=0 to pad=0");
    charge("?pad=99999999999999999999", &good, 422, &[""], "pad, a whole number");
    charge("?pad=-1", &good, 422, &[""], "pad, a whole number");
    charge("?pad=first", &good, 422, &[""], "pad, a whole number");
    charge("?pads=0", &good, 422, &[""], "pad, a whole number");
    charge("", "", 400, &[], "empty");
    charge("", &with(round_pad(), "/pads/0/shape/diameter_mm", json!(-1)).to_string(), 422, &["/pads/0/shape/diameter_mm"], "0.5 to 1000");
    // A bad pad and a bad piece: the piece is told first, as the pad may come to be with it.
    charge("?pad=7", &with(round_pad(), "/quantity", json!(0)).to_string(), 422, &["/quantity"], "1 to 10000000");
    charge("?pad=0", &with(round_pad(), "/pads", json!([])).to_string(), 422, &[""], "no feature");
    check_bytes(CHARGE, "text/csv", &good, 415, &[], "this call takes application/json");
}

#[test]
fn a_body_may_be_as_large_as_the_setting_says() {
    let small = Service::start(toile::config::Limits { body_bytes: 4096, ..limits() });
    let padded = |bytes: usize| {
        let piece = round_pad().to_string();
        format!("{piece}{}", " ".repeat(bytes - piece.len()))
    };
    small.post_bytes(ESTIMATES, "application/json", padded(4096)).ok();
    check_answer(&small.post_bytes(ESTIMATES, "application/json", padded(4097)), 413, &[], "larger than this service allows");
    check_answer(&small.post_bytes(TOUCH, "application/json", " ".repeat(1_000_000)), 413, &[], "--body-kib");
}

#[test]
fn questions_about_conductors_must_make_sense() {
    let layer = json!([{"thickness_mm": 3.0, "relative_permittivity": 1.4}]);
    let pad = json!({"plane": "stitched", "shape": {"kind": "round", "diameter_mm": 24}});
    let finger = json!({"plane": "top", "shape": {"kind": "round", "diameter_mm": 9}});
    let good = json!({"ground": "sheet", "base": layer, "overlay": layer, "conductors": [pad, finger]});
    service().post(CAPACITANCE, &good).ok();
    let check = |pointer: &str, to: Value, words: &str| check_question(CAPACITANCE, with(good.clone(), pointer, to), &[pointer], words);
    for method in ["best", "closed_form", "field"] {
        service().post(CAPACITANCE, &with(good.clone(), "/method", json!(method))).ok();
    }
    check("/method", json!("fast"), "one of best, closed_form, field");
    check("/method", json!("Field"), "did you mean `field`");
    check("/method", json!(2), "one of best, closed_form, field");
    check("/base", json!([]), "on the ground sheet");
    check("/overlay", json!([]), "lie on the stitched ones");
    check("/conductors", json!([]), "1 to 128");
    check("/conductors", json!(vec![pad.clone(); 129]), "1 to 128");
    for tolerance in [json!(0), json!(-1e-3), json!(9e-10), json!(1.01), json!(1e300)] {
        check("/relative_tolerance", tolerance, "0.000000001 to 1");
    }
    check("/relative_tolerance", json!({"value": 0.1, "plus_minus": 0.01}), "an object");
    check("/relative_tolerance", json!("small"), "a text");
    check("/ground", json!("body"), "one of sheet, none");
    check("/base/0/thickness_mm", json!(0), "0.001 to 10000");
    check("/base/0/thickness_mm", json!({"value": 3, "plus_minus": 1}), "an object");
    check("/conductors/1/plane", json!("middle"), "one of stitched, top");
    check("/conductors/0/shape/diameter_mm", json!(-24), "0.5 to 1000");
    let rows = with(good.clone(), "/conductors/0/rows", json!({"thread_diameter_mm": 0.2}));
    check_question(CAPACITANCE, rows, &["/conductors/0/rows/row_spacing_mm"], "missing");
    let line = |points: Value| with(good.clone(), "/conductors/0/shape", json!({"kind": "line", "points_mm": points, "width_mm": 1}));
    service().post(CAPACITANCE, &line(json!([[0, 0], [50, 0]]))).ok();
    let path = |points: Value, words: &str| check_question(CAPACITANCE, line(points), &["/conductors/0/shape/points_mm"], words);
    path(json!([[0, 0]]), "2 to 512");
    path(json!([[0, 0], [0, 0]]), "The path has no length.");
    path(json!([[0, 0], [50, 0], [20, 0]]), "double back");
    path(json!([[0, 0], [50, 0], [50, 20], [20, 20], [20, -20]]), "cross");
    path(json!([[0, 0], [50, 0], [50, 20], [0, 20], [0, 0]]), "meet itself");
    // A point given twice in a row is one point.
    let twice = service().post(CAPACITANCE, &line(json!([[0, 0], [0, 0], [50, 0]]))).ok();
    assert_eq!(twice["maxwell_pf"], service().post(CAPACITANCE, &line(json!([[0, 0], [50, 0]]))).ok()["maxwell_pf"]);
    let polygon = |points: Value, holes: Value, place: &str, words: &str| {
        let shape = json!({"kind": "polygon", "points_mm": points, "holes_mm": holes});
        let place = format!("/conductors/0/shape/{place}");
        check_question(CAPACITANCE, with(good.clone(), "/conductors/0/shape", shape), &[&place], words);
    };
    let square = json!([[0, 0], [20, 0], [20, 20], [0, 20]]);
    polygon(json!([[0, 0], [10, 10], [10, 0], [0, 10]]), json!([]), "points_mm", "cross");
    polygon(json!([[0, 0], [10, 0], [20, 1e-9]]), json!([]), "points_mm", "no area");
    polygon(json!([[0, 0], [10, 0], [10, 0], [0, 10]]), json!([]), "points_mm", "cross, touch or double back");
    polygon(square.clone(), json!([[[5, 5], [25, 5], [8, 8]]]), "holes_mm/0", "not wholly inside");
    polygon(square.clone(), json!([[[5, 5], [9, 5], [9, 9]], [[6, 5], [8, 5], [8, 6]]]), "holes_mm/1", "not wholly inside");
    polygon(square, json!([[[5, 5], [9, 9], [9, 5], [5, 9]]]), "points_mm", "cross");
    let ring = json!({"kind": "ring", "inner_diameter_mm": 20, "outer_diameter_mm": 20});
    let place = ["/conductors/0/shape/inner_diameter_mm"];
    check_question(CAPACITANCE, with(good.clone(), "/conductors/0/shape", ring), &place, "leaves no ring");
    check_question(CAPACITANCE, json!({"ground": "none"}), &["/conductors"], "missing");
}

#[test]
fn conductors_whose_field_cannot_be_solved_are_named() {
    let layer = json!([{"thickness_mm": 3.0, "relative_permittivity": 1.4}]);
    let disc = |name: &str, plane: &str, x: f64| json!({"name": name, "plane": plane, "shape": {"kind": "round", "diameter_mm": 24}, "centre_mm": [x, 0]});
    let question =
        |conductors: Value| json!({"ground": "sheet", "base": layer, "overlay": layer, "conductors": conductors, "method": "field"});
    let pads =
        |gap: f64| question(json!([disc("brighter", "stitched", 0.0), disc("finger", "top", 0.0), disc("dimmer", "stitched", 24.0 + gap)]));
    service().post(CAPACITANCE, &pads(1.0)).ok();
    for gap in [-3.0, 0.0] {
        check_question(CAPACITANCE, pads(gap), &["/conductors/2"], "overlaps or touches conductor 1 (brighter) on the same plane");
        check_question(CAPACITANCE, pads(gap), &["/conductors/2"], "conductors on one plane that do not touch");
    }
    // A ring around a disc touches nothing; a disc inside a disc does.
    let around = json!({"plane": "stitched", "shape": {"kind": "ring", "inner_diameter_mm": 30, "outer_diameter_mm": 40}});
    service().post(CAPACITANCE, &question(json!([around, disc("brighter", "stitched", 0.0)]))).ok();
    let over = json!({"plane": "stitched", "shape": {"kind": "round", "diameter_mm": 40}});
    check_question(
        CAPACITANCE,
        question(json!([over, disc("brighter", "stitched", 0.0)])),
        &["/conductors/1"],
        "conductor 1 on the same plane",
    );

    let run = |length: f64| json!([{"plane": "stitched", "shape": {"kind": "line", "points_mm": [[0, 0], [length, 0]], "width_mm": 2}}]);
    check_question(CAPACITANCE, question(run(2600.0)), &["/conductors/0/shape"], "at most 2000 mm across");
    // Frames within frames, each near the next: more than one question may take.
    let square = |half: f64| json!([[-half, -half], [half, -half], [half, half], [-half, half]]);
    let frame = |k: u32| {
        let half = 10.0 + f64::from(k);
        json!({"plane": "stitched", "shape": {"kind": "polygon", "points_mm": square(half + 0.5), "holes_mm": [square(half)]}})
    };
    let frames: Vec<Value> = (0..120).map(frame).collect();
    check_question(CAPACITANCE, question(json!(frames)), &["/conductors"], "12000 unknowns at the most");
    let far = json!({"plane": "stitched", "shape": {"kind": "polygon", "points_mm": [[0, 0], [2500, 0], [0, 10]]}});
    check_question(CAPACITANCE, question(json!([disc("pad", "top", 0.0), far])), &["/conductors/1/shape"], "conductor 2");
}

#[test]
fn questions_about_lines_and_rows_must_make_sense() {
    let strip = json!({"kind": "strip", "width_mm": 2});
    let line = json!({"ground": "sheet", "base": [{"thickness_mm": 1, "relative_permittivity": 1.5}], "cross_section": strip});
    service().post(LINE, &line).ok();
    check_question(LINE, with(line.clone(), "/base", json!([])), &["/base"], "on the ground sheet");
    check_question(LINE, with(line.clone(), "/cross_section/width_mm", json!(0)), &["/cross_section/width_mm"], "0.001 to 1000");
    check_question(LINE, with(line.clone(), "/cross_section/kind", json!("tape")), &["/cross_section/kind"], "one of strip, thread");
    check_question(LINE, with(line.clone(), "/base/0/relative_permittivity", json!(0.9)), &["/base/0/relative_permittivity"], "1 to 100");

    let rows = json!({"thread_diameter_mm": 0.25, "row_spacing_mm": 0.8, "height_mm": 3});
    service().post(ROWS, &rows).ok();
    check_question(ROWS, with(rows.clone(), "/row_spacing_mm", json!(0.2)), &["/row_spacing_mm"], "overlap");
    check_question(ROWS, with(rows.clone(), "/height_mm", json!(0.1)), &["/height_mm"], "reach the ground");
    check_question(
        ROWS,
        with(with(rows.clone(), "/row_spacing_mm", json!(0.2)), "/height_mm", json!(0.1)),
        &["/height_mm", "/row_spacing_mm"],
        "2 fields",
    );
    check_question(ROWS, with(rows.clone(), "/thread_diameter_mm", json!(-1)), &["/thread_diameter_mm"], "0.01 to 5");
    for (path, question) in [(LINE, line), (ROWS, rows)] {
        for method in ["best", "closed_form", "field"] {
            service().post(path, &with(with(question.clone(), "/method", json!(method)), "/relative_tolerance", json!(0.01))).ok();
        }
        check_question(path, with(question.clone(), "/method", json!("bests")), &["/method"], "did you mean `best`");
        check_question(path, with(question.clone(), "/relative_tolerance", json!(0)), &["/relative_tolerance"], "0.000000001 to 1");
        check_question(path, with(question, "/tolerance", json!(0.1)), &["/tolerance"], "did you mean `relative_tolerance`");
    }
}

#[test]
fn questions_about_stitches_and_touches_must_make_sense() {
    let running = json!({"kind": "running", "length_mm": 203, "stitch_length_mm": 3.6, "thickness_mm": 0.46, "interlace_fraction": 1});
    service().post(STITCHING, &running).ok();
    check_question(STITCHING, with(running.clone(), "/kind", json!("chain")), &["/kind"], "one of running, back, satin, fill");
    check_question(STITCHING, with(running.clone(), "/passes", json!(0)), &["/passes"], "1 to 50");
    check_question(STITCHING, with(running.clone(), "/interlace_fraction", json!(-0.1)), &["/interlace_fraction"], "0 to 1");
    check_question(STITCHING, with(running.clone(), "/column_width_mm", json!(3)), &["/column_width_mm"], "not known");
    let back = with(with(running, "/kind", json!("back")), "/length_mm", json!(100_000));
    let endless = with(with(back, "/stitch_length_mm", json!(0.05)), "/passes", json!(50));
    check_question(STITCHING, endless, &["/length_mm"], "too many stitches");

    let coefficients = json!({"pad_finger": 1, "pad_ground_touched": 2, "pad_ground_untouched": 2, "finger_ground": 0.1});
    let touch = json!({"maxwell_pf": coefficients, "body_to_earth_pf": 150, "supply_to_earth_pf": null, "body_to_supply_pf": 2});
    service().post(TOUCH, &touch).ok();
    check_question(TOUCH, with(touch.clone(), "/maxwell_pf/pad_finger", json!(-1)), &["/maxwell_pf/pad_finger"], "0 to");
    check_question(TOUCH, with(touch.clone(), "/body_to_earth_pf", json!(null)), &["/body_to_earth_pf"], "null");
    check_question(TOUCH, with(touch, "/maxwell_pf/finger_pad", json!(1)), &["/maxwell_pf/finger_pad"], "not known");
}
