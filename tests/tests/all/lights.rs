//! Rows of lights, heat and laid wires over the wire: against tables, by hand, and refused where they make no sense.

use serde_json::{Value, json};
use toile_tests::{reference_rows, service, with};

use crate::bad_requests::check_question;

const LIGHT_ROW: &str = "/api/v1/solve/light_row";
const HEAT: &str = "/api/v1/solve/heat";
const LAID_WIRE: &str = "/api/v1/solve/laid_wire";

/// The reference carries 12 digits.
const AGAINST_REFERENCE: f64 = 1e-9;

#[track_caller]
fn close(what: &str, value: f64, expected: f64, tolerance: f64) {
    let error = if expected == 0.0 { value.abs() } else { (value / expected - 1.0).abs() };
    assert!(error <= tolerance, "{what}: {value} against {expected}");
}

#[track_caller]
fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn numbers(list: &Value) -> Vec<f64> {
    list.as_array().expect("a list").iter().map(number).collect()
}

#[test]
fn rows_of_lights_are_as_in_thirty_digits() {
    let rows = reference_rows("circuit/g6_lightrow.csv");
    assert_eq!(rows.len(), 10);
    for row in rows {
        let text = |column: &str| row.iter().find(|(name, _)| *name == column).map(|(_, cell)| cell.as_str()).expect("a column");
        let given = |column: &str| -> f64 { text(column).parse().expect("a number") };
        let question = json!({
            "lights": given("n_led") as u32, "feed": text("feed"), "supply_v": given("supply_V"), "source_ohm": given("R_source_ohm"),
            "feed_segment_ohm": given("seg_feed_ohm"), "return_segment_ohm": given("seg_return_ohm"),
            "series_ohm": given("R_series_ohm"), "saturation_current_a": given("Is_A"), "emission_coefficient": given("n")
        });
        let answer = service().post(LIGHT_ROW, &question).ok();
        for (field, column) in [("feed_v", "feed_V"), ("return_v", "return_V"), ("current_a", "I_led_A")] {
            let expected: Vec<f64> = text(column).split(' ').map(|t| t.parse().expect("a number")).collect();
            let got = numbers(&answer[field]);
            assert_eq!(got.len(), expected.len(), "{field}");
            for (g, e) in got.iter().zip(&expected) {
                // The table's return terminal hangs on 1e-20 ohm.
                close(&format!("{} {field}", text("id")), *g, if e.abs() < 1e-15 { 0.0 } else { *e }, AGAINST_REFERENCE);
            }
        }
        close(text("id"), number(&answer["min_over_max"]), given("min_over_max"), AGAINST_REFERENCE);
        assert_eq!((number(&answer["dimmest"]), number(&answer["brightest"])), (given("index_of_min"), given("index_of_max")));
        assert!(number(&answer["relative_error"]) < AGAINST_REFERENCE);
        // The vectors obey Kirchhoff: each segment carries what is left for the lights behind it.
        let (feed, current) = (numbers(&answer["feed_v"]), numbers(&answer["current_a"]));
        let supply = number(&answer["supply_current_a"]);
        for k in 1..feed.len() {
            let segment = (feed[k - 1] - feed[k]) / given("seg_feed_ohm");
            let behind: f64 = current[k..].iter().sum();
            // Voltages have their last digit at 1e-15 V, and the smallest segment of the table 0.1 ohm.
            assert!((segment - behind).abs() <= 1e-12 * supply + 1e-14 / given("seg_feed_ohm"), "{segment} {behind}");
        }
        let parts = ["run_loss_w", "source_loss_w", "lights_power_w"].map(|part| number(&answer[part])).iter().sum::<f64>();
        close("power in is power out", parts, number(&answer["supply_power_w"]), 1e-12);
    }
}

/// A row for the questions below.
fn row() -> Value {
    json!({
        "lights": 6, "feed": "same", "supply_v": 5, "source_ohm": 1, "feed_segment_ohm": 3, "return_segment_ohm": 2, "series_ohm": 150,
        "saturation_current_a": 1e-18, "emission_coefficient": 2
    })
}

