//! A shop's rates on the wire: those that a piece or a settings file gives, and those that hold.
//!
//! Fields, units and ranges come from the model's table of rates: this file lists none of them.

use std::collections::BTreeMap;

use serde::de::{Deserialize, Deserializer, Error, MapAccess, Visitor};
use serde::{Deserialize as Derived, Serialize};
use toile_model::materials::{GivenRates, Library, Price, Rate, Rates};
use toile_model::money::{Currency, Decimal, decimal};
use toile_model::{Faults, Inspector, LIBRARY, check_rates, units};
use utoipa::ToSchema;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{AdditionalProperties, ObjectBuilder, Schema};

use super::answer::KnownAnswer;
use super::number::{plain_schema, spread_schema, spread_seed};
use super::read::Readable;

/// Rates that take the place of the shop's.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RatesGiven(pub GivenRates);

/// The field that prices single threads of the library.
const THREADS: &str = units::THREAD_PRICE.field;

impl<'de> Deserialize<'de> for RatesGiven {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct RatesVisitor;
        impl<'de> Visitor<'de> for RatesVisitor {
            type Value = RatesGiven;

            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("an object of rates")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<RatesGiven, A::Error> {
                let mut given = GivenRates::default();
                while let Some(field) = map.next_key::<String>()? {
                    if let Some(rate) = Rate::all().find(|rate| rate.quantity().field == field) {
                        if given.values.iter().any(|(known, _)| *known == rate) {
                            return Err(A::Error::custom(format!("the field `{field}` is given twice")));
                        }
                        // A field of null is one that is left out.
                        if let Some(measured) = map.next_value_seed(spread_seed(rate.quantity()))? {
                            given.values.push((rate, measured));
                        }
                    } else if let Some(price) = Price::all().find(|price| price.quantity().field == field) {
                        if given.prices.iter().any(|(known, _)| *known == price) {
                            return Err(A::Error::custom(format!("the field `{field}` is given twice")));
                        }
                        if let Some(amount) = map.next_value::<Option<Money>>()? {
                            given.prices.push((price, amount.0));
                        }
                    } else if field == THREADS {
                        let prices = map.next_value::<Option<BTreeMap<String, Money>>>()?.unwrap_or_default();
                        given.thread_prices.extend(prices.into_iter().map(|(id, amount)| (id, amount.0)));
                    } else {
                        return Err(A::Error::custom(format!("the field `{field}` is not known here")));
                    }
                }
                Ok(RatesGiven(given))
            }
        }
        deserializer.deserialize_map(RatesVisitor)
    }
}

impl utoipa::PartialSchema for RatesGiven {
    fn schema() -> RefOr<Schema> {
        let closed = || ObjectBuilder::new().additional_properties(Some(AdditionalProperties::<Schema>::FreeForm(false)));
        let mut rates = closed().description(Some(
            "Rates of a shop. What is left out is taken from the shop's settings, or assumed; all are shown with the answer.",
        ));
        for rate in Rate::all() {
            rates = rates.property(rate.quantity().field, spread_schema(rate.quantity()));
        }
        for price in Price::all() {
            rates = rates.property(price.quantity().field, plain_schema(price.quantity()));
        }
        let mut threads = closed().description(Some("Prices of single threads of the library, for a metre."));
        for thread in LIBRARY.threads {
            threads = threads.property(thread.id, plain_schema(&units::THREAD_PRICE));
        }
        rates.property(THREADS, threads).into()
    }
}

impl ToSchema for RatesGiven {}

/// An amount of money: a plain number, taken as the decimal that it reads as.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Money(pub Decimal);

impl<'de> Deserialize<'de> for Money {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        // What no decimal holds is far outside every range, and refused there with the number that was given.
        f64::deserialize(deserializer).map(|number| Self(decimal(number).unwrap_or(if number < 0.0 { Decimal::MIN } else { Decimal::MAX })))
    }
}

/// A shop's settings: its name, its currency, its machine and its rates.
#[derive(Debug, Derived, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShopSettings {
    /// What the shop is called.
    #[schema(max_length = 200)]
    shop: Option<String>,
    /// Currency of its prices, a code after ISO 4217.
    #[schema(min_length = 3, max_length = 3)]
    currency: String,
    /// Heads of the machine that sews series; 1 where nothing is given.
    #[schema(minimum = 1, maximum = 100)]
    heads: Option<u32>,
    /// Its rates.
    #[serde(default)]
    rates: RatesGiven,
}

impl Readable for ShopSettings {
    const SCHEMA: &'static str = "ShopSettings";
}

