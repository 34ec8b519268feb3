//! What a shop knows of its pace and its prices: each rate with spread, source and status, and how a shop's own settings
//! take the place of the built-in ones.
//!
//! Times and counts are in SI with a spread ([`Rate`]); prices are exact decimals in the shop's currency ([`Price`]).
//! The built-in prices are those of the demo's shop and invented; the built-in times are trade figures where one could
//! be read and common practice otherwise, and say which.
//!
//! Example: built in, conductive thread is sewn at 300 to 600 stitches a minute, common practice; a settings file may
//! say 420.

use std::borrow::Cow;

use super::Status::{CommonPractice, Invented, Published};
use super::{Known, Status};
use crate::money::{Currency, Decimal, EURO};
use crate::uncertainty::Measured;
use crate::units::{self, Quantity};

/// A time, a speed or a share that a shop knows of itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "each is the quantity of the same name in `units`, which says what it is")]
pub enum Rate {
    PlainSpeed,
    ConductiveSpeed,
    LaidSpeed,
    Trim,
    ColourChange,
    BobbinChange,
    PlainBobbin,
    ConductiveBobbin,
    PlainBreak,
    ConductiveBreak,
    BreakRepair,
    FrameExchange,
    Hooping,
    MachinePart,
    HandPart,
    Board,
    Jig,
    JigMaking,
    Finishing,
    SetUp,
    Threading,
    Design,
    Attendance,
    ThreadAllowance,
    Yield,
    SampleTries,
}

/// A price of a shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "each is the quantity of the same name in `units`, which says what it is")]
pub enum Price {
    Machine,
    Labour,
    Design,
    ConductiveThread,
    PlainThread,
    BobbinThread,
    Laid,
    MachinePart,
    HandPart,
    Board,
    Consumables,
    Margin,
}

/// How many rates there are.
pub const RATES: usize = 26;
/// How many prices there are.
pub const PRICES: usize = 12;

/// A price with where it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnownPrice {
    /// In the shop's currency, or per cent for the margin.
    pub amount: Decimal,
    /// Where it comes from.
    pub source: &'static str,
    /// How far it can be trusted.
    pub status: Status,
}

/// Everything a shop knows of its pace and its prices.
#[derive(Debug, Clone, PartialEq)]
pub struct Rates {
    /// Whose they are.
    pub shop: Cow<'static, str>,
    /// Currency of the prices.
    pub currency: &'static Currency,
    /// Heads of the machine that sews series.
    pub heads: u32,
    values: [Known; RATES],
    prices: [KnownPrice; PRICES],
    /// Prices of single threads of the library, by their ids, for a metre.
    pub thread_prices: Vec<(String, Decimal)>,
}

/// Rates that take the place of those known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GivenRates {
    /// Times, speeds and shares, SI.
    pub values: Vec<(Rate, Measured)>,
    /// Prices.
    pub prices: Vec<(Price, Decimal)>,
    /// Prices of single threads of the library, by their ids, for a metre.
    pub thread_prices: Vec<(String, Decimal)>,
}

impl Rate {
    /// All of them, in order.
    pub fn all() -> impl Iterator<Item = Self> {
        TABLE.iter().map(|row| row.0)
    }

    /// Its name, unit and allowed range.
    pub const fn quantity(self) -> &'static Quantity {
        TABLE[self as usize].1
    }
}

impl Price {
    /// All of them, in order.
    pub fn all() -> impl Iterator<Item = Self> {
        PRICE_TABLE.iter().map(|row| row.0)
    }

    /// Its name, unit and allowed range.
    pub const fn quantity(self) -> &'static Quantity {
        PRICE_TABLE[self as usize].1
    }
}

impl Rates {
    /// The invented shop of the demo, with trade figures and common practice for its pace.
    pub const DEMO: Self = Self {
        shop: Cow::Borrowed("Harrow Lane Stitch Room"),
        currency: &EURO,
        heads: 4,
        values: values(),
        prices: prices(),
        thread_prices: Vec::new(),
    };

    /// What is known of a rate, SI.
    pub const fn rate(&self, rate: Rate) -> &Known {
        &self.values[rate as usize]
    }

    /// What is known of a price.
    pub const fn price(&self, price: Price) -> &KnownPrice {
        &self.prices[price as usize]
    }

    /// Price of a metre of a conductive thread: its own, or that of conductive thread in general.
    pub fn thread_price(&self, library: Option<&str>) -> Decimal {
        let own = self.thread_prices.iter().rev().find(|(id, _)| Some(id.as_str()) == library).map(|(_, price)| *price);
        own.unwrap_or(self.price(Price::ConductiveThread).amount)
    }