#[test]
fn lights_may_be_told_by_their_datasheet() {
    let told = service().post(LIGHT_ROW, &row()).ok();
    // The voltages of that very diode at two currents make the same row again.
    let drop = |current: f64| number(&told["emission_voltage_v"]) * (current / 1e-18f64).ln_1p();
    let forward = json!([{"current_ma": 2, "forward_v": drop(2e-3)}, {"current_ma": 20, "forward_v": drop(20e-3)}]);
    let mut question = with(row(), "/forward", forward);
    let fields = question.as_object_mut().expect("an object");
    fields.remove("saturation_current_a");
    fields.remove("emission_coefficient");
    let by_points = service().post(LIGHT_ROW, &question).ok();
    for (a, b) in numbers(&by_points["current_a"]).iter().zip(numbers(&told["current_a"])) {
        // A voltage is told with 16 digits, and 40 thermal voltages hang on the exponential.
        close("current", *a, b, 1e-9);
    }
    // With an emission coefficient half as large, the rest of the rise is resistance.
    let steep = service().post(LIGHT_ROW, &with(question, "/emission_coefficient", json!(1))).ok();
    assert!(number(&steep["light_series_ohm"]) > 150.0 && number(&by_points["light_series_ohm"]) == 150.0);
}

#[test]
fn breaks_leads_and_batteries() {
    let ask = |question: &Value| service().post(LIGHT_ROW, question).ok();
    let broken = ask(&with(row(), "/broken_return_segment", json!(2)));
    let current = numbers(&broken["current_a"]);
    assert!(current[..2].iter().all(|i| *i > 0.0) && current[2..].iter().all(|i| *i == 0.0) && broken["min_over_max"] == 0.0);
    let ring = with(row(), "/feed", json!("both_ends"));
    let both = ask(&ring);
    assert!(number(&both["min_over_max"]) > number(&ask(&row())["min_over_max"]));
    let far = ask(&with(with(ring, "/far_feed_ohm", json!(1e6)), "/far_return_ohm", json!(1e6)));
    close("endless leads", number(&far["min_over_max"]), number(&ask(&row())["min_over_max"]), 1e-4);
    let battery = ask(&with(with(row(), "/capacity_mah", json!(220)), "/usable_share", json!(0.8)));
    close("life", number(&battery["battery_life_h"]), 0.22 * 0.8 / number(&battery["supply_current_a"]), 1e-12);
    assert!(ask(&row())["battery_life_h"].is_null());
}

#[test]
fn warmth_is_bounded_and_cautioned() {
    let question = json!({"power_w_per_m": 1, "diameter_mm": 0.25, "ambient_c": 20});
    let answer = service().post(HEAT, &question).ok();
    let ([low, high], [cold, hot]) = (["rise_k", "temperature_c"]).map(|f| [0, 1].map(|k| number(&answer[f][k]))).into();
    assert!(5.0 < low && low < high && high < 50.0, "{answer}");
    close("temperature", cold, 20.0 + low, 1e-9);
    close("temperature", hot, 20.0 + high, 1e-9);
    // The same power told by a current.
    let by_current = json!({"current_ma": 100, "linear_resistance_ohm_per_m": 100, "diameter_mm": 0.25, "ambient_c": 20});
    // 0.1 A in 100 ohm/m is 1 W/m but for the last digit.
    close("rise", number(&service().post(HEAT, &by_current).ok()["rise_k"][1]), high, 1e-12);
    let limits = answer["limits"].as_array().expect("limits");
    assert!(limits.len() >= 10);
    for limit in limits {
        let at = number(&limit["temperature_c"]);
        let expected = if hot < at {
            "no"
        } else if cold < at {
            "perhaps"
        } else {
            "yes"
        };
        assert_eq!(limit["reached"], expected, "{limit}");
        assert!(limit["source"].as_str().is_some_and(|s| s.len() > 20) && limit["status"].is_string(), "{limit}");
    }
    // What is from memory says so, and cautions come with every answer.
    let long = limits.iter().find(|l| l["temperature_c"] == 43.0).expect("the limit for long contact");
    assert_eq!(long["status"], "from memory");
    for power in [0.0, 1e4] {
        let answer = service().post(HEAT, &with(question.clone(), "/power_w_per_m", json!(power))).ok();
        let subjects: Vec<&Value> = answer["cautions"].as_array().expect("cautions").iter().map(|c| &c["subject"]).collect();
        assert_eq!(subjects, ["warm textiles", "heat"], "{power}");
    }
    let cloth = json!({"kind": "cloth", "thickness_mm": 2, "row_spacing_mm": 20});
    let rows = service().post(HEAT, &with(question, "/surroundings", cloth)).ok();
    // 1 W/m in rows of 20 mm is 50 W/m2, half a watt on a square decimetre.
    close("per area", number(&rows["power_w_per_dm2"]), 0.5, 1e-12);
}

