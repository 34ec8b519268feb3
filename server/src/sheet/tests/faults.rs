//! Bad rows and bad sheets: each says in words what is wrong, and the rest goes on.

use super::*;

#[test]
fn bad_cells_name_their_column_their_value_and_what_is_allowed() {
    // Column, cell, words that the problem must hold.
    let table: &[(&str, &str, &[&str])] = &[
        ("diameter_mm", "-3", &["diameter_mm: The diameter is outside the allowed range.", "Given: -3.", "0.5 to 1000 mm"]),
        ("diameter_mm", "0", &["outside the allowed range", "Given: 0."]),
        ("diameter_mm", "4e6", &["outside the allowed range", "Given: 4e6."]),
        ("diameter_mm", "120 cm", &["outside the allowed range", "Given: 120 cm."]),
        ("diameter_mm", "big", &["diameter_mm: This is not a number.", "Given: big.", "3 ± 0.2"]),
        ("diameter_mm", "NaN", &["not a number", "Given: NaN."]),
        ("diameter_mm", "1e999", &["not a number"]),
        ("diameter_mm", "24 pF", &["\"pF\" is not a unit", "mm, cm, m, um, in"]),
        ("diameter_mm", "", &["The row gives no size of the pad.", "a diameter, or width and length"]),
        ("diameter_mm", "#REF!", &["not a number", "Given: #REF!"]),
        ("diameter_mm", "1,250", &["could be 1250 or 1.250", "without a mark between the thousands"]),
        ("diameter_mm", "1.2.3", &["not a number"]),
        ("diameter_mm", "24 ± -1", &["has a spread that is negative"]),
        ("diameter_mm", "30 to 20", &["low limit above its high limit"]),
        ("diameter_mm", "0.1 to 30", &["reaches outside the allowed range"]),
        ("diameter_mm", "24 ±", &["not a number"]),
        ("base_1", "", &["base_1: The layer names no fabric; without one it needs both thickness and permittivity.", "one of wool-felt"]),
        (
            "base_1",
            "woll-felt",
            &["base_1: The library has no such entry. The nearest is wool-felt.", "Given: woll-felt.", "one of wool-felt"],
        ),
        ("base_1_thickness_mm", "-1", &["base_1_thickness_mm", "0.01 to 200 mm"]),
        (
            "base_2_permittivity",
            "0.5",
            &["base_2_permittivity: The relative permittivity is outside", "1 to 100", "base_2: The layer names no fabric"],
        ),
        ("thread", "cotton", &["thread: The library has no such entry.", "silver-polyamide-40-tex"]),
        ("thread", "", &["thread: The row names no thread.", "silver-polyamide-40-tex", "thread_diameter_mm"]),
        ("controller", "", &["controller: The row names no controller.", "patient-input", "six numbers"]),
        ("controller", "fast", &["controller: The library has no such entry.", "patient-input"]),
        ("run_length_mm", "", &["run_length_mm: Every run needs this number", "0.1 to 100000 mm"]),
        ("run_length_mm", "0", &["run_length_mm: The length is outside"]),
        ("passes", "1.5", &["passes: The number of passes is not a whole number", "1 to 50"]),
        ("passes", "0", &["passes", "1 to 50"]),
        ("passes", "2 ± 1", &["not a whole number"]),
        ("row_spacing_mm", "0", &["row_spacing_mm", "0.05 to 50 mm"]),
        ("ground", "earth", &["ground: This word is not known here.", "sheet, metal, body, none"]),
        ("shape", "star", &["shape: This word is not known here.", "round, rectangle, ring"]),
        ("shape", "ring", &["diameter_mm: A diameter belongs to a round shape.", "outer_diameter_mm: A ring needs this number"]),
        ("width_mm", "10", &["shape: The row gives measures of more than one shape."]),
        ("corner_radius_mm", "2", &["corner_radius_mm: A corner radius belongs to a rectangle.", "an empty cell"]),
        ("stitch", "loop", &["stitch: This word is not known here.", "running, back, satin"]),
        ("stitch", "satin", &["column_width_mm: A satin column needs this number", "density_mm"]),
        ("column_width_mm", "2", &["column_width_mm: A column width belongs to the stitch satin."]),
        ("bobbin", "gold", &["bobbin", "plain, same_thread"]),
        ("touch_case", "plugged", &["touch_case", "battery, earthed, worn"]),
        ("settled_percent", "0.99", &["settled_percent: The needed share of the final charge is outside the allowed range."]),
        ("temperature_c", "900", &["temperature_c", "-60 to 200 degrees C"]),
        ("needles", "40", &["needles", "1 to 24"]),
        ("base_1_water_fraction", "1.2", &["base_1_water_fraction: The water fraction is outside", "0 to 0.95"]),
        ("base_2_water_fraction", "0.3", &["base_2: The layer names no fabric"]),
        ("opening_diameter_mm", "0.1", &["opening_diameter_mm", "0.5 to 1000 mm"]),
        ("off_centre_mm", "-3", &["off_centre_mm: The distance of the finger from the pad's middle is outside", "0 to 500 mm"]),
        ("guard_gap_mm", "2", &["guard_width_mm: A guard needs this number", "guard_held: A guard needs this word", "ground, driven"]),
        ("guard_held", "driven", &["guard_gap_mm: A guard needs this number", "guard_width_mm"]),
        ("guard_held", "loose", &["guard_held: This word is not known here.", "ground, driven"]),
        ("method", "fast", &["method: This word is not known here.", "best, closed_form, field"]),
        ("relative_tolerance", "0", &["relative_tolerance", "0.000000001 to 1"]),
        ("relative_tolerance", "1 %", &["relative_tolerance: \"%\" is not a unit for a relative tolerance.", "no unit"]),
        (
            "relative_tolerance",
            "0.1 to 0.2",
            &["relative_tolerance: The relative tolerance takes no spread.", "one number, 0.000000001 to 1"],
        ),
        ("charge_time_us", "2 h", &["\"h\" is not a unit", "us, ns, ms, s"]),
    ];
    for (column, cell, words) in table {
        let cells = results(changed(&[(column, cell)]));
        assert!(cells[..PROBLEM].iter().all(String::is_empty), "{column} = {cell}: {cells:?}");
        for word in *words {
            assert!(cells[PROBLEM].contains(word), "{column} = {cell}: \"{word}\" is not in: {}", cells[PROBLEM]);
        }
    }
}

