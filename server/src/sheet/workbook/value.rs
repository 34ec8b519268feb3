//! A cell of a workbook as text in a sheet of commas, and back.
//!
//! A workbook knows numbers from texts, and its text form keeps them apart by quotes: what stands in quotes is a text,
//! what stands bare is a number, a truth or a moment. So an order number that is a text comes back as one.

use super::super::record::Marks;
use rust_xlsxwriter::ExcelDateTime;
use std::io::Write as _;

/// How the text form of a workbook parts rows and cells.
pub(super) const MARKS: Marks = Marks { delimiter: b',', newline: b'\n' };

/// What a cell holds.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) enum Value {
    #[default]
    Empty,
    Number(f64),
    Text(String),
    Truth(bool),
    /// A date, a time or both, as in ISO 8601.
    Moment(String),
}

impl Value {
    /// Writes the cell in its text form.
    pub(super) fn write(&self, out: &mut Vec<u8>) {
        match self {
            Self::Empty => {}
            // A number is written with all its digits and never with an exponent.
            Self::Number(number) if number.is_finite() => drop(write!(out, "{number}")),
            Self::Number(_) => out.extend_from_slice(b"\"#NUM!\""),
            Self::Truth(true) => out.extend_from_slice(b"TRUE"),
            Self::Truth(false) => out.extend_from_slice(b"FALSE"),
            Self::Moment(moment) => out.extend_from_slice(moment.as_bytes()),
            Self::Text(text) => {
                out.push(b'"');
                out.extend_from_slice(text.replace('"', "\"\"").as_bytes());
                out.push(b'"');
            }
        }
    }

    /// What a bare cell of a text form holds.
    pub(super) fn of_bare(text: &str) -> Self {
        match text {
            "" => Self::Empty,
            "TRUE" => Self::Truth(true),
            "FALSE" => Self::Truth(false),
            _ if is_moment(text) => Self::Moment(text.into()),
            _ => match text.parse() {
                Ok(number) if f64::is_finite(number) && text.starts_with(|c: char| c.is_ascii_digit() || c == '-') => Self::Number(number),
                _ => Self::Text(text.into()),
            },
        }
    }

    /// What a cell of a CSV file holds: a number only where nothing of what is written would be lost, so that order
    /// numbers with leading zeros stay texts.
    pub(super) fn of_csv(text: &str, comma: bool) -> Self {
        let mark = if comma { ',' } else { '.' };
        let unsigned = text.strip_prefix('-').unwrap_or(text);
        let (whole, decimals) = unsigned.split_once(mark).unwrap_or((unsigned, "0"));
        let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
        let plain = digits(whole) && digits(decimals) && (whole == "0" || !whole.starts_with('0')) && unsigned.len() <= 16;
        match text.replace(mark, ".").parse() {
            Ok(number) if plain => Self::Number(number),
            _ if text.is_empty() => Self::Empty,
            _ => Self::Text(text.into()),
        }
    }
}

/// Whether a text is a date, a time or both in the form of ISO 8601 that [`moment`] writes.
pub(super) fn is_moment(text: &str) -> bool {
    let shape: String = text.chars().map(|c| if c.is_ascii_digit() { '9' } else { c }).collect();
    matches!(shape.as_str(), "9999-99-99" | "9999-99-99T99:99:99" | "99:99:99")
}

/// A moment as a workbook counts it: days since the end of 1899, or since 1904. `None` out of its range.
pub(super) fn moment(days: f64, from_1904: bool) -> Option<String> {
    let days = if from_1904 { days + 1462.0 } else { days };
    if !(0.0..2_958_466.0).contains(&days) {
        return None;
    }
    let seconds = (days * 86_400.0).round();
    let (mut day, second) = ((seconds / 86_400.0).floor() as i64, (seconds % 86_400.0) as u32);
    let time = format!("{:02}:{:02}:{:02}", second / 3600, second / 60 % 60, second % 60);
    if day == 0 {
        return Some(time);
    }
    // Workbooks count a 29 February 1900 that never was; the days before it are a day later than counted back.
    if day < 60 {
        day += 1;
    }
    let date = civil(day - 25_569);
    Some(if second == 0 { date } else { format!("{date}T{time}") })
}

/// The date of a day counted from 1 January 1970: 400 years are 146,097 days, and a year that begins in March has its
/// leap day last.
fn civil(day: i64) -> String {
    let day = day + 719_468;
    let era = day.div_euclid(146_097);
    let of_era = day.rem_euclid(146_097);
    let year = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let month = (5 * of_year + 2) / 153;
    let date = of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    format!("{:04}-{month:02}-{date:02}", year + era * 400 + i64::from(month <= 2))
}

/// A moment as a workbook writes it.
pub(super) fn written_moment(text: &str) -> Option<ExcelDateTime> {
    ExcelDateTime::parse_from_str(text).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Serial numbers from the worksheet's own functions DATE and TIME (ECMA-376, part 1, 18.17.4.1 gives 1900-01-01
    /// as 1, and 1904-01-01 as 0 of the other system).
    #[test]
    fn moments_are_counted_as_workbooks_count_them() {
        for (days, from_1904, expected) in [
            (1.0, false, "1900-01-01"),
            (59.0, false, "1900-02-28"),
            (61.0, false, "1900-03-01"),
            (25_569.0, false, "1970-01-01"),
            (36_585.0, false, "2000-02-29"),
            (45_657.0, false, "2024-12-31"),
            (45_658.5, false, "2025-01-01T12:00:00"),
            (0.75, false, "18:00:00"),
            (2_958_465.0, false, "9999-12-31"),
            (1.0, true, "1904-01-02"),
        ] {
            assert_eq!(moment(days, from_1904).as_deref(), Some(expected), "{days}");
            assert!(is_moment(expected));
        }
        assert_eq!(moment(-1.0, false), None);
        assert_eq!(moment(f64::NAN, false), None);
        assert_eq!(moment(3e6, false), None);
    }

    #[test]
    fn cells_keep_their_kind_through_the_text_form() {
        for value in [
            Value::Empty,
            Value::Number(24.0),
            Value::Number(-0.1),
            Value::Number(1e-9),
            Value::Number(1e21),
            Value::Truth(true),
            Value::Moment("2026-03-05".into()),
            Value::Moment("2026-03-05T14:30:00".into()),
        ] {
            let mut out = Vec::new();
            value.write(&mut out);
            assert_eq!(Value::of_bare(std::str::from_utf8(&out).unwrap()), value);
        }
        let mut out = Vec::new();
        Value::Text("3\" wide, 0012".into()).write(&mut out);
        assert_eq!(out, b"\"3\"\" wide, 0012\"");
        for text in ["tight", "NaN", "inf", "2026-3-5", "wool-felt"] {
            assert_eq!(Value::of_bare(text), Value::Text(text.into()));
        }
    }

    #[test]
    fn a_csv_cell_is_a_number_only_if_nothing_is_lost() {
        for (text, comma, number) in
            [("24", false, 24.0), ("12.50", false, 12.5), ("-0,5", true, -0.5), ("0", false, 0.0), ("1000", true, 1000.0)]
        {
            assert_eq!(Value::of_csv(text, comma), Value::Number(number), "{text}");
        }
        for (text, comma) in
            [("0012", false), ("1,5", false), ("1.5", true), ("12345678901234567", false), ("1e5", false), ("5.", false), ("-", false)]
        {
            assert_eq!(Value::of_csv(text, comma), Value::Text(text.into()), "{text}");
        }
    }
}
