//! The dialect of a sheet: delimiter, line ends, decimal mark.

use super::cell::{self, Mark};
use super::head::first_rows;
use super::header::Header;
use super::record::{Cell, Marks, Record};
use serde::{Deserialize, Serialize};

/// How a sheet parts rows, cells and decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Dialect {
    pub(super) marks: Marks,
    /// Decimal mark, as far as the file lets know.
    pub mark: Mark,
}

/// Rows that are looked at to find the dialect.
const ROWS: usize = 200;

/// The line with which some spreadsheets name the delimiter: `sep=;`.
const NAMED: &str = "sep=";

impl Dialect {
    /// Between cells: comma, semicolon or tab.
    pub const fn delimiter(&self) -> char {
        self.marks.delimiter as char
    }

    /// The decimal mark in a word: `point`, `comma` or `unsure`.
    pub const fn decimal_word(&self) -> &'static str {
        match self.mark {
            Mark::Point => "point",
            Mark::Comma => "comma",
            Mark::Unsure => "unsure",
        }
    }

    /// Whether result numbers are written with a decimal comma.
    pub fn writes_comma(&self) -> bool {
        self.mark == Mark::Comma
    }

    /// Finds delimiter and line ends in the first part of a sheet.
    ///
    /// The delimiter under which most column names of a row are understood is the one; then the one under which most
    /// rows have as many cells as that row; then the one that makes most columns.
    pub(super) fn marks(text: &str) -> Marks {
        Self::marks_by(text, Header::recognised)
    }

    /// As [`Dialect::marks`]; `recognised` counts the known names in a row.
    fn marks_by(text: &str, recognised: impl Fn(&[&str]) -> usize) -> Marks {
        let newline = if !text.contains('\n') && text.contains('\r') { b'\r' } else { b'\n' };
        let of = |delimiter| Marks { delimiter, newline };
        if let Some(delimiter) = named_delimiter(text) {
            return of(delimiter);
        }
        let score = |marks: Marks| {
            let mut cells = Vec::new();
            let mut best = (0, 0, 0);
            for (start, record) in first_rows(text, marks) {
                marks.record(text, start, &mut cells);
                let names: Vec<_> = cells.iter().map(|c| c.value(text)).collect();
                let names: Vec<&str> = names.iter().map(|n| n.as_ref()).collect();
                let known = recognised(&names);
                if best.2 > 0 && known <= best.0 {
                    continue;
                }
                let (mut at, mut alike) = (record.next, 0);
                for _ in 0..ROWS {
                    if at >= text.len() {
                        break;
                    }
                    at = marks.record(text, at, &mut cells).next;
                    alike += usize::from(cells.len() == names.len());
                }
                best = (known, if names.len() > 1 { alike } else { 0 }, names.len());
            }
            best
        };
        // The last of equals is kept by max_by_key; the comma, the usual one, therefore stands last.
        [b'\t', b';', b','].map(of).into_iter().max_by_key(|m| score(*m)).unwrap_or(of(b','))
    }

    /// Finds the decimal mark in the cells that hold numbers. `numeric` tells which columns do.
    pub(super) fn decimal_mark(text: &str, marks: Marks, first_row: usize, numeric: &[bool]) -> Mark {
        let mut cells: Vec<Cell> = Vec::new();
        let (mut at, mut points, mut commas) = (first_row, 0_u32, 0_u32);
        // The whole look-ahead, not just the first rows: whole numbers may go on for long.
        while at < text.len() {
            at = marks.record(text, at, &mut cells).next;
            for (cell, _) in cells.iter().zip(numeric).filter(|(_, numeric)| **numeric) {
                match cell::evidence(&cell.value(text)) {
                    Some(Mark::Point) => points += 1,
                    Some(Mark::Comma) => commas += 1,
                    _ => {}
                }
            }
        }
        match (points > 0, commas > 0) {
            (true, false) => Mark::Point,
            (false, true) => Mark::Comma,
            // A comma between cells leaves the point for decimals; a semicolon is there to free the comma.
            (false, false) | (true, true) => match marks.delimiter {
                b',' => Mark::Point,
                b';' => Mark::Comma,
                _ => Mark::Unsure,
            },
        }
    }
}

/// The delimiter that the first line names, where it does.
fn named_delimiter(text: &str) -> Option<u8> {
    let (name, rest) = text.as_bytes().split_at_checked(NAMED.len())?;
    rest.first().copied().filter(|d| name.eq_ignore_ascii_case(NAMED.as_bytes()) && matches!(d, b',' | b';' | b'\t'))
}

/// Whether a row does nothing but name the delimiter.
pub(super) fn is_delimiter_line(text: &str, start: usize, record: Record) -> bool {
    start == 0 && named_delimiter(text).is_some() && record.end == NAMED.len() + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, delimiter: char, newline: char) {
        let known = |names: &[&str]| names.iter().filter(|n| ["width", "length", "thread"].contains(n)).count();
        let marks = Dialect::marks_by(text, known);
        assert_eq!((marks.delimiter as char, marks.newline as char), (delimiter, newline), "{text:?}");
    }

    #[test]
    fn delimiter_and_line_ends_are_found() {
        check("width,length\n1,2\n", ',', '\n');
        check("width;length\r\n1,5;2,5\r\n", ';', '\n');
        check("width\tlength\n1,5\t2,5\n", '\t', '\n');
        check("width\n1\n", ',', '\n');
        check("width;length\r1;2\r", ';', '\r');
        check("sep=;\na,b;c\n", ';', '\n');
        check("SEP=\t\na,b;c\n", '\t', '\n');
        check("sep=\u{2c6}\n", ',', '\n');
        check("\u{2dc}\u{1}\u{2c6}", ',', '\n');
        // More commas than semicolons, but the semicolon makes the names known.
        check("thread;width;note, second, third, fourth\n", ';', '\n');
        // Delimiters inside quotes do not count.
        check("\"a;b;c\",x\n\"1;2;3\",4\n", ',', '\n');
        // Nothing known: the one under which the rows are alike.
        check("a;b\n1,5;2\n1;2\n", ';', '\n');
    }

    #[test]
    fn the_decimal_mark_follows_the_numbers() {
        let mark = |text: &str, delimiter| Dialect::decimal_mark(text, Marks { delimiter, newline: b'\n' }, 0, &[false, true]);
        assert_eq!(mark("1,x;3,5", b';'), Mark::Comma);
        assert_eq!(mark("x;3.5", b';'), Mark::Point);
        assert_eq!(mark("x;3", b';'), Mark::Comma);
        assert_eq!(mark("x\t3", b'\t'), Mark::Unsure);
        assert_eq!(mark("x\t3,5", b'\t'), Mark::Comma);
        assert_eq!(mark("x,\"3,5\"", b','), Mark::Comma);
        assert_eq!(mark("3.5,4", b','), Mark::Point);
        assert_eq!(mark("x;3,5\ny;3.5", b';'), Mark::Comma);
    }
}
