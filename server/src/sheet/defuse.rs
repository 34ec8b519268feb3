//! Cells that a spreadsheet would run as a formula are turned into text by an apostrophe in front.
//!
//! A sheet comes from customers and goes to somebody's spreadsheet program, where `=HYPERLINK(...)` in a cell of text
//! runs on opening. Numbers with a sign stay as they are, and so does a lone dash, which says "nothing" in many sheets.

use super::cell;
use std::borrow::Cow;

/// Whether a cell that begins with this byte needs a closer look; true for every start that is not harmless.
pub(super) const fn may_start_formula(byte: u8) -> bool {
    // 0xef begins the full-width forms, which some spreadsheets read as the plain signs.
    matches!(byte, b'=' | b'+' | b'-' | b'@' | b'\t' | b'\r' | b'\n' | 0xef)
}

/// Whether a spreadsheet would run this cell as a formula.
pub(super) fn is_formula(value: &str) -> bool {
    let starts = value.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']);
    starts && value != "-" && !(value.starts_with(['+', '-']) && cell::is_harmless_number(value))
}

/// The cell as text that is not run.
pub(super) fn defused(value: &str) -> Cow<'_, str> {
    if is_formula(value) { Cow::Owned(format!("'{value}")) } else { Cow::Borrowed(value) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_defused_and_numbers_left_alone() {
        for value in ["=1+1", "=HYPERLINK(\"x\")", "+A1", "-A1", "@SUM(A1)", "\t=1", "\r=1", "＝1+1", "-2+3+x", "--1", "=-3", "=", "+"] {
            assert_eq!(defused(value), format!("'{value}"), "{value}");
            assert!(may_start_formula(value.as_bytes()[0]), "{value}");
        }
        for value in ["", "-", "-3", "+3,5", "-5 °C", "-5 to 20", "wool", "3-4", "a=b", "'=1", " x"] {
            assert_eq!(defused(value), value, "{value}");
        }
    }
}