impl ShopSettings {
    /// The rates of the shop. What they leave out is assumed: times as built in, prices as 0, for another shop's prices
    /// would only mislead.
    ///
    /// # Errors
    /// Every fault of the settings.
    pub fn to_model(&self, library: &Library) -> Result<Rates, Faults> {
        let mut inspect = Inspector::new();
        inspect.text(self.shop.as_deref(), || "/shop".into());
        let currency = Currency::of(&self.currency);
        if currency.is_none() {
            let message = "This is no currency of ISO 4217.";
            inspect.refuse("/currency".into(), self.currency.as_str(), message, "three capital letters, such as EUR");
        }
        let heads = self.heads.unwrap_or(1);
        inspect.number(&units::HEADS, f64::from(heads), || "/heads".into());
        check_rates(&self.rates.0, &mut inspect, library, "/rates");
        inspect.finish()?;
        let nothing = GivenRates { prices: Price::all().map(|price| (price, Decimal::ZERO)).collect(), ..Default::default() };
        let mut rates = library.rates.clone().with(&nothing, "not in the shop's settings, so not charged");
        rates = rates.with(&self.rates.0, "the shop's settings");
        rates.shop = self.shop.clone().map_or_else(|| "this shop".into(), Into::into);
        rates.currency = currency.unwrap_or(rates.currency);
        rates.heads = heads;
        Ok(rates)
    }
}

/// The rates that hold here.
#[derive(Serialize, ToSchema)]
pub struct RatesAnswer {
    /// Whose they are.
    shop: String,
    /// Currency of the prices, after ISO 4217.
    currency: &'static str,
    /// Decimals of its minor unit.
    currency_decimals: u32,
    /// Heads of the machine that sews series.
    heads: u32,
    /// Times, speeds and shares.
    rates: Vec<RateEntry>,
    /// Prices.
    prices: Vec<PriceEntry>,
}

/// One rate.
#[derive(Serialize, ToSchema)]
pub struct RateEntry {
    /// Its field in `rates`.
    field: &'static str,
    /// What it is.
    name: &'static str,
    /// Unit of the numbers.
    unit: &'static str,
    /// What is known of it.
    #[serde(flatten)]
    known: KnownAnswer,
}

/// One price.
#[derive(Serialize, ToSchema)]
pub struct PriceEntry {
    /// Its field in `rates`; of a single thread, `thread_per_m/` and its id.
    field: String,
    /// What it is.
    name: String,
    /// What it is paid for: per hour, per m, each, a piece; `%` for the margin.
    unit: &'static str,
    /// Amount in the main unit of the currency, an exact decimal.
    amount: String,
    /// Where it comes from.
    source: &'static str,
    /// How far it can be trusted.
    status: &'static str,
}

impl RatesAnswer {
    /// Puts rates on the wire.
    pub fn new(rates: &Rates) -> Self {
        let single = rates.thread_prices.iter().map(|(id, amount)| PriceEntry {
            field: format!("{THREADS}/{id}"),
            name: id.clone(),
            unit: units::THREAD_PRICE.unit,
            amount: shown(*amount, rates.currency),
            source: "given for this thread",
            status: "given",
        });
        Self {
            shop: rates.shop.clone().into_owned(),
            currency: rates.currency.code,
            currency_decimals: rates.currency.decimals,
            heads: rates.heads,
            rates: rate_entries(rates),
            prices: Price::all().map(|price| price_entry(rates, price)).chain(single).collect(),
        }
    }
}

fn rate_entries(rates: &Rates) -> Vec<RateEntry> {
    let entry = |rate: Rate| {
        let quantity = rate.quantity();
        RateEntry { field: quantity.field, name: quantity.name, unit: quantity.unit, known: KnownAnswer::new(rates.rate(rate), quantity) }
    };
    Rate::all().map(entry).collect()
}

fn price_entry(rates: &Rates, price: Price) -> PriceEntry {
    let (quantity, known) = (price.quantity(), rates.price(price));
    let amount = if price == Price::Margin { known.amount.normalize().to_string() } else { shown(known.amount, rates.currency) };
    PriceEntry {
        field: quantity.field.to_owned(),
        name: quantity.name.to_owned(),
        unit: quantity.unit,
        amount,
        source: known.source,
        status: known.status.word(),
    }
}

/// An amount with the decimals of its currency, or more where it has them.
pub fn shown(amount: Decimal, currency: &Currency) -> String {
    let mut amount = amount.normalize();
    if amount.scale() < currency.decimals {
        amount.rescale(currency.decimals);
    }
    amount.to_string()
}