    /// The same with some rates given by `source`.
    pub fn with(mut self, given: &GivenRates, source: &'static str) -> Self {
        for (rate, measured) in &given.values {
            self.values[*rate as usize] = Known { measured: *measured, source, status: Status::Given };
        }
        for (price, amount) in &given.prices {
            self.prices[*price as usize] = KnownPrice { amount: *amount, source, status: Status::Given };
        }
        self.thread_prices.extend(given.thread_prices.iter().cloned());
        self
    }

    /// The same in another currency, of which `exchange` units are worth one of the shop's. `None` where an amount would
    /// have more digits than a decimal holds.
    pub fn exchanged(mut self, currency: &'static Currency, exchange: Decimal) -> Option<Self> {
        self.currency = currency;
        for price in Price::all().filter(|price| *price != Price::Margin) {
            let known = &mut self.prices[price as usize];
            known.amount = known.amount.checked_mul(exchange)?;
        }
        for (_, price) in &mut self.thread_prices {
            *price = price.checked_mul(exchange)?;
        }
        Some(self)
    }
}

const SPEED: &str = "usual running speed of an average design, embroidery-trade article on running times";
const STOP: &str = "6 to 20 s for each colour change or trim, embroidery-trade article on running times";
const ASSUMED: &str = "assumed for a small shop";
const SHOP: &str = "invented for the demo's shop";

type Row = (Rate, &'static Quantity, f64, f64, &'static str, Status);

/// Every rate with its range, in the unit of its quantity.
const TABLE: [Row; RATES] = [
    (Rate::PlainSpeed, &units::PLAIN_SPEED, 600.0, 750.0, SPEED, Published),
    (Rate::ConductiveSpeed, &units::CONDUCTIVE_SPEED, 300.0, 600.0, "slowed against breaks", CommonPractice),
    (Rate::LaidSpeed, &units::LAID_SPEED, 250.0, 500.0, "the guide of the wire turns along; assumed a little slower", CommonPractice),
    (Rate::Trim, &units::TRIM_TIME, 6.0, 20.0, STOP, Published),
    (Rate::ColourChange, &units::COLOUR_CHANGE_TIME, 6.0, 20.0, STOP, Published),
    (Rate::BobbinChange, &units::BOBBIN_CHANGE_TIME, 30.0, 60.0, "by hand, the machine standing", CommonPractice),
    (
        Rate::PlainBobbin,
        &units::PLAIN_BOBBIN,
        60.0,
        105.0,
        "20000 to 30000 stitches a bobbin (common practice) at 3 to 3.5 m for a thousand (trade)",
        CommonPractice,
    ),
    (
        Rate::ConductiveBobbin,
        &units::CONDUCTIVE_BOBBIN,
        20.0,
        50.0,
        "assumed: a third to a half of plain thread, which is finer",
        CommonPractice,
    ),
    (Rate::PlainBreak, &units::PLAIN_BREAK, 50_000.0, 200_000.0, ASSUMED, CommonPractice),
    (Rate::ConductiveBreak, &units::CONDUCTIVE_BREAK, 5000.0, 20_000.0, "one in 5000 to 20000 stitches", CommonPractice),
    (Rate::BreakRepair, &units::BREAK_REPAIR_TIME, 30.0, 90.0, "found, rethreaded and sewn over, the machine standing", CommonPractice),
    (Rate::FrameExchange, &units::FRAME_EXCHANGE_TIME, 15.0, 30.0, "spare frames are hooped beside the machine; assumed", CommonPractice),
    (Rate::Hooping, &units::HOOPING_TIME, 30.0, 90.0, "a flat piece, experienced; a finished garment takes twice as long", CommonPractice),
    (Rate::MachinePart, &units::MACHINE_PART_TIME, 1.0, 3.0, "from a carrier; assumed", CommonPractice),
    (Rate::HandPart, &units::HAND_PART_TIME, 20.0, 60.0, ASSUMED, CommonPractice),
    (Rate::Board, &units::BOARD_TIME, 30.0, 90.0, ASSUMED, CommonPractice),
    (Rate::Jig, &units::JIG_TIME, 10.0, 30.0, ASSUMED, CommonPractice),
    (Rate::JigMaking, &units::JIG_MAKING_TIME, 60.0, 180.0, ASSUMED, CommonPractice),
    (Rate::Finishing, &units::FINISHING_TIME, 60.0, 180.0, ASSUMED, CommonPractice),
    (Rate::SetUp, &units::SET_UP_TIME, 15.0, 45.0, "programme set-up and first piece", CommonPractice),
    (Rate::Threading, &units::THREADING_TIME, 60.0, 180.0, "by hand", CommonPractice),
    (Rate::Design, &units::DESIGN_TIME, 45.0, 120.0, ASSUMED, CommonPractice),
    (Rate::Attendance, &units::ATTENDANCE, 25.0, 60.0, "one person to two or three machines; assumed", CommonPractice),
    (Rate::ThreadAllowance, &units::THREAD_ALLOWANCE, 10.0, 15.0, "allowance on computed consumption, apparel-trade text", Published),
    (Rate::Yield, &units::YIELD, 90.0, 98.0, ASSUMED, CommonPractice),
    (Rate::SampleTries, &units::SAMPLE_TRIES, 1.0, 3.0, ASSUMED, CommonPractice),
];

