//! One cell to one number with its spread: `3`, `3,5`, `1.2 cm`, `3 ± 0.2`, `2.8 to 3.2`, `2.8..3.2 mm`.
//!
//! A number that can be read in two ways is refused with both readings named, never guessed at.

use super::fault::clipped;
use super::unit::Unit;
use serde::{Deserialize, Serialize};
use toile_model::Measured;
use toile_model::units::Quantity;

/// The mark before the decimals, as far as the file lets know.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Mark {
    /// `3.5`
    Point,
    /// `3,5`
    Comma,
    /// Nothing in the file tells: what could be thousands is refused either way.
    Unsure,
}

/// Why a cell was not understood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct CellFault {
    pub(super) message: String,
    pub(super) allowed: String,
}

impl CellFault {
    fn new(message: impl Into<String>, allowed: impl Into<String>) -> Self {
        Self { message: message.into(), allowed: allowed.into() }
    }
}

/// Reads a cell into a value with its spread, SI. `header` is the unit that the column's header names.
pub(super) fn measured(text: &str, mark: Mark, quantity: &Quantity, header: Unit) -> Result<Measured, CellFault> {
    let edge = in_own_unit(text, mark, quantity, header)?;
    Ok(edge.rescaled(quantity.offset, quantity.per_si))
}

/// Reads a number without a spread, SI. Its range is the model's to check, as for [`measured`].
pub(super) fn plain(text: &str, mark: Mark, quantity: &Quantity, header: Unit) -> Result<f64, CellFault> {
    let edge = in_own_unit(text, mark, quantity, header)?;
    if edge == Measured::exact(edge.value) {
        Ok(quantity.to_si(edge.value))
    } else {
        Err(CellFault::new(format!("The {} takes no spread.", quantity.name), format!("one number, {}", quantity.allowed())))
    }
}

/// Reads a whole number, such as a count of passes.
pub(super) fn count(text: &str, mark: Mark, quantity: &Quantity) -> Result<u32, CellFault> {
    let edge = in_own_unit(text, mark, quantity, Unit::own(quantity))?;
    let whole = edge.value.fract() == 0.0 && edge == Measured::exact(edge.value);
    if whole && (quantity.low..=quantity.high).contains(&edge.value) {
        // In range of the quantity, hence of the type.
        Ok(edge.value as u32)
    } else {
        Err(CellFault::new(format!("The {} is not a whole number in the allowed range.", quantity.name), quantity.allowed()))
    }
}

/// Whether the text is a signed number, alone or with a unit or a spread, which no spreadsheet takes for a formula.
pub(super) fn is_harmless_number(text: &str) -> bool {
    let finite = |number: &Number<'_>| number.read(Mark::Point).is_ok_and(f64::is_finite);
    let bare = |unit: &str| unit.trim().is_empty() || Unit::is_known_anywhere(unit);
    let Some((_, rest)) = Number::scan(text.trim()).filter(|(n, _)| finite(n)) else { return false };
    match find_separator(rest) {
        None => bare(rest),
        // A plain hyphen between two numbers is a subtraction to a spreadsheet.
        Some((_, separator)) if matches!(separator.text, "-" | "+-" | "+/-") => false,
        Some((at, separator)) => {
            let second = Number::scan(rest[at + separator.text.len()..].trim()).filter(|(n, _)| finite(n));
            bare(&rest[..at]) && second.is_some_and(|(_, unit)| bare(unit))
        }
    }
}

/// Which decimal mark the numbers of a cell speak for; `None` where they would read the same with either.
pub(super) fn evidence(text: &str) -> Option<Mark> {
    let (number, _) = Number::scan(text.trim())?;
    let other = |c: char| if c == ',' { Mark::Point } else { Mark::Comma };
    let same = |c: char| if c == ',' { Mark::Comma } else { Mark::Point };
    match number.marks() {
        Marks::None => None,
        Marks::One(_) if number.could_be_thousands() => None,
        Marks::One(c) | Marks::ThousandsThen(c) => Some(same(c)),
        Marks::Thousands(c) => Some(other(c)),
        Marks::Muddled => None,
    }
}

