//! The answer speaks the dialect of the sheet.

use super::*;

fn in_dialect(delimiter: &str, line_end: &str, comma: bool) -> String {
    let cell = |c: &&str| if comma { c.replace('.', ",") } else { (*c).to_owned() };
    let row = |cells: &[&str]| {
        cells
            .iter()
            .map(|c| if delimiter == "," && comma && c.contains('.') { format!("\"{}\"", cell(c)) } else { cell(c) })
            .collect::<Vec<_>>()
            .join(delimiter)
    };
    [row(&COLUMNS_USED), row(&GOOD_ROW), row(&GOOD_ROW)].map(|r| r + line_end).concat()
}

/// The results with points for decimals, whatever the sheet has.
fn with_points(results: &[&str]) -> Vec<String> {
    results
        .iter()
        .enumerate()
        .map(|(k, cell)| if (1..PROBLEM - 1).contains(&k) { cell.replace(',', ".") } else { (*cell).into() })
        .collect()
}

#[test]
fn delimiter_line_end_and_decimal_mark_come_back() {
    let plain = results(good_sheet());
    for delimiter in [",", ";", "\t"] {
        for line_end in ["\n", "\r\n", "\r"] {
            for comma in [false, true] {
                let text = in_dialect(delimiter, line_end, comma);
                let (out, summary) = answered(&text);
                let what = format!("{delimiter:?} {line_end:?} {comma}");
                assert_eq!(summary.dialect.delimiter().to_string(), delimiter, "{what}");
                let ends = ["\r\n", "\n", "\r"].map(|end| out.matches(end).count());
                assert_eq!(ends, ["\r\n", "\n", "\r"].map(|end| text.matches(end).count()), "{what}");
                let table = Table::of(&out, delimiter.as_bytes()[0]);
                assert_eq!(table.rows.len(), 2, "{what}");
                let cells = table.results(1);
                assert_eq!(cells[1].contains(',') || cells[2].contains(','), comma, "{what}: {cells:?}");
                assert_eq!(with_points(&cells), plain, "{what}");
                // The owner's part of each line is there to the byte.
                for (ours, theirs) in out.split(line_end).zip(text.split(line_end)) {
                    assert!(ours.starts_with(theirs), "{what}: {ours}");
                }
                assert_eq!(answered(&out).0, out, "{what}, answered again");
            }
        }
    }
}

#[test]
fn a_semicolon_without_decimals_asks_for_commas_and_a_point_overrules_it() {
    let whole = good_sheet().replace(',', ";").replace("0.8", "1");
    let (out, _) = answered(&whole);
    assert!(Table::of(&out, b';').cell(0, "signal_pf").contains(','));
    let (out, _) = answered(good_sheet().replace(',', ";"));
    assert!(Table::of(&out, b';').cell(0, "signal_pf").contains('.'));
}

#[test]
fn what_could_be_thousands_is_refused_where_the_sheet_does_not_tell() {
    let tabs = good_sheet().replace(',', "\t").replace("0.8", "1").replace("\t180\t", "\t1,250\t");
    let (out, _) = answered(&tabs);
    assert!(Table::of(&out, b'\t').cell(0, "problem").contains("run_length_mm: This could be 1250 or 1.250."), "{out}");
    let (out, summary) = answered(tabs.replace("\t24\t", "\t24,5\t"));
    assert_eq!(summary.problems, 0, "{out}");
}

#[test]
fn encodings_come_back_as_utf8() {
    let text =
        good_sheet().replace("brighter", "größer, 3 µm €").replace("pad,", "\"pad\",").replace("größer, 3 µm €", "\"größer, 3 µm €\"");
    let plain = answered(&text).0;
    assert!(!plain.starts_with('\u{feff}'));

    let (out, summary) = answered([b"\xef\xbb\xbf", text.as_bytes()].concat());
    assert_eq!((out, summary.encoding), (format!("\u{feff}{plain}"), Encoding::Utf8));

    for (mark, bytes) in [
        (b"\xff\xfe", text.encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<u8>>()),
        (b"\xfe\xff", text.encode_utf16().flat_map(u16::to_be_bytes).collect()),
    ] {
        let (out, summary) = answered([&mark[..], &bytes].concat());
        assert_eq!((out, summary.encoding), (format!("\u{feff}{plain}"), Encoding::Utf16));
        assert!(summary.notes.iter().any(|n| n.contains("read as UTF-16; the answer is UTF-8 with a byte order mark")));
    }

    let (bytes, _, unmappable) = encoding_rs::WINDOWS_1252.encode(&text);
    assert!(!unmappable);
    let (out, summary) = answered(&bytes);
    assert_eq!((out, summary.encoding), (format!("\u{feff}{plain}"), Encoding::Windows1252));
}

