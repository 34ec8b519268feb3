//! Electrodes as features of a piece: the same numbers as `solve/electrode`, their checks and cautions, and refusals at the place.

use serde_json::{Value, json};
use toile_tests::{demo, round_pad, service, with};

use crate::bad_requests::check_question;

const ESTIMATES: &str = "/api/v1/estimates";

/// An electrode of 1 cm2 with nothing left to assumptions but its run.
fn plain() -> Value {
    json!({
        "kind": "reads",
        // A square of 1 cm2.
        "shape": {"kind": "rectangle", "width_mm": 10, "length_mm": 10},
        "texture": {"kind": "fill", "row_spacing_mm": 0.5, "stitch_length_mm": 2},
        "thread": {"linear_resistance_ohm_per_m": 100, "diameter_mm": 0.25},
        "run": {"length_mm": 200, "terminal": {"contact_resistance_ohm": 0}},
        "skin": "gel",
        "touching_share": 1, "surface_gain": 1,
        "contact": {
            "skin_kohm_cm2": 100, "skin_nf_per_cm2": 20, "metal_kohm_cm2": 2, "metal_uf_per_cm2": 10, "tissue_ohm_m": 0, "skin_noise_uv": 3
        },
        "fit": {"pressure_kpa": 1},
        "signal": "heart", "signal_mv": 1, "band_low_hz": 0.5, "band_high_hz": 150,
        "amplifier": {
            "input_resistance_mohm": 10, "input_capacitance_pf": 100, "noise_nv_per_rthz": 50, "noise_fa_per_rthz": 7, "rejection_db": 90
        },
        "pair": {"mismatch_percent": 50, "common_mode_mv": 10, "mains_hz": 50}
    })
}

/// One that stimulates, from the same cloth.
fn pulsed(current_ma: f64) -> Value {
    let mut electrode = plain();
    let fields = electrode.as_object_mut().expect("an object");
    for field in ["signal", "signal_mv", "band_low_hz", "band_high_hz", "amplifier", "pair"] {
        fields.remove(field);
    }
    fields.insert("kind".into(), json!("stimulates"));
    fields.insert("stimulation".into(), json!({"current_ma": current_ma, "phase_width_us": 200, "rate_hz": 50}));
    electrode
}

/// At the temperature that resistances of threads are told for, so that the run is what its length says.
fn piece(electrode: Value) -> Value {
    json!({"electrodes": [electrode], "temperature_c": 20})
}

fn estimate(piece: &Value) -> Value {
    service().post(&format!("{ESTIMATES}?inputs=true&working=true"), piece).ok()
}

fn checks<'a>(answer: &'a Value, of: &str) -> Vec<&'a Value> {
    answer["checks"].as_array().expect("checks").iter().filter(|c| c["pointer"] == of).collect()
}

/// Answers carry six digits.
#[track_caller]
fn same(what: &str, a: &Value, b: &Value) {
    let [x, y] = [a, b].map(|v| v.as_f64().unwrap_or_else(|| panic!("{what}: {v}")));
    assert!((x - y).abs() <= 1e-5 * y.abs().max(1e-12), "{what}: {x} against {y}");
}

#[test]
fn a_reading_electrode_is_the_one_that_stands_alone() {
    let answer = estimate(&piece(plain()));
    let electrode = &answer["electrodes"][0];
    let reading = &electrode["reading"];
    let mut question = plain();
    let fields = question.as_object_mut().expect("an object");
    for field in ["kind", "shape", "thread", "run", "fit", "signal_mv"] {
        fields.remove(field);
    }
    fields.insert("footprint_cm2".into(), json!(1));
    fields.insert("texture".into(), json!({"kind": "fill", "thread_diameter_mm": 0.25, "row_spacing_mm": 0.5}));
    fields.insert("run_ohm".into(), electrode["run_ohm"].clone());
    fields.insert("frequencies_hz".into(), json!([0.5, 10]));
    let alone = service().post("/api/v1/solve/electrode", &question).ok();
    for field in ["worst_loss_percent", "hum_uv", "noise_uv", "thermal_noise_uv", "conversion", "needed_input_mohm"] {
        same(field, &reading[field], &alone["reading"][field]);
    }
    same("phase", &reading["read_out_phase_deg"], &alone["frequencies"][0]["read_out_phase_deg"]);
    same("impedance", &electrode["impedance_10_hz_ohm"], &alone["frequencies"][1]["impedance_ohm"]);
    same("footprint", &electrode["footprint_cm2"], &json!(1));
    // By hand: 200 mm of a thread of 100 ohm/m in stitches of 2.5 mm, each going down and up three quarters of 1.7 mm of cloth,
    // the middles of what is assumed.
    same("run", &electrode["run_ohm"], &json!(20.0 * (2.5 + 2.0 * 0.75 * 1.7) / 2.5));
    assert!(electrode["stimulation"].is_null() && electrode["name"] == "electrode 1" && electrode["pointer"] == "/electrodes/0");
    let kinds: Vec<&str> = checks(&answer, "/electrodes/0").iter().filter_map(|c| c["check"].as_str()).collect();
    assert_eq!(kinds, ["read_out_loss", "noise", "common_mode", "fit", "stitchable"]);
    for check in checks(&answer, "/electrodes/0") {
        assert!(check["pad"].is_null() && check["feature"] == "electrode 1", "{check}");
    }
    assert!(answer["working"].as_array().expect("the working").iter().any(|step| step["feature"] == "electrode 1"));
    // 21 rows of 10 mm in stitches of 2 mm, 20 turns, and 200 mm of run in stitches of 2.5 mm.
    assert_eq!(answer["production"]["stitches"], 21.0 * 5.0 + 20.0 + 80.0, "{}", answer["production"]);
}