#[test]
fn laid_wires_by_hand() {
    let ask = |question: &Value| service().post(LAID_WIRE, question).ok();
    let wire = json!({
        "kind": "wire", "conductor": {"metal": "copper", "area_mm2": 0.5, "class": "flexible"}, "outer_diameter_mm": 1.8,
        "course": {"kind": "meander", "width_mm": 200, "height_mm": 100, "spacing_mm": 25}, "supply_v": 0.2
    });
    let answer = ask(&wire);
    // Five rows of 200 mm joined by four half circles of 12.5 mm within the width.
    let length = 5.0 * 200.0 - 4.0 * 25.0 + 4.0 * std::f64::consts::PI * 12.5;
    close("length", number(&answer["length_mm"]), length, 1e-12);
    assert_eq!((&answer["rows"], &answer["bend_radius_mm"], &answer["bends_fit"]), (&json!(5.0), &json!(12.5), &json!(true)));
    close("area", number(&answer["area_dm2"]), 2.0 * 5.0 * 0.25, 1e-12);
    let resistance = &answer["resistance"];
    let [low, high] = [0, 1].map(|k| number(&resistance["resistance_range_ohm"][k]));
    let pure = length / 1e3 / 58.0 / 0.5;
    assert!((low / pure - 1.0).abs() < 1e-9 && high > low && number(&resistance["resistance_ohm"]) > low, "{resistance}");
    // IEC 60228 (second-hand): at most 39 ohm/km.
    close("standard", number(&resistance["standard_ohm"]), 0.039 * length / 1e3, 1e-9);
    assert!(high < number(&resistance["standard_ohm"]) && resistance["standard_status"] == "published");
    let heating = &answer["heating"];
    close("power", number(&heating["power_w"]), 0.04 / number(&resistance["resistance_ohm"]), 1e-9);
    close("per area", number(&heating["power_w_per_dm2"]) * number(&answer["area_dm2"]), number(&heating["power_w"]), 1e-9);
    assert!(!answer["cautions"].as_array().expect("cautions").is_empty());
    // Half a square millimetre of copper and its PVC.
    let outside = std::f64::consts::FRAC_PI_4 * 1.8 * 1.8;
    close("mass", number(&answer["mass_g"]), (0.5 * 8.89 + (outside - 0.5) * 1.3) * length / 1e3, 1e-9);
    // The zigzag: two stitches for each 4 mm.
    assert_eq!(number(&answer["hold"]["stitches"]), 2.0 * (length / 4.0).ceil());
    assert_eq!(number(&answer["hold"]["width_mm"]), 2.8);

    // By gauge and by diameter it is the same wire.
    let by = |field: &str, value: Value| {
        let mut conductor = json!({"metal": "nickel-chromium"});
        conductor[field] = value;
        number(&ask(&with(wire.clone(), "/conductor", conductor))["resistance"]["resistance_ohm"])
    };
    close("gauge", by("gauge", json!(30)), by("diameter_mm", json!(0.254_639_002_977)), 1e-9);
    // Tubes have a length, a mass and stitches, and carry no current.
    let course = json!({"kind": "path", "points_mm": [[0, 0], [100, 0], [100, 100]]});
    let tube = ask(&json!({"kind": "tube", "outer_diameter_mm": 4, "linear_mass_g_per_m": 9, "course": course}));
    close("length", number(&tube["length_mm"]), 200.0, 1e-12);
    close("bend", number(&tube["bend_radius_mm"]), 50.0, 1e-12);
    close("mass", number(&tube["mass_g"]), 1.8, 1e-12);
    assert!(tube["resistance"].is_null() && tube["heating"].is_null() && number(&tube["hold"]["sewing_s"]) > 0.0);
}

