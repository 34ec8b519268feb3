//! Light rows and laid wires of a piece over the wire: results, checks, changes, and what must be refused.

use serde_json::{Value, json};
use toile_tests::{demo, service, with};

use crate::bad_requests::check_question;

const ESTIMATES: &str = "/api/v1/estimates";

/// A piece of one row of six lights.
fn row() -> Value {
    json!({
        "stack": {"ground": "none", "base": [{"library": "wool-felt", "thickness_mm": 2}]},
        "light_rows": [{
            "lights": 6, "pitch_mm": 25,
            "light": {"low_current_ma": 1, "low_forward_v": 2.65, "high_current_ma": 5, "high_forward_v": 2.85},
            "series_ohm": 680,
            "thread": {"library": "silver-polyamide-40-tex"},
            "run": {"length_mm": 100, "passes": 2},
            "supply": {"supply_v": 4.5}
        }]
    })
}

/// A piece of one heated wire.
fn wire() -> Value {
    json!({
        "laid_wires": [{
            "kind": "wire",
            "conductor": {"metal": "stainless-steel", "diameter_mm": 0.3},
            "course": {"kind": "meander", "width_mm": 200, "height_mm": 120, "spacing_mm": 20},
            "supply_v": 5
        }]
    })
}

fn check<'a>(answer: &'a Value, name: &str) -> &'a Value {
    let checks = answer["checks"].as_array().expect("checks");
    checks.iter().find(|c| c["check"] == name).unwrap_or_else(|| panic!("no check {name} in {answer}"))
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

#[test]
fn a_row_of_lights_is_answered_with_its_checks() {
    let answer = service().post(&format!("{ESTIMATES}?inputs=true&working=true"), &row()).ok();
    let found = &answer["light_rows"][0];
    assert_eq!((&found["name"], &found["pointer"]), (&json!("light row 1"), &json!("/light_rows/0")));
    let currents = found["current_ma"].as_array().expect("currents");
    assert_eq!(currents.len(), 6);
    let sum: f64 = currents.iter().map(number).sum();
    assert!((sum / number(&found["supply_ma"]) - 1.0).abs() < 1e-5, "{found}");
    let parts = ["lights_mw", "run_loss_mw", "source_loss_mw"].iter().map(|part| number(&found[*part])).sum::<f64>();
    assert!((parts / number(&found["supply_mw"]) - 1.0).abs() < 1e-5, "{found}");
    let spread = check(&answer, "light_spread");
    assert_eq!((&spread["unit"], &spread["bound"], &spread["feature"]), (&json!("%"), &json!("at_least"), &json!("light row 1")));
    assert_eq!(spread["predicted"], found["light_spread_percent"]);
    let headroom = check(&answer, "headroom");
    assert_eq!((&headroom["predicted"], &headroom["needed"]), (&found["light_v"], &found["needed_v"]));
    assert!(!spread["shares"].as_array().expect("shares").is_empty());
    assert!(check(&answer, "warmth")["sentence"].as_str().is_some_and(|s| s.contains("in still air")));
    assert!(found["broken"][0]["sentence"].as_str().is_some_and(|s| s.contains("puts out 5 of 6 lights")), "{found}");
    assert!(found["warmth"]["limits"].as_array().is_some_and(|l| l.iter().all(|limit| limit["status"].is_string())));
    let inputs = answer["inputs"].as_array().expect("inputs");
    assert!(inputs.iter().any(|i| i["pointer"] == "/light_rows/0/light/low_forward_v" && i["origin"] == "given"));
    assert!(inputs.iter().any(|i| i["pointer"] == "/light_rows/0/light_contact_ohm" && i["origin"] == "assumed"));
    let steps = answer["working"].as_array().expect("steps");
    assert!(steps.iter().any(|s| s["feature"] == "light row 1" && s["symbol"] == "I_min"));
    let parts = answer["production"]["parts"].as_array().expect("parts");
    assert_eq!(parts.iter().map(|p| p["what"].clone()).collect::<Vec<_>>(), [json!("feed of light row 1"), json!("return of light row 1")]);
}

