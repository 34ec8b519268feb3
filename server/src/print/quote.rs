//! A quote on one or two pages of A4.

use maud::{DOCTYPE, Markup, html};
use serde::Deserialize;

/// What stands on the paper.
pub struct Paper<'a> {
    /// Name of the shop.
    pub shop: &'a str,
    /// Number of the quote.
    pub number: &'a str,
    /// Its revision.
    pub revision: i64,
    /// What is said above a quote that is not simply an offer.
    pub remark: Option<&'static str>,
    /// What it is about.
    pub title: &'a str,
    /// What the customer calls it.
    pub customer_reference: &'a str,
    /// Day on which it was sent or last changed.
    pub date: String,
    /// Last day on which it holds.
    pub valid_until: &'a str,
    /// Pieces.
    pub quantity: i64,
    /// Layers from the top down.
    pub layers: Vec<String>,
    /// Names of the pads.
    pub pads: Vec<&'a str>,
    /// Verdict.
    pub verdict: &'a str,
    /// The verdict in one sentence.
    pub sentence: &'a str,
    /// Requirements.
    pub requirements: Vec<Requirement<'a>>,
    /// What to measure first.
    pub measure: Vec<&'a str>,
    /// Currency of the prices.
    pub currency: &'a str,
    /// Prices.
    pub prices: Vec<Price<'a>>,
    /// Terms.
    pub terms: &'a str,
    /// Cautions.
    pub cautions: &'a [Caution],
    /// Version of the model.
    pub model_version: &'a str,
    /// Revision of the library.
    pub library_revision: &'a str,
}

/// One kind of requirement.
pub struct Requirement<'a> {
    /// Its name.
    pub title: &'a str,
    /// The feature with the least chance, where there are several.
    pub weakest: Option<&'a str>,
    /// Features that have it.
    pub count: usize,
    /// Unit of the numbers.
    pub unit: &'a str,
    /// Whether more is better.
    pub at_least: bool,
    /// Needed value.
    pub needed: f64,
    /// Predicted value.
    pub predicted: f64,
    /// 95 % interval of the prediction.
    pub interval_95: [f64; 2],
    /// Chance that it holds.
    pub chance: f64,
    /// Verdict.
    pub verdict: &'a str,
}

/// One price.
pub struct Price<'a> {
    /// What it is for.
    pub what: &'static str,
    /// Pieces.
    pub quantity: u64,
    /// Price of one.
    pub unit_price: &'a str,
    /// Price of all.
    pub total: &'a str,
}

/// A caution.
#[derive(Deserialize)]
pub struct Caution {
    /// What it is about.
    pub subject: String,
    /// The words.
    pub text: String,
}

/// Most pads that are named; of more, the number is told.
const MOST_NAMES: usize = 12;

/// The paper as an HTML page.
pub fn quote_page(paper: &Paper<'_>) -> String {
    let name = format!("Quote {}, revision {}", paper.number, paper.revision);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (name) }
                link rel="icon" href="/favicon.svg" type="image/svg+xml";
                link rel="stylesheet" href="/quote.css";
            }
            body {
                main {
                    header {
                        @if !paper.shop.is_empty() { p.shop { (paper.shop) } }
                        h1 { (name) }
                        @if let Some(remark) = paper.remark { p.state { (remark) } }
                    }
                    (facts(paper))
                    (verdict(paper))
                    @if !paper.prices.is_empty() { (prices(paper)) }
                    @if !paper.terms.is_empty() {
                        section aria-labelledby="terms" { h2 #terms { "Terms" } p.terms { (paper.terms) } }
                    }
                    @if !paper.cautions.is_empty() {
                        section aria-labelledby="cautions" {
                            h2 #cautions { "Cautions" }
                            ul { @for caution in paper.cautions { li { strong { (caution.subject) ". " } (caution.text) } } }
                        }
                    }
                    footer {
                        p { "Predicted by the model " (paper.model_version) " with the library " (paper.library_revision)
                            ". Intervals hold 95 of 100. Local codes and licensed practice come first." }
                    }
                }
            }
        }
    };
    page.into_string()
}

