//! One piece, three ways in: as JSON, as a row of a posted sheet, as a row of a sheet on the command line. The same
//! answer comes out of all of them, to the last digit.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};
use toile_tests::{batch_command, service, with};

/// Where the columns of a sheet stand in a piece; written out here and not taken from the code under test.
const PLACES: [(&str, &str); 60] = [
    ("pad", "/pads/0/name"),
    ("ground", "/stack/ground"),
    ("base_1", "/stack/base/0/library"),
    ("base_1_thickness_mm", "/stack/base/0/thickness_mm"),
    ("base_1_permittivity", "/stack/base/0/relative_permittivity"),
    ("base_1_water_fraction", "/stack/base/0/water_fraction"),
    ("base_2", "/stack/base/1/library"),
    ("base_2_thickness_mm", "/stack/base/1/thickness_mm"),
    ("base_2_permittivity", "/stack/base/1/relative_permittivity"),
    ("overlay_1", "/stack/overlay/0/library"),
    ("overlay_1_thickness_mm", "/stack/overlay/0/thickness_mm"),
    ("overlay_1_permittivity", "/stack/overlay/0/relative_permittivity"),
    ("overlay_1_water_fraction", "/stack/overlay/0/water_fraction"),
    ("overlay_2", "/stack/overlay/1/library"),
    ("overlay_2_thickness_mm", "/stack/overlay/1/thickness_mm"),
    ("opening_diameter_mm", "/stack/opening_diameter_mm"),
    ("sewn_thickness_mm", "/stack/sewn_thickness_mm"),
    ("shape", "/pads/0/shape/kind"),
    ("diameter_mm", "/pads/0/shape/diameter_mm"),
    ("width_mm", "/pads/0/shape/width_mm"),
    ("length_mm", "/pads/0/shape/length_mm"),
    ("corner_radius_mm", "/pads/0/shape/corner_radius_mm"),
    ("inner_diameter_mm", "/pads/0/shape/inner_diameter_mm"),
    ("outer_diameter_mm", "/pads/0/shape/outer_diameter_mm"),
    ("row_spacing_mm", "/pads/0/fill/row_spacing_mm"),
    ("fill_stitch_length_mm", "/pads/0/fill/stitch_length_mm"),
    ("guard_gap_mm", "/pads/0/guard/gap_mm"),
    ("guard_width_mm", "/pads/0/guard/width_mm"),
    ("guard_held", "/pads/0/guard/held"),
    ("thread", "/pads/0/thread/library"),
    ("thread_resistance_ohm_per_m", "/pads/0/thread/linear_resistance_ohm_per_m"),
    ("thread_diameter_mm", "/pads/0/thread/diameter_mm"),
    ("run_length_mm", "/pads/0/run/length_mm"),
    ("passes", "/pads/0/run/passes"),
    ("stitch", "/pads/0/run/stitch/kind"),
    ("stitch_length_mm", "/pads/0/run/stitch/stitch_length_mm"),
    ("column_width_mm", "/pads/0/run/stitch/column_width_mm"),
    ("density_mm", "/pads/0/run/stitch/density_mm"),
    ("bobbin", "/pads/0/run/bobbin"),
    ("contact_resistance_ohm", "/pads/0/run/terminal/contact_resistance_ohm"),
    ("controller", "/controller/library"),
    ("charge_time_us", "/controller/charge_time_us"),
    ("needed_signal_pf", "/controller/needed_signal_pf"),
    ("touch_case", "/touch/case"),
    ("fingertip_diameter_mm", "/touch/fingertip_diameter_mm"),
    ("off_centre_mm", "/touch/off_centre_mm"),
    ("body_to_earth_pf", "/touch/body_to_earth_pf"),
    ("temperature_c", "/temperature_c"),
    ("needles", "/machine/needles"),
    ("method", "/method"),
    ("relative_tolerance", "/relative_tolerance"),
    ("quantity", "/quantity"),
    ("heads", "/production/heads"),
    ("pieces_per_frame", "/production/pieces_per_frame"),
    ("currency", "/production/currency"),
    ("exchange_rate", "/production/exchange_rate"),
    ("decorative_stitches", "/production/decorative_stitches"),
    ("boards", "/production/boards"),
    ("jig", "/production/jig"),
    ("material_per_piece", "/production/material_per_piece"),
];

