//! A spreadsheet in, the same spreadsheet with answers out.
//!
//! One row is one pad with its run. Headers and cells are read forgivingly and never guessed at; a row with a fault
//! says so in its own words and the rest goes on; the owner's cells, order and dialect stay as they were. Rows stream
//! through: memory does not grow with their number.
//!
//! This module knows neither HTTP nor the store. [`answer_csv`] is its front. `columns` is the one table of what a
//! sheet may say. A row goes from `encoding` (bytes to text) and `pipeline` (stretches to threads) through `record`
//! (where cells are), `worker` (answers known already), `row` (cells to a piece) and `answer` (an estimate to cells).

mod answer;
mod cell;
mod columns;
mod defuse;
mod dialect;
mod encoding;
mod fault;
mod header;
mod pipeline;
mod record;
mod row;
mod unit;
mod worker;

#[cfg(test)]
mod tests;

pub use cell::Mark;
pub use columns::{COLUMNS, Column, MOST_LAYERS, RESULT_COLUMNS};
pub use dialect::Dialect;
pub use encoding::Encoding;
pub use fault::{RowFault, SheetFault};
pub use header::{ColumnReading, Header, Understood};
pub use row::row_to_piece;

use encoding::{LOOK_AHEAD, Text};
use pipeline::Stretches;
use record::{Cell, Record};
use std::io::{Read, Write};
use toile_model::Verdict;
use toile_model::materials::Library;
use worker::{Plan, Tally};

/// What a sheet may hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// Largest cell, bytes of UTF-8.
    pub most_cell_bytes: usize,
    /// Largest number of columns.
    pub most_columns: usize,
    /// Largest row, bytes of UTF-8.
    pub most_row_bytes: usize,
    /// Largest number of rows; `None` for any.
    pub most_rows: Option<u64>,
    /// Threads that work on the rows, beside the calling one, which reads and writes.
    pub workers: usize,
}

impl Default for Limits {
    /// 64 KiB a cell, 500 columns, 1 MiB a row, any number of rows, a thread for each core.
    fn default() -> Self {
        Self {
            most_cell_bytes: 64 * 1024,
            most_columns: 500,
            most_row_bytes: 1024 * 1024,
            most_rows: None,
            workers: std::thread::available_parallelism().map_or(1, usize::from),
        }
    }
}

/// What was done with a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary {
    /// Rows that were answered or have a problem; blank rows do not count.
    pub rows: u64,
    /// Rows that have a problem.
    pub problems: u64,
    /// Rows with the verdict "comfortable".
    pub comfortable: u64,
    /// Rows with the verdict "tight".
    pub tight: u64,
    /// Rows with the verdict "measure first".
    pub measure_first: u64,
    /// Rows with the verdict "out of reach".
    pub out_of_reach: u64,
    /// Cells that a spreadsheet would have run as a formula, turned into text.
    pub defused: u64,
    /// Every column with what it was understood as.
    pub columns: Vec<ColumnReading>,
    /// Delimiter and decimal mark.
    pub dialect: Dialect,
    /// Encoding of the input; the answer is UTF-8.
    pub encoding: Encoding,
    /// What the owner should know, in words.
    pub notes: Vec<String>,
}

