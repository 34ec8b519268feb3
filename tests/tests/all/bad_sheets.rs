//! Sheets with something wrong in them: as a whole, or in single rows. What can be answered is answered; the rest says
//! why not, in words of the sheet.

use std::collections::BTreeMap;

use toile_tests::{Answer, service};

const HEADER: &str = "part,base_1,base_1_thickness_mm,overlay_1,overlay_1_thickness_mm,diameter_mm,thread,run_length_mm,passes,controller";
const GOOD: &str = "armrest,wool-felt,3,wool-felt,1.2,24,silver-polyamide-40-tex,180,2,patient-input";

/// The columns that an answer adds.
const RESULTS: &str = "verdict,chance,signal_pf,standing_pf,run_ohm,settling_percent,pad_pf,closed_form_pf,capacitance_error_percent,light_spread_percent,headroom_v,supply_ma,battery_life_h,laid_mm,wire_ohm,heating_w,warmest_c,impedance_10_hz_ohm,read_out_loss_percent,noise_uv,hum_uv,current_density_ma_per_cm2,charge_per_phase_uc,contact_pressure_kpa,stitches_per_piece,conductive_thread_m,machine_minutes,price_sample,price_each,price_each_low,price_each_high,price_total,price_currency,main_reason,cautions,problem";

/// A header row, then rows.
fn sheet(header: &str, rows: &[&str]) -> String {
    std::iter::once(header).chain(rows.iter().copied()).flat_map(|line| [line, "\n"]).collect()
}

/// The good row with some cells written anew.
fn row(changes: &[(&str, &str)]) -> String {
    let mut cells: Vec<String> = GOOD.split(',').map(str::to_owned).collect();
    for (column, cell) in changes {
        let k = HEADER.split(',').position(|name| name == *column).unwrap_or_else(|| panic!("no column {column}"));
        cells[k] = if cell.contains([',', '"', '\n']) { format!("\"{}\"", cell.replace('"', "\"\"")) } else { (*cell).to_owned() };
    }
    cells.join(",")
}

/// The rows of an answered sheet by column name.
#[track_caller]
fn answered(answer: &Answer) -> Vec<BTreeMap<String, String>> {
    assert_eq!(answer.status, 200, "{}", String::from_utf8_lossy(&answer.body));
    let mut reader = csv::Reader::from_reader(answer.text().trim_start_matches('\u{feff}').as_bytes());
    let header = reader.headers().expect("a header row").clone();
    reader
        .records()
        .map(|row| header.iter().zip(row.expect("a row as wide as the header").iter()).map(|(n, c)| (n.to_owned(), c.to_owned())).collect())
        .collect()
}

/// Posts the good row, a bad one, and the good row again: both good ones must be answered and the bad one must say
/// what is wrong, naming its column and what is allowed.
#[track_caller]
fn check_row(bad: &str, words: &[&str]) {
    let answer = service().batch(sheet(HEADER, &[GOOD, bad, GOOD]));
    let rows = answered(&answer);
    assert_eq!(rows.len(), 3, "{}", answer.text());
    for good in [&rows[0], &rows[2]] {
        assert_eq!((good["verdict"].as_str(), good["problem"].as_str()), ("comfortable", ""), "{}", answer.text());
    }
    let bad = &rows[1];
    for column in RESULTS.split(',').filter(|column| *column != "problem") {
        assert_eq!(bad[column], "", "{column} of a bad row: {}", answer.text());
    }
    for word in words {
        assert!(bad["problem"].contains(word), "no {word:?} in: {}", bad["problem"]);
    }
}

/// As [`check_row`], with columns added that the good rows leave empty.
#[track_caller]
fn check_added(cells: &[(&str, &str)], words: &[&str]) {
    let header = cells.iter().fold(HEADER.to_owned(), |header, (column, _)| format!("{header},{column}"));
    let bad = cells.iter().fold(GOOD.to_owned(), |row, (_, cell)| format!("{row},{cell}"));
    let good = format!("{GOOD}{}", ",".repeat(cells.len()));
    let rows = answered(&service().batch(sheet(&header, &[&good, &bad, &good])));
    assert!(rows[0]["verdict"] == "comfortable" && rows[2]["problem"].is_empty(), "{rows:?}");
    assert_eq!(rows[1]["verdict"], "", "{rows:?}");
    for word in words {
        assert!(rows[1]["problem"].contains(word), "no {word:?} in: {}", rows[1]["problem"]);
    }
}