/// The result columns that hold a number of the pad, and where the answer has it.
const NUMBERS: [(&str, &str); 6] = [
    ("signal_pf", "signal_pf"),
    ("standing_pf", "standing_pf"),
    ("run_ohm", "run_ohm"),
    ("settling_percent", "settling_percent"),
    ("pad_pf", "pad_pf"),
    ("closed_form_pf", "closed_form_pf"),
];

/// What every row says where it says nothing else; a cell that is empty there is left out.
const USUAL: [(&str, &str); 11] = [
    ("ground", "sheet"),
    ("base_1", "wool-felt"),
    ("base_1_thickness_mm", "3"),
    ("overlay_1", "wool-felt"),
    ("overlay_1_thickness_mm", "1.2"),
    ("shape", "round"),
    ("diameter_mm", "24"),
    ("thread", "silver-polyamide-40-tex"),
    ("run_length_mm", "180"),
    ("controller", "patient-input"),
    ("needed_signal_pf", "0.75"),
];

/// What each row says otherwise.
const ROWS: [&[(&str, &str)]; 59] = [
    &[],
    &[("pad", "brighter")],
    &[("ground", "metal")],
    &[("ground", "none")],
    &[("ground", "body")],
    &[("diameter_mm", "5")],
    &[("diameter_mm", "9.75")],
    &[("diameter_mm", "60")],
    &[("diameter_mm", "24 ± 0.5")],
    &[("diameter_mm", "22 to 26")],
    &[("base_1_thickness_mm", "3 ± 0.2"), ("overlay_1_thickness_mm", "1.1 to 1.3")],
    &[("base_1_thickness_mm", "")],
    &[("overlay_1", ""), ("overlay_1_thickness_mm", "")],
    &[("overlay_1_thickness_mm", "6")],
    &[("overlay_1_thickness_mm", "0.5 to 6")],
    &[("base_1", ""), ("base_1_thickness_mm", "2.5"), ("base_1_permittivity", "1.7 ± 0.3")],
    &[("base_2", "pu-foam-firm"), ("base_2_thickness_mm", "5 ± 0.4")],
    &[("base_2", ""), ("base_2_thickness_mm", "0.33"), ("base_2_permittivity", "3.1")],
    &[("overlay_2", "cotton-twill")],
    &[("overlay_2", "cotton-twill"), ("overlay_2_thickness_mm", "0.7")],
    &[("overlay_1_permittivity", "2.05")],
    &[("shape", "rectangle"), ("diameter_mm", ""), ("width_mm", "20"), ("length_mm", "35")],
    &[("shape", "rectangle"), ("diameter_mm", ""), ("width_mm", "20 ± 0.3"), ("length_mm", "20"), ("corner_radius_mm", "4")],
    &[("shape", "ring"), ("diameter_mm", ""), ("inner_diameter_mm", "10"), ("outer_diameter_mm", "30")],
    &[("shape", "ring"), ("diameter_mm", ""), ("inner_diameter_mm", "9.5 to 10.5"), ("outer_diameter_mm", "30")],
    &[("row_spacing_mm", "0.8"), ("fill_stitch_length_mm", "3")],
    &[("row_spacing_mm", "0.8 ± 0.1"), ("fill_stitch_length_mm", "2.5")],
    &[("row_spacing_mm", "2.2"), ("fill_stitch_length_mm", "4")],
    &[("row_spacing_mm", "0.3"), ("fill_stitch_length_mm", "4"), ("diameter_mm", "8")],
    &[("thread_resistance_ohm_per_m", "85 ± 10")],
    &[("thread", ""), ("thread_resistance_ohm_per_m", "2500"), ("thread_diameter_mm", "0.3")],
    &[("run_length_mm", "2500")],
    &[("run_length_mm", "2500"), ("passes", "3")],
    &[("run_length_mm", "900"), ("passes", "2"), ("stitch", "back"), ("stitch_length_mm", "3.1")],
    &[("stitch", "running"), ("stitch_length_mm", "9")],
    &[("stitch", "satin"), ("column_width_mm", "2"), ("density_mm", "0.5")],
    &[("stitch", "satin"), ("column_width_mm", "2.5 ± 0.2"), ("density_mm", "0.45"), ("bobbin", "same_thread")],
    &[("bobbin", "same_thread"), ("contact_resistance_ohm", "0.2 to 1")],
    &[("contact_resistance_ohm", "0.75")],
    &[("touch_case", "earthed")],
    &[("touch_case", "worn"), ("fingertip_diameter_mm", "8.25")],
    &[("touch_case", "battery"), ("body_to_earth_pf", "90 to 250"), ("temperature_c", "-12.5")],
    &[("charge_time_us", "0.06"), ("needed_signal_pf", "0.9"), ("run_length_mm", "1200")],
    &[("temperature_c", "60 ± 5"), ("needles", "6"), ("sewn_thickness_mm", "1.5")],
    &[
        ("diameter_mm", "7"),
        ("touch_case", "worn"),
        ("needed_signal_pf", "0.35"),
        ("row_spacing_mm", "1.1"),
        ("fill_stitch_length_mm", "2.8"),
    ],
    &[("method", "closed_form")],
    &[("method", "field"), ("relative_tolerance", "0.01")],
    &[("method", "best"), ("relative_tolerance", "0.05"), ("diameter_mm", "40")],
    &[("relative_tolerance", "1")],
    &[("overlay_1_water_fraction", "0.25")],
    &[("base_1_water_fraction", "0.1 ± 0.02"), ("overlay_1_water_fraction", "0.3 to 0.5")],
    &[("opening_diameter_mm", "12")],
    &[("off_centre_mm", "6 ± 1")],
    &[("guard_gap_mm", "2"), ("guard_width_mm", "3"), ("guard_held", "ground")],
    &[("guard_gap_mm", "1.5 ± 0.2"), ("guard_width_mm", "2.5"), ("guard_held", "driven"), ("diameter_mm", "18")],
    &[("quantity", "120"), ("heads", "6"), ("method", "closed_form")],
    &[("quantity", "4000"), ("pieces_per_frame", "4"), ("decorative_stitches", "3200"), ("method", "closed_form")],
    &[("quantity", "7"), ("currency", "JPY"), ("exchange_rate", "171.23"), ("material_per_piece", "650"), ("method", "closed_form")],
    &[("boards", "2"), ("jig", "true"), ("material_per_piece", "3.85"), ("method", "closed_form")],
];

