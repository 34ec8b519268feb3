//! The rows of one table of a workbook on their way into the text form.

use super::super::encoding::LOOK_AHEAD;
use super::super::fault::SheetFault;
use super::super::{HEADER_WITHIN, Limits};
use super::value::Value;
use std::collections::BTreeMap;
use std::io::Write;

/// Rows that a workbook can have; both kinds of file stop there.
const MOST_ROWS: u64 = 1_048_576;

/// Cells that are one on the screen: the value stands in the first, and the rows below see it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Merged {
    pub(super) row: u64,
    pub(super) column: usize,
    /// Last row, counted as `row` is.
    pub(super) last_row: u64,
}

/// Takes rows in order and writes them as text.
pub(super) struct Table<'a> {
    out: &'a mut dyn Write,
    limits: &'a Limits,
    /// The row that comes next, counted from 0.
    next: u64,
    /// Rows with something in them are counted down to where only a header is looked for.
    wanted: Option<usize>,
    line: Vec<u8>,
    written: u64,
    /// Values that go on downwards, by column, with the last row.
    going_on: BTreeMap<usize, (Value, u64)>,
    /// Cells that took the value of the merged cell above.
    pub(super) filled: u64,
    /// Formulas without a value.
    pub(super) unworked: u64,
}

impl<'a> Table<'a> {
    /// A table that is wanted whole, or only as far as its header can be.
    pub(super) fn new(out: &'a mut dyn Write, whole: bool, limits: &'a Limits) -> Self {
        let wanted = (!whole).then_some(HEADER_WITHIN);
        Self { out, limits, next: 0, wanted, line: Vec::new(), written: 0, going_on: BTreeMap::new(), filled: 0, unworked: 0 }
    }

    /// Whether no more rows are wanted.
    pub(super) fn is_full(&self) -> bool {
        self.wanted == Some(0)
    }

    /// Lets the value of a merged cell of the row that comes next go on downwards.
    pub(super) fn merge(&mut self, merged: &Merged, value: &Value) {
        if merged.last_row > merged.row && *value != Value::Empty && self.going_on.len() < self.limits.most_columns {
            self.going_on.insert(merged.column, (value.clone(), merged.last_row));
        }
    }

    /// Writes one row, `row` counted from 0; rows that were left out before it are blank.
    pub(super) fn row(&mut self, row: u64, cells: &mut Vec<Value>) -> Result<(), SheetFault> {
        if row < self.next || row >= MOST_ROWS {
            return Err(SheetFault::damaged("its rows are not in order"));
        }
        while self.next < row && !self.is_full() {
            self.write(&mut Vec::new())?;
        }
        if self.is_full() { Ok(()) } else { self.write(cells) }
    }

    fn write(&mut self, cells: &mut Vec<Value>) -> Result<(), SheetFault> {
        let row = self.next;
        self.going_on.retain(|_, (_, last)| *last >= row);
        for (column, (value, _)) in &self.going_on {
            if cells.len() <= *column {
                cells.resize(column + 1, Value::Empty);
            }
            if cells[*column] == Value::Empty {
                cells[*column] = value.clone();
                self.filled += 1;
            }
        }
        let width = cells.iter().rposition(|c| *c != Value::Empty).map_or(0, |k| k + 1);
        if width > self.limits.most_columns {
            return Err(SheetFault::TooManyColumns { row: row + 1, found: width, allowed: self.limits.most_columns });
        }
        self.line.clear();
        for (k, cell) in cells[..width].iter().enumerate() {
            if let Value::Text(text) = cell
                && text.len() > self.limits.most_cell_bytes
            {
                let allowed = self.limits.most_cell_bytes;
                return Err(SheetFault::CellTooLong { row: row + 1, column: k + 1, bytes: text.len(), allowed });
            }
            if k > 0 {
                self.line.push(b',');
            }
            cell.write(&mut self.line);
            if self.line.len() > self.limits.most_row_bytes {
                return Err(SheetFault::RowTooLong { row: row + 1, allowed: self.limits.most_row_bytes });
            }
        }
        self.line.push(b'\n');
        self.written += self.line.len() as u64;
        if self.written > self.limits.most_unpacked_bytes {
            return Err(SheetFault::UnpacksTooLarge { allowed: self.limits.most_unpacked_bytes });
        }
        self.out.write_all(&self.line).map_err(SheetFault::Write)?;
        self.next += 1;
        if let Some(wanted) = &mut self.wanted {
            *wanted = if self.written > LOOK_AHEAD as u64 { 0 } else { wanted.saturating_sub(usize::from(width > 0)) };
        }
        Ok(())
    }
}