fn in_own_unit(text: &str, mark: Mark, quantity: &Quantity, header: Unit) -> Result<Measured, CellFault> {
    let (first, rest) = number(text, mark, quantity)?;
    let Some((at, separator)) = find_separator(rest) else {
        let unit = unit_or(quantity, rest, header)?;
        return Ok(Measured::exact(unit.to_own(first)));
    };
    let (first_unit, second) = (rest[..at].trim(), rest[at + separator.text.len()..].trim());
    let (second, second_unit) = number(second, mark, quantity)?;
    let second_unit = second_unit.trim();
    if separator.range {
        // A unit written once holds for both ends.
        let low = unit_or(quantity, if first_unit.is_empty() { second_unit } else { first_unit }, header)?;
        let high = unit_or(quantity, if second_unit.is_empty() { first_unit } else { second_unit }, header)?;
        return Ok(Measured::uniform(low.to_own(first), high.to_own(second)));
    }
    if second_unit == "%" && quantity.unit != "%" {
        let unit = unit_or(quantity, first_unit, header)?;
        return Ok(Measured::normal(unit.to_own(first), unit.width_to_own(first) * second / 100.0));
    }
    let value = unit_or(quantity, if first_unit.is_empty() { second_unit } else { first_unit }, header)?;
    let width = unit_or(quantity, if second_unit.is_empty() { first_unit } else { second_unit }, header)?;
    Ok(Measured::normal(value.to_own(first), width.width_to_own(second)))
}

fn unit_or(quantity: &Quantity, text: &str, header: Unit) -> Result<Unit, CellFault> {
    if text.trim().is_empty() {
        return Ok(header);
    }
    Unit::find(quantity, text).ok_or_else(|| {
        CellFault::new(
            format!("\"{}\" is not a unit for a {}.", clipped(text.trim()), quantity.name),
            format!("a number, alone or with one of: {}", Unit::known(quantity)),
        )
    })
}

fn number<'a>(text: &'a str, mark: Mark, quantity: &Quantity) -> Result<(f64, &'a str), CellFault> {
    let not_a_number = || {
        let why = match text.trim() {
            t if t.starts_with('=') => "This is a formula, not its value; let the spreadsheet work it out and save the file again.",
            t if t.starts_with('#') => "This is an error of the spreadsheet, not a number.",
            _ => "This is not a number.",
        };
        CellFault::new(why, format!("a number such as 3, 3 ± 0.2 or 2.8 to 3.2; {}", quantity.allowed()))
    };
    if is_date(text.trim()) {
        let why = "This is a date; spreadsheets make one of cells such as 3-4. Give the column the format of text or of numbers and type it again.";
        return Err(CellFault { message: why.into(), ..not_a_number() });
    }
    let (number, rest) = Number::scan(text.trim()).ok_or_else(not_a_number)?;
    let value = number.read(mark).map_err(|why| match why {
        Unread::Muddled => not_a_number(),
        Unread::Ambiguous { whole, broken } => {
            CellFault::new(format!("This could be {whole} or {broken}."), "a number without a mark between the thousands")
        }
    })?;
    if value.is_finite() { Ok((value, rest)) } else { Err(not_a_number()) }
}

/// Whether a text is a date as ISO 8601 writes it, alone or with a time.
fn is_date(text: &str) -> bool {
    let shape = |bytes: &[u8]| bytes.iter().enumerate().all(|(k, b)| if matches!(k, 4 | 7) { *b == b'-' } else { b.is_ascii_digit() });
    text.get(..10).is_some_and(|date| shape(date.as_bytes())) && matches!(text.as_bytes().get(10), None | Some(b'T'))
}

struct Separator {
    text: &'static str,
    range: bool,
}