/// The cells of a row by column, empty ones left out.
fn cells(row: &[(&str, &str)]) -> BTreeMap<&'static str, String> {
    let mut cells: BTreeMap<&str, String> = BTreeMap::new();
    for (column, cell) in USUAL.iter().chain(row) {
        let (known, _) = PLACES.iter().find(|(name, _)| name == column).unwrap_or_else(|| panic!("no column {column}"));
        cells.insert(known, (*cell).to_owned());
    }
    cells.retain(|_, cell| !cell.is_empty());
    cells
}

/// The piece that a row means.
fn piece(cells: &BTreeMap<&str, String>) -> Value {
    let start = json!({"stack": {"base": [], "overlay": []}, "pads": [{}]});
    PLACES.iter().filter_map(|(column, place)| cells.get(column).map(|cell| (place, value(cell)))).fold(start, |piece, (place, value)| {
        // A list takes its first entry as an object before a field is put in it.
        with(piece, place, value)
    })
}

/// What a cell means: a word, a number, a number with a spread, a range.
fn value(cell: &str) -> Value {
    let number = |text: &str| -> Option<Value> { text.trim().parse::<Value>().ok().filter(Value::is_number) };
    if let Some((value, width)) = cell.split_once('±') {
        return json!({"value": number(value), "plus_minus": number(width)});
    }
    if let Some((low, high)) = cell.split_once(" to ") {
        return json!({"low": number(low), "high": number(high)});
    }
    if let Ok(flag) = cell.parse::<bool>() {
        return json!(flag);
    }
    number(cell).unwrap_or_else(|| json!(cell))
}

