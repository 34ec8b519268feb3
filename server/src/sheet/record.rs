//! Where rows and cells begin and end, without copying them.
//!
//! The sheet goes back with its own cells untouched, so what is needed is their place in the text, quotes and line
//! ends included. A CSV reader that hands out unquoted copies cannot tell that, and it skips blank lines, which a
//! spreadsheet counts. Quoting follows RFC 4180; a quote inside a cell that does not begin with one is a character
//! like any other, so that `3"` stays three inches.

use memchr::{memchr, memchr2, memrchr};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// A cell's place in the text, quotes included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Cell {
    pub(super) start: usize,
    pub(super) end: usize,
}

impl Cell {
    /// The cell as it stands in the text.
    pub(super) fn raw(self, text: &str) -> &str {
        &text[self.start..self.end]
    }

    /// Whether the cell opens with a quote that nothing closes.
    pub(super) fn is_open(self, text: &str) -> bool {
        let raw = self.raw(text).as_bytes();
        raw.first() == Some(&b'"') && closing_quote(raw, 1).is_none()
    }

    /// What the cell says, quotes taken off.
    pub(super) fn value(self, text: &str) -> Cow<'_, str> {
        let raw = self.raw(text);
        let Some(inside) = raw.strip_prefix('"') else { return Cow::Borrowed(raw) };
        match memchr(b'"', inside.as_bytes()) {
            None => Cow::Borrowed(inside),
            Some(close) if close + 1 == inside.len() => Cow::Borrowed(&inside[..close]),
            Some(_) => Cow::Owned(unquoted(inside)),
        }
    }
}

/// What follows the opening quote: doubled quotes are one, and what follows the closing quote belongs to the cell.
fn unquoted(inside: &str) -> String {
    let mut value = String::with_capacity(inside.len());
    let mut rest = inside;
    while let Some(quote) = memchr(b'"', rest.as_bytes()) {
        value.push_str(&rest[..quote]);
        rest = &rest[quote + 1..];
        let Some(after) = rest.strip_prefix('"') else {
            break;
        };
        value.push('"');
        rest = after;
    }
    value.push_str(rest);
    value
}

/// The characters that part cells and rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Marks {
    /// Between cells.
    pub(super) delimiter: u8,
    /// Last character of a line end: LF, or CR for files that have no LF.
    pub(super) newline: u8,
}

/// Where a row ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Record {
    /// End of the last cell.
    pub(super) end: usize,
    /// Start of the next row; from `end` to here stands the line end.
    pub(super) next: usize,
}

impl Marks {
    /// Finds the cells of the row that begins at `start`, which must lie within the text.
    pub(super) fn record(self, text: &str, start: usize, cells: &mut Vec<Cell>) -> Record {
        cells.clear();
        let bytes = text.as_bytes();
        let mut at = start;
        loop {
            let cell = at;
            if bytes.get(at) == Some(&b'"') {
                at = after_closing_quote(bytes, at + 1);
            }
            at += bytes[at..].iter().position(|b| *b == self.delimiter || *b == self.newline).unwrap_or(bytes.len() - at);
            if bytes.get(at) == Some(&self.delimiter) {
                cells.push(Cell { start: cell, end: at });
                at += 1;
                continue;
            }
            let carriage_return = at < bytes.len() && self.newline == b'\n' && at > cell && bytes[at - 1] == b'\r';
            let end = at - usize::from(carriage_return);
            cells.push(Cell { start: cell, end });
            return Record { end, next: (at + 1).min(bytes.len()) };
        }
    }

    /// End of the last whole row of a text that begins with a row; `None` where not even one is whole.
    pub(super) fn last_boundary(self, text: &str) -> Option<usize> {
        let bytes = text.as_bytes();
        let (mut at, mut last) = (0, None);
        loop {
            let open = self.opening_quote(bytes, at);
            if let Some(newline) = memrchr(self.newline, &bytes[at..open.unwrap_or(bytes.len())]) {
                last = Some(at + newline + 1);
            }
            let Some(open) = open else { return last };
            at = after_closing_quote(bytes, open + 1);
        }
    }

    fn opening_quote(self, bytes: &[u8], from: usize) -> Option<usize> {
        let mut at = from;
        loop {
            let quote = at + memchr(b'"', &bytes[at..])?;
            if quote == 0 || bytes[quote - 1] == self.delimiter || bytes[quote - 1] == self.newline {
                return Some(quote);
            }
            at = quote + 1;
        }
    }

    /// Whether a new cell with this value must stand in quotes.
    pub(super) fn needs_quotes(self, value: &str) -> bool {
        let bytes = value.as_bytes();
        bytes.contains(&self.delimiter)
            || memchr2(b'\n', b'\r', bytes).is_some()
            || bytes.contains(&b'"')
            || value.starts_with(char::is_whitespace)
            || value.ends_with(char::is_whitespace)
    }