/// Posts a sheet that must be refused as a whole.
#[track_caller]
fn check_sheet(sheet: impl Into<Vec<u8>>, status: u16, words: &[&str]) {
    let answer = service().batch(sheet.into());
    let problem = answer.problem();
    assert_eq!(answer.status, status, "{}", answer.text());
    for word in words {
        assert!(problem.words().contains(word), "no {word:?} in: {}", problem.words());
    }
}

#[test]
fn a_bad_number_spoils_only_its_row() {
    check_row(&row(&[("diameter_mm", "big")]), &["diameter_mm", "This is not a number.", "Given: big.", "0.5 to 1000 mm"]);
    check_row(&row(&[("diameter_mm", "-3")]), &["diameter_mm", "outside the allowed range", "Given: -3.", "0.5 to 1000 mm"]);
    check_row(&row(&[("diameter_mm", "1e9")]), &["diameter_mm", "0.5 to 1000 mm"]);
    check_row(&row(&[("diameter_mm", "NaN")]), &["diameter_mm", "not a number"]);
    check_row(&row(&[("diameter_mm", "1e999")]), &["diameter_mm", "not a number"]);
    check_row(&row(&[("diameter_mm", "#DIV/0!")]), &["diameter_mm", "not a number"]);
    check_row(&row(&[("diameter_mm", "24 pF")]), &["diameter_mm", "is not a unit"]);
    check_row(&row(&[("diameter_mm", "24 ± ")]), &["diameter_mm", "not a number"]);
    check_row(&row(&[("diameter_mm", "26 to 22")]), &["diameter_mm"]);
    check_row(&row(&[("diameter_mm", "24 ± -1")]), &["diameter_mm"]);
    check_row(&row(&[("passes", "1.5")]), &["passes", "1 to 50"]);
    check_row(&row(&[("passes", "99")]), &["passes", "1 to 50"]);
    check_row(&row(&[("run_length_mm", "0")]), &["run_length_mm", "0.1 to 100000 mm"]);
}

#[test]
fn an_unclear_thousand_is_asked_about_and_not_guessed() {
    check_row(&row(&[("run_length_mm", "1,250")]), &["run_length_mm", "could be 1250 or 1.250"]);
}

#[test]
fn an_unknown_entry_names_the_known_ones() {
    check_row(&row(&[("base_1", "velvet")]), &["base_1", "velvet", "wool-felt"]);
    check_row(&row(&[("thread", "gold")]), &["thread", "gold", "silver-polyamide-40-tex"]);
    check_row(&row(&[("controller", "that one")]), &["controller", "that one", "patient-input"]);
}

#[test]
fn a_missing_cell_is_named() {
    check_row(&row(&[("diameter_mm", "")]), &["diameter_mm"]);
    check_row(&row(&[("run_length_mm", "")]), &["run_length_mm", "needs this number"]);
    check_row(&row(&[("controller", "")]), &["controller: The row names no controller", "patient-input"]);
    check_row(&row(&[("thread", "")]), &["thread: The row names no thread", "silver-polyamide-40-tex"]);
    check_row(&row(&[("base_1", ""), ("base_1_thickness_mm", "")]), &["base"]);
}

