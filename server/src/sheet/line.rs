//! One line of a table of our own making.

use super::defuse::defused;

/// A line of CSV: commas, quotes where they are needed, cells that a spreadsheet would run as formulas defused.
pub fn csv_line<'a>(cells: impl IntoIterator<Item = &'a str>) -> Vec<u8> {
    let mut line = Vec::new();
    for (k, cell) in cells.into_iter().enumerate() {
        if k > 0 {
            line.push(b',');
        }
        let cell = defused(cell);
        if cell.contains([',', '"', '\n', '\r']) {
            line.push(b'"');
            line.extend(cell.replace('"', "\"\"").bytes());
            line.push(b'"');
        } else {
            line.extend(cell.bytes());
        }
    }
    line.extend(b"\r\n");
    line
}

#[cfg(test)]
mod tests {
    use super::csv_line;

    #[test]
    fn a_reader_of_csv_gets_back_what_went_in_except_formulas() {
        let cells = ["", "plain", "a,b", "say \"so\"", "two\nlines", "=1+1", "-3.50", "@x", " ", "Ärmel"];
        let line = csv_line(cells);
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(line.as_slice());
        let read = reader.records().next().expect("a line").expect("CSV");
        let expected = ["", "plain", "a,b", "say \"so\"", "two\nlines", "'=1+1", "-3.50", "'@x", " ", "Ärmel"];
        assert_eq!(read.iter().collect::<Vec<_>>(), expected);
        assert!(reader.records().next().is_none());
    }
}
