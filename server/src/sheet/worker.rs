//! One thread's share of the work: a stretch of whole rows in, the same rows with answers out.

use super::answer::{Answer, Style};
use super::defuse::{defused, is_formula, may_start_formula};
use super::fault::{RowFault, SheetFault, clipped};
use super::head::Head;
use super::header::{ColumnReading, Header, Slot, Understood};
use super::record::{Cell, Record};
use super::row::row_to_piece;
use super::{Dialect, Limits, RESULT_COLUMNS};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::collections::HashMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use toile_model::materials::Library;
use toile_model::{MOST_CHARACTERS, Verdict, estimate};

/// Answers that one thread remembers. Rows of a sheet repeat each other, and an answer costs a hundred times its memory
/// access; with long cells this many take some 20 MB.
const REMEMBERED: usize = 8192;
/// Rows whose cells, or answers whose cells, together are longer than this are not remembered.
const LONGEST: usize = 1024;

/// All that is needed to answer rows of a sheet; threads share it.
pub struct Plan<'a> {
    pub(super) head: Head,
    pub(super) header: Header,
    dialect: Dialect,
    pub(super) limits: &'a Limits,
    pub(super) library: &'a Library,
    /// Result columns that the sheet does not have yet.
    pub(super) added: Vec<usize>,
    /// Runs of neighbouring columns that decide the answer, first and last.
    deciding: Vec<(usize, usize)>,
    /// The column of the pad's name, which decides nothing.
    name: Option<usize>,
    /// Columns that were nearly understood: said in every row, because a mistyped header silently changes all of them.
    remark: String,
}

impl<'a> Plan<'a> {
    pub(super) fn new(head: Head, header: Header, limits: &'a Limits, library: &'a Library) -> Self {
        let dialect = head.dialect;
        let slots = header.slots();
        let added = (0..RESULT_COLUMNS.len()).filter(|k| !slots.iter().any(|s| matches!(s, Slot::Result(r) if r == k))).collect();
        let name = header.place("pad", 0);
        let mut deciding: Vec<(usize, usize)> = Vec::new();
        for (place, _) in header.inputs().filter(|(place, _)| Some(*place) != name) {
            match deciding.last_mut() {
                Some((_, last)) if *last + 1 == place => *last = place,
                _ => deciding.push((place, place)),
            }
        }
        let remark = header.remark();
        Self { head, header, dialect, limits, library, added, deciding, name, remark }
    }