fn facts(paper: &Paper<'_>) -> Markup {
    html! {
        dl.facts {
            div { dt { "For" } dd { (paper.customer_reference) } }
            @if !paper.title.is_empty() { div { dt { "Piece" } dd { (paper.title) } } }
            div { dt { "Quantity" } dd { (paper.quantity) } }
            div { dt { "Date" } dd { (paper.date) } }
            div { dt { "Valid until" } dd { (paper.valid_until) } }
            @if !paper.layers.is_empty() { div { dt { "Layers, from above" } dd { (paper.layers.join("; ")) } } }
            @if !paper.pads.is_empty() { div { dt { "Touch pads" } dd { (named(&paper.pads)) } } }
        }
    }
}

fn named(pads: &[&str]) -> String {
    match pads.len() {
        count if count > MOST_NAMES => format!("{count}: {} and {} more", pads[..MOST_NAMES].join(", "), count - MOST_NAMES),
        count => format!("{count}: {}", pads.join(", ")),
    }
}

fn verdict(paper: &Paper<'_>) -> Markup {
    html! {
        section aria-labelledby="verdict" {
            h2 #verdict { "Will it work: " (paper.verdict) }
            p { (paper.sentence) }
            @if !paper.measure.is_empty() {
                p { "To be sure, first:" }
                ul { @for what in &paper.measure { li { (what) } } }
            }
            table {
                thead {
                    tr {
                        th scope="col" { "Requirement" }
                        th scope="col" { "Needed" }
                        th scope="col" { "Predicted" }
                        th scope="col" { "95 % interval" }
                        th scope="col" { "Chance" }
                        th scope="col" { "Verdict" }
                    }
                }
                tbody { @for requirement in &paper.requirements { (line(requirement)) } }
            }
        }
    }
}

fn line(requirement: &Requirement<'_>) -> Markup {
    let with_unit = |text: String| if requirement.unit.is_empty() { text } else { format!("{text} {}", requirement.unit) };
    let [low, high] = requirement.interval_95;
    html! {
        tr {
            th scope="row" {
                (requirement.title)
                @if let Some(weakest) = requirement.weakest { " " small { "weakest of " (requirement.count) ": " (weakest) } }
            }
            td { (if requirement.at_least { "at least " } else { "at most " }) (with_unit(number(requirement.needed))) }
            td { (with_unit(number(requirement.predicted))) }
            td { (number(low)) " to " (with_unit(number(high))) }
            td { (chance(requirement.chance)) }
            td { (requirement.verdict) }
        }
    }
}

fn prices(paper: &Paper<'_>) -> Markup {
    html! {
        section aria-labelledby="price" {
            h2 #price { "Price" }
            table {
                thead {
                    tr {
                        th scope="col" { "Pieces" }
                        th scope="col" { "For" }
                        th.amount scope="col" { "Each, " (paper.currency) }
                        th.amount scope="col" { "Total, " (paper.currency) }
                    }
                }
                tbody {
                    @for price in &paper.prices {
                        tr {
                            th scope="row" { (price.quantity) }
                            td { (price.what) }
                            td.amount { (price.unit_price) }
                            td.amount { (price.total) }
                        }
                    }
                }
            }
        }
    }
}

/// A chance in whole per cent, never all or nothing, that no line break cuts.
fn chance(chance: f64) -> String {
    match chance * 100.0 {
        percent if percent > 99.0 => "over\u{a0}99\u{a0}%".into(),
        percent if percent < 1.0 => "under\u{a0}1\u{a0}%".into(),
        percent => format!("{percent:.0}\u{a0}%"),
    }
}

/// Three digits that count, without an exponent.
fn number(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return "0".into();
    }
    let decimals = (2 - value.abs().log10().floor() as i32).clamp(0, 9);
    let text = format!("{value:.*}", decimals as usize);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::{chance, named, number};

    #[test]
    fn numbers_are_short_and_chances_never_certain() {
        let shown = [0.0, 0.41237, 12.0, 1234.6, -0.05, 99.96, 1e-12].map(number);
        assert_eq!(shown, ["0", "0.412", "12", "1235", "-0.05", "100", "0"]);
        assert_eq!([0.0, 0.5, 0.987, 1.0].map(chance), ["under\u{a0}1\u{a0}%", "50\u{a0}%", "99\u{a0}%", "over\u{a0}99\u{a0}%"]);
    }

    #[test]
    fn many_pads_are_counted() {
        assert_eq!(named(&["a", "b"]), "2: a, b");
        assert_eq!(named(&["p"; 14]), format!("14: {} and 2 more", ["p"; 12].join(", ")));
    }
}
