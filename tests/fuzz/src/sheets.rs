//! Sheets: every row of the owner comes back with its cells as they stood, and beside them an answer or a problem.

use toile::sheet::{
    Encoding, Form, Head, Limits, Opened, RESULT_COLUMNS, SheetFault, Summary, Worker, answer_csv, answer_text, open, preview, write_xlsx,
};
use toile_model::{LIBRARY, Verdict};

/// Small, so that what is large is met by small inputs.
pub fn limits() -> Limits {
    Limits {
        most_cell_bytes: 2 * 1024,
        most_columns: 160,
        most_row_bytes: 16 * 1024,
        most_rows: Some(400),
        most_unpacked_bytes: 4 * 1024 * 1024,
        most_kept_bytes: 64 * 1024,
        workers: 1,
    }
}

/// Any bytes as a file of text.
pub fn hold(file: &[u8]) {
    let limits = limits();
    let mut answered = Vec::new();
    let summary = match answer_csv(file, &mut answered, &LIBRARY, &limits, |_| ()) {
        Ok(summary) => summary,
        Err(fault) => return hold_fault(&fault),
    };
    let answered = String::from_utf8(answered).expect("an answer is UTF-8");
    hold_rows(&answered, &summary);
    if let Some(asked) = plain_text(file, &summary) {
        hold_cells(asked, &answered, &summary);
    }
    assert_eq!(by_stretches(file, &limits), answered, "answered stretch by stretch");
    hold_answered(&answered, &summary);
}

/// Any bytes as a file of whatever kind, with a sheet of it asked for by name or not.
pub fn hold_any(file: &[u8], sheet: Option<&str>) {
    if let Err(fault) = worked(file, sheet) {
        hold_fault(&fault);
    }
}

fn worked(file: &[u8], sheet: Option<&str>) -> Result<(), SheetFault> {
    let limits = limits();
    let shown = preview(open(file, sheet, &limits)?, &LIBRARY, &limits)?;
    let Opened { head, rows, form, sheets, .. } = open(file, sheet, &limits)?;
    assert_eq!((shown.header_row, &shown.sheets), (head.rows(), &sheets));
    let mut answered = Vec::new();
    let summary = answer_text(&head, rows, &mut answered, &LIBRARY, &limits, |_| ())?;
    let answered = String::from_utf8(answered).expect("an answer is UTF-8");
    hold_rows(&answered, &summary);
    if form == Form::Csv {
        // In a workbook cells may stand beyond the header, which in a text would be one comma too many.
        hold_answered(&answered, &summary);
    }
    let mut xlsx = Vec::new();
    write_xlsx(answered.as_bytes(), &head, &mut xlsx)?;
    let opened = open(&xlsx[..], None, &roomy()).expect("what was written can be read");
    let mut again = Vec::new();
    let twice = answer_text(&opened.head, opened.rows, &mut again, &LIBRARY, &roomy(), |_| ()).expect("and answered");
    assert_eq!(twice.rows, summary.rows, "answered again as a workbook");
    Ok(())
}

/// A refusal says what is wrong with the file, and it is the file.
fn hold_fault(fault: &SheetFault) {
    assert!(!matches!(fault.kind(), "internal" | "read" | "write" | "changed" | "stopped"), "{fault:?}");
    let words = fault.to_string();
    assert!(words.len() > 10 && words.len() < 8 * 1024, "{words}");
}

/// Room for the columns that an answer adds.
fn roomy() -> Limits {
    let small = limits();
    Limits {
        most_columns: small.most_columns + RESULT_COLUMNS.len(),
        most_row_bytes: 64 * small.most_row_bytes,
        most_cell_bytes: 64 * small.most_cell_bytes,
        most_unpacked_bytes: 64 * small.most_unpacked_bytes,
        most_kept_bytes: 64 * small.most_kept_bytes,
        ..small
    }
}

fn counts(summary: &Summary) -> [u64; 6] {
    [summary.rows, summary.problems, summary.comfortable, summary.tight, summary.measure_first, summary.out_of_reach]
}

/// The text of a file that a plain reader of CSV reads as ours does; `None` for others.
fn plain_text<'a>(file: &'a [u8], summary: &Summary) -> Option<&'a str> {
    std::str::from_utf8(file).ok().filter(|text| summary.encoding == Encoding::Utf8 && is_plain(text))
}

/// Whether any reader finds the same rows: some take CR alone for the end of one, ours where the file has no other.
fn is_plain(text: &str) -> bool {
    text.match_indices('\r').all(|(at, _)| text[at + 1..].starts_with('\n'))
}

fn records(text: &str, summary: &Summary) -> Vec<Vec<String>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let delimiter = u8::try_from(summary.dialect.delimiter()).expect("a delimiter is a plain character");
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(delimiter).from_reader(text.as_bytes());
    reader.records().map(|record| record.expect("text of cells").iter().map(str::to_owned).collect()).collect()
}

