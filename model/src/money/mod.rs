//! Money: exact decimals, rounded to what a currency can be paid in.
//!
//! Amounts are [`Decimal`]s in the main unit of a currency (euro, not cent). A product of a quantity and a rate is exact
//! until [`Currency::rounded`] takes it to the minor unit, half a unit away from zero, as trade rounds. Nothing here
//! passes through binary fractions: [`decimal`] takes a number as it was typed.
//!
//! Example: 2.5 h at 37.99 EUR are 94.975, rounded 94.98; in JPY 95; in KWD 94.975.

mod currency;

use std::str::FromStr;

pub(crate) use currency::EURO;
pub use currency::{CURRENCIES, Currency};
pub use rust_decimal::Decimal;

/// The decimal that reads as this number does: 0.1 is one tenth, not the binary fraction nearest to it.
///
/// `None` for what is not finite or beyond 28 digits. The shortest decimal that a number can be read back from is what
/// was typed, for up to 15 digits.
///
/// ```
/// use toile_model::money::{Decimal, decimal};
/// assert_eq!(decimal(0.1), Some(Decimal::new(1, 1)));
/// assert_eq!(decimal(f64::NAN), None);
/// ```
pub fn decimal(number: f64) -> Option<Decimal> {
    // A whole number needs no text; most rates are none.
    if number.is_finite() { Decimal::from_str(&number.to_string()).ok() } else { None }
}

/// A measured amount as a decimal of `digits` places, half a unit away from zero.
///
/// `None` for what is not finite or beyond 28 digits.
pub fn decimal_to(number: f64, digits: u32) -> Option<Decimal> {
    let scaled = (number * 10f64.powi(digits as i32)).round();
    // A decimal refuses what is more than it holds; what is not finite would be cut to the largest whole number.
    if scaled.is_finite() { Decimal::try_from_i128_with_scale(scaled as i128, digits).ok() } else { None }
}

/// The nearest binary fraction to an amount, for what need not be exact: spreads and ranges.
pub fn nearly(amount: Decimal) -> f64 {
    // Mantissa and scale of a decimal are whole numbers; both conversions round once.
    amount.mantissa() as f64 / 10f64.powi(amount.scale() as i32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_come_over_as_they_were_typed() {
        for text in ["0.1", "37.99", "0.0045", "123456789.25", "-2.5", "0", "1e-7", "100000"] {
            let number: f64 = text.parse().expect("a number");
            let expected = if text == "1e-7" { Decimal::new(1, 7) } else { Decimal::from_str(text).expect("a decimal") };
            assert_eq!(decimal(number), Some(expected), "{text}");
            assert_eq!(nearly(expected), number, "{text}");
        }
        for bad in [f64::NAN, f64::INFINITY, 1e40] {
            assert_eq!(decimal(bad), None);
            assert_eq!(decimal_to(bad, 4), None);
        }
    }

    #[test]
    fn halves_go_away_from_zero() {
        let euro = Currency::of("EUR").expect("a currency");
        let round = |text: &str| euro.rounded(Decimal::from_str(text).expect("a decimal")).to_string();
        for (amount, rounded) in
            [("94.975", "94.98"), ("-94.975", "-94.98"), ("94.9749", "94.97"), ("94.985", "94.99"), ("7", "7.00"), ("0", "0.00")]
        {
            assert_eq!(round(amount), rounded, "{amount}");
        }
        assert_eq!(decimal_to(2.00005, 4).map(|d| d.to_string()).as_deref(), Some("2.0001"));
    }
}
