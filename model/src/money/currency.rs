//! Currencies by their codes, and the smallest amount each can be paid in.
//!
//! Source: ISO 4217, the circulating currencies and their minor units, list of 2026 from memory, held against public
//! copies of the list. Funds, metals and test codes are left out: nobody is invoiced in them.

use rust_decimal::{Decimal, RoundingStrategy};

/// A currency.
#[derive(Debug, PartialEq, Eq)]
pub struct Currency {
    /// Three letters after ISO 4217.
    pub code: &'static str,
    /// Decimals of its minor unit: 2 where a hundredth can be paid, 0 where only whole units can.
    pub decimals: u32,
}

impl Currency {
    /// The currency of a code in capital letters.
    ///
    /// ```
    /// use toile_model::money::Currency;
    /// assert_eq!(Currency::of("KWD").map(|c| c.decimals), Some(3));
    /// assert_eq!(Currency::of("XYZ"), None);
    /// ```
    pub fn of(code: &str) -> Option<&'static Self> {
        CURRENCIES.binary_search_by(|currency| currency.code.cmp(code)).ok().map(|k| &CURRENCIES[k])
    }

    /// An amount taken to the minor unit, half a unit away from zero, with exactly its decimals.
    pub fn rounded(&self, amount: Decimal) -> Decimal {
        let mut rounded = amount.round_dp_with_strategy(self.decimals, RoundingStrategy::MidpointAwayFromZero);
        rounded.rescale(self.decimals);
        rounded
    }
}

const fn of(code: &'static str, decimals: u32) -> Currency {
    Currency { code, decimals }
}

/// Every currency, by code.
#[rustfmt::skip]
pub static CURRENCIES: [Currency; 155] = [
    of("AED", 2), of("AFN", 2), of("ALL", 2), of("AMD", 2), of("AOA", 2), of("ARS", 2), of("AUD", 2), of("AWG", 2), of("AZN", 2),
    of("BAM", 2), of("BBD", 2), of("BDT", 2), of("BHD", 3), of("BIF", 0), of("BMD", 2), of("BND", 2), of("BOB", 2), of("BRL", 2),
    of("BSD", 2), of("BTN", 2), of("BWP", 2), of("BYN", 2), of("BZD", 2), of("CAD", 2), of("CDF", 2), of("CHF", 2), of("CLP", 0),
    of("CNY", 2), of("COP", 2), of("CRC", 2), of("CUP", 2), of("CVE", 2), of("CZK", 2), of("DJF", 0), of("DKK", 2), of("DOP", 2),
    of("DZD", 2), of("EGP", 2), of("ERN", 2), of("ETB", 2), of("EUR", 2), of("FJD", 2), of("FKP", 2), of("GBP", 2), of("GEL", 2),
    of("GHS", 2), of("GIP", 2), of("GMD", 2), of("GNF", 0), of("GTQ", 2), of("GYD", 2), of("HKD", 2), of("HNL", 2), of("HTG", 2),
    of("HUF", 2), of("IDR", 2), of("ILS", 2), of("INR", 2), of("IQD", 3), of("IRR", 2), of("ISK", 0), of("JMD", 2), of("JOD", 3),
    of("JPY", 0), of("KES", 2), of("KGS", 2), of("KHR", 2), of("KMF", 0), of("KPW", 2), of("KRW", 0), of("KWD", 3), of("KYD", 2),
    of("KZT", 2), of("LAK", 2), of("LBP", 2), of("LKR", 2), of("LRD", 2), of("LSL", 2), of("LYD", 3), of("MAD", 2), of("MDL", 2),
    of("MGA", 2), of("MKD", 2), of("MMK", 2), of("MNT", 2), of("MOP", 2), of("MRU", 2), of("MUR", 2), of("MVR", 2), of("MWK", 2),
    of("MXN", 2), of("MYR", 2), of("MZN", 2), of("NAD", 2), of("NGN", 2), of("NIO", 2), of("NOK", 2), of("NPR", 2), of("NZD", 2),
    of("OMR", 3), of("PAB", 2), of("PEN", 2), of("PGK", 2), of("PHP", 2), of("PKR", 2), of("PLN", 2), of("PYG", 0), of("QAR", 2),
    of("RON", 2), of("RSD", 2), of("RUB", 2), of("RWF", 0), of("SAR", 2), of("SBD", 2), of("SCR", 2), of("SDG", 2), of("SEK", 2),
    of("SGD", 2), of("SHP", 2), of("SLE", 2), of("SOS", 2), of("SRD", 2), of("SSP", 2), of("STN", 2), of("SVC", 2), of("SYP", 2),
    of("SZL", 2), of("THB", 2), of("TJS", 2), of("TMT", 2), of("TND", 3), of("TOP", 2), of("TRY", 2), of("TTD", 2), of("TWD", 2),
    of("TZS", 2), of("UAH", 2), of("UGX", 0), of("USD", 2), of("UYU", 2), of("UZS", 2), of("VED", 2), of("VES", 2), of("VND", 0),
    of("VUV", 0), of("WST", 2), of("XAF", 0), of("XCD", 2), of("XCG", 2), of("XOF", 0), of("XPF", 0), of("YER", 2), of("ZAR", 2),
    of("ZMW", 2), of("ZWG", 2),
];

/// The euro.
pub(crate) static EURO: Currency = of("EUR", 2);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_list_is_in_order_and_finds_itself() {
        assert!(CURRENCIES.windows(2).all(|pair| pair[0].code < pair[1].code));
        assert!(CURRENCIES.iter().all(|c| Currency::of(c.code) == Some(c)));
        assert_eq!(Currency::of("EUR"), Some(&EURO));
        // Minor units that trade knows to be unusual.
        for (decimals, codes) in [(0, ["JPY", "KRW", "ISK", "XOF"]), (3, ["KWD", "BHD", "TND", "JOD"]), (2, ["USD", "CHF", "HUF", "MRU"])] {
            assert!(codes.iter().all(|code| Currency::of(code).is_some_and(|c| c.decimals == decimals)), "{codes:?}");
        }
        for no_money in ["", "eur", "EURO", "XAU", "XTS", "CLF", "DEM"] {
            assert_eq!(Currency::of(no_money), None, "{no_money}");
        }
    }
}