/// What stands between two numbers, with its place in the text: the earliest one, the longest spelling first.
fn find_separator(rest: &str) -> Option<(usize, &'static Separator)> {
    const SEPARATORS: [Separator; 10] = [
        Separator { text: "±", range: false },
        Separator { text: "+/-", range: false },
        Separator { text: "+-", range: false },
        Separator { text: "...", range: true },
        Separator { text: "..", range: true },
        Separator { text: "…", range: true },
        Separator { text: "–", range: true },
        Separator { text: "—", range: true },
        Separator { text: "-", range: true },
        Separator { text: "to", range: true },
    ];
    // Most cells hold a number and nothing else.
    if rest.is_empty() {
        return None;
    }
    let lone_word = |at: usize| {
        let before = rest[..at].chars().next_back();
        let after = rest[at + 2..].chars().next();
        !before.is_some_and(char::is_alphabetic) && !after.is_some_and(char::is_alphabetic)
    };
    SEPARATORS
        .iter()
        .filter_map(|s| rest.match_indices(s.text).map(|(at, _)| at).find(|at| s.text != "to" || lone_word(*at)).map(|at| (at, s)))
        .min_by_key(|(at, s)| (*at, std::cmp::Reverse(s.text.len())))
}

/// Longer texts are no numbers; reading them as such would only cost time.
const LONGEST: usize = 200;

/// A number as written: sign, groups of digits, what stands between them, exponent.
struct Number<'a> {
    negative: bool,
    /// Digits of each group with the character before it; the first has none.
    groups: Vec<(char, &'a str)>,
    exponent: &'a str,
}

enum Marks {
    None,
    One(char),
    Thousands(char),
    ThousandsThen(char),
    Muddled,
}

enum Unread {
    Muddled,
    Ambiguous { whole: String, broken: String },
}

impl<'a> Number<'a> {
    /// The number at the start of the text, and what follows it.
    fn scan(text: &'a str) -> Option<(Self, &'a str)> {
        if text.len() > LONGEST {
            return None;
        }
        let (negative, unsigned) = match text.chars().next()? {
            '-' | '−' => (true, &text[text.chars().next()?.len_utf8()..]),
            '+' => (false, &text[1..]),
            _ => (false, text),
        };
        let digits_at = |t: &'a str| &t[..t.bytes().take_while(u8::is_ascii_digit).count()];
        let first = digits_at(unsigned);
        let mut groups = vec![('\0', first)];
        let mut rest = &unsigned[first.len()..];
        while let Some(mark) = rest.chars().next() {
            let after = &rest[mark.len_utf8()..];
            let digits = digits_at(after);
            let goes_on = match mark {
                '.' | ',' => !digits.is_empty(),
                // Spaces and apostrophes only part thousands, never decimals.
                ' ' | '\u{a0}' | '\u{2009}' | '\u{202f}' | '\'' | '’' => {
                    digits.len() == 3 && !first.is_empty() && first.len() <= 3 && groups[1..].iter().all(|(m, _)| *m == mark)
                }
                _ => false,
            };
            if !goes_on {
                break;
            }
            groups.push((mark, digits));
            rest = &after[digits.len()..];
        }
        if groups.iter().all(|(_, digits)| digits.is_empty()) {
            return None;
        }
        let mut exponent = "";
        if let Some(after) = rest.strip_prefix(['e', 'E']) {
            let sign = usize::from(after.starts_with(['+', '-']));
            let digits = digits_at(&after[sign..]);
            if !digits.is_empty() {
                exponent = &after[..sign + digits.len()];
                rest = &after[exponent.len()..];
            }
        }
        Some((Self { negative, groups, exponent }, rest))
    }

    /// What the marks between the groups can be, spaces and apostrophes set aside.
    fn marks(&self) -> Marks {
        let marks: Vec<char> = self.groups[1..].iter().map(|(m, _)| *m).filter(|m| matches!(m, '.' | ',')).collect();
        let thousands_up_to = |end: usize| {
            self.groups[0].1.len() <= 3 && !self.groups[0].1.is_empty() && self.groups[1..end].iter().all(|(_, d)| d.len() == 3)
        };
        match marks.as_slice() {
            [] => Marks::None,
            [one] => Marks::One(*one),
            [first, .., last] => {
                let head_alike = marks[..marks.len() - 1].iter().all(|m| m == first);
                if head_alike && first == last && thousands_up_to(self.groups.len()) {
                    Marks::Thousands(*first)
                } else if head_alike && first != last && thousands_up_to(self.groups.len() - 1) {
                    Marks::ThousandsThen(*last)
                } else {
                    Marks::Muddled
                }
            }
        }
    }

