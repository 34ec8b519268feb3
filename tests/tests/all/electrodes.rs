//! Electrodes over the wire: against tables, by hand, and refused where they make no sense.

use std::collections::BTreeMap;

use serde_json::{Value, json};
use toile_tests::{reference_rows, service, with};

use crate::bad_requests::check_question;

const ELECTRODE: &str = "/api/v1/solve/electrode";

/// Answers carry 12 digits.
const DIGITS: f64 = 1e-11;

fn table(name: &str) -> Vec<BTreeMap<String, String>> {
    reference_rows(name).into_iter().map(|row| row.into_iter().collect()).collect()
}

#[track_caller]
fn close(what: &str, value: &Value, expected: f64, tolerance: f64) {
    let value = value.as_f64().unwrap_or_else(|| panic!("{what}: {value}"));
    assert!((value - expected).abs() <= tolerance * expected.abs(), "{what}: {value} against {expected}");
}

/// An electrode of 1 cm2 with nothing left to assumptions.
fn plain() -> Value {
    json!({
        "footprint_cm2": 1, "texture": {"kind": "fill", "thread_diameter_mm": 0.25, "row_spacing_mm": 0.5}, "skin": "gel",
        "touching_share": 1, "surface_gain": 1,
        "contact": {
            "skin_kohm_cm2": 100, "skin_nf_per_cm2": 20, "metal_kohm_cm2": 2, "metal_uf_per_cm2": 10, "tissue_ohm_m": 0, "skin_noise_uv": 0
        },
        "amplifier": {"input_resistance_mohm": 10}
    })
}

fn of_row(row: &BTreeMap<String, String>) -> (Value, impl Fn(&str) -> f64 + '_) {
    let number = move |column: &str| -> f64 { row[column].parse().unwrap_or_else(|_| panic!("{column}: {}", row[column])) };
    let mut question = plain();
    question["run_ohm"] = json!(number("series_ohm"));
    let contact = &mut question["contact"];
    contact["skin_kohm_cm2"] = json!(number("skin_ohm") / 1e3);
    contact["skin_nf_per_cm2"] = json!(number("skin_f") * 1e9);
    contact["metal_kohm_cm2"] = json!(number("metal_ohm") / 1e3);
    contact["metal_uf_per_cm2"] = json!(number("metal_f") * 1e6);
    (question, number)
}

#[test]
fn circuits_are_as_solved_by_nodes() {
    let rows = table("circuit/electrode_circuit.csv");
    assert_eq!(rows.len(), 40);
    for row in &rows {
        let (mut question, number) = of_row(row);
        question["frequencies_hz"] = json!([number("frequency_hz")]);
        question["amplifier"] =
            json!({"input_resistance_mohm": number("input_ohm") / 1e6, "input_capacitance_pf": number("input_f") * 1e12});
        let answer = service().post(ELECTRODE, &question).ok();
        let (f, id) = (&answer["frequencies"][0], &row["id"]);
        let length = number("z_real_ohm").hypot(number("z_imag_ohm"));
        close(id, &f["impedance_ohm"], length, DIGITS);
        // A part of an impedance is as good as the whole.
        for (field, column) in [("real_ohm", "z_real_ohm"), ("imaginary_ohm", "z_imag_ohm")] {
            assert!((f[field].as_f64().expect("a number") - number(column)).abs() <= DIGITS * length, "{id} {field}");
        }
        close(id, &f["loss_percent"], 100.0 * number("loss"), DIGITS);
        close(id, &f["read_out_phase_deg"], number("phase_deg"), DIGITS);
    }
}