#[test]
fn the_owners_cells_stay_to_the_byte() {
    let head = COLUMNS_USED.join(",");
    let good = GOOD_ROW.join(",");
    let rows = [
        format!("{good},\"two\nlines, \"\"quoted\"\"\",  spaced  ,\"\""),
        format!("{good},3\" tape,'single',\"needless\""),
        format!("{good}, \"blank before\",🧵,\"tail\" of it"),
    ];
    let text = format!("{head},note,other,third\r\n{}", rows.join("\r\n"));
    let (out, summary) = answered(&text);
    assert_eq!((summary.rows, summary.problems, summary.defused), (3, 0, 0));
    let mut rest = out.as_str();
    for row in &rows {
        let at = rest.find(row.as_str()).unwrap_or_else(|| panic!("{row} is not in {rest}"));
        rest = &rest[at + row.len()..];
        assert!(rest.starts_with(','));
    }
    assert!(!out.ends_with('\n'), "a sheet without a last line end comes back without one");
    assert_eq!(Table::of(&out, b',').cell(0, "note"), "two\nlines, \"quoted\"");
}

#[test]
fn lines_before_the_header_stay() {
    let text = format!("sep=;\r\n\r\n{}", good_sheet().replace(',', ";"));
    let (out, summary) = answered(&text);
    assert!(out.starts_with("sep=;\r\n\r\npad;base_1;"), "{out}");
    assert_eq!((summary.rows, summary.problems), (1, 0));
}

#[test]
fn formulas_are_defused_and_counted() {
    let head = COLUMNS_USED.join(",");
    let good = GOOD_ROW.join(",");
    let text = format!(
        "{head},=note,other\n{good},\"=HYPERLINK(\"\"x\"\",\"\"y\"\")\",-3\n{good},@SUM(A1),+4.5\n{good},-1+cmd,-\n{good},\"\t=1\",-2 °C\n{good},+A1,a=b\nbad,=1\n"
    );
    let (out, summary) = answered(&text);
    let table = Table::of(&out, b',');
    let notes: Vec<&str> = (0..5).map(|k| table.rows[k][10].as_str()).collect();
    assert_eq!(notes, ["'=HYPERLINK(\"x\",\"y\")", "'@SUM(A1)", "'-1+cmd", "'\t=1", "'+A1"]);
    assert_eq!((0..5).map(|k| table.cell(k, "other")).collect::<Vec<_>>(), ["-3", "+4.5", "-", "-2 °C", "a=b"]);
    assert_eq!((table.header[10].as_str(), table.rows[5][1].as_str(), summary.defused), ("'=note", "'=1", 7));
    assert!(summary.notes.iter().any(|n| n.starts_with("7 cells that a spreadsheet would run as a formula")));
    let twice = answered(&out).0;
    // The short row is no longer short: its problem is another one.
    let whole = |text: &str| text.lines().take(6).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(whole(&twice), whole(&out), "defused once is enough");

    // A header that is a formula must not come back as one at the start of a problem.
    let (out, _) = answered(good_sheet().replace("diameter_mm", "=diameter_mm").replace(",24,", ",x,"));
    let problem = Table::of(&out, b',').cell(0, "problem").to_owned();
    assert!(problem.starts_with("'=diameter_mm: This is not a number."), "{problem}");
}

#[test]
fn the_summary_tells_how_each_column_was_read() {
    let text = good_sheet()
        .replace("diameter_mm", "Ø (cm)")
        .replace("passes", "note")
        .replace(",2,", ",x,")
        .replace("row_spacing_mm", "row spaceing");
    let (_, summary) = answered(text);
    let read = |header: &str| &summary.columns.iter().find(|c| c.header == header).unwrap().understood;
    assert_eq!(read("Ø (cm)"), &Understood::Field { name: "diameter_mm".into(), unit: "cm" });
    assert_eq!(read("thread"), &Understood::Field { name: "thread".into(), unit: "" });
    assert_eq!(read("note"), &Understood::Own { guess: None });
    assert_eq!(read("row spaceing"), &Understood::Own { guess: Some("row_spacing_mm".into()) });
    assert!(summary.notes.iter().any(|n| n.contains("\"row spaceing\" was not read. Perhaps row_spacing_mm is meant")));
}
