//! A spreadsheet in, the same spreadsheet with answers out.
//!
//! One row is one feature of a piece: a pad with its run, a light row, a laid wire, an electrode. Headers and cells are read forgivingly and never guessed at; a row with a fault
//! says so in its own words and the rest goes on; the owner's cells, order and dialect stay as they were. Rows stream
//! through: memory does not grow with their number.
//!
//! This module knows neither HTTP nor the store. [`answer_csv`] is its front. `columns` is the one table of what a
//! sheet may say.
//!
//! Rows can also be answered stretch by stretch, by whoever has them, in any order and on any machine:
//!
//! ```
//! use toile::sheet::{Head, Limits, Summary, Tally, Worker};
//! use toile_model::LIBRARY;
//!
//! let file = "diameter_mm,base_1,thread,run_length_mm,controller\n24,wool-felt,silver-polyamide-40-tex,180,patient-input\n";
//! let limits = Limits::default();
//! // Once: the header is understood, and the rows are cut. A `Head` is small, serializable, and all a row needs.
//! let (head, mut rows) = Head::read(file.as_bytes(), &limits)?;
//! let mut stretch = String::new();
//! assert_eq!(rows.take(1000, &mut stretch)?, 1);
//! // Anywhere: the same stretch always gets the same bytes.
//! let plan = head.plan(&LIBRARY, &limits)?;
//! let mut worker = Worker::new(&plan);
//! let mut answered = Vec::new();
//! let (tally, fault) = worker.answer(&stretch, &mut answered);
//! assert!(fault.is_none());
//! // At the end: what `begin` writes, then the stretches in order, are the bytes that `answer_csv` writes.
//! let mut whole = Vec::new();
//! let mut all = plan.begin(&mut whole);
//! whole.extend(answered);
//! all.add(&tally);
//! assert_eq!(Summary::of(&plan, &all, &rows).rows, 1);
//! # let mut at_once = Vec::new();
//! # toile::sheet::answer_csv(file.as_bytes(), &mut at_once, &LIBRARY, &limits, |_| ())?;
//! # assert_eq!(whole, at_once);
//! # Ok::<(), toile::sheet::SheetFault>(())
//! ```
//!
//! A fault of [`Worker::answer`] counts its row from the start of the stretch: [`SheetFault::later`] adds the rows
//! before it, which are those of [`Head::rows`] and of the stretches handed out before.
//!
//! A row goes from `encoding` (bytes to text) and `pipeline` (stretches to threads) through `record`
//! (where cells are), `worker` (answers known already), `row` (cells to a piece) and `answer` (an estimate to cells).

mod answer;
mod cell;
mod columns;
mod defuse;
mod dialect;
mod encoding;
mod fault;
mod head;
mod header;
mod line;
mod open;
mod pipeline;
mod preview;
mod record;
mod row;
mod template;
mod unit;
mod workbook;
mod worker;

#[cfg(test)]
mod tests;

pub use cell::Mark;
pub use columns::{COLUMNS, Column, MOST_LAYERS, RESULT_COLUMNS};
pub use dialect::Dialect;
pub use encoding::Encoding;
pub use fault::{RowFault, SheetFault};
pub use head::{HEADER_WITHIN, Head};
pub use header::{ColumnReading, Header, Understood};
pub use line::csv_line;
pub use open::{Opened, Source, open, open_text};
pub use pipeline::{Reached, Rows, answer_rows};
pub use preview::{ColumnPreview, Preview, RowPreview, preview};
pub use row::row_to_piece;
pub use template::{template_csv, template_xlsx};
pub use workbook::{Form, MOST_XLSX_ROWS, XlsxTable, write_xlsx};
pub use worker::{Plan, Tally, Worker};

use std::io::{Read, Write};
use toile_model::Verdict;
use toile_model::materials::Library;

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
    /// Most bytes that a workbook may unpack to, and that the text of one of its sheets may have.
    pub most_unpacked_bytes: u64,
    /// Most bytes of shared texts of a workbook, which are kept while it is read.
    pub most_kept_bytes: usize,
    /// Threads that work on the rows, beside the calling one, which reads and writes.
    pub workers: usize,
}

impl Default for Limits {
    /// 64 KiB a cell, 500 columns, 1 MiB a row, any number of rows, workbooks of 2 GiB unpacked with 64 MiB of shared
    /// texts, a thread for each core.
    fn default() -> Self {
        Self {
            most_cell_bytes: 64 * 1024,
            most_columns: 500,
            most_row_bytes: 1024 * 1024,
            most_rows: None,
            most_unpacked_bytes: 2 * 1024 * 1024 * 1024,
            most_kept_bytes: 64 * 1024 * 1024,
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

/// Reads a CSV file and writes it back with answers.
///
/// `progress` is told the number of rows done, now and then. The answer is written as the rows come; where a fault
/// stops the sheet on the way, all rows before the stretch of the fault stand written.
///
/// # Errors
/// [`SheetFault`] where the sheet cannot be answered as a whole. A faulty row is no such reason: it is answered by
/// its `problem`.
pub fn answer_csv<R: Read, W: Write>(
    input: R,
    output: W,
    library: &Library,
    limits: &Limits,
    progress: impl FnMut(u64),
) -> Result<Summary, SheetFault> {
    let (head, rows) = Head::read(input, limits)?;
    answer_text(&head, rows, output, library, limits, progress)
}

/// Writes an opened sheet with answers, as text; for [`write_xlsx`] or as it is.
///
/// # Errors
/// As for [`answer_csv`].
pub fn answer_text<R: Read, W: Write>(
    head: &Head,
    mut rows: Rows<R>,
    mut output: W,
    library: &Library,
    limits: &Limits,
    mut progress: impl FnMut(u64),
) -> Result<Summary, SheetFault> {
    let plan = head.plan(library, limits)?;
    let mut begin = Vec::new();
    let tally = plan.begin(&mut begin);
    output.write_all(&begin).map_err(SheetFault::Write)?;
    let tally = answer_rows(&plan, &mut rows, &mut output, Reached::begun(tally), |_, reached| {
        progress(reached.tally.rows);
        Ok(())
    })?;
    output.flush().map_err(SheetFault::Write)?;
    Ok(Summary::of(&plan, &tally, &rows))
}

impl Summary {
    /// Puts together what is known of a sheet once its rows are answered.
    pub fn of<R: Read>(plan: &Plan<'_>, tally: &Tally, rows: &Rows<R>) -> Self {
        let mut notes = Vec::new();
        if let Some((name, mark)) = head::encoding_note(rows.encoding(), plan.head.marked) {
            notes.push(format!("The sheet was read as {name}; the answer is UTF-8{mark}."));
        }
        if rows.damaged() {
            notes.push("Some characters could not be read and show as \u{fffd}.".into());
        }
        notes.extend(plan.notes());
        if tally.defused > 0 {
            let cells = if tally.defused == 1 { "1 cell" } else { &format!("{} cells", tally.defused) };
            notes.push(format!("{cells} that a spreadsheet would run as a formula got an apostrophe in front."));
        }
        Self {
            rows: tally.rows,
            problems: tally.problems,
            comfortable: tally.of(Verdict::Comfortable),
            tight: tally.of(Verdict::Tight),
            measure_first: tally.of(Verdict::MeasureFirst),
            out_of_reach: tally.of(Verdict::OutOfReach),
            defused: tally.defused,
            columns: plan.columns_read().to_vec(),
            dialect: plan.head.dialect,
            encoding: rows.encoding(),
            notes,
        }
    }
}