#[test]
fn every_number_left_out_is_shown_with_its_place() {
    let bare = json!({
        "kind": "reads", "shape": {"kind": "round", "diameter_mm": 30}, "skin": "dry", "thread": {"library": "silver-polyamide-40-tex"},
        "texture": {"kind": "loop_pile", "row_spacing_mm": 1, "stitch_length_mm": 2, "loop_height_mm": 1.5}, "run": {"length_mm": 150}
    });
    let answer = estimate(&piece(bare.clone()));
    let inputs = answer["inputs"].as_array().expect("inputs");
    for pointer in [
        "/electrodes/0/touching_share",
        "/electrodes/0/surface_gain",
        "/electrodes/0/contact/skin_kohm_cm2",
        "/electrodes/0/fit/pressure_kpa",
        "/electrodes/0/signal_mv",
        "/electrodes/0/amplifier/input_resistance_mohm",
        "/electrodes/0/pair/mismatch_percent",
    ] {
        let input = inputs.iter().find(|i| i["pointer"] == pointer).unwrap_or_else(|| panic!("no {pointer}"));
        assert_eq!(input["origin"], "assumed", "{input}");
        // What the answer names can be given back, as it stands, at the same place.
        let given = estimate(&with(piece(bare.clone()), pointer, input["value"].clone()));
        let back = given["inputs"].as_array().expect("inputs").iter().find(|i| i["pointer"] == pointer).expect("the same place").clone();
        assert_eq!(back["origin"], "given", "{back}");
        same(pointer, &back["value"], &input["value"]);
    }
}

#[test]
fn a_stimulating_electrode_never_stands_better_than_measure_first() {
    for (current, verdict) in [(0.001, "measure first"), (0.5, "measure first"), (150.0, "out of reach")] {
        let answer = estimate(&piece(pulsed(current)));
        assert_eq!(answer["verdict"], verdict, "{current}: {}", answer["sentence"]);
        assert_eq!(answer["electrodes"][0]["verdict"], verdict, "{current}");
        let pulses = &answer["electrodes"][0]["stimulation"];
        // 1 cm2 of skin: r.m.s. of two phases of 200 us, 50 times a second.
        same("density", &pulses["current_density_ma_per_cm2"], &json!(current * (2.0f64 * 200e-6 * 50.0).sqrt()));
        same("charge", &pulses["thread_charge_uc_per_cm2"], &json!(current * 0.2));
        assert!(pulses["attention_ma_per_cm2"] == 2.0 && pulses["unbalanced_ma"] == 0.0, "{pulses}");
        let subjects: Vec<&str> = answer["cautions"].as_array().expect("cautions").iter().filter_map(|c| c["subject"].as_str()).collect();
        assert_eq!(subjects[..4], ["current into the body", "implants", "head, neck and chest", "burns under an electrode"]);
        for word in ["licensed", "medical law"] {
            assert!(answer["cautions"][0]["text"].as_str().is_some_and(|t| t.contains(word)), "{word}");
        }
    }
    // Beside pads that are comfortable, the piece is no better than its electrode.
    let mixed = with(demo(), "/electrodes", json!([pulsed(0.01)]));
    let answer = estimate(&mixed);
    assert_eq!(answer["verdict"], "measure first", "{}", answer["sentence"]);
    assert_eq!(answer["pads"].as_array().map(Vec::len), Some(4));
    // And no change is offered that would tune what is passed into a person.
    assert!(!answer["changes"].to_string().contains("stimulation"), "{}", answer["changes"]);
}