/// The row of a piece is the row of `solve/light_row` with the resistances that the piece works out.
#[test]
fn the_row_of_a_piece_is_that_of_the_single_part() {
    let exact = json!({"lights": 6, "pitch_mm": 25, "feed": "both_ends", "light_contact_ohm": 0, "series_ohm": 680,
        "light": {"saturation_current_a": 1e-18, "emission_coefficient": 2.8},
        "thread": {"library": "silver-polyamide-40-tex"}, "run": {"length_mm": 100, "passes": 2},
        "supply": {"supply_v": 4.5, "source_ohm": 2}});
    let answer = service().post(ESTIMATES, &with(row(), "/light_rows/0", exact)).ok();
    let found = &answer["light_rows"][0];
    // Near leads of 0 in the single part: here they are told apart by a row without them.
    let part = service()
        .post(
            "/api/v1/solve/light_row",
            &json!({"lights": 6, "feed": "both_ends", "supply_v": 4.5, "source_ohm": 2, "series_ohm": 680,
                "feed_segment_ohm": found["feed_segment_ohm"], "return_segment_ohm": found["return_segment_ohm"],
                "far_feed_ohm": found["lead_ohm"][1], "far_return_ohm": found["lead_ohm"][3],
                "saturation_current_a": 1e-18, "emission_coefficient": 2.8}),
        )
        .ok();
    // The near leads take a little from every light, most from the first.
    for k in 0..6 {
        let (here, there) = (number(&found["current_ma"][k]), 1e3 * number(&part["current_a"][k]));
        assert!(here < there && here > 0.7 * there, "light {k}: {here} of {there}");
    }
}

#[test]
fn a_laid_wire_is_answered_with_its_checks() {
    let answer = service().post(&format!("{ESTIMATES}?working=true"), &wire()).ok();
    let found = &answer["laid_wires"][0];
    let length = 7.0 * 200.0 + 6.0 * 20.0 * (std::f64::consts::FRAC_PI_2 - 1.0);
    assert!((number(&found["length_mm"]) / length - 1.0).abs() < 1e-5, "{found}");
    assert_eq!((&found["rows"], &found["bend_radius_mm"], &found["pointer"]), (&json!(7.0), &json!(10.0), &json!("/laid_wires/0")));
    let heating = &found["wire"]["heating"];
    let per_area = number(&heating["power_w"]) / number(&found["area_dm2"]);
    assert!((number(&heating["power_w_per_dm2"]) / per_area - 1.0).abs() < 1e-4, "{found}");
    for name in ["bend_radius", "needle_clearance", "warmth", "stitchable"] {
        assert_eq!(
            check(&answer, name)["feature"].as_str().filter(|_| name != "stitchable"),
            (name != "stitchable").then_some("laid wire 1")
        );
    }
    assert!(answer["cautions"].as_array().is_some_and(|c| c.iter().any(|c| c["subject"] == "warm textiles")));
    assert_eq!(answer["production"]["parts"][0]["what"], "zigzag over laid wire 1");
    // The single part says the same of the same wire.
    let part = service()
        .post(
            "/api/v1/solve/laid_wire",
            &json!({"kind": "wire", "conductor": {"metal": "stainless-steel", "diameter_mm": 0.3}, "supply_v": 5, "ambient_c": 23,
                "course": {"kind": "meander", "width_mm": 200, "height_mm": 120, "spacing_mm": 20}}),
        )
        .ok();
    assert!((number(&part["resistance"]["resistance_ohm"]) / number(&found["wire"]["resistance_ohm"]) - 1.0).abs() < 1e-5);
    assert!((number(&part["heating"]["power_w"]) / number(&heating["power_w"]) - 1.0).abs() < 1e-5);
}

#[test]
fn the_demos_row_shows_the_level() {
    let answer = service().post(ESTIMATES, &demo()).ok();
    let found = &answer["light_rows"][0];
    assert_eq!((&found["name"], found["current_ma"].as_array().expect("currents").len()), (&json!("level"), 6));
    assert_eq!(found["verdict"], "comfortable", "{}", answer["sentence"]);
    assert!(number(&found["battery_life_h"]) > 80.0, "{found}");
}

/// Applying the edits of a change gives the verdict that it promises.
#[test]
fn changes_of_rows_and_wires_do_what_they_say() {
    let far = with(with(row(), "/light_rows/0/lights", json!(8)), "/light_rows/0/run/passes", json!(1));
    let hot = with(wire(), "/laid_wires/0/supply_v", json!(24));
    for piece in [far, hot] {
        let answer = service().post(ESTIMATES, &piece).ok();
        let changes = answer["changes"].as_array().expect("changes");
        assert!(!changes.is_empty(), "{}", answer["sentence"]);
        for change in changes {
            let edits = change["edits"].as_array().expect("edits").iter();
            let changed =
                edits.fold(piece.clone(), |piece, edit| with(piece, edit["pointer"].as_str().expect("a pointer"), edit["to"].clone()));
            let after = service().post(ESTIMATES, &changed).ok();
            assert_eq!(after["verdict"], change["verdict"], "{}", change["sentence"]);
        }
    }
}