/// All rows as a sheet, with every column that any of them fills.
fn sheet(delimiter: char) -> String {
    let rows: Vec<_> = ROWS.iter().map(|row| cells(row)).collect();
    let columns: Vec<&str> = PLACES.iter().map(|(column, _)| *column).filter(|c| rows.iter().any(|row| row.contains_key(c))).collect();
    assert_eq!(columns.len(), PLACES.len(), "every column is filled by some row");
    let line = |cells: Vec<&str>| cells.join(&delimiter.to_string()) + "\n";
    let body = rows.iter().map(|row| line(columns.iter().map(|c| row.get(c).map_or("", String::as_str)).collect()));
    std::iter::once(line(columns.clone())).chain(body).collect()
}

/// The result columns of an answered sheet, row by row.
fn answered(table: &str, delimiter: u8) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::ReaderBuilder::new().delimiter(delimiter).from_reader(table.as_bytes());
    let header = reader.headers().expect("a header row").clone();
    reader
        .records()
        .map(|row| header.iter().zip(row.expect("a row as wide as the header").iter()).map(|(n, c)| (n.to_owned(), c.to_owned())).collect())
        .collect()
}

/// What JSON says of a piece, in the columns of a sheet.
fn told(estimate: &Value) -> Map<String, Value> {
    let pad = &estimate["pads"][0];
    let checks = estimate["checks"].as_array().expect("checks");
    let sentences: Vec<&Value> = checks.iter().filter(|c| c["verdict"] == estimate["verdict"]).map(|c| &c["sentence"]).collect();
    let numbers = NUMBERS.map(|(column, key)| (column.to_owned(), pad[key].clone()));
    Map::from_iter(
        [
            ("verdict".to_owned(), estimate["verdict"].clone()),
            ("chance".to_owned(), estimate["chance"].clone()),
            ("sentences".to_owned(), json!(sentences)),
        ]
        .into_iter()
        .chain(numbers),
    )
}

#[test]
fn json_sheet_and_command_line_say_the_same_to_the_last_digit() {
    let sheet = sheet(',');
    let posted = service().batch(sheet.clone());
    assert_eq!(posted.status, 200, "{}", posted.text());
    let ran = batch_command(sheet.as_bytes());
    assert_eq!(ran.status.code(), Some(0), "{}", String::from_utf8_lossy(&ran.stderr));
    assert!(posted.body == ran.stdout, "the command line writes other bytes than the service");

    let rows = answered(posted.text(), b',');
    assert_eq!(rows.len(), ROWS.len());
    let mut verdicts = BTreeMap::new();
    for (k, row) in rows.iter().enumerate() {
        let given = cells(ROWS[k]);
        assert_eq!(row["problem"], "", "row {k}: {given:?}");
        for (column, cell) in &given {
            assert_eq!(&row[*column], cell, "row {k}: the owner's cell is changed");
        }
        let estimate = service().estimate(&piece(&given));
        let told = told(&estimate);
        for column in ["verdict", "chance"].into_iter().chain(NUMBERS.map(|(column, _)| column)) {
            // Read as JSON reads, which is not exact for chances of 1e-200: the same digits are the same number.
            assert_eq!(value(&row[column]), told[column], "row {k}, {column}: {given:?}");
        }
        // A sheet has percents where JSON has the fraction; both are rounded to six digits.
        let percent: f64 = row["capacitance_error_percent"].parse().expect("a number");
        let fraction = estimate["pads"][0]["relative_error"].as_f64().expect("a number");
        assert!((percent / 100.0 - fraction).abs() <= 1e-5 * fraction, "row {k}: {percent} % and {fraction}");
        let sentences = told["sentences"].as_array().expect("sentences");
        assert!(sentences.iter().any(|s| s == &row["main_reason"]), "row {k}: {} is no sentence of {sentences:?}", row["main_reason"]);
        let production = &estimate["production"];
        for (column, told) in [
            ("price_sample", &production["sample"]["unit_price"]),
            ("price_each", &production["series"]["unit_price"]),
            ("price_each_low", &production["series"]["unit_price_interval_95"][0]),
            ("price_each_high", &production["series"]["unit_price_interval_95"][1]),
            ("price_total", &production["series"]["total"]),
            ("price_currency", &production["currency"]),
        ] {
            assert_eq!(told.as_str(), Some(row[column].as_str()), "row {k}, {column}: {given:?}");
        }
        for (column, told) in
            [("stitches_per_piece", &production["stitches"]), ("machine_minutes", &production["series"]["machine_minutes"])]
        {
            assert_eq!(&value(&row[column]), told, "row {k}, {column}: {given:?}");
        }
        *verdicts.entry(row["verdict"].clone()).or_insert(0) += 1;
    }
    // Rows that all came out alike would show little.
    assert!(verdicts.len() >= 3, "{verdicts:?}");
    assert!(verdicts.values().all(|n| *n <= 42), "{verdicts:?}");
}