#[test]
fn the_example_of_the_document_is_answered_in_a_piece() {
    let document = service().get("/api/v1/openapi.json").ok();
    let example = document["components"]["schemas"]["Electrode"]["examples"][0].clone();
    assert_eq!(example["kind"], "reads", "{example}");
    for piece in [piece(example.clone()), with(round_pad(), "/electrodes", json!([example]))] {
        let answer = estimate(&piece);
        assert_eq!(answer["electrodes"][0]["name"], "left");
        // Pressure under a band by hand: tension over width times radius of the body.
        let by_hand = 3.0 / (0.040 * 0.800 / std::f64::consts::TAU) / 1e3;
        same("pressure", &answer["electrodes"][0]["pressure_kpa"], &json!(by_hand));
    }
}

#[test]
fn faulty_electrodes_are_refused_at_their_place() {
    let refuse = |electrode: Value, field: &str, words: &str| {
        let pointer = format!("/electrodes/0{field}");
        check_question(ESTIMATES, piece(electrode), &[&pointer], words);
    };
    for (field, to, words) in [
        ("/kind", json!("read"), "did you mean `reads`"),
        ("/kind", json!("shocks"), "one of reads, stimulates"),
        ("/shape/diametre_mm", json!(3), "not known"),
        ("/texture/kind", json!("pile"), "one of loop_pile, fill"),
        ("/texture/row_spacing_mm", json!(0), "0.05 to 50"),
        ("/texture/loop_height_mm", json!(2), "not known"),
        ("/skin", json!("wet"), "one of gel, damp, dry"),
        ("/skin", json!("dryy"), "did you mean `dry`"),
        ("/touching_share", json!(1.2), "0.01 to 1"),
        ("/surface_gain", json!(-1), "0.01 to 100"),
        ("/contact/skin_kohm_cm2", json!(0), "0.1 to 100000"),
        ("/contact/metal_uf_per_cm2", json!("10"), "a text"),
        ("/contact/skin_ohm_cm2", json!(5), "did you mean `skin_kohm_cm2`"),
        ("/fit/pressure_kpa", json!(80), "0 to 50"),
        ("/fit/girth_mm", json!(800), "The pressure is given already"),
        ("/signal", json!("brain"), "one of heart, muscle"),
        ("/signal_mv", json!(0), "0.001 to 100"),
        ("/band_low_hz", json!(0.01), "0.05 to 10000"),
        ("/band_low_hz", json!(200), "The band has no width"),
        ("/amplifier/input_resistance_mohm", json!(0), "0.01 to 1000000"),
        ("/amplifier/rejection_db", json!(-3), "0 to 200"),
        ("/pair/mismatch_percent", json!(2000), "0 to 1000"),
        ("/pair/mains_hz", json!(5), "16 to 400"),
        ("/run/length_mm", json!(-5), "mm"),
        ("/thread/library", json!("silver"), "one of"),
        ("/stimulation", json!({"current_ma": 1, "phase_width_us": 200, "rate_hz": 50}), "passes no current"),
    ] {
        refuse(with(plain(), field, to), field, words);
    }
    for (field, to, words) in [
        ("/stimulation/current_ma", json!(201), "0.001 to 200"),
        ("/stimulation/phase_width_us", json!(0), "1 to 100000"),
        ("/stimulation/phases", json!(3), "1 to 2"),
        ("/stimulation/rate_hz", json!(2600), "run into each other"),
        ("/stimulation/max_charge_uc_per_cm2", json!(0), "0.01 to 10000"),
        ("/signal", json!("muscle"), "belongs to an electrode that reads"),
        ("/amplifier", json!({"rejection_db": 80}), "belongs to an electrode that reads"),
    ] {
        refuse(with(pulsed(1.0), field, to), field, words);
    }
    let wide = with(plain(), "/touching_share", json!({"low": 0.5, "high": 2}));
    check_question(ESTIMATES, piece(wide), &["/electrodes/0/touching_share/high"], "0.01 to 1");
    let mut without = pulsed(1.0);
    without.as_object_mut().expect("an object").remove("stimulation");
    refuse(without, "/stimulation", "needs its pulses");
    let band = with(plain(), "/fit", json!({"tension_n": 3}));
    check_question(ESTIMATES, piece(band), &["/electrodes/0/fit/band_width_mm", "/electrodes/0/fit/girth_mm"], "a number");
    check_question(
        ESTIMATES,
        piece(json!({})),
        &["kind", "run", "shape", "skin", "texture", "thread"].map(|f| format!("/electrodes/0/{f}")).each_ref().map(String::as_str),
        "missing",
    );
    check_question(ESTIMATES, json!({"electrodes": vec![plain(); 65]}), &["/electrodes"], "0 to 64");
    check_question(ESTIMATES, json!({"electrodes": []}), &[""], "at least one entry in pads");
    check_question(ESTIMATES, json!({"electrode": [plain()]}), &["/electrode"], "did you mean `electrodes`");
}

