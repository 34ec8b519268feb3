//! The shop's settings file: TOML or JSON in, rates out, with every fault at its place.
//!
//! The file says what the API's schema `ShopSettings` says: a name, a currency, heads, and rates. A number may carry its
//! spread as in a piece.

use std::path::Path;

use serde_json::Value;
use toile_model::materials::{Library, Rates};

use crate::api::problem::Refusal;
use crate::api::rates::ShopSettings;
use crate::api::read::{Published, read_in_range};

/// Largest settings file, bytes: a shop has some fifty numbers.
const MOST_BYTES: u64 = 256 * 1024;

/// A shop's settings, as JSON that [`rates_of`] takes. What ends in `.json` is read as JSON, everything else as TOML.
///
/// # Errors
/// Why the file cannot be read, in words for the terminal.
pub fn settings_text(path: &Path) -> Result<String, String> {
    let cannot = |why: &dyn std::fmt::Display| format!("cannot use the rates in {}: {why}", path.display());
    let size = std::fs::metadata(path).map_err(|error| cannot(&error))?.len();
    if size > MOST_BYTES {
        return Err(cannot(&format!("the file has {size} bytes; {MOST_BYTES} are allowed")));
    }
    let text = std::fs::read_to_string(path).map_err(|error| cannot(&error))?;
    let json = path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("json"));
    as_json(text, json).map_err(|why| cannot(&why))
}

fn as_json(text: String, json: bool) -> Result<String, String> {
    if json {
        return Ok(text);
    }
    let table: Value = toml::from_str(&text).map_err(|error| error.to_string())?;
    Ok(table.to_string())
}

/// The rates that a shop's settings tell.
///
/// # Errors
/// Why the settings cannot be used, every fault in them named, in words for the terminal.
pub fn rates_of(settings: &str, library: &Library, document: Published) -> Result<Rates, String> {
    let settings: ShopSettings = read_in_range(settings.as_bytes(), document).map_err(|refusal| in_words(&refusal))?;
    settings.to_model(library).map_err(|faults| faults.to_string())
}

fn in_words(refusal: &Refusal) -> String {
    match refusal {
        Refusal::NotAllowed(faults) => {
            let told: Vec<String> =
                faults.iter().map(|f| format!("{}: {} Given: {}. Allowed: {}.", f.pointer, f.message, f.value, f.allowed)).collect();
            told.join("\n")
        }
        Refusal::Unreadable(why) => why.clone(),
        _ => "it is not a table of settings".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::http::document;
    use toile_model::LIBRARY;
    use toile_model::Measured;
    use toile_model::materials::{Price, Rate, Status};
    use toile_model::money::Decimal;

    fn read(text: &str, json: bool) -> Result<Rates, String> {
        rates_of(&as_json(text.into(), json)?, &LIBRARY, document::as_json)
    }

    const SETTINGS: &str = "shop = \"Nowhere Stitches\"\ncurrency = \"SEK\"\nheads = 6\n[rates]\nlabour_per_hour = 415.5\ntrim_s = 7\n\
        hooping_s = { low = 40, high = 55 }\n[rates.thread_per_m]\nsilver-polyamide-40-tex = 1.1\n";

    #[test]
    fn a_shop_says_what_it_knows_and_the_rest_stays_assumed() {
        let rates = read(SETTINGS, false).expect("good settings");
        assert_eq!((&*rates.shop, rates.currency.code, rates.heads), ("Nowhere Stitches", "SEK", 6));
        assert_eq!(rates.price(Price::Labour).amount, Decimal::new(4155, 1));
        assert_eq!((rates.price(Price::Machine).amount, rates.price(Price::Machine).status), (Decimal::ZERO, Status::Given));
        assert_eq!(rates.rate(Rate::Trim).measured, Measured::exact(7.0));
        assert_eq!(rates.rate(Rate::Hooping).measured, Measured::uniform(40.0, 55.0));
        assert_eq!(rates.rate(Rate::SetUp), LIBRARY.rates.rate(Rate::SetUp));
        assert_eq!(rates.thread_price(Some("silver-polyamide-40-tex")), Decimal::new(11, 1));
    }

    #[test]
    fn json_says_the_same() {
        let table: Value = toml::from_str(SETTINGS).expect("TOML");
        assert_eq!(read(&table.to_string(), true), read(SETTINGS, false));
    }

    #[test]
    fn every_fault_is_named_at_its_place() {
        for (text, words) in [
            ("", "/currency"),
            ("currency = ", "TOML"),
            ("currency = \"Euro\"", "3"),
            ("currency = \"ABC\"", "no currency of ISO 4217"),
            ("currency = \"EUR\"\nheads = 0", "/heads"),
            ("currency = \"EUR\"\nhead = 4", "did you mean `heads`"),
            ("currency = \"EUR\"\n[rates]\nlabour_per_hours = 3", "did you mean `labour_per_hour`"),
            ("currency = \"EUR\"\n[rates]\nlabour_per_hour = -3", "0 to 1000000"),
            ("currency = \"EUR\"\n[rates]\nlabour_per_hour = \"much\"", "/rates/labour_per_hour"),
            ("currency = \"EUR\"\n[rates]\nmargin_percent = 100", "0 to 95"),
            ("currency = \"EUR\"\n[rates]\ntrim_s = { low = 9, high = 6 }", "low limit above its high limit"),
            ("currency = \"EUR\"\n[rates.thread_per_m]\ngold = 3", "/rates/thread_per_m/gold"),
        ] {
            let why = read(text, false).expect_err(text);
            assert!(why.contains(words), "{text}: {why}");
        }
        let both = read("currency = \"EUR\"\nheads = 1000\n[rates]\nyield_percent = 0", false).expect_err("two faults");
        assert!(both.contains("/heads") && both.contains("/rates/yield_percent"), "{both}");
    }
}
