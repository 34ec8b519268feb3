//! Single parts of the physics over the wire, against numbers from outside: `tests/reference`.

use std::collections::BTreeMap;
use std::f64::consts::PI;

use serde_json::{Map, Value, json};
use toile_tests::{reference_rows, service, with};

const CAPACITANCE: &str = "/api/v1/solve/capacitance";
const LINE: &str = "/api/v1/solve/line";
const ROWS: &str = "/api/v1/solve/rows";
const STITCHING: &str = "/api/v1/solve/stitching";
const TOUCH: &str = "/api/v1/solve/touch";

/// Vacuum permittivity in pF per mm (CODATA 2018).
const EPS0_PF_PER_MM: f64 = 8.854_187_812_8e-3;

/// A row of a reference table.
struct Row(BTreeMap<String, String>);

impl Row {
    fn all(table: &str) -> Vec<Self> {
        reference_rows(table).into_iter().map(|row| Self(row.into_iter().collect())).collect()
    }

    fn text(&self, column: &str) -> &str {
        self.0.get(column).unwrap_or_else(|| panic!("no column {column}")).trim()
    }

    #[track_caller]
    fn number(&self, column: &str) -> f64 {
        self.text(column).parse().unwrap_or_else(|_| panic!("{column} of {} holds {:?}", self.text("id"), self.text(column)))
    }

    fn given(&self, column: &str) -> Option<f64> {
        let text = self.text(column);
        (!text.is_empty()).then(|| self.number(column))
    }

    /// Ground and layers as a question takes them.
    fn medium(&self) -> Map<String, Value> {
        let numbers = |column: &str| -> Vec<f64> { self.text(column).split(';').filter_map(|t| t.trim().parse().ok()).collect() };
        let layers = |side: &str| -> Vec<Value> {
            let (permittivities, thicknesses) = (numbers(&format!("{side}_eps_r")), numbers(&format!("{side}_t_mm")));
            assert_eq!(permittivities.len(), thicknesses.len(), "{}", self.text("id"));
            permittivities.iter().zip(thicknesses).map(|(er, t)| json!({"thickness_mm": t, "relative_permittivity": er})).collect()
        };
        let ground = if self.text("ground") == "plane" { "sheet" } else { "none" };
        Map::from_iter([
            ("ground".into(), json!(ground)),
            ("base".into(), json!(layers("base"))),
            ("overlay".into(), json!(layers("overlay"))),
        ])
    }
}

/// Asks a question whose answer must be within its own bound of the reference, or say that it is outside its range.
fn ask(path: &str, question: &Value) -> Value {
    let answer = service().post(path, question).ok();
    let bound = answer["relative_error"].as_f64().expect("a bound");
    assert!(bound.is_finite() && bound >= 0.0, "{answer}");
    assert!(answer["method"].as_str().is_some_and(|m| !m.is_empty()), "{answer}");
    answer
}

/// How far a table's values are from the reference, and how many stand outside their own bound.
#[derive(Default)]
struct Tally {
    cases: usize,
    worst: f64,
    outside: Vec<String>,
}

impl Tally {
    fn add(&mut self, id: &str, value: f64, reference: f64, bound: f64) {
        let error = (value / reference - 1.0).abs();
        self.cases += 1;
        self.worst = self.worst.max(error);
        // Written so that an answer that is no number is outside too.
        let inside = error <= bound;
        if !inside {
            self.outside.push(format!("{id}: {value} for {reference}, off by {error:.2e}, bound {bound:.2e}"));
        }
    }

    #[track_caller]
    fn finish(self, least_cases: usize) {
        assert!(
            self.outside.is_empty(),
            "{} of {} cases outside their bound:\n{}",
            self.outside.len(),
            self.cases,
            self.outside.join("\n")
        );
        assert!(self.cases >= least_cases, "only {} cases", self.cases);
        println!("{} cases, worst error {:.2e}", self.cases, self.worst);
    }
}