    /// What the owner should know of the head of the sheet, in words.
    pub fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        match self.head.titles() {
            0 => {}
            1 => notes.push(format!("The header is row {}; the row above it was kept as it is.", self.head.rows())),
            n => notes.push(format!("The header is row {}; the {n} rows above it were kept as they are.", self.head.rows())),
        }
        for reading in self.columns_read() {
            match &reading.understood {
                Understood::Own { guess: Some(guess) } => notes
                    .push(format!("The column \"{}\" was not read. Perhaps {guess} is meant; then rename it.", clipped(&reading.header))),
                Understood::Result(name) => notes.push(format!("The column {name} of an earlier answer was written anew.")),
                Understood::Field { .. } | Understood::Own { guess: None } => {}
            }
        }
        notes
    }

    /// Looks at whole rows without working them out: their number from 1, their cells, and what is wrong with them.
    pub(super) fn look(&self, text: &str, mut each: impl FnMut(u64, &[&str], Vec<RowFault>)) {
        let (mut at, mut number, mut cells) = (0, 0, Vec::new());
        while at < text.len() {
            let start = at;
            let record = self.dialect.marks.record(text, start, &mut cells);
            at = record.next;
            number += 1;
            let there = cells.len();
            self.fill_up(&mut cells, record);
            let row = Row { text, start, record, cells: &cells, there };
            if cells.iter().all(|c| row.is_blank(c)) {
                continue;
            }
            let values: Vec<Cow<'_, str>> = cells.iter().map(|c| c.value(text)).collect();
            let values: Vec<&str> = values.iter().map(AsRef::as_ref).collect();
            let faults = match check_limits(row, self, number) {
                Err(fault) => {
                    vec![RowFault { column: "row".into(), given: String::new(), message: fault.to_string(), allowed: String::new() }]
                }
                Ok(()) => match self.unfit(row, true) {
                    Some(fault) => vec![fault],
                    None => row_to_piece(&self.header, &values, self.dialect.mark, self.library).err().unwrap_or_default(),
                },
            };
            each(number, &values, faults);
        }
    }

    /// Empty cells at the end of a row do not stand in a workbook.
    fn fill_up(&self, cells: &mut Vec<Cell>, record: Record) {
        if self.head.workbook && cells.len() < self.columns() {
            cells.resize(self.columns(), Cell { start: record.end, end: record.end });
        }
    }

    /// Why a row cannot be read at all, if so.
    fn unfit(&self, row: Row<'_>, zeros: bool) -> Option<RowFault> {
        let columns = self.columns();
        let ragged = row.cells.len() < columns || !row.cells[columns..].iter().all(|c| row.is_blank(c));
        if ragged && !self.head.workbook {
            return Some(ragged_fault(row.cells.len(), self));
        }
        (zeros && row.text[row.start..row.record.end].contains('\0')).then(zero_fault)
    }

    fn columns(&self) -> usize {
        self.header.slots().len()
    }

    fn style(&self) -> Style {
        Style { marks: self.dialect.marks, decimal_comma: self.dialect.writes_comma() }
    }

    /// Every column with what it was understood as, in order.
    pub fn columns_read(&self) -> &[ColumnReading] {
        self.header.readings()
    }

    /// Writes what the answer begins with: the rows above the header as they stand, then the header with the names of
    /// the added columns.
    pub fn begin(&self, out: &mut Vec<u8>) -> Tally {
        if self.head.marked {
            out.extend_from_slice("\u{feff}".as_bytes());
        }
        let text = self.head.text.as_str();
        let (mut at, mut cells, mut defused) = (0, Vec::new(), 0);
        while at < text.len() {
            let record = self.dialect.marks.record(text, at, &mut cells);
            for (k, cell) in cells.iter().enumerate() {
                if k > 0 {
                    out.push(self.dialect.marks.delimiter);
                }
                defused += u64::from(self.write_own(text, *cell, out));
            }
            for k in self.added.iter().filter(|_| at == self.head.start) {
                out.push(self.dialect.marks.delimiter);
                out.extend_from_slice(RESULT_COLUMNS[*k].as_bytes());
            }
            out.extend_from_slice(&text.as_bytes()[record.end..record.next]);
            at = record.next;
        }
        Tally { defused, ..Tally::default() }
    }

    /// Looks at the sizes of whole rows, as [`Worker::answer`] does on its way.
    ///
    /// # Errors
    /// The first [`SheetFault`]; its row counts from the start of the text.
    pub fn check(&self, text: &str) -> Result<(), SheetFault> {
        let (mut cells, mut at, mut rows) = (Vec::new(), 0, 0);
        while at < text.len() {
            let record = self.dialect.marks.record(text, at, &mut cells);
            rows += 1;
            let there = cells.len();
            check_limits(Row { text, start: at, record, cells: &cells, there }, self, rows)?;
            at = record.next;
        }
        Ok(())
    }

    /// Writes one of the owner's cells as it stands, or defused; whether it was.
    fn write_own(&self, text: &str, cell: Cell, out: &mut Vec<u8>) -> bool {
        let value = cell.value(text);
        let formula = is_formula(&value);
        if formula {
            self.dialect.marks.write(&defused(&value), out);
        } else {
            out.extend_from_slice(cell.raw(text).as_bytes());
        }
        formula
    }
}

/// What was done with some rows.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Tally {
    /// Rows of any kind, blank ones too.
    pub records: u64,
    /// Rows that were answered or have a problem.
    pub rows: u64,
    /// Rows that have a problem.
    pub problems: u64,
    verdicts: [u64; 4],
    /// Cells that a spreadsheet would have run as a formula, turned into text.
    pub defused: u64,
}

impl Tally {
    /// Rows with this verdict.
    pub fn of(&self, verdict: Verdict) -> u64 {
        self.verdicts[place(verdict)]
    }

    /// Counts what was done with other rows in.
    pub fn add(&mut self, other: &Self) {
        self.records += other.records;
        self.rows += other.rows;
        self.problems += other.problems;
        for (mine, others) in self.verdicts.iter_mut().zip(other.verdicts) {
            *mine += others;
        }
        self.defused += other.defused;
    }
}

const fn place(verdict: Verdict) -> usize {
    match verdict {
        Verdict::Comfortable => 0,
        Verdict::Tight => 1,
        Verdict::MeasureFirst => 2,
        Verdict::OutOfReach => 3,
    }
}

/// One row as it stands in the text.
#[derive(Clone, Copy)]
struct Row<'r> {
    text: &'r str,
    start: usize,
    record: Record,
    cells: &'r [Cell],
    /// Cells that stand in the text; those behind are empty.
    there: usize,
}

impl Row<'_> {
    fn is_blank(self, cell: &Cell) -> bool {
        cell.start == cell.end || cell.value(self.text).trim().is_empty()
    }

    fn line_end(&self) -> &[u8] {
        &self.text.as_bytes()[self.record.end..self.record.next]
    }
}