#[test]
fn every_fault_of_a_row_is_named_at_once() {
    let cells = results(changed(&[
        ("diameter_mm", "x"),
        ("run_length_mm", "-5"),
        ("passes", "99"),
        ("thread", "wire"),
        ("base_1_thickness_mm", "900"),
    ]));
    for column in ["diameter_mm:", "run_length_mm:", "passes:", "thread:", "base_1_thickness_mm:"] {
        assert_eq!(cells[PROBLEM].matches(column).count(), 1, "{column} in {}", cells[PROBLEM]);
    }
    let numbers = results(changed(&[
        ("thread", ""),
        ("thread_diameter_mm", "0.2"),
        ("controller", ""),
        ("charge_time_us", "2"),
        ("base_1", ""),
        ("base_1_thickness_mm", ""),
    ]));
    for words in [
        "base_1: The row names no base layer.",
        "thread_resistance_ohm_per_m: This number is needed where no library entry is named. Allowed: a number, or an entry of the library in place of all numbers.",
        "max_run_ohm: This number is needed",
    ] {
        assert!(numbers[PROBLEM].contains(words), "{words} is not in {}", numbers[PROBLEM]);
    }
    let no_form = results(changed(&[("method", "closed form"), ("off_centre_mm", "3")]));
    assert!(no_form[PROBLEM].starts_with("method: An opening in the ground, a guard or a finger off the middle has no closed form."));
    let open = results(changed(&[("opening_diameter_mm", "10"), ("ground", "none")]));
    assert!(open[PROBLEM].contains("opening_diameter_mm: There is no ground to open."), "{}", open[PROBLEM]);
    let ring = results(changed(&[("diameter_mm", ""), ("inner_diameter_mm", "30"), ("outer_diameter_mm", "20")]));
    assert!(ring[PROBLEM].contains("inner_diameter_mm: The hole leaves no ring. Given: 30."), "{}", ring[PROBLEM]);
    let earthed = results(changed(&[("touch_case", "earthed"), ("supply_to_earth_pf", "5")]));
    assert!(earthed[PROBLEM].contains("supply_to_earth_pf: An earthed supply has no capacitance"), "{}", earthed[PROBLEM]);
}

#[test]
fn a_fault_speaks_of_the_header_as_written() {
    let sheet = good_sheet().replace("diameter_mm", "Ø pad [cm]");
    let cells = results(sheet.replace(",24,", ",-2.4,"));
    assert!(
        cells[PROBLEM].starts_with("Ø pad [cm]: The diameter is outside the allowed range. Given: -2.4. Allowed: 0.5 to 1000 mm."),
        "{}",
        cells[PROBLEM]
    );
}

