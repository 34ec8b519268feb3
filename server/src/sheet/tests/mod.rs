//! Whole sheets through the front: what goes in, what comes out.

mod dialects;
mod faults;
mod features;
mod flow;
mod results;
mod titles;
mod workbooks;

use super::*;
use toile_model::LIBRARY;

/// Where the problem stands among the result cells.
const PROBLEM: usize = RESULT_COLUMNS.len() - 1;

/// The columns of most tests, and a row that can be answered.
const COLUMNS_USED: [&str; 10] = [
    "pad",
    "base_1",
    "base_1_thickness_mm",
    "overlay_1",
    "diameter_mm",
    "row_spacing_mm",
    "thread",
    "run_length_mm",
    "passes",
    "controller",
];
const GOOD_ROW: [&str; 10] =
    ["brighter", "wool-felt", "3", "wool-felt", "24", "0.8", "silver-polyamide-40-tex", "180", "2", "patient-input"];

/// A sheet of the usual columns, of these and other columns, with one row for each list of cells.
fn sheet(header: &[&str], rows: &[&[&str]]) -> String {
    let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
    writer.write_record(header).unwrap();
    for row in rows {
        writer.write_record(*row).unwrap();
    }
    String::from_utf8(writer.into_inner().unwrap()).unwrap()
}

fn good_sheet() -> String {
    sheet(&COLUMNS_USED, &[&GOOD_ROW])
}

/// The good sheet with cells of its row replaced, columns added where there are none of that name.
fn changed(changes: &[(&str, &str)]) -> String {
    let mut header: Vec<&str> = COLUMNS_USED.to_vec();
    let mut row: Vec<&str> = GOOD_ROW.to_vec();
    for (column, value) in changes {
        match header.iter().position(|c| c == column) {
            Some(k) => row[k] = value,
            None => {
                header.push(column);
                row.push(value);
            }
        }
    }
    sheet(&header, &[&row])
}

fn limits() -> Limits {
    Limits { workers: 2, ..Limits::default() }
}

#[track_caller]
fn answered(input: impl AsRef<[u8]>) -> (String, Summary) {
    let mut out = Vec::new();
    let summary = answer_csv(input.as_ref(), &mut out, &LIBRARY, &limits(), |_| {}).unwrap();
    (String::from_utf8(out).unwrap(), summary)
}

#[track_caller]
fn stopped(input: impl AsRef<[u8]>, limits: &Limits) -> (String, SheetFault) {
    let mut out = Vec::new();
    let fault = answer_csv(input.as_ref(), &mut out, &LIBRARY, limits, |_| {}).unwrap_err();
    (String::from_utf8(out).unwrap(), fault)
}

/// A table read back by a reader that is not ours.
struct Table {
    header: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    fn of(text: &str, delimiter: u8) -> Self {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(delimiter).from_reader(text.as_bytes());
        let mut rows: Vec<Vec<String>> = reader.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect();
        Self { header: rows.remove(0), rows }
    }

    #[track_caller]
    fn cell(&self, row: usize, column: &str) -> &str {
        let k = self.header.iter().position(|h| h == column).unwrap_or_else(|| panic!("no column {column} in {:?}", self.header));
        &self.rows[row][k]
    }

    fn results(&self, row: usize) -> Vec<&str> {
        RESULT_COLUMNS.iter().map(|c| self.cell(row, c)).collect()
    }
}

/// The results of the only row of a sheet.
#[track_caller]
fn results(input: impl AsRef<[u8]>) -> Vec<String> {
    let (out, _) = answered(input);
    Table::of(&out, b',').results(0).into_iter().map(str::to_owned).collect()
}