#[test]
fn stitching_is_as_counted_by_hand() {
    let mut cases = 0;
    for row in Row::all("circuit/g2_geometry.csv") {
        let kind = row.text("kind");
        let mut question = Map::from_iter([
            ("kind".to_owned(), json!(kind)),
            ("thickness_mm".to_owned(), json!(row.number("thickness_mm"))),
            ("interlace_fraction".to_owned(), json!(row.number("interlace_fraction"))),
        ]);
        let length = row.given("run_mm").or_else(|| row.given("length_mm")).expect("a length");
        question.insert("length_mm".into(), json!(length));
        for (column, field) in [
            ("stitch_mm", "stitch_length_mm"),
            ("height_mm", "height_mm"),
            ("width_mm", "column_width_mm"),
            ("density_mm", "density_mm"),
            ("row_mm", "row_spacing_mm"),
            ("passes", "passes"),
        ] {
            if let Some(x) = row.given(column) {
                let whole = field == "passes";
                question.insert(field.into(), if whole { json!(x as u32) } else { json!(x) });
            }
        }
        let answer = service().post(STITCHING, &Value::Object(question)).ok();
        assert_eq!(answer["stitches"].as_f64(), Some(row.number("stitches")), "{}", row.text("id"));
        for (field, column) in [
            ("stitch_length_actual_mm", "stitch_actual_mm"),
            ("top_thread_mm", "needle_mm_rect"),
            ("bobbin_thread_mm", "bobbin_mm_rect"),
            ("top_thread_elliptic_mm", "needle_mm_ellipse"),
            ("bobbin_thread_elliptic_mm", "bobbin_mm_ellipse"),
        ] {
            let (value, reference) = (answer[field].as_f64().expect("a number"), row.number(column));
            // The reference has 12 digits and is exact for the stated geometry; nothing but rounding is allowed.
            assert!((value / reference - 1.0).abs() < 1e-9, "{} {field}: {value} for {reference}", row.text("id"));
            cases += 1;
        }
    }
    assert!(cases >= 3 * 18, "{cases}");
}

#[test]
fn endless_rows_hold_their_bound() {
    let mut tally = Tally::default();
    for row in Row::all("field/f8_grating_inf.csv") {
        let (r, p, h, reference) = (row.number("r_mm"), row.number("p_mm"), row.number("h_mm"), row.number("C_pF_per_m2"));
        let answer = ask(ROWS, &json!({"thread_diameter_mm": 2.0 * r, "row_spacing_mm": p, "height_mm": h}));
        let value = answer["capacitance_pf_per_m2"].as_f64().expect("a number");
        tally.add(row.text("id"), value, reference, answer["relative_error"].as_f64().expect("a bound"));
        // The offset says where an even plate of this capacitance lies: eps0 / C - h.
        let offset = EPS0_PF_PER_MM * 1e6 / value - h;
        assert!((answer["offset_mm"].as_f64().expect("a number") - offset).abs() < 1e-9 * h, "{answer}");
    }
    tally.finish(10);
}

#[test]
fn strips_hold_their_bound() {
    let mut tally = Tally::default();
    for row in Row::all("field/f4_strip.csv") {
        let mut question = row.medium();
        question.insert("cross_section".into(), json!({"kind": "strip", "width_mm": row.number("w_mm")}));
        let answer = ask(LINE, &Value::Object(question));
        let bound = answer["relative_error"].as_f64().expect("a bound");
        tally.add(row.text("id"), answer["capacitance_pf_per_m"].as_f64().expect("a number"), row.number("C_pF_per_m"), bound);
    }
    tally.finish(15);
}

#[test]
fn wires_hold_their_bound() {
    let mut tally = Tally::default();
    for row in Row::all("field/f5_wire.csv") {
        let (r, h, er) = (row.number("r_mm"), row.number("h_mm"), row.number("eps_r"));
        // The reference has one permittivity everywhere: as an overlay, a layer so thick that its top is far away.
        let above = json!([{"thickness_mm": 5000.0, "relative_permittivity": er}]);
        let question = json!({
            "ground": "sheet", "base": [{"thickness_mm": h, "relative_permittivity": er}],
            "overlay": if er == 1.0 { json!([]) } else { above },
            "cross_section": {"kind": "thread", "diameter_mm": 2.0 * r}
        });
        let answer = ask(LINE, &question);
        // Wire and image are a dipole: the top 5 m away bends its field by the square of their distances.
        let bound = answer["relative_error"].as_f64().expect("a bound") + (h / 5000.0).powi(2);
        tally.add(row.text("id"), answer["capacitance_pf_per_m"].as_f64().expect("a number"), row.number("C_pF_per_m"), bound);
    }
    tally.finish(4);
}

fn matrix(answer: &Value) -> Vec<Vec<f64>> {
    serde_json::from_value(answer["maxwell_pf"].clone()).expect("a matrix of numbers")
}