/// One row of a sheet and the same electrode in JSON are one piece, so they have the same numbers.
#[test]
fn a_row_of_a_sheet_says_what_the_json_says() {
    let columns = [
        ("feature", "electrode"),
        ("electrode_use", "reads"),
        ("width_mm", "10"),
        ("length_mm", "10"),
        ("row_spacing_mm", "0.5"),
        ("fill_stitch_length_mm", "2"),
        ("thread_resistance_ohm_per_m", "100"),
        ("thread_diameter_mm", "0.25"),
        ("run_length_mm", "200"),
        ("contact_resistance_ohm", "0"),
        ("skin", "gel"),
        ("touching_share", "1"),
        ("surface_gain", "1"),
        ("skin_kohm_cm2", "100"),
        ("skin_nf_per_cm2", "20"),
        ("metal_kohm_cm2", "2"),
        ("metal_uf_per_cm2", "10"),
        ("tissue_ohm_m", "0"),
        ("skin_noise_uv", "3"),
        ("pressure_kpa", "1"),
        ("body_signal", "heart"),
        ("body_signal_mv", "1"),
        ("band_low_hz", "0.5"),
        ("band_high_hz", "150"),
        ("input_resistance_mohm", "10"),
        ("input_capacitance_pf", "100"),
        ("noise_nv_per_rthz", "50"),
        ("noise_fa_per_rthz", "7"),
        ("rejection_db", "90"),
        ("mismatch_percent", "50"),
        ("common_mode_mv", "10"),
        ("mains_hz", "50"),
        ("temperature_c", "20"),
    ];
    let (header, row): (Vec<&str>, Vec<&str>) = columns.into_iter().unzip();
    let answer = service().batch(format!("{}\n{}\n", header.join(","), row.join(",")));
    let mut reader = csv::Reader::from_reader(answer.text().as_bytes());
    let names = reader.headers().expect("a header").clone();
    let cells = reader.records().next().expect("a row").expect("a row");
    let cell = |column: &str| &cells[names.iter().position(|name| name == column).unwrap_or_else(|| panic!("no {column}"))];
    assert_eq!(cell("problem"), "");
    let estimate = estimate(&piece(plain()));
    let electrode = &estimate["electrodes"][0];
    assert_eq!(cell("verdict"), electrode["verdict"].as_str().expect("a verdict").replace('_', " "));
    for (column, json) in [
        ("run_ohm", &electrode["run_ohm"]),
        ("impedance_10_hz_ohm", &electrode["impedance_10_hz_ohm"]),
        ("read_out_loss_percent", &electrode["reading"]["worst_loss_percent"]),
        ("noise_uv", &electrode["reading"]["noise_uv"]),
        ("hum_uv", &electrode["reading"]["hum_uv"]),
        ("contact_pressure_kpa", &electrode["pressure_kpa"]),
    ] {
        assert_eq!(cell(column), json.to_string(), "{column}");
    }
}

/// A long run looked at closely takes as long as a thousand estimates: kinds of them are bounded for electrodes too.
#[test]
fn runs_of_electrodes_are_looked_at_closely_within_bounds() {
    let of = |kinds: u32| {
        let electrodes: Vec<Value> = (0..kinds).map(|k| with(plain(), "/run/length_mm", json!(100 + k))).collect();
        service().post(&format!("{ESTIMATES}?runs=true"), &json!({"electrodes": electrodes}))
    };
    let runs = of(16).ok()["runs"].clone();
    assert_eq!(runs.as_array().map(Vec::len), Some(16));
    assert_eq!((&runs[15]["pointer"], &runs[15]["longest_run_mm"]), (&json!("/electrodes/15"), &Value::Null));
    let many = of(17);
    assert_eq!((many.status, many.problem().pointers()), (422, vec!["/electrodes"]));
    assert!(many.problem().words().contains("at most 16 kinds"), "{}", many.text());
}