    /// Writes a new cell, in quotes where needed.
    pub(super) fn write(self, value: &str, out: &mut Vec<u8>) {
        if !self.needs_quotes(value) {
            out.extend_from_slice(value.as_bytes());
            return;
        }
        out.push(b'"');
        for (k, part) in value.split('"').enumerate() {
            if k > 0 {
                out.extend_from_slice(b"\"\"");
            }
            out.extend_from_slice(part.as_bytes());
        }
        out.push(b'"');
    }
}

/// The closing quote of a cell whose inside begins at `at`.
fn closing_quote(bytes: &[u8], mut at: usize) -> Option<usize> {
    loop {
        at += memchr(b'"', &bytes[at..])?;
        if bytes.get(at + 1) != Some(&b'"') {
            return Some(at);
        }
        at += 2;
    }
}

fn after_closing_quote(bytes: &[u8], inside: usize) -> usize {
    closing_quote(bytes, inside).map_or(bytes.len(), |quote| quote + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const COMMA: Marks = Marks { delimiter: b',', newline: b'\n' };

    fn rows(text: &str) -> Vec<Vec<String>> {
        let (mut at, mut cells, mut rows) = (0, Vec::new(), Vec::new());
        while at < text.len() {
            let record = COMMA.record(text, at, &mut cells);
            rows.push(cells.iter().map(|c| c.value(text).into_owned()).collect());
            at = record.next;
        }
        rows
    }

    #[test]
    fn cells_keep_their_place() {
        let text = "a, \"b\",\"c\"\"d\"\r\n,\n\"x\ny\",3\"";
        assert_eq!(rows(text), [vec!["a", " \"b\"", "c\"d"], vec!["", ""], vec!["x\ny", "3\""]]);
        let mut cells = Vec::new();
        let first = COMMA.record(text, 0, &mut cells);
        assert_eq!((&text[..first.end], &text[first.end..first.next]), ("a, \"b\",\"c\"\"d\"", "\r\n"));
        assert_eq!(cells[2].raw(text), "\"c\"\"d\"");
    }

    #[test]
    fn blank_lines_and_open_quotes_are_rows_too() {
        assert_eq!(rows("a\n\nb"), [vec!["a"], vec![""], vec!["b"]]);
        assert_eq!(rows("a,\"b\nc"), [vec!["a", "b\nc"]]);
        for (text, open) in [("\"c\n\"\"d", true), ("\"c\"", false), ("\"", true), ("c", false), ("\"\"", false)] {
            assert_eq!(Cell { start: 0, end: text.len() }.is_open(text), open, "{text}");
        }
    }

    #[test]
    fn the_last_boundary_lies_outside_quotes() {
        assert_eq!(COMMA.last_boundary("a,b\nc,\"d\ne"), Some(4));
        assert_eq!(COMMA.last_boundary("a,b\nc,\"d\ne\"\nf"), Some(12));
        assert_eq!(COMMA.last_boundary("3\",b\nc"), Some(5));
        assert_eq!(COMMA.last_boundary("\"a\n"), None);
    }

    proptest! {
        /// The csv crate reads the same cells; it leaves out blank lines, and so does this comparison.
        #[test]
        fn agrees_with_the_csv_crate(text in "[ab,\"\n]{0,60}") {
            let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
            let theirs: Vec<Vec<String>> = reader.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect();
            let mut ours = Vec::new();
            let (mut at, mut cells) = (0, Vec::new());
            while at < text.len() {
                let record = COMMA.record(&text, at, &mut cells);
                if record.end > at {
                    ours.push(cells.iter().map(|c| c.value(&text).into_owned()).collect::<Vec<_>>());
                }
                at = record.next;
            }
            prop_assert_eq!(ours, theirs);
        }

        #[test]
        fn a_boundary_is_the_start_of_a_row(text in "[ab,\"\n]{0,60}") {
            let mut starts = vec![];
            let (mut at, mut cells) = (0, Vec::new());
            while at < text.len() {
                let record = COMMA.record(&text, at, &mut cells);
                if record.next > record.end {
                    starts.push(record.next);
                }
                at = record.next;
            }
            prop_assert_eq!(COMMA.last_boundary(&text), starts.last().copied());
        }

        #[test]
        fn a_written_cell_reads_back(value in "[ab,;\"\n\r ]{0,12}") {
            let mut out = Vec::new();
            COMMA.write(&value, &mut out);
            out.extend_from_slice(b",end\n");
            let text = String::from_utf8(out).unwrap();
            prop_assert_eq!(&rows(&text)[0][0], &value);
        }
    }
}