/// Every price: hundredths of a per cent or ten-thousandths of the currency.
const PRICE_TABLE: [(Price, &Quantity, i64); PRICES] = [
    (Price::Machine, &units::MACHINE_PRICE, 6_50_00),
    (Price::Labour, &units::LABOUR_PRICE, 36_00_00),
    (Price::Design, &units::DESIGN_PRICE, 55_00_00),
    (Price::ConductiveThread, &units::CONDUCTIVE_THREAD_PRICE, 9_00),
    (Price::PlainThread, &units::PLAIN_THREAD_PRICE, 40),
    (Price::BobbinThread, &units::BOBBIN_THREAD_PRICE, 20),
    (Price::Laid, &units::LAID_PRICE, 40_00),
    (Price::MachinePart, &units::MACHINE_PART_PRICE, 18_00),
    (Price::HandPart, &units::HAND_PART_PRICE, 12_00),
    (Price::Board, &units::BOARD_PRICE, 2_40_00),
    (Price::Consumables, &units::CONSUMABLES_PRICE, 35_00),
    (Price::Margin, &units::MARGIN, 20_00_00),
];

const fn values() -> [Known; RATES] {
    let mut known = [Known::new(&units::TRIM_TIME, Measured::exact(0.0), "", CommonPractice); RATES];
    let mut k = 0;
    while k < RATES {
        let (_, quantity, low, high, source, status) = TABLE[k];
        known[k] = Known::new(quantity, Measured::uniform(low, high), source, status);
        k += 1;
    }
    known
}

const fn prices() -> [KnownPrice; PRICES] {
    let mut known = [KnownPrice { amount: Decimal::ZERO, source: SHOP, status: Invented }; PRICES];
    let mut k = 0;
    while k < PRICES {
        known[k].amount = Decimal::from_parts(PRICE_TABLE[k].2 as u32, 0, 0, false, 4);
        k += 1;
    }
    known
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tables_stand_in_the_order_of_their_names() {
        assert!(Rate::all().enumerate().all(|(k, rate)| rate as usize == k));
        assert!(Price::all().enumerate().all(|(k, price)| price as usize == k));
        let mut fields: Vec<_> = Rate::all().map(|r| r.quantity().field).chain(Price::all().map(|p| p.quantity().field)).collect();
        fields.sort_unstable();
        fields.dedup();
        assert_eq!(fields.len(), RATES + PRICES, "each field once");
    }

    #[test]
    fn what_is_built_in_may_be_given() {
        let demo = Rates::DEMO;
        for rate in Rate::all() {
            let (quantity, known) = (rate.quantity(), demo.rate(rate));
            let (low, high) = known.measured.named_limits();
            assert!(quantity.from_si(low) >= quantity.low && quantity.from_si(high) <= quantity.high, "{}", quantity.field);
            assert!(!known.source.is_empty());
        }
        assert_eq!(demo.price(Price::Labour).amount, Decimal::from(36));
        assert_eq!(demo.price(Price::PlainThread).amount, Decimal::new(4, 3));
    }

    #[test]
    fn given_rates_take_the_place_of_known_ones_and_prices_are_exchanged() {
        let given = GivenRates {
            values: vec![(Rate::Trim, Measured::exact(7.0))],
            prices: vec![(Price::Labour, Decimal::new(415, 1))],
            thread_prices: vec![("steel-90-tex".into(), Decimal::new(25, 2))],
        };
        let rates = Rates::DEMO.with(&given, "the shop's settings");
        assert_eq!(rates.rate(Rate::Trim).measured, Measured::exact(7.0));
        assert_eq!(rates.price(Price::Labour).amount, Decimal::new(415, 1));
        assert_eq!(rates.thread_price(Some("steel-90-tex")), Decimal::new(25, 2));
        assert_eq!(rates.thread_price(Some("steel-150-tex")), Decimal::new(9, 2));
        assert_eq!(rates.thread_price(None), Decimal::new(9, 2));
        let yen = Currency::of("JPY").expect("a currency");
        let abroad = rates.exchanged(yen, Decimal::from(170)).expect("few digits");
        assert_eq!(abroad.price(Price::Labour).amount, Decimal::from(7055));
        assert_eq!(abroad.price(Price::Margin).amount, Decimal::from(20));
        assert_eq!(abroad.thread_price(Some("steel-90-tex")), Decimal::new(425, 1));
    }
}