/// Reads a spreadsheet and writes it back with answers.
///
/// `progress` is told the number of rows done, now and then. The answer is written as the rows come; where a fault
/// stops the sheet on the way, all rows before the stretch of the fault stand written.
///
/// # Errors
/// [`SheetFault`] where the sheet cannot be answered as a whole. A faulty row is no such reason: it is answered by
/// its `problem`.
pub fn answer_csv<R: Read, W: Write>(
    input: R,
    mut output: W,
    library: &Library,
    limits: &Limits,
    progress: impl FnMut(u64),
) -> Result<Summary, SheetFault> {
    let mut text = Text::new(input)?;
    let mut pending = String::new();
    let mut more = text.fill(&mut pending, LOOK_AHEAD)?;
    if pending.contains('\0') {
        return Err(SheetFault::NotText {
            found: "it holds zero bytes, as programs and pictures do. Save the sheet as CSV (UTF-8).".into(),
        });
    }
    if pending.chars().all(|c| c.is_whitespace() || matches!(c, ',' | ';' | '"')) {
        return Err(SheetFault::Empty);
    }
    let marks = Dialect::marks(&pending, Header::recognised);
    let start = dialect::header_start(&pending, marks);
    let mut cells = Vec::new();
    let record = loop {
        let record = marks.record(&pending, start, &mut cells);
        if record.next > record.end || !more {
            break record;
        }
        if pending.len() - start > limits.most_row_bytes {
            return Err(header_fault(&pending, start, record, &cells, limits)
                .unwrap_or(SheetFault::RowTooLong { row: 1, allowed: limits.most_row_bytes }));
        }
        let wanted = pending.len() + LOOK_AHEAD;
        more = text.fill(&mut pending, wanted)?;
    };
    let before = rows_until(&pending[..record.next], marks);
    if let Some(fault) = header_fault(&pending, start, record, &cells, limits) {
        return Err(fault.later(before - 1));
    }
    let names: Vec<_> = cells.iter().map(|c| c.value(&pending)).collect();
    let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
    let header = Header::read(&names)?;
    let numeric: Vec<bool> =
        header.slots().iter().map(|s| matches!(s, header::Slot::Input(input) if input.column.quantity().is_some())).collect();
    let dialect = Dialect { marks, mark: Dialect::decimal_mark(&pending, marks, record.next, &numeric) };
    let plan = Plan::new(header, dialect, limits, library);

    let mut head = Vec::new();
    if text.needs_mark() {
        head.extend_from_slice("\u{feff}".as_bytes());
    }
    head.extend_from_slice(&pending.as_bytes()[..start]);
    let defused = plan.write_header(&pending, record, &cells, &mut head);
    output.write_all(&head).map_err(SheetFault::Write)?;

    pending.drain(..record.next);
    let mut rows = Stretches { text, pending, marks, most_row_bytes: limits.most_row_bytes, more };
    let mut tally = pipeline::answer_rows(&plan, &mut rows, &mut output, before, progress)?;
    output.flush().map_err(SheetFault::Write)?;
    tally.defused += defused;
    Ok(summary(plan, &tally, &rows.text))
}

/// Rows of the spreadsheet in a text of whole rows.
fn rows_until(text: &str, marks: record::Marks) -> u64 {
    let (mut cells, mut at, mut rows) = (Vec::new(), 0, 0);
    while at < text.len() {
        at = marks.record(text, at, &mut cells).next;
        rows += 1;
    }
    rows
}

fn header_fault(text: &str, start: usize, record: Record, cells: &[Cell], limits: &Limits) -> Option<SheetFault> {
    let row = 1;
    if record.next == record.end && cells.last().is_some_and(|c| c.is_open(text)) {
        return Some(SheetFault::OpenQuote { row });
    }
    if cells.len() > limits.most_columns {
        return Some(SheetFault::TooManyColumns { row, found: cells.len(), allowed: limits.most_columns });
    }
    if record.end - start > limits.most_row_bytes {
        return Some(SheetFault::RowTooLong { row, allowed: limits.most_row_bytes });
    }
    let (k, long) = cells.iter().enumerate().find(|(_, c)| c.end - c.start > limits.most_cell_bytes)?;
    Some(SheetFault::CellTooLong { row, column: k + 1, bytes: long.end - long.start, allowed: limits.most_cell_bytes })
}

fn summary<R: Read>(plan: Plan<'_>, tally: &Tally, text: &Text<R>) -> Summary {
    let mut notes = Vec::new();
    if text.encoding() != Encoding::Utf8 {
        let mark = if text.needs_mark() { " with a byte order mark, so that a spreadsheet opens it right" } else { "" };
        notes.push(format!("The sheet was read as {}; the answer is UTF-8{mark}.", text.encoding().name()));
    }
    if text.damaged() {
        notes.push("Some characters could not be read and show as \u{fffd}.".into());
    }
    if tally.defused > 0 {
        let cells = if tally.defused == 1 { "1 cell" } else { &format!("{} cells", tally.defused) };
        notes.push(format!("{cells} that a spreadsheet would run as a formula got an apostrophe in front."));
    }
    for reading in plan.header.readings() {
        match &reading.understood {
            Understood::Own { guess: Some(guess) } => {
                notes.push(format!(
                    "The column \"{}\" was not read. Perhaps {guess} is meant; then rename it.",
                    fault::clipped(&reading.header)
                ));
            }
            Understood::Result(name) => notes.push(format!("The column {name} of an earlier answer was written anew.")),
            Understood::Field { .. } | Understood::Own { guess: None } => {}
        }
    }
    Summary {
        rows: tally.rows,
        problems: tally.problems,
        comfortable: tally.of(Verdict::Comfortable),
        tight: tally.of(Verdict::Tight),
        measure_first: tally.of(Verdict::MeasureFirst),
        out_of_reach: tally.of(Verdict::OutOfReach),
        defused: tally.defused,
        columns: plan.header.readings().to_vec(),
        dialect: plan.dialect,
        encoding: text.encoding(),
        notes,
    }
}
