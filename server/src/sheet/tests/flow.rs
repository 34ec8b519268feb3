//! Rows stream: in order, in bounded memory, with word of progress.

use super::*;
use proptest::prelude::*;
use std::cell::Cell;
use std::rc::Rc;
use toile_model::estimate;

/// A sheet of any number of rows that exists only while it is read.
struct Generated {
    rows: usize,
    next: usize,
    line: Vec<u8>,
    read: Rc<Cell<usize>>,
}

impl Generated {
    fn line(k: usize) -> String {
        format!("pad {k},wool-felt,3,wool-felt,{},0.8,silver-polyamide-40-tex,{},2,patient-input\n", 10 + k % 7, 100 + k % 3)
    }
}

impl Read for Generated {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        while self.line.is_empty() && self.next < self.rows {
            self.line = if self.next == 0 { format!("{}\n", COLUMNS_USED.join(",")) } else { Self::line(self.next) }.into_bytes();
            self.next += 1;
        }
        let n = self.line.len().min(buffer.len());
        buffer[..n].copy_from_slice(&self.line[..n]);
        self.line.drain(..n);
        self.read.set(self.read.get() + n);
        Ok(n)
    }
}

/// Notes how far reading is ahead of writing, in rows' worth of bytes, and that rows come in order.
struct Watched {
    read: Rc<Cell<usize>>,
    rows: usize,
    owners_bytes: usize,
    furthest_ahead: usize,
    line: Vec<u8>,
}