/// The same number, but for the order in which its terms were added up.
fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * a.abs().max(b.abs())
}

/// The Maxwell matrix of conductors in the medium of a row, with its bound.
fn solved(row: &Row, conductors: Value) -> (Vec<Vec<f64>>, f64) {
    let mut question = if row.0.contains_key("base_eps_r") {
        row.medium()
    } else {
        let base = json!([{"thickness_mm": row.number("h_mm"), "relative_permittivity": 1.0}]);
        Map::from_iter([("ground".into(), json!("sheet")), ("base".into(), base)])
    };
    question.insert("conductors".into(), conductors);
    let answer = ask(CAPACITANCE, &Value::Object(question));
    let m = matrix(&answer);
    for (i, line) in m.iter().enumerate() {
        for (j, c) in line.iter().enumerate() {
            assert!(same(*c, m[j][i]), "{}: a Maxwell matrix is symmetric", row.text("id"));
            assert!(if i == j { *c > 0.0 } else { *c <= 0.0 }, "{}: {m:?}", row.text("id"));
        }
    }
    (m, answer["relative_error"].as_f64().expect("a bound"))
}

#[test]
fn discs_and_rectangles_hold_their_bound() {
    for (table, least) in [("f1_disc_air", 7), ("f2_disc_layered", 25), ("f3_rect_air", 8), ("f3_rect_layered", 20)] {
        let mut tally = Tally::default();
        for row in Row::all(&format!("field/{table}.csv")) {
            let shape = if row.0.contains_key("a_mm") {
                json!({"kind": "round", "diameter_mm": 2.0 * row.number("a_mm")})
            } else {
                json!({"kind": "rectangle", "width_mm": row.number("w_mm"), "length_mm": row.number("l_mm")})
            };
            let (m, bound) = solved(&row, json!([{"plane": "stitched", "shape": shape}]));
            tally.add(row.text("id"), m[0][0], row.number("C_pF"), bound);
        }
        tally.finish(least);
    }
}

#[test]
fn fingers_over_pads_hold_their_bound() {
    for (table, least) in [("f6_finger_coax", 20), ("f6_finger_offset", 5)] {
        let mut tally = Tally::default();
        for row in Row::all(&format!("field/{table}.csv")) {
            let disc = |plane: &str, radius: f64, x: f64| json!({"plane": plane, "shape": {"kind": "round", "diameter_mm": 2.0 * radius}, "centre_mm": [x, 0.0]});
            let offset = if row.0.contains_key("offset_mm") { row.number("offset_mm") } else { 0.0 };
            let conductors = json!([disc("stitched", row.number("a_mm"), 0.0), disc("top", row.number("b_mm"), offset)]);
            let (m, bound) = solved(&row, conductors);
            for (value, column) in [(m[0][0], "C_pp_pF"), (m[0][1], "C_pf_pF"), (m[1][1], "C_ff_pF")] {
                tally.add(&format!("{} {column}", row.text("id")), value, row.number(column), bound);
            }
        }
        tally.finish(least);
    }
}

#[test]
fn pairs_side_by_side_hold_their_bound() {
    let mut tally = Tally::default();
    for row in Row::all("field/f7_pair.csv") {
        let size = row.number("size_mm");
        let shape = if row.text("shape") == "square" {
            json!({"kind": "rectangle", "width_mm": size, "length_mm": size})
        } else {
            json!({"kind": "round", "diameter_mm": size})
        };
        let at = |x: f64| json!({"plane": "stitched", "shape": shape, "centre_mm": [x, 0.0]});
        let (m, bound) = solved(&row, json!([at(0.0), at(size + row.number("gap_mm"))]));
        tally.add(row.text("id"), m[0][0], row.number("C11_pF"), bound);
        assert!((m[0][0] / m[1][1] - 1.0).abs() <= 2.0 * bound, "{}: both are alike, {m:?}", row.text("id"));
    }
    tally.finish(8);
}