#[test]
fn questions_about_rows_of_lights_must_make_sense() {
    let check = |pointer: &str, to: Value, words: &str| check_question(LIGHT_ROW, with(row(), pointer, to), &[pointer], words);
    check("/lights", json!(0), "1 to 500");
    check("/lights", json!(501), "1 to 500");
    check("/lights", json!(2.5), "a whole number");
    check("/feed", json!("ring"), "one of same, opposite, both_ends");
    check("/supply_v", json!(0), "0.1 to 60 V");
    check("/supply_v", json!("5 V"), "a text");
    check("/source_ohm", json!(-1), "0 to 100000 ohm");
    check("/feed_segment_ohm", json!(-0.1), "0 to 1000000 ohm");
    check("/return_segment_ohm", json!(null), "null");
    check("/saturation_current_a", json!(0), "A");
    check("/emission_coefficient", json!(0), "0.5 to 20");
    check("/thermal_voltage_v", json!(25), "0.015 to 0.045 V");
    check("/far_feed_ohm", json!(1), "Only a row fed from both ends");
    check("/far_return_ohm", json!(1), "Only a row fed from both ends");
    check("/broken_feed_segment", json!(6), "1 to 5");
    check("/broken_feed_segment", json!(0), "1 to 499");
    check("/broken_return_segment", json!(499), "The row has no such segment.");
    check("/usable_share", json!(0.5), "no capacity");
    check("/capacity_mah", json!(-5), "0.1 to");
    check("/pitch_mm", json!(20), "not known");
    check_question(
        LIGHT_ROW,
        with(with(row(), "/series_ohm", json!(0)), "/source_ohm", json!(0)),
        &["/series_ohm"],
        "Nothing holds the current",
    );
    let forward =
        |low: [f64; 2], high: [f64; 2]| json!([{"current_ma": low[0], "forward_v": low[1]}, {"current_ma": high[0], "forward_v": high[1]}]);
    check("/forward", forward([5.0, 2.8], [20.0, 3.1]), "told twice");
    let mut bare = row();
    bare.as_object_mut().expect("an object").remove("saturation_current_a");
    check_question(LIGHT_ROW, bare.clone(), &["/saturation_current_a"], "The light is not told.");
    let points =
        |low, high, words: &str| check_question(LIGHT_ROW, with(bare.clone(), "/forward", forward(low, high)), &["/forward"], words);
    points([5.0, 2.8], [5.0, 3.1], "the same current");
    points([5.0, 3.1], [20.0, 2.8], "does not rise");
    points([5.0, 2.8], [20.0, 2.81], "emission coefficient asks for");
    bare.as_object_mut().expect("an object").remove("emission_coefficient");
    check_question(LIGHT_ROW, with(bare.clone(), "/forward", forward([5.0, 2.8], [20.0, 2.800_001])), &["/forward"], "No diode passes");
    check_question(LIGHT_ROW, with(bare.clone(), "/forward", json!([])), &["/forward"], "2 entries");
    check_question(LIGHT_ROW, with(bare, "/saturation_current_a", json!(1e-18)), &["/emission_coefficient"], "needs it");
}

