//! The price of an order, line by line, in exact decimals.

use crate::money::{Currency, Decimal, decimal_to};

/// What a line of a price is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item {
    /// Drawing the stitch file.
    Design,
    /// The machine, hours of all its heads.
    Machine,
    /// People at the machine and the bench.
    Labour,
    /// A conductive thread, by its number among those of the piece.
    ConductiveThread(usize),
    /// Plain thread on needles.
    PlainThread,
    /// Plain thread on bobbins.
    BobbinThread,
    /// Wire, tube or roving.
    Laid,
    /// Lights.
    MachineParts,
    /// Terminals and patches.
    HandParts,
    /// Boards.
    Boards,
    /// Backing, film and needles.
    Consumables,
    /// Cloth and whatever else comes to each piece.
    Material,
    /// Margin.
    Margin,
    /// What takes the sum to a whole unit price.
    Rounding,
}

impl Item {
    /// What a person calls it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Design => "drawing the stitch file",
            Self::Machine => "machine, hours of all heads",
            Self::Labour => "labour",
            Self::ConductiveThread(_) => "conductive thread",
            Self::PlainThread => "plain needle thread",
            Self::BobbinThread => "plain bobbin thread",
            Self::Laid => "laid wire",
            Self::MachineParts => "lights",
            Self::HandParts => "terminals and patches",
            Self::Boards => "boards",
            Self::Consumables => "backing, film and needles",
            Self::Material => "material for each piece",
            Self::Margin => "margin",
            Self::Rounding => "rounding to a whole unit price",
        }
    }

    /// Unit of the line's quantity; empty for a count.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Design | Self::Machine | Self::Labour => "h",
            Self::ConductiveThread(_) | Self::PlainThread | Self::BobbinThread | Self::Laid => "m",
            Self::MachineParts | Self::HandParts | Self::Boards | Self::Consumables | Self::Material => "",
            Self::Margin | Self::Rounding => "",
        }
    }
}

/// Something to be paid: how much of it, and what one costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// What it is.
    pub item: Item,
    /// How much of it, in its unit (h, m or a count).
    pub quantity: f64,
    /// Price of one unit.
    pub rate: Decimal,
}

/// One line of a price.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Line {
    /// What it is for.
    pub item: Item,
    /// How much of it and the price of one; nothing for margin and rounding.
    pub of: Option<(Decimal, Decimal)>,
    /// In minor units.
    pub amount: Decimal,
}

/// A price with its lines.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Quote {
    /// They sum to the total, to the minor unit.
    pub lines: Vec<Line>,
    /// Unit price times pieces.
    pub total: Decimal,
    /// Of one piece.
    pub unit_price: Decimal,
}

/// Decimals of a quantity in a line: 0.36 s of an hour, a tenth of a millimetre of thread.
const QUANTITY_DECIMALS: u32 = 4;

/// The price of an order of `pieces` >= 1.
///
/// Rule: each line is its quantity, taken to four decimals, times its rate, rounded to the minor unit of `currency`. The
/// margin is `margin_percent` (0 to 95) of the price: sum x margin / (100 - margin), rounded. The unit price is the sum
/// divided by the pieces, rounded; the total is the unit price times the pieces; what that adds or takes stands in a
/// line of its own, less than half a minor unit a piece. All roundings go half a unit away from zero. So the lines sum to
/// the total, and the total is the unit price times the pieces, exactly.
///
/// Lines of nothing are left out. `None` where a quantity is not finite or an amount has more digits than a decimal holds.
///
/// Example: 2.5 h at 36.00 and a margin of 20 % for 7 pieces in EUR: 90.00 and 22.50, 16.07 each, 112.49 in all, rounding
/// -0.01.
///
/// ```
/// use toile_model::money::{Currency, Decimal};
/// use toile_model::production::{Asked, Item, quote};
/// let labour = Asked { item: Item::Labour, quantity: 2.5, rate: Decimal::from(36) };
/// let price = quote(&[labour], Decimal::from(20), 7, Currency::of("EUR").unwrap()).unwrap();
/// assert_eq!((price.unit_price.to_string(), price.total.to_string()), ("16.07".into(), "112.49".into()));
/// ```
pub fn quote(asked: &[Asked], margin_percent: Decimal, pieces: u32, currency: &Currency) -> Option<Quote> {
    let mut lines = Vec::with_capacity(asked.len() + 2);
    let mut sum = Decimal::ZERO;
    for ask in asked {
        let quantity = decimal_to(ask.quantity, QUANTITY_DECIMALS)?;
        if quantity.is_zero() || ask.rate.is_zero() {
            continue;
        }
        let amount = currency.rounded(quantity.checked_mul(ask.rate)?);
        sum = sum.checked_add(amount)?;
        lines.push(Line { item: ask.item, of: Some((quantity.normalize(), ask.rate)), amount });
    }
    let hundred = Decimal::from(100);
    let margin = currency.rounded(sum.checked_mul(margin_percent)?.checked_div(hundred.checked_sub(margin_percent)?)?);
    let whole = sum.checked_add(margin)?;
    let pieces = Decimal::from(pieces);
    let unit_price = currency.rounded(whole.checked_div(pieces)?);
    let total = currency.rounded(unit_price.checked_mul(pieces)?);
    let rounding = currency.rounded(total.checked_sub(whole)?);
    for (item, amount) in [(Item::Margin, margin), (Item::Rounding, rounding)] {
        if !amount.is_zero() {
            lines.push(Line { item, of: None, amount });
        }
    }
    Some(Quote { lines, total, unit_price })
}