#[test]
fn a_matrix_keeps_the_order_and_the_names_given() {
    let disc = |name: Option<&str>, diameter: f64, x: f64| {
        let mut conductor = json!({"plane": "stitched", "shape": {"kind": "round", "diameter_mm": diameter}, "centre_mm": [x, 0.0]});
        if let Some(name) = name {
            conductor["name"] = json!(name);
        }
        conductor
    };
    let ask = |conductors: Value| {
        let base = json!([{"thickness_mm": 2.0, "relative_permittivity": 1.5}]);
        ask(CAPACITANCE, &json!({"ground": "sheet", "base": base, "conductors": conductors}))
    };
    let answer = ask(json!([disc(Some("small"), 8.0, 0.0), disc(None, 20.0, 40.0)]));
    assert_eq!(answer["names"], json!(["small", "conductor 2"]));
    let turned = ask(json!([disc(None, 20.0, 40.0), disc(Some("small"), 8.0, 0.0)]));
    assert_eq!(turned["names"], json!(["conductor 1", "small"]));
    let (m, t) = (matrix(&answer), matrix(&turned));
    assert!(m[0][0] < m[1][1] / 3.0, "{m:?}");
    assert!(same(m[0][0], t[1][1]) && same(m[0][1], t[0][1]) && same(m[1][1], t[0][0]), "{m:?} {t:?}");
}

#[test]
fn a_tolerance_that_is_not_reached_is_told() {
    // What rows of thread differ from the plate that stands for them is some percent, however well the plate is solved.
    let rows = json!({"thread_diameter_mm": 0.25, "row_spacing_mm": 0.8});
    let question = |tolerance: Value, method: &str| {
        json!({
            "ground": "sheet", "base": [{"thickness_mm": 3.0, "relative_permittivity": 1.4}],
            "relative_tolerance": tolerance, "method": method,
            "conductors": [{"plane": "stitched", "shape": {"kind": "round", "diameter_mm": 24.0}, "rows": rows}]
        })
    };
    for (tolerance, method, expected) in [
        (json!(1e-9), "best", true),
        (json!(1e-9), "field", true),
        (json!(1e-9), "closed_form", true),
        (json!(1.0), "best", false),
        (json!(1.0), "closed_form", false),
        (json!(null), "field", true),
        // The closed form is taken whatever its bound, where nothing else was asked for.
        (json!(null), "closed_form", false),
    ] {
        let answer = ask(CAPACITANCE, &question(tolerance.clone(), method));
        let bound = answer["relative_error"].as_f64().expect("a bound");
        let notes = answer["notes"].to_string();
        assert_eq!(notes.contains("the tolerance asked for"), expected, "{tolerance}, {method}: {notes}");
        // What was reached is told with its digits.
        let told = notes.rsplit_once("the bound is ").map(|(_, rest)| rest.trim_matches(['"', ']']).parse::<f64>().expect("a number"));
        assert!(told.is_none_or(|told| (told / bound - 1.0).abs() < 5e-3), "{bound}: {notes}");
    }
}

#[test]
fn formula_and_field_agree_within_both_bounds() {
    let layers = json!([{"thickness_mm": 2.5, "relative_permittivity": 1.6}]);
    let stack = |more: Value| {
        let mut question = json!({"ground": "sheet", "base": layers, "overlay": layers});
        question.as_object_mut().expect("an object").extend(more.as_object().expect("an object").clone());
        question
    };
    let disc = json!({"plane": "stitched", "shape": {"kind": "round", "diameter_mm": 24}});
    let finger = json!({"plane": "top", "shape": {"kind": "round", "diameter_mm": 9}});
    let rectangle = json!({"plane": "stitched", "shape": {"kind": "rectangle", "width_mm": 12, "length_mm": 30}, "rotation_deg": 30});
    let ring = json!({"plane": "stitched", "shape": {"kind": "ring", "inner_diameter_mm": 12, "outer_diameter_mm": 30}});
    let rows = json!({"thread_diameter_mm": 0.3, "row_spacing_mm": 0.9, "height_mm": 2.0});
    let first: fn(&Value) -> f64 = |answer| matrix(answer)[0][0];
    let per_m: fn(&Value) -> f64 = |answer| answer["capacitance_pf_per_m"].as_f64().expect("a number");
    let per_m2: fn(&Value) -> f64 = |answer| answer["capacitance_pf_per_m2"].as_f64().expect("a number");
    for (path, question, value) in [
        (CAPACITANCE, stack(json!({"conductors": [disc]})), first),
        (CAPACITANCE, stack(json!({"conductors": [disc, finger]})), first),
        (CAPACITANCE, stack(json!({"conductors": [rectangle]})), first),
        (CAPACITANCE, stack(json!({"conductors": [ring]})), first),
        (LINE, stack(json!({"cross_section": {"kind": "strip", "width_mm": 3}})), per_m),
        (LINE, stack(json!({"cross_section": {"kind": "thread", "diameter_mm": 0.3}})), per_m),
        (ROWS, rows, per_m2),
    ] {
        let by = |method: &str| ask(path, &with(question.clone(), "/method", json!(method)));
        let (formula, field) = (by("closed_form"), by("field"));
        assert_ne!(formula["method"], field["method"], "{question}");
        let bounds = [&formula, &field].map(|answer| answer["relative_error"].as_f64().expect("a bound"));
        let apart = (value(&formula) / value(&field) - 1.0).abs();
        assert!(apart <= bounds[0] + bounds[1], "{question}: {apart} apart, bounds {bounds:?}");
        assert!(bounds[1] < bounds[0], "{question}: solving is worth it, {bounds:?}");
        // The best of both is one of them, and as good as it was asked to be.
        let best = by("best");
        assert!(best == formula || best == field, "{best}");
    }
}