#[test]
fn rows_of_lights_that_cannot_be_are_refused_at_their_place() {
    let place = |field: &str, to: Value, words: &str| {
        let pointer = format!("/light_rows/0/{field}");
        check_question(ESTIMATES, with(row(), &pointer, to), &[&pointer], words);
    };
    service().post(ESTIMATES, &row()).ok();
    place("name", json!("x".repeat(201)), "at most 200 characters");
    place("lights", json!(0), "1 to 500");
    place("lights", json!(501), "1 to 500");
    place("lights", json!(6.5), "a whole number");
    place("lights", json!("six"), "a text");
    place("pitch_mm", json!(0.5), "1 to 5000 mm");
    place("pitch_mm", json!({"low": 30, "high": 20}), "low limit above its high limit");
    place("feed", json!("left"), "one of same, opposite, both_ends");
    place("light", json!("white"), "a text");
    place("light/high_forward_v", json!(2.0), "does not rise");
    place("light/high_forward_v", json!(-2.0), "0.1 to 60 V");
    place("light/high_current_ma", json!(1), "the same current");
    place("light/low_current_ma", json!(10), "The lower current is the higher one.");
    place("light/low_current_ma", json!(null), "two");
    place("light/colour", json!("red"), "not known");
    place("series_ohm", json!(-1), "0 to 1000000 ohm");
    place("light_contact_ohm", json!(1e6), "0 to 10000 ohm");
    place("placed_by", json!("robot"), "one of machine, hand");
    place("thread/library", json!("silver"), "silver-polyamide");
    place("return_thread/library", json!("gold"), "one of");
    place("run/length_mm", json!(0), "0.1 to");
    place("run/passes", json!(51), "1 to 50");
    place("run/terminal/hole_diameter_mm", json!(1.0), "belongs to a board");
    place("return_passes", json!(0), "1 to 50");
    place("far_length_mm", json!(300), "No run leads from the terminal to the last light.");
    place("supply/supply_v", json!(230), "0.1 to 60 V");
    place("supply/empty_supply_v", json!(5), "more than the full one");
    place("supply/kind", json!("solar"), "one of battery, mains");
    place("supply/usable_share", json!(0.5), "no capacity");
    place("supply/needed_life_h", json!(10), "no capacity");
    place("supply/capacity_mah", json!(0), "0.1 to 1000000 mAh");
    place("supply/max_supply_ma", json!(0), "0.01 to");
    place("least_brightness_percent", json!(100), "1 to 99.9 %");
    place("least_current_ma", json!(0), "0.001 to");
    place("warmth/max_temperature_c", json!(-300), "0 to 500");
    place("warmth/free_sides", json!(0), "1 to 2");
    place("warmth/cover_m2k_per_w", json!(-1), "0 to 10");
    place("colour", json!("red"), "not known");

    let at = |pointer: &str| format!("/light_rows/0/{pointer}");
    let spread = with(row(), &at("supply/supply_v"), json!({"value": 4.5, "plus_minus": -1}));
    check_question(ESTIMATES, spread, &[&at("supply/supply_v/plus_minus")], "0 to 59.9");
    let nothing_holds = with(with(row(), &at("series_ohm"), json!(0)), &at("supply/source_ohm"), json!(0));
    check_question(ESTIMATES, nothing_holds, &[&at("series_ohm")], "Nothing holds the current");
    let twice = with(with(row(), &at("light/saturation_current_a"), json!(1e-18)), &at("light/emission_coefficient"), json!(2));
    let points = ["low_current_ma", "low_forward_v", "high_current_ma", "high_forward_v"].map(|field| at(&format!("light/{field}")));
    check_question(ESTIMATES, twice, &points.each_ref().map(String::as_str), "told twice");
    let bare = with(row(), &at("light"), json!({"saturation_current_a": 1e-18}));
    check_question(ESTIMATES, bare, &[&at("light/emission_coefficient")], "needs it");
    let mains = with(with(row(), &at("supply/kind"), json!("mains")), &at("supply/capacity_mah"), json!(100));
    check_question(ESTIMATES, mains, &[&at("supply/capacity_mah")], "Only a battery runs empty.");
    let more_than_it_bears = with(with(row(), &at("least_current_ma"), json!(5)), &at("most_current_ma"), json!(2));
    check_question(ESTIMATES, more_than_it_bears, &[&at("least_current_ma")], "needs more than it bears");
    check_question(ESTIMATES, with(row(), "/light_rows", json!([])), &[""], "light_rows");
    let many = vec![row()["light_rows"][0].clone(); 33];
    check_question(ESTIMATES, with(row(), "/light_rows", json!(many)), &["/light_rows"], "0 to 32");
    let long = with(row(), &at("lights"), json!(500))["light_rows"][0].clone();
    check_question(ESTIMATES, with(row(), "/light_rows", json!(vec![long; 5])), &["/light_rows"], "0 to 2000");
}

