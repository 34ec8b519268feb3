//! How a piece is to be made: what a customer or a shop says beside the piece itself, and what can be wrong with it.
//!
//! Quantities and counts are whole numbers, money is in exact decimals of [`Order::currency`]. Everything may be left
//! out; then one piece in a frame is sewn on as many heads as the shop's machine has.

use super::{Faults, Inspector};
use crate::materials::{GivenRates, Library, Rates};
use crate::money::{Currency, Decimal, nearly};
use crate::units;

/// Most quantities that a price is told for at once.
pub const MOST_QUANTITIES: usize = 20;

/// How a piece is to be made.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// Heads that sew a series; those of the shop's machine where nothing is given.
    pub heads: Option<u32>,
    /// Pieces that one frame holds.
    pub pieces_per_frame: u32,
    /// Further quantities to price, beside that of the piece.
    pub quantities: Vec<u32>,
    /// Code after ISO 4217; the shop's currency where nothing is given.
    pub currency: Option<String>,
    /// What one unit of the shop's currency is worth in `currency`.
    pub exchange_rate: Option<Decimal>,
    /// Stitches in plain thread that only decorate.
    pub decorative_stitches: u32,
    /// Boards placed by hand.
    pub boards: u32,
    /// Whether each piece is laid into a jig.
    pub jig: bool,
    /// Cloth and whatever else comes to each piece, in `currency`.
    pub material_per_piece: Option<Decimal>,
    /// Rates that are known better for this piece; prices in `currency`.
    pub rates: GivenRates,
}

impl Default for Order {
    fn default() -> Self {
        Self {
            heads: None,
            pieces_per_frame: 1,
            quantities: Vec::new(),
            currency: None,
            exchange_rate: None,
            decorative_stitches: 0,
            boards: 0,
            jig: false,
            material_per_piece: None,
            rates: GivenRates::default(),
        }
    }
}

impl Order {
    /// Holds every number against its range, and the currency against the shop's.
    pub fn check(&self, inspect: &mut Inspector, library: &Library) {
        let at = |field: &str| format!("/production/{field}");
        if let Some(heads) = self.heads {
            inspect.number(&units::HEADS, f64::from(heads), || at("heads"));
        }
        inspect.number(&units::PIECES_PER_FRAME, f64::from(self.pieces_per_frame), || at("pieces_per_frame"));
        inspect.count(self.quantities.len(), 0, MOST_QUANTITIES, "quantities", || at("quantities"));
        for (k, quantity) in self.quantities.iter().enumerate().take(MOST_QUANTITIES) {
            inspect.number(&units::PIECES, f64::from(*quantity), || at(&format!("quantities/{k}")));
        }
        inspect.number(&units::DECORATIVE_STITCHES, f64::from(self.decorative_stitches), || at("decorative_stitches"));
        inspect.number(&units::BOARDS, f64::from(self.boards), || at("boards"));
        if let Some(material) = self.material_per_piece {
            inspect.number(&units::MATERIAL_PER_PIECE, nearly(material), || at("material_per_piece"));
        }
        self.check_currency(inspect, &library.rates);
        check_rates(&self.rates, inspect, library, "/production/rates");
    }

    fn check_currency(&self, inspect: &mut Inspector, rates: &Rates) {
        let shops = rates.currency.code;
        let asked = self.currency.as_deref().unwrap_or(shops);
        if Currency::of(asked).is_none() {
            let given: String = asked.chars().take(20).collect();
            inspect.refuse("/production/currency".into(), given, "This is no currency of ISO 4217.", "three capital letters, such as EUR");
            return;
        }
        let pointer = || "/production/exchange_rate".to_owned();
        match self.exchange_rate {
            None if asked != shops => {
                let message = format!("The shop's prices are in {shops}: for {asked} an exchange rate is needed.");
                inspect.refuse(pointer(), "nothing", message, format!("what one {shops} is worth in {asked}, or leave the currency out"));
            }
            Some(rate) if asked == shops => {
                let message = format!("The price is told in {shops}, in which the shop's prices are: nothing is exchanged.");
                inspect.refuse(pointer(), rate.to_string(), message, "leave it out, or name another currency");
            }
            Some(rate) => inspect.number(&units::EXCHANGE_RATE, nearly(rate), pointer),
            None => {}
        }
    }

    /// The shop's rates as they hold for this order, in its currency; `None` where a price has too many digits.
    pub(super) fn rates(&self, shop: &Rates) -> Option<Rates> {
        let rates = match (self.currency.as_deref().and_then(Currency::of), self.exchange_rate) {
            (Some(currency), Some(exchange)) => shop.clone().exchanged(currency, exchange)?,
            _ => shop.clone(),
        };
        Some(rates.with(&self.rates, "given with the piece"))
    }
}

/// Holds given rates against their ranges; `pointer` names where they stand.
pub fn check_rates(given: &GivenRates, inspect: &mut Inspector, library: &Library, pointer: &str) {
    for (rate, measured) in &given.values {
        let quantity = rate.quantity();
        inspect.measured(quantity, measured, || format!("{pointer}/{}", quantity.field));
    }
    for (price, amount) in &given.prices {
        let quantity = price.quantity();
        inspect.number(quantity, nearly(*amount), || format!("{pointer}/{}", quantity.field));
    }
    for (id, amount) in &given.thread_prices {
        let at = || format!("{pointer}/{}/{}", units::THREAD_PRICE.field, id.replace('~', "~0").replace('/', "~1"));
        if library.thread(id).is_none() {
            let known: Vec<_> = library.threads.iter().map(|thread| thread.id).collect();
            inspect.refuse(at(), id.as_str(), "The library has no such thread.", format!("one of {}", known.join(", ")));
        }
        inspect.number(&units::THREAD_PRICE, nearly(*amount), at);
    }
}

/// A fault for prices that no decimal holds.
pub(super) fn beyond_counting() -> Faults {
    let mut inspect = Inspector::new();
    let message = "The price has more digits than can be counted with.";
    inspect.refuse("/production".into(), "more than 24 digits", message, "fewer pieces or stitches, or lower rates");
    inspect.finish().expect_err("a fault was just noted")
}
