//! Times and dates in words. All are in UTC.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::store::now_ms;

/// A time after RFC 3339, of milliseconds since 1970.
pub fn time_text(ms: i64) -> String {
    Timestamp::from_millisecond(ms).unwrap_or_default().to_string()
}

/// The date of a time.
pub fn date_of(ms: i64) -> Date {
    TimeZone::UTC.to_datetime(Timestamp::from_millisecond(ms).unwrap_or_default()).date()
}

/// The date now.
pub fn today() -> Date {
    date_of(now_ms())
}

/// A date, year first: `2026-12-31`.
pub fn date_from(text: &str) -> Option<Date> {
    // The parser takes other forms of ISO 8601 too, and times after the date.
    text.parse().ok().filter(|date: &Date| date.to_string() == text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_and_dates_read_as_the_standards_say() {
        // 1 000 000 000 s is a well-known time: 2001-09-09 01:46:40 UTC.
        assert_eq!(time_text(1_000_000_000_123), "2001-09-09T01:46:40.123Z");
        assert_eq!(date_of(1_000_000_000_123).to_string(), "2001-09-09");
        for text in ["2026-12-31", "2028-02-29"] {
            assert_eq!(date_from(text).expect("a date").to_string(), text);
        }
        for text in ["", "2026-13-01", "2027-02-29", "20261231", "2026-12-31T10:00", "31.12.2026", "2026-1-1"] {
            assert!(date_from(text).is_none(), "{text}");
        }
    }
}