/// Answers rows on one thread, with the memory of that thread.
pub struct Worker<'a> {
    plan: &'a Plan<'a>,
    known: HashMap<Box<[u8]>, Answer>,
    cells: Vec<Cell>,
    key: Vec<u8>,
}

impl<'a> Worker<'a> {
    /// With nothing remembered yet.
    pub fn new(plan: &'a Plan<'a>) -> Self {
        Self { plan, known: HashMap::new(), cells: Vec::new(), key: Vec::new() }
    }

    /// Answers whole rows. A fault stops at the row it stands in; its row number counts from the start of the text.
    pub fn answer(&mut self, text: &str, out: &mut Vec<u8>) -> (Tally, Option<SheetFault>) {
        let mut tally = Tally::default();
        let zeros = memchr::memchr(0, text.as_bytes()).is_some();
        let mut at = 0;
        while at < text.len() {
            let mut cells = std::mem::take(&mut self.cells);
            let record = self.plan.dialect.marks.record(text, at, &mut cells);
            let there = cells.len();
            self.plan.fill_up(&mut cells, record);
            let row = Row { text, start: at, record, cells: &cells, there };
            tally.records += 1;
            let within = check_limits(row, self.plan, tally.records);
            if within.is_ok() {
                self.row(row, zeros, &mut tally, out);
            }
            self.cells = cells;
            if let Err(fault) = within {
                return (tally, Some(fault));
            }
            at = record.next;
        }
        (tally, None)
    }

    /// Writes whole rows with the problem that they could not be worked out: for text that ended whoever worked on it.
    pub fn refuse(&mut self, text: &str, out: &mut Vec<u8>) -> Tally {
        let mut tally = Tally::default();
        let mut at = 0;
        let answer = Answer::of_faults(&[broken_off_fault()], self.plan.style());
        while at < text.len() {
            let mut cells = std::mem::take(&mut self.cells);
            let record = self.plan.dialect.marks.record(text, at, &mut cells);
            let there = cells.len();
            self.plan.fill_up(&mut cells, record);
            let row = Row { text, start: at, record, cells: &cells, there };
            tally.records += 1;
            if cells.iter().all(|c| row.is_blank(c)) {
                out.extend_from_slice(&text.as_bytes()[at..record.next]);
            } else {
                tally.rows += 1;
                write_row(self.plan, row, &answer, &mut tally, out);
            }
            self.cells = cells;
            at = record.next;
        }
        tally
    }

    fn row(&mut self, row: Row<'_>, zeros: bool, tally: &mut Tally, out: &mut Vec<u8>) {
        let Row { text, start, record, cells, .. } = row;
        if cells.iter().all(|c| row.is_blank(c)) {
            out.extend_from_slice(&text.as_bytes()[start..record.next]);
            return;
        }
        tally.rows += 1;
        let plan = self.plan;
        if let Some(fault) = plan.unfit(row, zeros) {
            return write_row(plan, row, &Answer::of_faults(&[fault], plan.style()), tally, out);
        }
        if !self.fill_key(row) {
            return write_row(plan, row, &answer(plan, row), tally, out);
        }
        if let Some(answer) = self.known.get(self.key.as_slice()) {
            return write_row(plan, row, answer, tally, out);
        }
        let answer = answer(plan, row);
        write_row(plan, row, &answer, tally, out);
        if answer.joined().len() > LONGEST {
            return;
        }
        if self.known.len() >= REMEMBERED {
            self.known.clear();
        }
        self.known.insert(self.key.as_slice().into(), answer);
    }

    /// Gathers the cells that decide the answer; whether the row may be remembered by them.
    fn fill_key(&mut self, row: Row<'_>) -> bool {
        let Row { text, cells, .. } = row;
        self.key.clear();
        for (first, last) in &self.plan.deciding {
            // No delimiter stands bare inside a cell, so keys of different rows differ.
            self.key.extend_from_slice(&text.as_bytes()[cells[*first].start..cells[*last].end]);
            self.key.push(self.plan.dialect.marks.delimiter);
        }
        // A name decides nothing unless it is too long, which makes the row a problem.
        let long_name = self.plan.name.is_some_and(|k| cells[k].end - cells[k].start > MOST_CHARACTERS);
        self.key.len() <= LONGEST && !long_name
    }
}

fn check_limits(at: Row<'_>, plan: &Plan<'_>, row: u64) -> Result<(), SheetFault> {
    let Row { text, start, record, cells, .. } = at;
    let limits = plan.limits;
    if record.end - start > limits.most_row_bytes {
        return Err(SheetFault::RowTooLong { row, allowed: limits.most_row_bytes });
    }
    if cells.len() > limits.most_columns {
        return Err(SheetFault::TooManyColumns { row, found: cells.len(), allowed: limits.most_columns });
    }
    // Only a row longer than the limit can hold a cell that is.
    if record.end - start > limits.most_cell_bytes
        && let Some((k, cell)) = cells.iter().enumerate().find(|(_, c)| c.end - c.start > limits.most_cell_bytes)
    {
        return Err(SheetFault::CellTooLong { row, column: k + 1, bytes: cell.end - cell.start, allowed: limits.most_cell_bytes });
    }
    let last_of_text = record.next == record.end;
    if last_of_text && cells.last().is_some_and(|c| c.is_open(text)) {
        return Err(SheetFault::OpenQuote { row });
    }
    Ok(())
}