#[test]
fn laid_wires_that_cannot_be_are_refused_at_their_place() {
    let at = |field: &str| format!("/laid_wires/0/{field}");
    let refused = |field: &str, to: Value, place: &str, words: &str| {
        check_question(ESTIMATES, with(wire(), &at(field), to), &[&at(place)], words);
    };
    let same = |field: &str, to: Value, words: &str| refused(field, to, field, words);
    service().post(ESTIMATES, &wire()).ok();
    same("kind", json!("rope"), "one of wire, tube, roving");
    same("conductor", json!(null), "made of something");
    same("conductor/metal", json!("coper"), "did you mean `copper`");
    refused("conductor/gauge", json!(28), "conductor/gauge", "told twice");
    same("conductor/gauge", json!(99), "-3 to 56");
    same("conductor/linear_resistance_ohm_per_m", json!(3), "tells the resistance already");
    refused("conductor", json!({"diameter_mm": 0.3}), "conductor/metal", "The conductor is not told.");
    let bare = with(wire(), &at("conductor"), json!({"metal": "copper"}));
    check_question(ESTIMATES, bare, &[&at("conductor/diameter_mm"), &at("outer_diameter_mm")], "needs its section");
    same("conductor/class", json!("flexible"), "belong to copper");
    same("conductor/coated", json!(false), "belongs to a class");
    refused("conductor", json!({"metal": "copper", "area_mm2": 0.6, "class": "flexible"}), "conductor/area_mm2", "0.5, 0.75, 1");
    same("outer_diameter_mm", json!(0.1), "does not fit");
    same("linear_mass_g_per_m", json!(0), "0.001 to");
    refused("course", json!({"kind": "spiral"}), "course/kind", "one of straight, path, meander");
    refused("course", json!({"kind": "straight", "length_mm": 0}), "course/length_mm", "0.1 to");
    refused("course", json!({"kind": "path", "points_mm": [[0, 0], [0, 0]]}), "course/points_mm", "no length");
    refused("course", json!({"kind": "path", "points_mm": [[0, 0], [1e9, 0]]}), "course/points_mm/1/0", "-5000 to 5000");
    same("course/width_mm", json!(10), "turns do not fit");
    same("course/spacing_mm", json!(0.1), "0.5 to 1000");
    refused("course", json!({"kind": "meander", "width_mm": 10_000, "height_mm": 10_000, "spacing_mm": 0.5}), "course", "at most 10000 m");
    same("hold/clearance_mm", json!(-1), "0 to 10 mm");
    same("hold/advance_mm", json!(0), "0.2 to 50");
    same("min_bend_radius_mm", json!(-1), "0 to 1000");
    same("supply_v", json!(230), "0.1 to 60 V");
    refused("current_ma", json!(100), "current_ma", "one of supply_v and current_ma");
    same("supply_kind", json!("wind"), "one of battery, mains");
    same("needed_power_w", json!(0), "W");
    same("max_resistance_ohm", json!(0), "0.0001 to");
    same("warmth/max_temperature_c", json!(900), "0 to 500");
    same("colour", json!("red"), "not known");
    let tube = json!({"kind": "tube", "outer_diameter_mm": 4, "course": {"kind": "straight", "length_mm": 500}});
    let piece = |wire: Value| json!({"laid_wires": [wire]});
    service().post(ESTIMATES, &piece(tube.clone())).ok();
    let refuse_tube = |field: &str, to: Value, words: &str| {
        check_question(ESTIMATES, piece(with(tube.clone(), &format!("/{field}"), to)), &[&at(field)], words);
    };
    refuse_tube("supply_v", json!(5), "carries no current");
    refuse_tube("max_resistance_ohm", json!(5), "carries no current");
    refuse_tube("conductor", json!({"metal": "copper", "area_mm2": 1}), "does not conduct");
    refuse_tube("outer_diameter_mm", json!(null), "not told");
    let many = vec![wire()["laid_wires"][0].clone(); 65];
    check_question(ESTIMATES, with(wire(), "/laid_wires", json!(many)), &["/laid_wires"], "0 to 64");
}