/// Every row comes back in its place, with the owner's cells as they stood.
fn hold_cells(asked: &str, answered: &str, summary: &Summary) {
    let (asked, answered) = (records(asked, summary), records(answered, summary));
    assert_eq!(asked.len(), answered.len(), "as many rows out as in");
    let header =
        asked.iter().zip(&answered).position(|(asked, answered)| is_answered_header(answered) && asked.len() == summary.columns.len());
    let header = header.expect("a header");
    let columns = asked[header].len();
    let is_result = |k: usize| k < columns && RESULT_COLUMNS.iter().any(|r| r.eq_ignore_ascii_case(asked[header][k].trim()));
    for (k, (asked, answered)) in asked.iter().zip(&answered).enumerate() {
        let added = answered.len() as i64 - asked.len() as i64;
        for (place, cell) in asked.iter().enumerate() {
            if k > header && is_result(place) {
                continue;
            }
            // What stands beyond the header comes behind the results.
            let there = if k > header && place >= columns { place as i64 + added } else { place as i64 };
            let came_back = &answered[usize::try_from(there).expect("no row gets shorter")];
            assert!(came_back == cell || *came_back == format!("'{cell}"), "row {k}, cell {place}: {cell:?} came back as {came_back:?}");
        }
    }
}

fn is_answered_header(cells: &[String]) -> bool {
    RESULT_COLUMNS.iter().all(|result| cells.iter().any(|cell| cell.trim().eq_ignore_ascii_case(result)))
}

/// Every row below the header has a verdict and its numbers, or a problem and nothing else; and the counts are theirs.
fn hold_rows(answered: &str, summary: &Summary) {
    let (verdicts, problems) = (summary.comfortable + summary.tight + summary.measure_first + summary.out_of_reach, summary.problems);
    assert_eq!(verdicts + problems, summary.rows);
    if !is_plain(answered) {
        return;
    }
    let rows = records(answered, summary);
    let header = rows.iter().position(|row| is_answered_header(row)).expect("a header with the results in it");
    let place = |name: &str| rows[header].iter().position(|cell| cell.trim().eq_ignore_ascii_case(name)).expect("a result");
    let places = RESULT_COLUMNS.map(place);
    let mut counted = [0; 6];
    for row in &rows[header + 1..] {
        let cells = places.map(|place| row.get(place).map_or("", String::as_str));
        let of = |name: &str| RESULT_COLUMNS.iter().zip(cells).find(|(result, _)| **result == name).map_or("", |(_, cell)| cell);
        let (verdict, problem) = (of("verdict"), of("problem"));
        let all_blank = row.iter().all(|cell| cell.trim().is_empty());
        if all_blank {
            continue;
        }
        counted[0] += 1;
        assert!(!problem.contains("fault of ours"), "{row:?}");
        let known =
            [Verdict::Comfortable, Verdict::Tight, Verdict::MeasureFirst, Verdict::OutOfReach].iter().position(|v| v.word() == verdict);
        let Some(known) = known else {
            counted[1] += 1;
            assert!(!problem.is_empty() && cells.iter().filter(|cell| !cell.is_empty()).count() == 1, "{row:?}");
            continue;
        };
        counted[2 + known] += 1;
        for (name, cell) in RESULT_COLUMNS.iter().zip(cells) {
            let is_words = matches!(*name, "verdict" | "price_currency" | "main_reason" | "cautions" | "problem");
            if !is_words && !cell.is_empty() {
                let number: Result<f64, _> = cell.replace(',', ".").parse();
                assert!(number.is_ok_and(f64::is_finite), "{name}: {cell}");
            }
        }
        let chance: f64 = of("chance").replace(',', ".").parse().expect("a chance");
        assert!((0.0..=1.0).contains(&chance) && !of("main_reason").is_empty(), "{row:?}");
    }
    assert_eq!(counted, counts(summary), "{answered}");
}

/// An answered sheet is a sheet like any other: answered again, a row with a verdict stays as it is. One with a problem may get
/// another: what was missing from it is filled up with empty cells.
fn hold_answered(answered: &str, summary: &Summary) {
    let mut again = Vec::new();
    let twice = answer_csv(answered.as_bytes(), &mut again, &LIBRARY, &roomy(), |_| ()).expect("an answer can be answered");
    assert_eq!((twice.rows, twice.defused), (summary.rows, 0), "answered again");
    if !is_plain(answered) {
        return;
    }
    let again = String::from_utf8(again).expect("an answer is UTF-8");
    let (first, second) = (records(answered, summary), records(&again, summary));
    assert_eq!(first.len(), second.len(), "answered again");
    let place = first.iter().find(|row| is_answered_header(row)).and_then(|header| header.iter().position(|cell| cell.trim() == "verdict"));
    for (first, second) in first.iter().zip(&second) {
        let has_verdict = place.and_then(|place| first.get(place)).is_some_and(|verdict| !verdict.is_empty());
        assert!(!has_verdict || first == second, "{first:?} became {second:?}");
    }
}

/// The same file answered two rows at a time, as jobs are.
fn by_stretches(file: &[u8], limits: &Limits) -> String {
    let (head, mut rows) = Head::read(file, limits).expect("it was read before");
    let plan = head.plan(&LIBRARY, limits).expect("it was understood before");
    let (mut stretch, mut whole) = (String::new(), Vec::new());
    let _ = plan.begin(&mut whole);
    while rows.take(2, &mut stretch).expect("it was read before") > 0 {
        plan.check(&stretch).expect("its sizes were looked at before");
        let (_, fault) = Worker::new(&plan).answer(&stretch, &mut whole);
        assert!(fault.is_none(), "{fault:?}");
    }
    String::from_utf8(whole).expect("an answer is UTF-8")
}