fn answer(plan: &Plan<'_>, row: Row<'_>) -> Answer {
    let values: Vec<Cow<'_, str>> = row.cells.iter().map(|c| c.value(row.text)).collect();
    let values: Vec<&str> = values.iter().map(AsRef::as_ref).collect();
    // A fault of ours in one row must not cost the others their answers.
    let worked = catch_unwind(AssertUnwindSafe(|| {
        let piece = row_to_piece(&plan.header, &values, plan.dialect.mark, plan.library)?;
        let estimate = estimate(&piece, plan.library).map_err(|faults| faults.0.into_iter().map(untranslated).collect::<Vec<_>>())?;
        Answer::of_estimate(&piece, &estimate, &plan.remark, plan.style()).ok_or_else(|| vec![own_fault()])
    }));
    match worked {
        Ok(Ok(answer)) => answer,
        Ok(Err(faults)) => Answer::of_faults(&faults, plan.style()),
        Err(_) => Answer::of_faults(&[own_fault()], plan.style()),
    }
}

fn write_row(plan: &Plan<'_>, row: Row<'_>, answer: &Answer, tally: &mut Tally, out: &mut Vec<u8>) {
    let Row { text, start, record, cells, .. } = row;
    match answer.verdict {
        Some(verdict) => tally.verdicts[place(verdict)] += 1,
        None => tally.problems += 1,
    }
    let bytes = text.as_bytes();
    let columns = plan.columns();
    let delimiter = plan.dialect.marks.delimiter;
    let first_byte = |c: &Cell| bytes[c.start..c.end].iter().find(|b| **b != b'"');
    let harmless = cells.iter().all(|c| !first_byte(c).is_some_and(|b| may_start_formula(*b)));
    if harmless && row.there == columns && cells.len() == columns && plan.added.len() == RESULT_COLUMNS.len() {
        out.extend_from_slice(&bytes[start..record.end]);
        out.push(delimiter);
        out.extend_from_slice(answer.joined());
        out.extend_from_slice(row.line_end());
        return;
    }
    for (k, slot) in plan.header.slots().iter().enumerate() {
        if k > 0 {
            out.push(delimiter);
        }
        match (slot, cells.get(k)) {
            (Slot::Result(result), _) => out.extend_from_slice(answer.cell(*result)),
            (_, Some(cell)) => tally.defused += u64::from(plan.write_own(text, *cell, out)),
            // A row that is too short gets empty cells, so that the results stand under their headers.
            (_, None) => {}
        }
    }
    for result in &plan.added {
        out.push(delimiter);
        out.extend_from_slice(answer.cell(*result));
    }
    // Cells beyond the header come last, for the same reason.
    for cell in cells.iter().skip(columns) {
        out.push(delimiter);
        tally.defused += u64::from(plan.write_own(text, *cell, out));
    }
    out.extend_from_slice(row.line_end());
}

fn ragged_fault(found: usize, plan: &Plan<'_>) -> RowFault {
    let columns = plan.columns();
    let message = if found < columns {
        "The row has fewer cells than the header."
    } else if plan.dialect.delimiter() == ',' {
        "The row has more cells than the header; a comma inside a number or a text needs quotes around the cell."
    } else {
        "The row has more cells than the header."
    };
    RowFault { column: "row".into(), given: format!("{found} cells"), message: message.into(), allowed: format!("{columns} cells") }
}

fn zero_fault() -> RowFault {
    RowFault {
        column: "row".into(),
        given: String::new(),
        message: "The row holds zero characters.".into(),
        allowed: "text and numbers".into(),
    }
}

fn broken_off_fault() -> RowFault {
    let message = "This row was not worked out: the work on the rows around it broke off again and again, because of a fault of ours.";
    RowFault { column: "row".into(), given: String::new(), message: message.into(), allowed: String::new() }
}

fn own_fault() -> RowFault {
    let message = "This row could not be worked out because of a fault of ours, not of the sheet.";
    RowFault { column: "row".into(), given: String::new(), message: message.into(), allowed: String::new() }
}

fn untranslated(fault: toile_model::Fault) -> RowFault {
    RowFault { column: fault.pointer, given: fault.given, message: fault.message, allowed: fault.allowed }
}
