//! Workbooks in and out. They are written by one kept library and read back by another, so that neither our reader nor
//! our writer is its own witness.

use super::*;
use crate::sheet::workbook::Form;
use calamine::{Data, Reader, Xlsx};
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};
use std::io::Cursor;
use zip::write::SimpleFileOptions;

/// An xlsx of one sheet with these rows, numbers as numbers.
fn xlsx_of(rows: &[&[&str]]) -> Vec<u8> {
    let mut workbook = Workbook::new();
    fill(workbook.add_worksheet(), rows);
    workbook.save_to_buffer().unwrap()
}

fn fill(worksheet: &mut rust_xlsxwriter::Worksheet, rows: &[&[&str]]) {
    for (r, row) in rows.iter().enumerate() {
        for (c, cell) in row.iter().enumerate().filter(|(_, cell)| !cell.is_empty()) {
            match cell.parse::<f64>() {
                Ok(number) => worksheet.write_number(r as u32, c as u16, number).unwrap(),
                Err(_) => worksheet.write_string(r as u32, c as u16, *cell).unwrap(),
            };
        }
    }
}

/// An archive of these parts.
fn archive(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in parts {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// An ods whose sheets are these tables, written as ISO/IEC 26300 has them.
fn ods_of(tables: &str) -> Vec<u8> {
    let content = format!(
        r#"<?xml version="1.0" encoding="UTF-8"?>
<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.3">
<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"#
    );
    archive(&[("mimetype", b"application/vnd.oasis.opendocument.spreadsheet"), ("content.xml", content.as_bytes())])
}

fn ods_row(cells: &[&str]) -> String {
    let cell = |cell: &&str| match cell.parse::<f64>() {
        _ if cell.is_empty() => "<table:table-cell/>".into(),
        Ok(number) => {
            format!(r#"<table:table-cell office:value-type="float" office:value="{number}"><text:p>{number}</text:p></table:table-cell>"#)
        }
        Err(_) => format!(r#"<table:table-cell office:value-type="string"><text:p>{cell}</text:p></table:table-cell>"#),
    };
    format!("<table:table-row>{}</table:table-row>", cells.iter().map(cell).collect::<String>())
}

fn ods_table(name: &str, rows: &str) -> String {
    format!(r#"<table:table table:name="{name}">{rows}</table:table>"#)
}

/// The sheet answered as text and as xlsx, with what is told of it.
#[track_caller]
fn worked(file: &[u8], sheet: Option<&str>, limits: &Limits) -> Result<(String, Vec<u8>, Summary, Vec<String>), SheetFault> {
    let Opened { head, rows, notes, .. } = open(file, sheet, limits)?;
    let mut text = Vec::new();
    let summary = answer_text(&head, rows, &mut text, &LIBRARY, limits, |_| ())?;
    let mut xlsx = Vec::new();
    write_xlsx(&text[..], &head, &mut xlsx)?;
    Ok((String::from_utf8(text).unwrap(), xlsx, summary, notes))
}

#[track_caller]
fn read_back(xlsx: &[u8]) -> Vec<Vec<Data>> {
    let mut book = Xlsx::new(Cursor::new(xlsx)).unwrap();
    let name = book.sheet_names()[0].clone();
    let range = book.worksheet_range(&name).unwrap();
    assert_eq!(range.start().map_or(0, |s| s.1), 0);
    range.rows().map(<[Data]>::to_vec).collect()
}

#[test]
fn a_workbook_is_answered_as_the_same_table_in_csv_is() {
    let plain = results(good_sheet());
    let table: &[&[&str]] = &[&COLUMNS_USED, &GOOD_ROW];
    let ods = ods_of(&ods_table("Pads", &format!("{}{}", ods_row(&COLUMNS_USED), ods_row(&GOOD_ROW))));
    for (file, form) in [(xlsx_of(table), Form::Xlsx), (ods, Form::Ods)] {
        assert_eq!(open(&file[..], None, &limits()).unwrap().form, form);
        let (text, xlsx, summary, notes) = worked(&file, None, &limits()).unwrap();
        assert_eq!(Table::of(&text, b',').results(0), plain, "{form:?}");
        assert_eq!((summary.rows, summary.problems, notes.len()), (1, 0, 0));
        // Out again as xlsx: the owner's cells keep their kind, results are numbers where they are numbers.
        let rows = read_back(&xlsx);
        assert_eq!(rows[0][0], Data::String("pad".into()));
        assert_eq!((&rows[1][1], &rows[1][4]), (&Data::String("wool-felt".into()), &Data::Float(24.0)));
        let cell = |column: &str| rows[1][rows[0].iter().position(|h| *h == Data::String(column.into())).unwrap()].clone();
        assert_eq!(cell("verdict"), Data::String(plain[0].clone()));
        assert_eq!(cell("signal_pf"), Data::Float(plain[2].parse().unwrap()));
        assert_eq!(
            cell("price_currency"),
            Data::String(plain[RESULT_COLUMNS.iter().position(|c| *c == "price_currency").unwrap()].clone())
        );
        assert_eq!(worked(&file, None, &limits()).unwrap().1, xlsx, "the same bytes each time");
        // The answer is a sheet like any other.
        let again = Table::of(&worked(&xlsx, None, &limits()).unwrap().0, b',');
        assert_eq!((again.results(0), again.header.len()), (Table::of(&text, b',').results(0), COLUMNS_USED.len() + RESULT_COLUMNS.len()));
    }
}

/// What stands in the cells is what another reader finds there.
#[test]
fn cells_are_read_as_another_reader_reads_them() {
    let mut workbook = Workbook::new();
    let worksheet = workbook.add_worksheet();
    fill(worksheet, &[&COLUMNS_USED]);
    for (c, name) in ["order", "when", "at", "both", "ok", "sum"].iter().enumerate() {
        worksheet.write_string(0, 10 + c as u16, *name).unwrap();
    }
    let long = "dünn <&> \"3\" ".repeat(50);
    for r in 1..40_u32 {
        for (c, cell) in GOOD_ROW.iter().enumerate() {
            match cell.parse::<f64>() {
                Ok(number) => worksheet.write_number(r, c as u16, number * (1.0 + f64::from(r) / 700.0)).unwrap(),
                Err(_) => worksheet.write_string(r, c as u16, *cell).unwrap(),
            };
        }
        worksheet.write_number(r, 8, 2).unwrap();
        worksheet.write_string(r, 10, format!("00{r} {}", if r == 3 { long.as_str() } else { "\nsecond line" })).unwrap();
        let format = |code: &str| Format::new().set_num_format(code);
        let date = ExcelDateTime::from_ymd(2026, 3, r as u8 % 28 + 1).unwrap();
        worksheet.write_datetime_with_format(r, 11, &date, &format("d mmm yyyy")).unwrap();
        worksheet.write_datetime_with_format(r, 12, ExcelDateTime::from_hms(14, 30, 5).unwrap(), &format("hh:mm:ss")).unwrap();
        worksheet.write_datetime_with_format(r, 13, date.and_hms(1, 2, 3).unwrap(), &format("yyyy-mm-dd hh:mm")).unwrap();
        worksheet.write_boolean(r, 14, r % 2 == 0).unwrap();
        worksheet.write_formula(r, 15, rust_xlsxwriter::Formula::new("=1+2").set_result("3")).unwrap();
    }
    let file = workbook.save_to_buffer().unwrap();
    let (text, xlsx, summary, _) = worked(&file, None, &limits()).unwrap();
    assert_eq!(summary.problems, 0, "{text}");
    let (theirs, ours) = (read_back(&file), Table::of(&text, b','));
    for (r, row) in theirs.iter().enumerate().skip(1) {
        for (c, cell) in row.iter().enumerate() {
            let expected = match cell {
                Data::String(text) => text.clone(),
                Data::Float(number) => number.to_string(),
                Data::Bool(truth) => truth.to_string().to_uppercase(),
                Data::DateTime(when) => {
                    let (year, month, day, hour, minute, second, _) = when.to_ymd_hms_milli();
                    match c {
                        11 => format!("{year:04}-{month:02}-{day:02}"),
                        12 => format!("{hour:02}:{minute:02}:{second:02}"),
                        _ => format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}"),
                    }
                }
                other => panic!("{other:?}"),
            };
            assert_eq!(ours.rows[r - 1][c], expected, "row {r}, column {c}");
        }
    }
    // Through the answer and back, kind and value stay.
    for (given, back) in theirs.iter().zip(read_back(&xlsx)).skip(1) {
        for (c, (given, back)) in given.iter().zip(&back).enumerate() {
            match (given, back) {
                (Data::DateTime(given), Data::DateTime(back)) => assert!((given.as_f64() - back.as_f64()).abs() < 1e-9, "column {c}"),
                _ => assert_eq!(given, back, "column {c}"),
            }
        }
    }
}

#[test]
fn titles_sheets_and_merged_cells_are_found_and_told() {
    let mut workbook = Workbook::new();
    workbook.add_worksheet().set_name("Read me").unwrap().write_string(0, 0, "Bellweather Library").unwrap();
    let pads = workbook.add_worksheet();
    pads.set_name("Pads").unwrap();
    let centred = Format::new();
    pads.merge_range(0, 0, 0, 9, "Reading chairs, spring", &centred).unwrap();
    for (c, name) in COLUMNS_USED.iter().enumerate() {
        pads.write_string(2, c as u16, *name).unwrap();
    }
    for r in 3..6_u32 {
        for (c, cell) in GOOD_ROW.iter().enumerate().filter(|(c, _)| *c != 1) {
            match cell.parse::<f64>() {
                Ok(number) => pads.write_number(r, c as u16, number).unwrap(),
                Err(_) => pads.write_string(r, c as u16, *cell).unwrap(),
            };
        }
    }
    pads.merge_range(3, 1, 5, 1, "wool-felt", &centred).unwrap();
    fill(workbook.add_worksheet().set_name("Spare").unwrap(), &[&COLUMNS_USED, &GOOD_ROW, &GOOD_ROW]);
    let file = workbook.save_to_buffer().unwrap();
    let (text, _, summary, notes) = worked(&file, None, &limits()).unwrap();
    assert!(text.starts_with("\"Reading chairs, spring\"\n\n\"pad\","), "{text}");
    assert_eq!((summary.rows, summary.problems), (3, 0), "{text}");
    assert_eq!(summary.notes, ["The header is row 3; the row above it was kept as it is."]);
    assert_eq!(notes[0], "The sheet \"Pads\" was read, the first whose header is understood; not read: \"Read me\", \"Spare\".");
    assert_eq!(notes[1], "2 cells under merged ones were read as if each held the value of the merged cell above.");
    assert_eq!(worked(&file, Some("spare"), &limits()).unwrap().2.rows, 2);
    let fault = |sheet| worked(&file, Some(sheet), &limits()).unwrap_err();
    assert_eq!(fault("Chairs").to_string(), "The workbook has no sheet \"Chairs\". It has \"Read me\", \"Pads\", \"Spare\".");
    assert!(matches!(fault("Read me"), SheetFault::NoKnownColumn { .. }));
    assert!(matches!(open(good_sheet().as_bytes(), Some("Pads"), &limits()), Err(SheetFault::NoSheet { .. })));
}

#[test]
fn what_spreadsheets_hide_is_told_in_its_row() {
    let mut workbook = Workbook::new();
    let worksheet = workbook.add_worksheet();
    fill(worksheet, &[&COLUMNS_USED, &GOOD_ROW, &GOOD_ROW, &GOOD_ROW, &GOOD_ROW, &GOOD_ROW]);
    worksheet.write_formula(2, 4, rust_xlsxwriter::Formula::new("=1/0").set_result("#DIV/0!")).unwrap();
    let date = ExcelDateTime::from_ymd(2026, 4, 3).unwrap();
    worksheet.write_datetime_with_format(3, 4, &date, &Format::new().set_num_format("yyyy-mm-dd")).unwrap();
    worksheet.write_boolean(4, 4, true).unwrap();
    // Beyond the table, a note of its owner's.
    worksheet.write_string(5, 12, "ask again").unwrap();
    let (text, _, summary, _) = worked(&workbook.save_to_buffer().unwrap(), None, &limits()).unwrap();
    let table = Table::of(&text, b',');
    for (row, words) in [(1, "error of the spreadsheet"), (2, "This is a date"), (3, "not a number")] {
        let problem = table.cell(row, "problem");
        assert!(problem.starts_with("diameter_mm: ") && problem.contains(words), "{problem}");
    }
    assert_eq!((table.cell(0, "problem"), table.cell(4, "problem"), summary.problems), ("", "", 3));
    // A formula that no spreadsheet has worked out yet.
    let formula = ods_row(&GOOD_ROW).replace(
        r#"<table:table-cell office:value-type="float" office:value="24"><text:p>24</text:p></table:table-cell>"#,
        r#"<table:table-cell table:formula="of:=12*2"/>"#,
    );
    let (text, _, _, notes) =
        worked(&ods_of(&ods_table("Pads", &format!("{}{formula}", ods_row(&COLUMNS_USED)))), None, &limits()).unwrap();
    let problem = Table::of(&text, b',').cell(0, "problem").to_owned();
    assert!(problem.contains("This is a formula") && problem.contains("=12*2") && notes[0].contains("formula"), "{problem}, {notes:?}");
    assert_eq!(table.rows[4].last().map(String::as_str), Some("ask again"));
}

#[test]
fn formulas_are_defused_in_xlsx_too() {
    let mut row = GOOD_ROW.to_vec();
    row[0] = "=HYPERLINK(\"x\")";
    let (_, xlsx, summary, _) = worked(&xlsx_of(&[&COLUMNS_USED, &row]), None, &limits()).unwrap();
    assert_eq!(read_back(&xlsx)[1][0], Data::String("'=HYPERLINK(\"x\")".into()));
    assert_eq!(summary.defused, 1);
    let formulas = Xlsx::new(Cursor::new(&xlsx)).unwrap().worksheet_formula("Answers").unwrap();
    assert!(formulas.is_empty());
}

#[test]
fn csv_goes_out_as_xlsx_without_loss() {
    let text = changed(&[("order", "0012"), ("pad", "3\""), ("note", "1e5"), ("diameter_mm", "24.50")]);
    let (_, xlsx, ..) = worked(text.as_bytes(), None, &limits()).unwrap();
    let rows = read_back(&xlsx);
    let cell = |column: &str| rows[1][rows[0].iter().position(|h| *h == Data::String(column.into())).unwrap()].clone();
    assert_eq!((cell("order"), cell("note")), (Data::String("0012".into()), Data::String("1e5".into())));
    assert_eq!((cell("pad"), cell("diameter_mm")), (Data::String("3\"".into()), Data::Float(24.5)));
    assert!(matches!(cell("signal_pf"), Data::Float(_)));
    let commas = text.replace(',', ";").replace("24.50", "24,5").replace("0.8", "0,8");
    let (_, xlsx, ..) = worked(commas.as_bytes(), None, &limits()).unwrap();
    assert_eq!(
        read_back(&xlsx)[1][2..].iter().filter(|c| matches!(c, Data::Float(_))).count(),
        rows[1][2..].iter().filter(|c| matches!(c, Data::Float(_))).count()
    );
}

#[test]
fn ods_repeats_notes_and_spaces_are_read() {
    let names = ods_row(&COLUMNS_USED);
    let good = ods_row(&GOOD_ROW);
    let odd = good.replacen("<text:p>brighter</text:p>", "<office:annotation><text:p>a note</text:p></office:annotation><text:p>bright<text:s text:c=\"2\"/><text:span>er</text:span> &amp; warm</text:p><text:p>second</text:p>", 1);
    let twice = good.replacen("<table:table-row>", "<table:table-row table:number-rows-repeated=\"2\">", 1);
    let end = "<table:table-row table:number-rows-repeated=\"1048000\"><table:table-cell table:number-columns-repeated=\"16384\"/></table:table-row>";
    let (text, _, summary, _) =
        worked(&ods_of(&ods_table("Pads", &format!("{names}{odd}<table:table-row/>{twice}{end}"))), None, &limits()).unwrap();
    let table = Table::of(&text, b',');
    assert_eq!((summary.rows, summary.problems), (3, 0), "{text}");
    assert_eq!(table.cell(0, "pad"), "bright  er & warm\nsecond");
    assert_eq!(table.results(0), table.results(2));
    assert!(text.contains("\n\n\"brighter\""), "the blank row stays: {text}");
}

/// Whatever a workbook unpacks to, it is refused within the bounds, by what it says or by what it does.
#[test]
fn workbooks_that_swell_are_refused() {
    let small = Limits { most_unpacked_bytes: 1024 * 1024, most_kept_bytes: 256 * 1024, ..limits() };
    let kind = |file: &[u8]| worked(file, None, &small).map(|_| ()).unwrap_err().kind();
    // A text of ten million characters in one cell, in the sheet itself.
    let long = "x".repeat(10_000_000);
    let inline = ods_of(&ods_table("Pads", &ods_row(&[&long])));
    assert_eq!(kind(&inline), "unpacks_too_large");
    let roomy = Limits { most_unpacked_bytes: 1 << 30, ..limits() };
    assert_eq!(worked(&inline, None, &roomy).map(|_| ()).unwrap_err().kind(), "piece_too_long");
    // A directory that lies about the size: the bytes are counted.
    let honest = inline.clone();
    let mut lying = inline;
    let size = (long.len() as u32).to_le_bytes();
    let at: Vec<usize> = (0..lying.len() - 4)
        .filter(|k| u32::from_le_bytes(lying[*k..k + 4].try_into().unwrap()).abs_diff(u32::from_le_bytes(size)) < 2000)
        .collect();
    assert!(!at.is_empty());
    for k in at {
        lying[k..k + 4].copy_from_slice(&1000_u32.to_le_bytes());
    }
    assert_ne!(honest, lying);
    assert!(matches!(kind(&lying), "unpacks_too_large" | "piece_too_long" | "damaged"));
    // Rows and columns that repeat without end.
    let cell =
        r#"<table:table-cell table:number-columns-repeated="400" office:value-type="string"><text:p>pad</text:p></table:table-cell>"#;
    let rows = format!(r#"{}<table:table-row table:number-rows-repeated="1000000">{cell}</table:table-row>"#, ods_row(&COLUMNS_USED));
    assert_eq!(kind(&ods_of(&ods_table("Pads", &rows))), "unpacks_too_large");
    let wide = cell.replace("400", "1000000000");
    assert_eq!(kind(&ods_of(&ods_table("Pads", &format!("<table:table-row>{wide}</table:table-row>")))), "too_many_columns");
    // One shared text named over and over; shared texts without end; as many of them as the file likes to say.
    let book = |strings: &str, cells: &str| {
        archive(&[
            ("[Content_Types].xml", b"<Types/>"),
            ("_rels/.rels", br#"<Relationships><Relationship Id="a" Type="x/officeDocument" Target="xl/workbook.xml"/></Relationships>"#),
            ("xl/workbook.xml", br#"<workbook xmlns:r="r"><sheets><sheet name="Pads" sheetId="1" r:id="b"/></sheets></workbook>"#),
            (
                "xl/_rels/workbook.xml.rels",
                br#"<Relationships><Relationship Id="b" Type="x/worksheet" Target="worksheets/s.xml"/><Relationship Id="c" Type="x/sharedStrings" Target="t.xml"/></Relationships>"#,
            ),
            ("xl/worksheets/s.xml", format!("<worksheet><sheetData>{cells}</sheetData></worksheet>").as_bytes()),
            ("xl/t.xml", format!("<sst count=\"99999999999\" uniqueCount=\"99999999999\">{strings}</sst>").as_bytes()),
        ])
    };
    let header: String = COLUMNS_USED.iter().map(|name| format!("<c t=\"inlineStr\"><is><t>{name}</t></is></c>")).collect();
    let shared = format!("<si><t>{}</t></si>", "y".repeat(60_000));
    let named = format!("<row>{header}</row>{}", "<row><c t=\"s\"><v>0</v></c></row>".repeat(1000));
    assert_eq!(kind(&book(&shared, &named)), "unpacks_too_large");
    assert_eq!(kind(&book(&"<si><t>z</t></si>".repeat(40_000), &named)), "unpacks_too_large");
    assert_eq!(kind(&book("", "<row r=\"5\"/><row r=\"4\"/>")), "damaged");
    assert_eq!(kind(&book("", "<row><c t=\"s\"><v>7</v></c></row>")), "damaged");
    assert_eq!(kind(&book("", &format!("<row><c a=\"{}\"/></row>", "q".repeat(900_000)))), "piece_too_long");
    assert_eq!(kind(&book("", "<row r=\"1048577\"><c><v>1</v></c></row>")), "damaged");
    assert_eq!(kind(&archive(&[("a.txt", b"no workbook")])), "not_text");
    assert_eq!(kind(b"PK\x03\x04 and nothing that belongs to it"), "damaged");
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig { failure_persistence: None, ..proptest::prelude::ProptestConfig::with_cases(200) })]

    /// A workbook with some bytes changed is read or refused, never worse.
    #[test]
    fn damaged_workbooks_are_refused_with_words(changes in proptest::collection::vec((0..4000_usize, proptest::prelude::any::<u8>()), 1..8), ods in proptest::prelude::any::<bool>()) {
        let mut file = if ods { ods_of(&ods_table("Pads", &format!("{}{}", ods_row(&COLUMNS_USED), ods_row(&GOOD_ROW)))) } else { xlsx_of(&[&COLUMNS_USED, &GOOD_ROW]) };
        for (at, byte) in changes {
            let at = at % file.len();
            if at > 3 {
                file[at] = byte;
            }
        }
        match worked(&file, None, &limits()) {
            Ok((.., summary, _)) => assert!(summary.rows <= 1_048_576),
            Err(fault) => assert!(fault.kind() != "internal" && !fault.to_string().is_empty(), "{fault:?}"),
        }
    }
}

#[test]
fn a_preview_tells_how_each_column_is_read() {
    let text = format!(
        "Chairs\n{}\n,wool-felt,3 ± 0.2,wool-felt,2.4 cm,0.8,silver-polyamide-40-tex,180,2,patient-input,x\nbad,wool-felt,thick,wool-felt,24,0.8,silver-polyamide-40-tex,180,2,patient-input,y\n",
        [&COLUMNS_USED[..], &["diametr"]].concat().join(",")
    );
    let shown = preview(open(text.as_bytes(), None, &limits()).unwrap(), &LIBRARY, &limits()).unwrap();
    assert_eq!((shown.form, shown.header_row, shown.rows.len()), (Form::Csv, 2, 2));
    let column = |name: &str| shown.columns.iter().find(|c| c.header == name).unwrap();
    assert_eq!(column("diameter_mm").read_as, Some(Ok("24 mm".into())));
    assert_eq!(column("base_1_thickness_mm").read_as, Some(Ok("3 ± 0.2 mm".into())));
    assert_eq!(column("thread").read_as, Some(Ok("silver-polyamide-40-tex".into())));
    assert_eq!(column("pad").example.as_deref(), Some("bad"));
    assert!(matches!(&column("diametr").understood, Understood::Own { guess: Some(guess) } if guess == "diameter_mm"));
    assert_eq!((shown.rows[0].row, shown.rows[0].problems.len()), (3, 0));
    assert_eq!((shown.rows[1].problems[0].column.as_str(), shown.rows[1].problems.len()), ("base_1_thickness_mm", 1));
}

#[test]
fn templates_are_answered_as_they_come() {
    let csv = template_csv();
    let (_, csv_summary) = answered(&csv);
    let mut xlsx = Vec::new();
    template_xlsx(&mut xlsx).unwrap();
    let (_, _, xlsx_summary, _) = worked(&xlsx, None, &limits()).unwrap();
    for summary in [&csv_summary, &xlsx_summary] {
        assert_eq!((summary.rows, summary.problems), (1, 0), "{:?}", summary.notes);
        assert!(summary.columns.iter().all(|c| matches!(c.understood, Understood::Field { .. })));
        assert_eq!(summary.notes, ["The header is row 3; the 2 rows above it were kept as they are."]);
    }
    assert_eq!(csv_summary.columns, xlsx_summary.columns);
    let names: Vec<&str> = csv_summary.columns.iter().map(|c| c.header.as_str()).collect();
    assert!(COLUMNS.iter().all(|c| names.contains(&c.name_of(0).as_str())));
    // Every column has its help text, above its name and, in xlsx, as a note on it.
    let help = Table::of(&String::from_utf8(csv).unwrap(), b',').rows[0].clone();
    assert!(help.len() == names.len() && help.iter().all(|h| h.len() > 5), "{help:?}");
    let mut notes = String::new();
    zip::ZipArchive::new(Cursor::new(&xlsx)).unwrap().by_name("xl/comments1.xml").unwrap().read_to_string(&mut notes).unwrap();
    assert_eq!(notes.matches("<comment ").count(), names.len());
}