#[test]
fn conversion_is_as_solved_by_nodes() {
    let rows = table("circuit/electrode_circuit.csv");
    let mut seen = 0;
    // Mains frequencies alone are taken here; the rest of the table is the model's.
    for row in rows.iter().filter(|row| row["frequency_hz"] == "50.0") {
        let (mut question, number) = of_row(row);
        question["amplifier"] =
            json!({"input_resistance_mohm": number("input_ohm") / 1e6, "input_capacitance_pf": number("input_f") * 1e12});
        question["pair"] = json!({"mismatch_percent": 100.0 * number("mismatch"), "common_mode_mv": 3, "mains_hz": 50});
        let answer = service().post(ELECTRODE, &question).ok();
        close(&row["id"], &answer["reading"]["conversion"], number("conversion"), DIGITS);
        close(&row["id"], &answer["reading"]["hum_uv"], 3e3 * number("conversion"), DIGITS);
        // Rejection of 60 dB lets a thousandth through beside it.
        question["amplifier"]["rejection_db"] = json!(60);
        let answer = service().post(ELECTRODE, &question).ok();
        close(&row["id"], &answer["reading"]["hum_uv"], 3e3 * (number("conversion") + 1e-3), DIGITS);
        seen += 1;
    }
    assert_eq!(seen, 2);
}

#[test]
fn noise_is_as_integrated() {
    let mut seen = 0;
    for row in &table("circuit/electrode_noise.csv") {
        let (mut question, number) = of_row(row);
        // The service takes skin at 33 degrees Celsius; a band of a thousandth of a hertz is no question for it.
        if number("temperature_k") != 306.15 || number("low_hz") > 0.999 * number("high_hz") {
            continue;
        }
        question["band_low_hz"] = json!(number("low_hz"));
        question["band_high_hz"] = json!(number("high_hz"));
        question["pair"] = json!({"mismatch_percent": 0});
        question["amplifier"]["noise_fa_per_rthz"] = json!(7);
        let reading = &service().post(ELECTRODE, &question).ok()["reading"];
        let two = 2f64.sqrt();
        close(&row["id"], &reading["thermal_noise_uv"], 1e6 * two * number("thermal_v"), DIGITS);
        close(&row["id"], &reading["amplifier_noise_uv"], 1e6 * two * 7e-15 * number("rms_ohm_rthz"), DIGITS);
        let all = (number("thermal_v").powi(2) + (7e-15 * number("rms_ohm_rthz")).powi(2)).sqrt();
        close(&row["id"], &reading["noise_uv"], 1e6 * two * all, DIGITS);
        seen += 1;
    }
    assert!(seen >= 5, "{seen}");
}

#[test]
fn pulses_are_as_by_the_matrix_exponential() {
    for row in &table("circuit/electrode_pulse.csv") {
        let (mut question, number) = of_row(row);
        let (current, width) = (number("current_a"), number("width_s"));
        question["stimulation"] = json!({"current_ma": 1e3 * current, "phase_width_us": 1e6 * width, "rate_hz": 10});
        let s = &service().post(ELECTRODE, &question).ok()["stimulation"];
        close(&row["id"], &s["end_voltage_v"], number("end_v"), DIGITS);
        close(&row["id"], &s["energy_mj"], 1e3 * number("energy_j"), DIGITS);
        // 1 cm2 of everything: current, charge and their densities are the same numbers.
        let rms = 1e3 * current * (2.0 * width * 10.0).sqrt();
        close(&row["id"], &s["rms_ma"], rms, DIGITS);
        close(&row["id"], &s["current_density_ma_per_cm2"], rms, DIGITS);
        for field in ["charge_per_phase_uc", "skin_charge_uc_per_cm2", "thread_charge_uc_per_cm2"] {
            close(&row["id"], &s[field], 1e6 * current * width, DIGITS);
        }
        assert_eq!(s["unbalanced_ma"], 0.0);
    }
}