#[test]
fn questions_about_heat_and_laid_wires_must_make_sense() {
    let thread = json!({"power_w_per_m": 1, "diameter_mm": 0.25, "surroundings": {"kind": "cloth", "thickness_mm": 2}});
    let heat = |pointer: &str, to: Value, words: &str| check_question(HEAT, with(thread.clone(), pointer, to), &[pointer], words);
    heat("/power_w_per_m", json!(-1), "0 to 10000 W/m");
    heat("/power_w_per_m", json!(null), "The power is not told.");
    heat("/diameter_mm", json!(0), "0.01 to 30 mm");
    heat("/ambient_c", json!(500), "-60 to 200");
    heat("/surroundings/kind", json!("water"), "one of air, cloth");
    heat("/surroundings/free_sides", json!(3), "1 to 2");
    heat("/surroundings/cover_m2k_per_w", json!(-0.1), "0 to 10");
    check_question(HEAT, with(thread, "/current_ma", json!(5)), &["/power_w_per_m"], "told twice");

    let wire = json!({
        "kind": "wire", "conductor": {"metal": "copper", "area_mm2": 0.5}, "outer_diameter_mm": 1.8,
        "course": {"kind": "straight", "length_mm": 500}
    });
    service().post(LAID_WIRE, &wire).ok();
    let check = |pointer: &str, to: Value, at: &str, words: &str| check_question(LAID_WIRE, with(wire.clone(), pointer, to), &[at], words);
    let same = |pointer: &str, to: Value, words: &str| check(pointer, to, pointer, words);
    same("/kind", json!("rope"), "one of wire, tube, roving");
    same("/conductor", json!(null), "made of something");
    same("/conductor/metal", json!("coper"), "did you mean `copper`");
    check("/conductor/gauge", json!(24), "/conductor/area_mm2", "told twice");
    same("/conductor/area_mm2", json!(-1), "mm2");
    same("/conductor/linear_resistance_ohm_per_m", json!(3), "tells the resistance already");
    check("/conductor", json!({"area_mm2": 0.5}), "/conductor/metal", "The conductor is not told.");
    check("/conductor", json!({"metal": "copper"}), "/conductor/diameter_mm", "needs its section");
    check("/conductor", json!({"metal": "copper", "area_mm2": 0.6, "class": "flexible"}), "/conductor/area_mm2", "0.5, 0.75, 1");
    check("/conductor", json!({"metal": "silver", "area_mm2": 0.5, "class": "flexible"}), "/conductor/class", "belong to copper");
    same("/conductor/coated", json!(true), "belongs to a class");
    same("/outer_diameter_mm", json!(0.2), "does not fit");
    same("/course/length_mm", json!(0), "0.1 to");
    check("/course", json!({"kind": "spiral"}), "/course/kind", "one of straight, path, meander");
    check("/course", json!({"kind": "path", "points_mm": [[0, 0], [0, 0]]}), "/course/points_mm", "no length");
    check("/course", json!({"kind": "path", "points_mm": [[0, 0], [9e9, 0]]}), "/course/points_mm/1/0", "-5000 to 5000");
    check(
        "/course",
        json!({"kind": "meander", "width_mm": 10, "height_mm": 100, "spacing_mm": 20}),
        "/course/width_mm",
        "turns do not fit",
    );
    same("/hold", json!("tight"), "a text");
    check("/hold", json!({"advance_mm": 0}), "/hold/advance_mm", "0.2 to 50");
    same("/free_sides", json!(0), "1 to 2");
    check_question(
        LAID_WIRE,
        with(with(wire.clone(), "/supply_v", json!(5)), "/current_ma", json!(5)),
        &["/current_ma"],
        "one of supply_v",
    );
    let tube = json!({"kind": "tube", "outer_diameter_mm": 4, "course": {"kind": "straight", "length_mm": 500}});
    check_question(LAID_WIRE, with(tube.clone(), "/supply_v", json!(5)), &["/supply_v"], "carries no current");
    check_question(
        LAID_WIRE,
        with(tube.clone(), "/conductor", json!({"metal": "copper", "area_mm2": 1})),
        &["/conductor"],
        "does not conduct",
    );
    check_question(LAID_WIRE, with(tube, "/outer_diameter_mm", json!(null)), &["/outer_diameter_mm"], "not told");
}