#[test]
fn lengths_scale_as_fields_do() {
    // Twice as large everywhere is twice the capacitance, whatever the shape.
    let at = |s: f64| {
        ask(
            CAPACITANCE,
            &json!({
                "ground": "sheet",
                "base": [{"thickness_mm": 2.0 * s, "relative_permittivity": 1.6}],
                "overlay": [{"thickness_mm": 1.0 * s, "relative_permittivity": 1.3}],
                "conductors": [
                    {"plane": "stitched", "shape": {"kind": "rectangle", "width_mm": 12.0 * s, "length_mm": 30.0 * s}},
                    {"plane": "top", "shape": {"kind": "round", "diameter_mm": 9.0 * s}}
                ]
            }),
        )
    };
    let (one, two) = (matrix(&at(1.0)), matrix(&at(2.0)));
    for (i, j) in [(0, 0), (0, 1), (1, 1)] {
        // Only rounding stands between them: every formula depends on ratios of lengths.
        assert!((two[i][j] / one[i][j] / 2.0 - 1.0).abs() < 1e-9, "{one:?} {two:?}");
    }
}

#[test]
fn a_far_disc_is_a_free_disc() {
    // 8 eps0 a, with the leading image term 1 + 2 a / (pi 2 h) = 1.00318 at h/a = 100 (reference: 0.32 %).
    let answer = ask(
        CAPACITANCE,
        &json!({
            "ground": "sheet", "base": [{"thickness_mm": 1000.0, "relative_permittivity": 1.0}],
            "conductors": [{"plane": "stitched", "shape": {"kind": "round", "diameter_mm": 20.0}}]
        }),
    );
    let expected = 8.0 * EPS0_PF_PER_MM * 10.0 * (1.0 + 1.0 / (100.0 * PI));
    let bound = answer["relative_error"].as_f64().expect("a bound").max(1e-4);
    assert!((matrix(&answer)[0][0] / expected - 1.0).abs() < bound, "{answer} for {expected}");
}

#[test]
fn a_touch_is_what_a_hand_calculation_says() {
    let touch = |supply: Value, body_to_supply: f64| {
        let answer = service().post(
            TOUCH,
            &json!({
                "maxwell_pf": {"pad_finger": 2.0, "pad_ground_touched": 10.0, "pad_ground_untouched": 10.5, "finger_ground": 1.0},
                "body_to_earth_pf": 100.0, "supply_to_earth_pf": supply, "body_to_supply_pf": body_to_supply
            }),
        );
        let answer = answer.ok();
        (answer["signal_pf"].as_f64().expect("a number"), answer["return_pf"].as_f64().expect("a number"))
    };
    let close = |(signal, way_back): (f64, f64), expected: f64, return_pf: f64| {
        assert!((way_back - return_pf).abs() < 1e-9, "{way_back} for {return_pf}");
        assert!((signal - expected).abs() < 1e-9, "{signal} for {expected}");
    };
    // Battery: 1 + 3 + 100 in series with 25 = 20 makes 24 pF; 2 in series with 24, less 0.5.
    close(touch(json!(25.0), 3.0), 48.0 / 26.0 - 0.5, 24.0);
    // Earthed: 1 + 3 + 100.
    close(touch(json!(null), 3.0), 208.0 / 106.0 - 0.5, 104.0);
    // Nothing to earth: what is left is the finger's own field and the hand near the supply.
    close(touch(json!(0.0), 0.0), 2.0 / 3.0 - 0.5, 1.0);
}