#[test]
fn a_stimulating_electrode_is_never_better_than_measure_first() {
    let pulses = |current: f64| {
        let stimulation = json!({"current_ma": current, "phase_width_us": 200, "rate_hz": 50, "phases": 2});
        service().post(ELECTRODE, &with(plain(), "/stimulation", stimulation)).ok()
    };
    for (current, verdict) in
        [(0.001, "measure first"), (10.0, "measure first"), (14.0, "measure first"), (14.2, "out of reach"), (200.0, "out of reach")]
    {
        // 2 mA/cm2 r.m.s. on 1 cm2 with a duty of 0.02: 14.14 mA.
        let answer = pulses(current);
        assert_eq!(answer["stimulation"]["verdict"], verdict, "{current}");
        assert_eq!(answer["stimulation"]["attention_ma_per_cm2"], 2.0);
        let subjects: Vec<&str> = answer["cautions"].as_array().expect("a list").iter().filter_map(|c| c["subject"].as_str()).collect();
        assert_eq!(subjects[..4], ["current into the body", "implants", "head, neck and chest", "burns under an electrode"]);
    }
    let one = json!({"current_ma": 10, "phase_width_us": 200, "rate_hz": 50, "phases": 1});
    let answer = service().post(ELECTRODE, &with(plain(), "/stimulation", one)).ok();
    // 10 mA for 1 % of the time flow one way.
    close("mean current", &answer["stimulation"]["unbalanced_ma"], 0.1, DIGITS);
    let reads = service().post(ELECTRODE, &plain()).ok();
    assert!(reads["stimulation"].is_null() && !reads["cautions"].to_string().contains("implants"), "{}", reads["cautions"]);
}

#[test]
fn what_is_left_out_comes_with_its_spread_and_source() {
    let question = json!({
        "footprint_cm2": 6, "skin": "dry",
        "texture": {"kind": "loop_pile", "thread_diameter_mm": 0.25, "row_spacing_mm": 1, "stitch_length_mm": 2, "loop_height_mm": 1.5}
    });
    let answer = service().post(ELECTRODE, &question).ok();
    // By hand: pi 0.25 (2 1.5 + 2) / (2 1).
    close("gain", &answer["areas"]["surface_gain"], std::f64::consts::PI * 0.625, DIGITS);
    let contact = answer["contact"].as_array().expect("a list");
    assert_eq!(contact.len(), 7);
    for number in contact {
        assert!(number["interval_95"].is_array() && number["source"].as_str().is_some_and(|s| s.len() > 10), "{number}");
        assert!(["published", "from memory", "common practice"].contains(&number["status"].as_str().expect("a word")), "{number}");
    }
    let frequencies = answer["frequencies"].as_array().expect("a list");
    assert_eq!((frequencies.len(), &frequencies[0]["frequency_hz"], &frequencies[19]["frequency_hz"]), (20, &json!(0.05), &json!(1e5)));
    for f in frequencies {
        let [low, high] = [0, 1].map(|k| f["impedance_range_ohm"][k].as_f64().expect("a number"));
        let z = f["impedance_ohm"].as_f64().expect("a number");
        assert!(low < z && z < high && f["loss_percent"].is_null(), "{f}");
    }
    // A wide range where the skin's outer layer rules, a narrow one where tissue does: under gel at high frequency.
    let width = |f: &Value| f["impedance_range_ohm"][1].as_f64().unwrap() / f["impedance_range_ohm"][0].as_f64().unwrap();
    let gel = service().post(ELECTRODE, &with(question.clone(), "/skin", json!("gel"))).ok();
    assert!(width(&frequencies[0]) > 20.0 && width(&gel["frequencies"][0]) > 50.0 && width(&gel["frequencies"][19]) < 3.0, "{gel}");
    assert!(answer["reading"].is_null());
    // Gel against dry, and a flat fill against a pile.
    let at_10_hz = |question: &Value| service().post(ELECTRODE, question).ok()["frequencies"][7]["impedance_ohm"].as_f64().unwrap();
    assert!(at_10_hz(&with(question.clone(), "/skin", json!("gel"))) < at_10_hz(&question));
    let fill = json!({"kind": "fill", "thread_diameter_mm": 0.25, "row_spacing_mm": 0.5});
    assert!(at_10_hz(&with(question.clone(), "/texture", fill)) > at_10_hz(&question));
}