    /// One mark, and three digits after it: `1.250`, but not `0.250`, `1250.000` or `.250`.
    fn could_be_thousands(&self) -> bool {
        let first = self.groups[0].1;
        self.groups.len() == 2 && self.groups[1].1.len() == 3 && (1..=3).contains(&first.len()) && !first.starts_with('0')
    }

    fn read(&self, mark: Mark) -> Result<f64, Unread> {
        let broken = match self.marks() {
            Marks::Muddled => return Err(Unread::Muddled),
            Marks::None | Marks::Thousands(_) => false,
            Marks::One(c) => {
                let sure = (c == '.' && mark == Mark::Point) || (c == ',' && mark == Mark::Comma);
                if !sure && self.could_be_thousands() {
                    return Err(Unread::Ambiguous { whole: self.assemble(false), broken: self.assemble(true) });
                }
                true
            }
            Marks::ThousandsThen(_) => true,
        };
        self.assemble(broken).parse().map_err(|_| Unread::Muddled)
    }

    /// The number in plain spelling; `broken` where the last group holds decimals.
    fn assemble(&self, broken: bool) -> String {
        let mut plain = String::with_capacity(24);
        if self.negative {
            plain.push('-');
        }
        for (k, (_, digits)) in self.groups.iter().enumerate() {
            if broken && k + 1 == self.groups.len() {
                plain.push('.');
            }
            plain.push_str(digits);
        }
        if !self.exponent.is_empty() {
            plain.push('e');
            plain.push_str(self.exponent);
        }
        plain
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use toile_model::units;

    fn read(text: &str, mark: Mark) -> Result<Measured, CellFault> {
        in_own_unit(text, mark, &units::DIAMETER, Unit::own(&units::DIAMETER))
    }

    #[test]
    fn numbers_in_every_spelling() {
        for (text, mark, value) in [
            ("3", Mark::Point, 3.0),
            (" 3.5 ", Mark::Point, 3.5),
            ("3,5", Mark::Point, 3.5),
            ("3.5", Mark::Comma, 3.5),
            ("3,5", Mark::Unsure, 3.5),
            ("1.250", Mark::Point, 1.25),
            ("1,250", Mark::Comma, 1.25),
            ("0,125", Mark::Point, 0.125),
            ("0.125", Mark::Comma, 0.125),
            ("1,250.5", Mark::Comma, 1250.5),
            ("1.250,5", Mark::Point, 1250.5),
            ("1,250,000", Mark::Point, 1_250_000.0),
            ("1 250", Mark::Point, 1250.0),
            ("1\u{202f}250,5", Mark::Comma, 1250.5),
            ("1’250.5", Mark::Point, 1250.5),
            (".5", Mark::Point, 0.5),
            ("5.", Mark::Point, 5.0),
            ("+5", Mark::Point, 5.0),
            ("−5", Mark::Point, -5.0),
            ("1e-3", Mark::Point, 1e-3),
            ("1,5E2", Mark::Comma, 150.0),
            ("1.2 cm", Mark::Point, 12.0),
            ("1.2cm", Mark::Point, 12.0),
            ("1/", Mark::Point, f64::NAN),
            ("3\"", Mark::Point, 76.2),
            ("0.5 in.", Mark::Point, 12.7),
            ("24 mm", Mark::Point, 24.0),
        ] {
            let got = read(text, mark);
            if value.is_nan() {
                assert!(got.is_err(), "{text}: {got:?}");
            } else {
                assert_eq!(got, Ok(Measured::exact(value)), "{text}");
            }
        }
    }

    #[test]
    fn spreads_in_every_spelling() {
        let (normal, uniform) = (Measured::normal(3.0, 0.2), Measured::uniform(2.8, 3.2));
        for (text, spread) in [
            ("3 ± 0.2", normal),
            ("3±0.2 mm", normal),
            ("3 mm ± 200 um", normal),
            ("3 +- 0.2", normal),
            ("3 +/- 0,2", normal),
            ("3 mm +-0.2", normal),
            ("4 ± 10 %", Measured::normal(4.0, 0.4)),
            ("2.8 to 3.2", uniform),
            ("2.8 mm to 3.2 mm", uniform),
            ("2.8to3.2mm", uniform),
            ("2.8..3.2", uniform),
            ("2.8 .. 3.2 mm", uniform),
            ("2.8...3.2", uniform),
            ("2.8 – 3.2", uniform),
            ("2.8-3.2", uniform),
            ("2,8 to 3,2", uniform),
            ("1e-1 to 1e1", Measured::uniform(0.1, 10.0)),
            ("2..3", Measured::uniform(2.0, 3.0)),
        ] {
            assert_eq!(read(text, Mark::Point), Ok(spread), "{text}");
        }
        let cm = Unit::find(&units::DIAMETER, "cm").unwrap();
        let in_cm = |text| in_own_unit(text, Mark::Point, &units::DIAMETER, cm);
        assert_eq!(in_cm("3 ± 1"), Ok(Measured::normal(30.0, 10.0)));
        assert_eq!(in_cm("3 mm"), Ok(Measured::exact(3.0)));
    }

    #[test]
    fn what_is_no_number_is_refused_with_words() {
        for (text, mark, word) in [
            ("abc", Mark::Point, "not a number"),
            ("-", Mark::Point, "not a number"),
            ("n/a", Mark::Point, "not a number"),
            ("NaN", Mark::Point, "not a number"),
            ("inf", Mark::Point, "not a number"),
            ("1e999", Mark::Point, "not a number"),
            ("3 ±", Mark::Point, "not a number"),
            ("3 ± x", Mark::Point, "not a number"),
            ("1.2.3", Mark::Point, "not a number"),
            ("1,2.3,4", Mark::Point, "not a number"),
            ("3 pF", Mark::Point, "not a unit"),
            ("3 4", Mark::Point, "not a unit"),
            ("=3", Mark::Point, "a formula, not its value"),
            ("1,250", Mark::Point, "could be 1250 or 1.250"),
            ("1.250", Mark::Comma, "could be 1250 or 1.250"),
            ("1.250", Mark::Unsure, "could be 1250 or 1.250"),
            ("1,250", Mark::Unsure, "could be 1250 or 1.250"),
        ] {
            let fault = read(text, mark).unwrap_err();
            assert!(fault.message.contains(word), "{text}: {fault:?}");
            assert!(!fault.allowed.is_empty(), "{text}");
        }
    }

    #[test]
    fn counts_are_whole_and_in_range() {
        let passes = |text| count(text, Mark::Point, &units::PASSES);
        assert_eq!((passes("2"), passes("2.0"), passes("2,0")), (Ok(2), Ok(2), Ok(2)));
        for text in ["0", "-1", "1.5", "51", "2 ± 1", "1 to 3", "two", "2 mm", "1e20"] {
            assert!(passes(text).is_err(), "{text}");
        }
    }

    #[test]
    fn evidence_for_a_decimal_mark() {
        for (text, expected) in [
            ("3", None),
            ("3.5", Some(Mark::Point)),
            ("3,5", Some(Mark::Comma)),
            ("1,250", None),
            ("1.250", None),
            ("0,250", Some(Mark::Comma)),
            ("1.250,5", Some(Mark::Comma)),
            ("1,250,000", Some(Mark::Point)),
            ("wool", None),
        ] {
            assert_eq!(evidence(text), expected, "{text}");
        }
    }

    #[test]
    fn signed_numbers_are_told_from_formulas() {
        for text in ["-3", "+3.5", "-3,5", "-1e-3", "+12%", " -4 ", "-5 °C", "-5 to 20", "-5 ± 2 K"] {
            assert!(is_harmless_number(text), "{text}");
        }
        for text in ["-3+cmd", "=3", "@x", "-", "+", "-A1", "--3", "-3-4", "-3+-4", "-3 to A1", "-1 x"] {
            assert!(!is_harmless_number(text), "{text}");
        }
    }
}