#[test]
fn what_only_the_field_answers_is_checked_too() {
    check_added(&[("method", "guess")], &["method: This word is not known here.", "best, closed_form, field"]);
    check_added(&[("relative_tolerance", "2")], &["relative_tolerance", "0.000000001 to 1"]);
    check_added(&[("relative_tolerance", "0.01 ± 0.001")], &["takes no spread"]);
    check_added(&[("cover water fraction", "2")], &["cover water fraction: The water fraction is outside the allowed range."]);
    check_added(&[("method", "closed_form"), ("off_centre_mm", "4")], &["method: ", "has no closed form", "best or field"]);
    check_added(&[("ground", "none"), ("ground opening (cm)", "1")], &["ground opening (cm): There is no ground to open."]);
    check_added(&[("opening_diameter_mm", "10"), ("off_centre_mm", "4")], &["off_centre_mm", "come down on the middle"]);
    check_added(&[("guard_gap_mm", "2"), ("guard_width_mm", "3")], &["guard_held: A guard needs this word"]);
    check_added(
        &[("guard", "driven"), ("guard_gap_mm", "0")],
        &["guard_gap_mm", "0.2 to 100 mm", "guard_width_mm: A guard needs this number"],
    );
    let guard = [("guard", "ground"), ("guard gap", "2"), ("guard width", "3"), ("opening_diameter_mm", "10")];
    check_added(&guard, &["opening_diameter_mm", "round pads without a guard"]);
}

#[test]
fn every_fault_of_a_row_is_told_at_once() {
    check_row(
        &row(&[("diameter_mm", "big"), ("thread", "gold"), ("passes", "0"), ("base_1_thickness_mm", "-1")]),
        &["diameter_mm:", "thread:", "passes:", "base_1_thickness_mm:"],
    );
}

#[test]
fn rows_of_another_length_are_named() {
    let short = GOOD.rsplit_once(',').expect("cells").0;
    check_row(short, &["fewer cells than the header", "9 cells", "10 cells"]);
    check_row("armrest", &["fewer cells than the header"]);
    // A row with more cells than columns has shifted somewhere; a number read from the wrong column would not show.
    let answer = service().batch(sheet(HEADER, &[GOOD, &format!("{GOOD},a,b,c"), GOOD]));
    assert_eq!(answer.status, 200, "{}", answer.text());
    assert!(answer.text().contains("more cells than the header"), "{}", answer.text());
    assert_eq!(answer.text().matches(",comfortable,").count(), 2, "{}", answer.text());
}

#[test]
fn blank_rows_stay_blank() {
    let answer = service().batch(sheet(HEADER, &[GOOD, "", ",,,,,,,,,", GOOD]));
    assert_eq!(answer.status, 200, "{}", answer.text());
    assert_eq!(answer.text().matches("comfortable").count(), 2, "{}", answer.text());
    assert!(!answer.text().contains("needs this number"), "{}", answer.text());
}

#[test]
fn formulas_do_not_get_through() {
    for formula in ["=1+1", "=HYPERLINK(\"http://example.org\")", "+A1", "-A1+3", "@SUM(A1)", "=cmd|'/c calc'!A1"] {
        let answer = service().batch(sheet(HEADER, &[&row(&[("part", formula)])]));
        let rows = answered(&answer);
        assert_eq!(rows[0]["part"], format!("'{formula}"), "{}", answer.text());
        assert_eq!(rows[0]["verdict"], "comfortable");
    }
    // What the service says itself repeats cells, too.
    let answer = service().batch(sheet(HEADER, &[&row(&[("diameter_mm", "=1+1")])]));
    let problem = &answered(&answer)[0]["problem"];
    assert!(problem.contains("=1+1") && !problem.starts_with(['=', '+', '-', '@']), "{problem}");
    // In a header as well.
    let answer = service().batch(sheet(&HEADER.replace("part", "=1+1"), &[GOOD]));
    assert!(answer.text().starts_with("'=1+1,"), "{}", answer.text());
    // Numbers with a sign are no formulas.
    let answer = service().batch(sheet(&HEADER.replace("part", "change"), &[&row(&[("part", "-3.5")])]));
    assert!(answer.text().contains("\n-3.5,"), "{}", answer.text());
}

#[test]
fn what_the_owner_wrote_comes_back_as_it_was() {
    let odd = row(&[("part", "a \"quoted\", cell\nof two lines – ünïcödé")]);
    let rows = answered(&service().batch(sheet(HEADER, &[&odd])));
    assert_eq!(rows[0]["part"], "a \"quoted\", cell\nof two lines – ünïcödé");
    assert_eq!(rows[0]["verdict"], "comfortable");
}