#[test]
fn questions_about_electrodes_must_make_sense() {
    let check = |pointer: &str, to: Value, words: &str| check_question(ELECTRODE, with(plain(), pointer, to), &[pointer], words);
    service().post(ELECTRODE, &plain()).ok();
    for bad in [json!(0), json!(-1), json!(1e5)] {
        check("/footprint_cm2", bad, "0.01 to 10000");
    }
    check("/skin", json!("wet"), "one of gel, damp, dry");
    check("/skin", json!("dryy"), "did you mean `dry`");
    check("/skin", json!(null), "one of gel, damp, dry");
    check("/texture/kind", json!("pile"), "one of loop_pile, fill");
    check("/texture/row_spacing_mm", json!(0), "0.05 to 50");
    check("/texture/loop_height_mm", json!(2), "not known");
    check("/touching_share", json!(1.2), "0.01 to 1");
    check("/touching_share", json!({"low": 0.5, "high": 1}), "an object");
    check("/surface_gain", json!(0), "0.01 to 100");
    check("/contact/skin_kohm_cm2", json!(0), "0.1 to 100000");
    check("/contact/skin_nf_per_cm2", json!(-3), "0.01 to 10000");
    check("/contact/tissue_ohm", json!(1), "did you mean `tissue_ohm_m`");
    check("/run_ohm", json!(-1), "0 to 10000000");
    check("/frequencies_hz", json!([]), "1 to 501");
    check("/frequencies_hz", json!(vec![1.0; 502]), "1 to 501");
    check_question(ELECTRODE, with(plain(), "/frequencies_hz", json!([50, 0.01])), &["/frequencies_hz/1"], "0.05 to 100000");
    check_question(ELECTRODE, with(plain(), "/frequencies_hz", json!([2e5])), &["/frequencies_hz/0"], "0.05 to 100000");
    check("/amplifier/input_resistance_mohm", json!(0), "0.01 to 1000000");
    check("/amplifier/rejection_db", json!(-20), "0 to 200");
    check("/signal", json!("brain"), "one of heart, muscle");
    check("/band_low_hz", json!(40), "no width");
    check("/band_high_hz", json!(0.5), "no width");
    let crossed = with(with(plain(), "/band_low_hz", json!(200)), "/band_high_hz", json!(100));
    check_question(ELECTRODE, crossed, &["/band_low_hz"], "a lowest frequency below the highest");
    check_question(ELECTRODE, with(plain(), "/pair", json!({"mismatch_percent": -1})), &["/pair/mismatch_percent"], "0 to 1000");
    check_question(ELECTRODE, with(plain(), "/pair", json!({"mains_hz": 5})), &["/pair/mains_hz"], "16 to 400");
    let mut alone = plain();
    alone.as_object_mut().expect("an object").remove("amplifier");
    service().post(ELECTRODE, &alone).ok();
    for (pointer, to) in [("/pair", json!({})), ("/signal", json!("heart")), ("/band_low_hz", json!(1)), ("/band_high_hz", json!(30))] {
        check_question(ELECTRODE, with(alone.clone(), pointer, to), &[pointer], "Nothing reads the electrode.");
    }
    let pulses = json!({"current_ma": 10, "phase_width_us": 200, "rate_hz": 50});
    let pulsed = with(plain(), "/stimulation", pulses);
    let check = |field: &str, to: Value, words: &str| {
        let pointer = format!("/stimulation/{field}");
        check_question(ELECTRODE, with(pulsed.clone(), &pointer, to), &[&pointer], words);
    };
    check("current_ma", json!(201), "0.001 to 200");
    check("phase_width_us", json!(0), "1 to 100000");
    check("phases", json!(3), "1 to 2");
    check("rate_hz", json!(2600), "run into each other");
    check_question(ELECTRODE, json!({}), &["/footprint_cm2", "/skin", "/texture"], "missing");
}