impl Write for Watched {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.furthest_ahead = self.furthest_ahead.max(self.read.get() - self.owners_bytes);
        for line in bytes.split_inclusive(|b| *b == b'\n') {
            self.line.extend_from_slice(line);
            if line.ends_with(b"\n") {
                if self.rows > 0 {
                    let expected = Generated::line(self.rows);
                    assert!(self.line.starts_with(expected.trim_end().as_bytes()), "row {} came out of order", self.rows);
                    self.owners_bytes += expected.len();
                }
                self.rows += 1;
                self.line.clear();
            }
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[test]
fn two_hundred_thousand_rows_pass_in_order_and_in_bounded_memory() {
    const ROWS: usize = 200_000;
    let read = Rc::new(Cell::new(0));
    let input = Generated { rows: ROWS + 1, next: 0, line: Vec::new(), read: read.clone() };
    let mut output = Watched { read: read.clone(), rows: 0, owners_bytes: 0, furthest_ahead: 0, line: Vec::new() };
    let mut told = Vec::new();
    let summary = answer_csv(input, &mut output, &LIBRARY, &limits(), |done| told.push(done)).unwrap();
    assert_eq!((summary.rows, summary.problems, output.rows), (ROWS as u64, 0, ROWS + 1));
    // What has been read and not written is the look-ahead, the stretches under way, and the one being cut, each
    // with at most a stretch's remainder; the sheet itself is sixty times that.
    let bound = encoding::LOOK_AHEAD + (limits().workers * pipeline::UNDER_WAY + 2) * pipeline::STRETCH;
    assert!(output.furthest_ahead <= bound, "{} of {bound}", output.furthest_ahead);
    assert!(read.get() > 10 * bound);
    assert!(told.windows(2).all(|w| w[0] < w[1]) && told.len() > 100, "progress is told on the way");
    assert_eq!(told.last(), Some(&(ROWS as u64)));
}

#[test]
fn threads_and_memory_do_not_change_a_byte() {
    let mut text = COLUMNS_USED.join(",") + "\n";
    for k in 0..3000 {
        text += &Generated::line(k);
        if k % 100 == 0 {
            text += "bad,row\n\n";
        }
    }
    let with = |workers| {
        let mut out = Vec::new();
        answer_csv(text.as_bytes(), &mut out, &LIBRARY, &Limits { workers, ..Limits::default() }, |_| {}).unwrap();
        String::from_utf8(out).unwrap()
    };
    let one = with(1);
    assert_eq!(with(2), one);
    assert_eq!(with(5), one);
    assert_eq!(with(0), one, "no worker is one worker");

    // A remembered row is the same as one worked out by itself.
    let header = Header::read(&COLUMNS_USED).unwrap();
    let table = Table::of(&one, b',');
    for row in table.rows.iter().filter(|r| r.len() == 18 && r[0].starts_with("pad ")).skip(2900).take(30) {
        let cells: Vec<&str> = row[..10].iter().map(String::as_str).collect();
        let piece = row_to_piece(&header, &cells, Mark::Point, &LIBRARY).unwrap();
        let estimate = estimate(&piece, &LIBRARY).unwrap();
        assert_eq!((row[10].as_str(), row[16].as_str()), (estimate.verdict.word(), estimate.checks[estimate.weakest].sentence().as_str()));
    }
}

#[test]
fn a_sheet_of_a_header_alone_is_answered_by_a_header() {
    let head = COLUMNS_USED.join(",");
    for end in ["", "\n", "\r\n"] {
        let (out, summary) = answered(format!("{head}{end}"));
        assert_eq!((out, summary.rows), (format!("{head},{}{end}", RESULT_COLUMNS.join(",")), 0));
    }
}

#[test]
fn rows_longer_than_a_stretch_pass() {
    let mut header: Vec<&str> = COLUMNS_USED.to_vec();
    header.extend(["a", "b", "c"]);
    let long = "line\n\"quoted\"\n".repeat(4000);
    let mut row: Vec<&str> = GOOD_ROW.to_vec();
    row.extend([long.as_str(); 3]);
    let short: Vec<&str> = [&GOOD_ROW[..], &["", "", ""]].concat();
    let (out, summary) = answered(sheet(&header, &[&short, &row, &short, &row, &row]));
    let table = Table::of(&out, b',');
    assert_eq!((summary.rows, summary.problems, table.rows.len()), (5, 0, 5));
    assert_eq!(table.cell(4, "c"), long);
    assert_eq!(table.results(4), table.results(0));
}

/// Cells as nobody should write them.
fn odd_cell() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => "[-+=@0-9.,±% ]{0,8}",
        2 => "(2[0-9]|0\\.8|180)( ?(mm|cm|in|m|ohm))?( ?(±|to|\\.\\.|-) ?[0-9.,]{1,4})?",
        2 => "[\"';,\t\r\n a-zØµ]{0,8}",
        1 => Just("wool-felt".to_owned()),
        1 => Just("steel-90-tex".to_owned()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

    /// Whatever the cells hold, each row comes back with its own cells and either a verdict or a problem.
    #[test]
    fn any_cells_come_back_with_an_answer(changes in proptest::collection::vec((0..COLUMNS_USED.len(), odd_cell()), 1..6)) {
        let mut row: Vec<&str> = GOOD_ROW.to_vec();
        for (k, cell) in &changes {
            row[*k] = cell;
        }
        let (out, summary) = answered(sheet(&COLUMNS_USED, &[&GOOD_ROW, &row, &GOOD_ROW]));
        let table = Table::of(&out, b',');
        prop_assert_eq!(table.rows.len(), 3);
        for (given, back) in row.iter().zip(&table.rows[1]) {
            prop_assert!(back == given || back.strip_prefix('\'') == Some(given), "{:?} came back as {:?}", given, back);
        }
        let cells = table.results(1);
        prop_assert!(cells[0].is_empty() != cells[PROBLEM].is_empty());
        prop_assert!(!cells[PROBLEM].contains("fault of ours"));
        prop_assert_eq!(summary.problems, u64::from(cells[0].is_empty()));
        prop_assert_eq!(table.results(2), table.results(0));
    }

    /// Whatever the bytes, the sheet is answered or refused with words.
    #[test]
    fn any_bytes_are_answered_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..300), header in any::<bool>(), workers in 1..3_usize) {
        let head = if header { COLUMNS_USED.join(",") + "\n" } else { String::new() };
        let input = [head.as_bytes(), &bytes].concat();
        match answer_csv(&input[..], Vec::new(), &LIBRARY, &Limits { workers, ..Limits::default() }, |_| {}) {
            Ok(summary) => prop_assert_eq!(summary.rows, summary.problems),
            Err(fault) => prop_assert!(fault.kind() != "internal" && !fault.to_string().is_empty()),
        }
    }
}