#[test]
fn a_bad_row_keeps_its_cells_and_the_rest_goes_on() {
    let head = COLUMNS_USED.join(",");
    let good = GOOD_ROW.join(",");
    let text = format!("{head},note\n{good},a\n{good}\nshort,row\n{good},b,surplus\n{good},c,,\n,,,\n\n , ,\"\"\n{good},d\n");
    let (out, summary) = answered(&text);
    let lines: Vec<&str> = out.lines().collect();
    assert_eq!(lines.len(), text.lines().count());
    assert_eq!((summary.rows, summary.problems), (6, 3));
    let table = Table::of(&out, b',');
    let fresh = results(good_sheet());
    assert_eq!(table.results(0), fresh);
    assert!(table.cell(1, "problem").starts_with("row: The row has fewer cells than the header. Given: 10 cells. Allowed: 11 cells."));
    assert_eq!((table.rows[2][0].as_str(), table.rows[2][1].as_str(), table.rows[2][2].as_str()), ("short", "row", ""));
    assert!(table.cell(3, "problem").contains("more cells than the header; a comma inside"));
    assert_eq!(table.rows[3].last().map(String::as_str), Some("surplus"));
    // Empty cells beyond the header are how some programs end a row.
    assert_eq!(table.results(4), fresh);
    // Rows without a word in them pass as they are.
    assert_eq!((lines[6], lines[7], lines[8]), (",,,", "", " , ,\"\""));
    assert_eq!(table.rows.last().unwrap()[COLUMNS_USED.len() + 1 + PROBLEM], "");
    assert_eq!(table.results(table.rows.len() - 1), fresh);
}

#[test]
fn bad_sheets_are_refused_as_a_whole_with_words() {
    let head = COLUMNS_USED.join(",");
    let good = GOOD_ROW.join(",");
    let wide = vec!["x"; 501].join(",");
    let table: Vec<(&str, Vec<u8>, &str, &[&str])> = vec![
        ("nothing", b"".to_vec(), "empty", &["empty"]),
        ("blank lines", b"\n\r\n , \n".to_vec(), "empty", &["empty"]),
        ("only a mark", b"\xef\xbb\xbf".to_vec(), "empty", &["empty"]),
        ("xlsx", b"PK\x03\x04\x14\0\x06\0".to_vec(), "not_text", &["this is an xlsx or ods workbook", "save the sheet as CSV"]),
        ("xls", b"\xd0\xcf\x11\xe0\xa1\xb1".to_vec(), "not_text", &["xls"]),
        ("binary", b"diameter_mm\0\x01\x02".to_vec(), "not_text", &["zero bytes"]),
        ("UTF-16 without a mark", "diameter_mm,thread\n".encode_utf16().flat_map(u16::to_le_bytes).collect(), "not_text", &["zero bytes"]),
        ("no header", b"24,180,2\n30,180,2\n".to_vec(), "no_header", &["hold no column names", "\"24\", \"180\", \"2\""]),
        ("foreign columns", b"name,colour\na,red\n".to_vec(), "no_known_column", &["\"name\", \"colour\"", "diameter_mm"]),
        ("nearly known", b"diametr,thraed\n1,x\n".to_vec(), "no_known_column", &["Perhaps \"diametr\" is meant as diameter_mm."]),
        (
            "same field twice",
            format!("{head},Pad Diameter (cm)\n{good},2\n").into_bytes(),
            "same_field",
            &["\"diameter_mm\" and \"Pad Diameter (cm)\"", "understood as diameter_mm"],
        ),
        ("same result twice", format!("{head},chance,Chance\n{good},,\n").into_bytes(), "same_field", &["chance"]),
        (
            "a needed column missing",
            b"diameter_mm,base_1,thread,controller,run lenght\n".to_vec(),
            "missing_columns",
            &["lacks the length of the run (run_length_mm)", "Perhaps \"run lenght\" is meant as run_length_mm."],
        ),
        (
            "all but one missing",
            b"diameter_mm\n24\n".to_vec(),
            "missing_columns",
            &["a base layer", "the thread", "the length of the run", "the controller"],
        ),
        ("half a rectangle", b"width_mm,base_1,thread,controller,run_length_mm\n".to_vec(), "missing_columns", &["width_mm and length_mm"]),
        ("open quote in the header", b"diameter_mm,\"base_1\n24,x\n".to_vec(), "open_quote", &["row 1"]),
        ("open quote in a row", format!("{head}\n{good}\n\"{good}\n{good}\n").into_bytes(), "open_quote", &["row 3"]),
        ("open quote over much", format!("{head}\n{good}\n\"{}\n", "x,\n".repeat(800_000)).into_bytes(), "open_quote", &["row 3"]),
        ("too many columns", format!("{wide}\n").into_bytes(), "too_many_columns", &["Row 1 has 501 columns; at most 500"]),
        ("too many cells in a row", format!("\n{head}\n{good}\n{wide}\n").into_bytes(), "too_many_columns", &["Row 4 has 501 columns"]),
        (
            "a long cell",
            format!("{head},note\n{good},{}\n", "x".repeat(70_000)).into_bytes(),
            "cell_too_long",
            &["row 2, column 11 holds 70000 bytes", "65536"],
        ),
        ("a long header", format!("{head},{}\n", "x".repeat(70_000)).into_bytes(), "cell_too_long", &["row 1, column 11"]),
        (
            "a long row",
            format!("{head}\n{good}\n{}\n", "x".repeat(3_000_000)).into_bytes(),
            "row_too_long",
            &["Row 3 holds more than 1048576 bytes"],
        ),
        ("a header without end", "x".repeat(3_000_000).into_bytes(), "row_too_long", &["Row 1"]),
    ];
    for (what, input, kind, words) in table {
        let (_, fault) = stopped(&input, &limits());
        let text = fault.to_string();
        assert_eq!(fault.kind(), kind, "{what}: {text}");
        for word in words {
            assert!(text.contains(word), "{what}: \"{word}\" is not in: {text}");
        }
    }
}