#[test]
fn the_dialect_of_a_sheet_changes_no_number() {
    let plain = answered(service().batch(sheet(',')).text(), b',');
    for (name, table, delimiter) in [
        ("semicolons", sheet(';'), b';'),
        ("tabs", sheet('\t'), b'\t'),
        ("line ends of another system", sheet(',').replace('\n', "\r\n"), b','),
        ("a byte order mark", format!("\u{feff}{}", sheet(',')), b','),
    ] {
        let answer = service().batch(table);
        assert_eq!(answer.status, 200, "{name}: {}", answer.text());
        let rows = answered(answer.text().trim_start_matches('\u{feff}'), delimiter);
        for (k, (row, expected)) in rows.iter().zip(&plain).enumerate() {
            let numbers = NUMBERS.map(|(column, _)| column);
            for column in ["verdict", "chance", "capacitance_error_percent", "main_reason", "problem"].into_iter().chain(numbers) {
                assert_eq!(row[column], expected[column], "{name}, row {k}, {column}");
            }
        }
        assert_eq!(rows.len(), plain.len(), "{name}");
    }
}

#[test]
fn a_decimal_comma_is_read_and_written() {
    let table = sheet(';').replace('.', ",");
    let answer = service().batch(table);
    assert_eq!(answer.status, 200, "{}", answer.text());
    let (rows, plain) = (answered(answer.text(), b';'), answered(service().batch(sheet(',')).text(), b','));
    assert_eq!(rows.len(), plain.len());
    for (k, (row, expected)) in rows.iter().zip(&plain).enumerate() {
        for column in ["chance", "capacitance_error_percent"].into_iter().chain(NUMBERS.map(|(column, _)| column)) {
            assert_eq!(row[column], expected[column].replace('.', ","), "row {k}, {column}");
        }
        assert_eq!(row["problem"], "", "row {k}");
    }
}

#[test]
fn the_demo_answers_alike_pad_by_pad() {
    // A piece of four pads and four pieces of one pad: what does not depend on the neighbours must not change.
    let demo = toile_tests::demo();
    let whole = service().estimate(&demo);
    for (k, pad) in demo["pads"].as_array().expect("pads").iter().enumerate() {
        let alone = service().estimate(&with(demo.clone(), "/pads", json!([pad])));
        for key in ["signal_pf", "standing_pf", "run_ohm", "settling_percent", "pad_pf", "return_pf"] {
            assert_eq!(alone["pads"][0][key], whole["pads"][k][key], "pad {k}, {key}");
        }
    }
}