#[test]
fn a_sheet_without_sense_is_refused_as_a_whole() {
    check_sheet("", 422, &["empty"]);
    check_sheet("   \n\n", 422, &["empty"]);
    check_sheet("a,b,c\n1,2,3\n", 422, &["None of the columns was understood", "\"a\""]);
    check_sheet("1,2,3\n4,5,6\n", 422, &["no column names"]);
    check_sheet(sheet("diametre_mm,run_lenght_mm", &["24,180"]), 422, &["Perhaps", "diameter_mm"]);
    check_sheet(sheet("diameter_mm,run_length_mm", &["24,180"]), 422, &["lacks", "thread", "controller", "base layer"]);
    check_sheet(sheet(&format!("{HEADER},pad diameter"), &[&format!("{GOOD},24")]), 422, &["Two columns mean the same", "diameter_mm"]);
    check_sheet(sheet(&format!("{HEADER},diameter_mm"), &[&format!("{GOOD},24")]), 422, &["Two columns mean the same"]);
    check_sheet("hello", 422, &["hello"]);
    check_sheet("{\"pads\": []}", 422, &[]);
}

#[test]
fn a_header_alone_comes_back_with_the_answer_columns() {
    let answer = service().batch(sheet(HEADER, &[]));
    assert_eq!(answer.status, 200, "{}", answer.text());
    assert_eq!(answer.text().trim_end(), format!("{HEADER},{RESULTS}"));
}

#[test]
fn what_is_no_text_is_refused() {
    // The start of a zip archive, which is what a workbook is.
    let workbook = [b"PK\x03\x04\x14\x00\x06\x00\x08\x00".as_slice(), &[0x21; 200]].concat();
    check_sheet(workbook.clone(), 422, &["CSV"]);
    let media_type = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
    let answer = service().post_bytes("/api/v1/batches", media_type, workbook);
    assert_eq!(answer.status, 422, "{}", answer.text());
    answer.problem();
    check_sheet([b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR".as_slice(), &[7; 100]].concat(), 422, &["CSV"]);
    check_sheet(vec![0; 1000], 422, &["CSV"]);
}

#[test]
fn cells_and_rows_have_a_largest_size() {
    check_sheet(sheet(HEADER, &[&row(&[("part", &"x".repeat(70_000))])]), 413, &["row 2", "at most"]);
    let wide: Vec<String> = (0..600).map(|k| format!("c{k}")).collect();
    check_sheet(sheet(&format!("{HEADER},{}", wide.join(",")), &[GOOD]), 413, &["columns", "at most 500"]);
    check_sheet(sheet(HEADER, &["\"never closed"]), 422, &["quote"]);
}

#[test]
fn an_answered_sheet_can_be_answered_again() {
    let first = service().batch(sheet(HEADER, &[GOOD, &row(&[("diameter_mm", "big")])]));
    assert_eq!(first.status, 200, "{}", first.text());
    let second = service().batch(first.body.clone());
    assert_eq!(second.text(), first.text());
}

#[test]
fn other_encodings_are_read() {
    let text = sheet(HEADER, &[&row(&[("part", "Müller’s")])]);
    let utf16: Vec<u8> = [0xff, 0xfe].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    let one_byte: Vec<u8> = text.replace('’', "'").chars().map(|c| u8::try_from(u32::from(c)).expect("a Western letter")).collect();
    for (bytes, part) in [(utf16, "Müller’s"), (one_byte, "Müller's")] {
        let rows = answered(&service().batch(bytes));
        assert_eq!((rows[0]["part"].as_str(), rows[0]["verdict"].as_str()), (part, "comfortable"));
    }
}

#[test]
fn units_in_headers_and_cells_are_understood_or_refused() {
    let header = HEADER.replace("diameter_mm", "Diameter (cm)").replace("run_length_mm", "Run length [m]");
    let good = row(&[("diameter_mm", "2.4"), ("run_length_mm", "0.18")]);
    let plain = answered(&service().batch(sheet(HEADER, &[GOOD])));
    let rows = answered(&service().batch(sheet(&header, &[&good])));
    for column in ["verdict", "chance", "signal_pf", "run_ohm"] {
        assert_eq!(rows[0][column], plain[0][column], "{column}");
    }
    check_sheet(sheet(&HEADER.replace("diameter_mm", "Diameter (pF)"), &[GOOD]), 422, &["lacks the size of the pad"]);
}
