//! A quote for paper: what of it the customer reads.

use serde::Deserialize;

use super::{QuoteFault, QuoteWhole, State, read_estimate, state_of};
use crate::print::{Caution, Paper, Price, Requirement, quote_page};
use crate::usecase::clock::date_of;

/// What paper shows of an estimate as it was answered.
#[derive(Deserialize)]
struct Estimate {
    sentence: String,
    checks: Vec<Check>,
    #[serde(default)]
    pads: Vec<Pad>,
    stack: Stack,
    cautions: Vec<Caution>,
    production: Option<Production>,
}

#[derive(Deserialize)]
struct Check {
    check: String,
    title: String,
    feature: Option<String>,
    verdict: String,
    chance: f64,
    unit: String,
    bound: String,
    needed: f64,
    predicted: f64,
    interval_95: [f64; 2],
    measure: Option<String>,
}

impl Check {
    /// How often over the need is met at the less favourable end of the interval; below 1 where it is not.
    fn room(&self) -> f64 {
        let [low, high] = self.interval_95;
        let room = if self.bound == "at_least" { low / self.needed } else { self.needed / high };
        if room.is_nan() { f64::INFINITY } else { room }
    }
}

#[derive(Deserialize)]
struct Pad {
    name: String,
}

#[derive(Deserialize)]
struct Stack {
    ground: String,
    base: Vec<Layer>,
    overlay: Vec<Layer>,
}

#[derive(Deserialize)]
struct Layer {
    name: String,
    thickness_mm: f64,
}

#[derive(Deserialize)]
struct Production {
    shop: String,
    currency: String,
    sample: Costing,
    series: Costing,
    price_breaks: Vec<Costing>,
}

#[derive(Deserialize)]
struct Costing {
    quantity: u64,
    unit_price: String,
    total: String,
}

/// The page to print, HTML.
///
/// # Errors
/// An estimate that cannot be read as it is stored.
pub fn quote_print(quote: &QuoteWhole) -> Result<String, QuoteFault> {
    let row = &quote.row;
    let estimate: Estimate = read_estimate(&quote.estimate)?;
    let state = state_of(row)?;
    let production = estimate.production.as_ref();
    Ok(quote_page(&Paper {
        shop: production.map_or("", |p| p.shop.as_str()),
        number: &row.number,
        revision: row.revision,
        remark: remark(state),
        title: &row.said.title,
        customer_reference: &row.said.customer_reference,
        date: date_of(row.sent_ms.unwrap_or(row.changed_ms)).to_string(),
        valid_until: &row.said.valid_until,
        quantity: row.said.quantity,
        layers: layers(&estimate.stack),
        pads: estimate.pads.iter().map(|pad| pad.name.as_str()).collect(),
        verdict: &row.said.verdict,
        sentence: &estimate.sentence,
        requirements: requirements(&estimate.checks),
        measure: measures(&estimate.checks),
        currency: row.said.currency.as_deref().or(production.map(|p| p.currency.as_str())).unwrap_or_default(),
        prices: production.map(prices).unwrap_or_default(),
        terms: &row.said.terms,
        cautions: &estimate.cautions,
        model_version: &row.said.model_version,
        library_revision: &row.said.library_revision,
    }))
}

/// What is said above a quote that is not simply an offer.
const fn remark(state: State) -> Option<&'static str> {
    match state {
        State::Draft => Some("Draft: not sent, not an offer."),
        State::Sent => None,
        State::Accepted => Some("Accepted."),
        State::Declined => Some("Declined: no longer an offer."),
        State::Withdrawn => Some("Withdrawn: no longer an offer."),
    }
}

/// From the top down, as the layers lie on the table.
fn layers(stack: &Stack) -> Vec<String> {
    let layer = |layer: &Layer| format!("{}, {} mm", layer.name, layer.thickness_mm);
    let ground = match stack.ground.as_str() {
        "sheet" => "conductive cloth as ground",
        "metal" => "metal frame as ground",
        "body" => "body of the wearer",
        _ => "no ground below",
    };
    let overlay = stack.overlay.iter().rev().map(layer);
    let base = stack.base.iter().rev().map(layer);
    let lines = overlay.chain(std::iter::once("stitched plane".to_owned())).chain(base).chain(std::iter::once(ground.to_owned()));
    if stack.base.is_empty() && stack.overlay.is_empty() { Vec::new() } else { lines.collect() }
}

/// One line for each kind of requirement: that of the feature which has the least chance, and of equals the least room, as
/// on the page. However many features a piece
/// has, its requirements fit on a page.
fn requirements(checks: &[Check]) -> Vec<Requirement<'_>> {
    let mut kinds: Vec<Vec<&Check>> = Vec::new();
    for check in checks {
        match kinds.iter_mut().find(|kind| kind[0].check == check.check) {
            Some(kind) => kind.push(check),
            None => kinds.push(vec![check]),
        }
    }
    kinds
        .into_iter()
        .filter_map(|kind| {
            Some((kind.iter().copied().min_by(|a, b| a.chance.total_cmp(&b.chance).then(a.room().total_cmp(&b.room())))?, kind.len()))
        })
        .map(|(check, count)| Requirement {
            title: &check.title,
            weakest: check.feature.as_deref().filter(|_| count > 1),
            count,
            unit: &check.unit,
            at_least: check.bound == "at_least",
            needed: check.needed,
            predicted: check.predicted,
            interval_95: check.interval_95,
            chance: check.chance,
            verdict: &check.verdict,
        })
        .collect()
}

/// What to stitch and measure first, each once.
fn measures(checks: &[Check]) -> Vec<&str> {
    let mut found: Vec<&str> = checks.iter().filter_map(|check| check.measure.as_deref()).collect();
    found.sort_unstable();
    found.dedup();
    found
}

/// Sample, quantity, and further quantities.
fn prices(production: &Production) -> Vec<Price<'_>> {
    let price = |what, costing: &'_ Costing| (what, costing.quantity);
    let mut lines = vec![(price("one sample, with its stitch file", &production.sample), &production.sample)];
    lines.push((price("as asked", &production.series), &production.series));
    let further = production.price_breaks.iter().filter(|b| b.quantity != production.series.quantity);
    lines.extend(further.map(|b| (price("if it were", b), b)));
    lines
        .into_iter()
        .map(|((what, quantity), costing)| Price { what, quantity, unit_price: &costing.unit_price, total: &costing.total })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(feature: &str, bound: &str, needed: f64, interval_95: [f64; 2]) -> Check {
        Check {
            check: bound.into(),
            title: "Standing capacitance".into(),
            feature: Some(feature.into()),
            verdict: "comfortable".into(),
            chance: 1.0,
            unit: "pF".into(),
            bound: bound.into(),
            needed,
            predicted: (interval_95[0] + interval_95[1]) / 2.0,
            interval_95,
            measure: None,
        }
    }

    /// Where nothing is in doubt, it is the one closest to what is needed: 5.8 of 15 pF, not 3.9; 0.6 for 0.1 pF, not 0.9.
    #[test]
    fn of_equal_chances_the_least_room_is_named() {
        let checks = [
            check("near", "at_most", 15.0, [3.8, 4.0]),
            check("far", "at_most", 15.0, [5.6, 6.0]),
            check("strong", "at_least", 0.1, [0.8, 1.0]),
            check("faint", "at_least", 0.1, [0.5, 0.7]),
        ];
        let named: Vec<_> = requirements(&checks).iter().map(|line| line.weakest).collect();
        assert_eq!(named, [Some("far"), Some("faint")]);
    }
}