#[test]
fn huge_cells_are_answered_at_once() {
    // Each of these once invited work that grows with the square of its length.
    let sixty = "60".repeat(30_000);
    let groups = format!("1{}", " 000".repeat(16_000));
    let letters = "x".repeat(60_000);
    let started = std::time::Instant::now();
    for (column, cell) in [
        ("diameter_mm", &sixty),
        ("run_length_mm", &groups),
        ("base_1", &letters),
        ("thread", &groups),
        ("shape", &letters),
        ("pad", &letters),
    ] {
        let cells = results(changed(&[(column, cell)]));
        assert!(cells[PROBLEM].starts_with(column) && cells[PROBLEM].len() < 1000, "{column}: {}", cells[PROBLEM]);
    }
    let (_, summary) =
        answered(changed(&[(&letters, "1"), (&groups, "-1"), ("note", &format!("-{groups}")), ("diameter_mm", &format!("24 {letters}"))]));
    assert_eq!((summary.rows, summary.problems, summary.defused), (1, 1, 1));
    // Half a minute would be the square; a debug build on a busy machine takes some tenths of a second.
    assert!(started.elapsed().as_secs() < 10, "{:?}", started.elapsed());
}

#[test]
fn limits_are_limits_and_what_came_before_is_written() {
    let head = COLUMNS_USED.join(",");
    let good = GOOD_ROW.join(",");
    let narrow = Limits { most_cell_bytes: 50, most_row_bytes: 200, most_columns: 12, most_rows: Some(3), workers: 1, ..Limits::default() };
    let rows = |n: usize| format!("{head}\n{}", format!("{good}\n").repeat(n));
    assert!(answer_csv(rows(3).as_bytes(), Vec::new(), &LIBRARY, &narrow, |_| {}).is_ok());
    let (_, fault) = stopped(rows(4), &narrow);
    assert_eq!((fault.kind(), fault.is_too_large()), ("too_many_rows", true));
    assert!(fault.to_string().contains("more than 3 rows"));

    let (out, fault) = stopped(format!("{}{}\n", rows(2), "y".repeat(51)), &narrow);
    assert_eq!(fault.to_string(), "The cell in row 4, column 1 holds 51 bytes; at most 50 are allowed.");
    assert_eq!(Table::of(&out, b',').rows.len(), 2);
}

#[test]
fn a_reader_or_writer_that_fails_ends_the_work() {
    struct Failing;
    impl Read for Failing {
        fn read(&mut self, _: &mut [u8]) -> std::io::Result<usize> {
            Err(std::io::Error::other("line cut"))
        }
    }
    impl Write for Failing {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(std::io::Error::other("disk full"))
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let sheet = format!("{}{}", good_sheet(), format!("{}\n", GOOD_ROW.join(",")).repeat(20_000));
    let fault = answer_csv(sheet.as_bytes(), Failing, &LIBRARY, &limits(), |_| {}).unwrap_err();
    assert_eq!(fault.kind(), "write");
    let mut out = Vec::new();
    let fault = answer_csv(sheet.as_bytes().chain(Failing), &mut out, &LIBRARY, &limits(), |_| {}).unwrap_err();
    assert_eq!((fault.kind(), std::error::Error::source(&fault).unwrap().to_string()), ("read", "line cut".into()));
    assert!(out.len() > sheet.len() / 2, "the rows before the cut are answered");
    assert_eq!(answer_csv(Failing, Vec::new(), &LIBRARY, &limits(), |_| {}).unwrap_err().kind(), "read");
}

#[test]
fn zero_characters_after_the_first_stretch_are_a_fault_of_their_row() {
    let good = GOOD_ROW.join(",");
    let many = encoding::LOOK_AHEAD / good.len() + 10;
    let sheet =
        format!("{}\n{}{}\n{good}\n", COLUMNS_USED.join(","), format!("{good}\n").repeat(many), good.replace("brighter", "bri\0ghter"));
    let (out, summary) = answered(sheet);
    assert_eq!((summary.rows, summary.problems), (many as u64 + 2, 1));
    assert!(out.contains("row: The row holds zero characters."));
}
