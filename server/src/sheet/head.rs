//! What must be known of a sheet before a row of it can be answered: everything down to its header row.
//!
//! People put titles, dates and notes above their table. The header is the first of the first rows that names all
//! the columns a row needs; where none does, the one with most known names, so that the fault speaks of it.

use super::dialect::{Dialect, is_delimiter_line};
use super::encoding::{Encoding, LOOK_AHEAD, Text};
use super::fault::SheetFault;
use super::header::{Header, Slot};
use super::pipeline::Rows;
use super::record::{Cell, Marks, Record};
use super::worker::Plan;
use super::{Limits, Mark};
use serde::{Deserialize, Serialize};
use std::io::Read;
use toile_model::materials::Library;

/// Rows among which the header is looked for, blank ones not counted.
pub const HEADER_WITHIN: usize = 30;
/// Known names that a row needs to be looked at as a header; a title may hold one by chance.
const ENOUGH: usize = 2;

/// A sheet from its start to its header row, and how it is written. It is small and can be kept: any stretch of rows
/// can be answered by it, at any time and place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Head {
    /// The text down to the end of the header row, line end included.
    pub(super) text: String,
    /// Where the header row begins in it.
    pub(super) start: usize,
    pub(super) dialect: Dialect,
    /// Whether the answer begins with a byte order mark.
    pub(super) marked: bool,
    /// Whether the text is that of a workbook, in which cells at the end of a row may be left out.
    pub(super) workbook: bool,
}

impl Head {
    /// Reads a sheet down to its header row.
    ///
    /// # Errors
    /// [`SheetFault`] where the sheet is no text or has no header that can be used.
    pub fn read<R: Read>(input: R, limits: &Limits) -> Result<(Self, Rows<R>), SheetFault> {
        Self::read_with(input, None, limits)
    }

    /// As [`Head::read`]; what is known of the dialect already is not looked for.
    pub(super) fn read_with<R: Read>(input: R, known: Option<Dialect>, limits: &Limits) -> Result<(Self, Rows<R>), SheetFault> {
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
        let marks = known.map_or_else(|| Dialect::marks(&pending), |dialect| dialect.marks);
        let mut cells = Vec::new();
        let (start, record) = loop {
            let start = header_start(&pending, marks, more);
            let record = marks.record(&pending, start, &mut cells);
            if record.next > record.end || !more {
                break (start, record);
            }
            if pending.len() - start > limits.most_row_bytes {
                return Err(header_fault(&pending, start, record, &cells, limits)
                    .unwrap_or(SheetFault::RowTooLong { row: 1, allowed: limits.most_row_bytes }));
            }
            let wanted = pending.len() + LOOK_AHEAD;
            more = text.fill(&mut pending, wanted)?;
        };
        if let Some(fault) = header_fault(&pending, start, record, &cells, limits) {
            return Err(fault.later(rows_of(&pending[..start], marks)));
        }
        let header = header_of(&pending, &cells)?;
        let dialect = known.unwrap_or_else(|| Dialect { marks, mark: decimal_mark(&header, &pending, marks, record.next) });
        let head = Self { text: pending[..record.next].into(), start, dialect, marked: text.needs_mark(), workbook: known.is_some() };
        pending.drain(..record.next);
        Ok((head, Rows::new(text, pending, marks, more, limits)))
    }

    /// What answers rows of this sheet.
    ///
    /// # Errors
    /// [`SheetFault`] where the header cannot be used, which happens only to a head that was not read here.
    pub fn plan<'a>(&self, library: &'a Library, limits: &'a Limits) -> Result<Plan<'a>, SheetFault> {
        if !self.text.is_char_boundary(self.start) {
            return Err(SheetFault::Internal);
        }
        let mut cells = Vec::new();
        self.dialect.marks.record(&self.text, self.start, &mut cells);
        Ok(Plan::new(self.clone(), header_of(&self.text, &cells)?, limits, library))
    }

    /// Rows of the spreadsheet down to and with the header.
    pub fn rows(&self) -> u64 {
        rows_of(&self.text, self.dialect.marks)
    }

    /// Rows with words in them above the header.
    pub(super) fn titles(&self) -> u64 {
        let (mut cells, mut at, mut titles) = (Vec::new(), 0, 0);
        while at < self.start {
            let record = self.dialect.marks.record(&self.text, at, &mut cells);
            titles += u64::from(!is_blank(&self.text, &cells) && !is_delimiter_line(&self.text, at, record));
            at = record.next;
        }
        titles
    }

    /// Whether the sheet stood in a workbook.
    pub const fn is_of_workbook(&self) -> bool {
        self.workbook
    }

    /// Delimiter and decimal mark.
    pub const fn dialect(&self) -> Dialect {
        self.dialect
    }
}

fn header_of(text: &str, cells: &[Cell]) -> Result<Header, SheetFault> {
    let names: Vec<_> = cells.iter().map(|c| c.value(text)).collect();
    let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
    Header::read(&names)
}

fn decimal_mark(header: &Header, text: &str, marks: Marks, first_row: usize) -> Mark {
    let numeric: Vec<bool> = header.slots().iter().map(|s| matches!(s, Slot::Input(input) if input.column.quantity().is_some())).collect();
    Dialect::decimal_mark(text, marks, first_row, &numeric)
}

/// Where the header row begins; where `more` follows, a last row that is not whole is looked at only if it is alone.
fn header_start(text: &str, marks: Marks, more: bool) -> usize {
    let mut cells = Vec::new();
    let mut best: Option<(usize, usize)> = None;
    for (start, record) in first_rows(text, marks) {
        if more && record.next == record.end && best.is_some() {
            break;
        }
        marks.record(text, start, &mut cells);
        let names: Vec<_> = cells.iter().map(|c| c.value(text)).collect();
        let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
        let known = Header::recognised(&names);
        if known >= ENOUGH && Header::read(&names).is_ok() {
            return start;
        }
        if best.is_none_or(|(most, _)| known > most) {
            best = Some((known, start));
        }
    }
    best.map_or(text.len(), |(_, start)| start)
}

/// The first rows with something in them, a line that names the delimiter left out.
pub(super) fn first_rows(text: &str, marks: Marks) -> impl Iterator<Item = (usize, Record)> + '_ {
    let mut at = 0;
    let mut cells = Vec::new();
    std::iter::from_fn(move || {
        while at < text.len() {
            let start = at;
            let record = marks.record(text, start, &mut cells);
            at = record.next;
            if !is_blank(text, &cells) && !is_delimiter_line(text, start, record) {
                return Some((start, record));
            }
        }
        None
    })
    .take(HEADER_WITHIN)
}

fn is_blank(text: &str, cells: &[Cell]) -> bool {
    cells.iter().all(|c| c.value(text).trim().is_empty())
}

/// Rows of the spreadsheet in a text of whole rows.
fn rows_of(text: &str, marks: Marks) -> u64 {
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

/// The encoding is told with the summary; a head keeps only whether the answer needs a mark.
pub(super) const fn encoding_note(encoding: Encoding, marked: bool) -> Option<(&'static str, &'static str)> {
    match encoding {
        Encoding::Utf8 => None,
        other => Some((other.name(), if marked { " with a byte order mark, so that a spreadsheet opens it right" } else { "" })),
    }
}
