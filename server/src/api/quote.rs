//! Quotes on the wire.

use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use super::answer::{EstimateAnswer, VerdictWord};
use super::piece::Piece;
use super::problem::FieldError;
use super::read::Readable;

/// Longest customer reference and title, characters.
pub const LONGEST_LINE: usize = 200;
/// Longest terms, characters.
pub const LONGEST_TERMS: usize = 4000;

/// A quote to be kept: a piece with what goes around it. The estimate is made of it and kept as it is answered.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct QuoteDraft {
    /// What the customer calls it; not blank.
    #[schema(min_length = 1, max_length = 200)]
    pub customer_reference: String,
    /// What it is about; the name of the piece where nothing is given.
    #[schema(max_length = 200)]
    pub title: Option<String>,
    /// Terms; none where nothing is given.
    #[schema(max_length = 4000)]
    pub terms: Option<String>,
    /// Last day on which it holds, year first: 2026-12-31. Thirty days from today (UTC) where nothing is given.
    #[schema(max_length = 10)]
    pub valid_until: Option<String>,
    /// The piece.
    pub piece: Piece,
}

impl Readable for QuoteDraft {
    const SCHEMA: &'static str = "QuoteDraft";
}

impl QuoteDraft {
    /// What is wrong with its texts.
    pub fn faults(&self) -> Vec<FieldError> {
        let mut faults = Vec::new();
        let mut line = |pointer: &str, text: &str, most: usize, lines: bool| {
            let odd = |c: char| c.is_control() && !(lines && matches!(c, '\n' | '\r' | '\t'));
            if text.chars().count() > most {
                faults.push(fault(pointer, text, "The text is too long.", format!("at most {most} characters")));
            } else if text.chars().any(odd) {
                faults.push(fault(pointer, text, "There are control characters in the text.", "text that can be printed".into()));
            }
        };
        line("/customer_reference", &self.customer_reference, LONGEST_LINE, false);
        line("/title", self.title.as_deref().unwrap_or_default(), LONGEST_LINE, false);
        line("/terms", self.terms.as_deref().unwrap_or_default(), LONGEST_TERMS, true);
        if self.customer_reference.trim().is_empty() {
            let message = "The customer reference is blank.";
            faults.push(fault("/customer_reference", &self.customer_reference, message, "1 to 200 characters".into()));
        }
        faults
    }
}

/// A fault of one field of the body.
pub fn fault(pointer: &str, value: &str, message: &str, allowed: String) -> FieldError {
    let value = value.chars().take(100).collect::<String>();
    FieldError { pointer: pointer.into(), value: value.into(), message: message.into(), allowed }
}

/// State of a quote. A draft may be changed; what was sent stays as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum QuoteState {
    /// It may be changed; nobody outside has it.
    Draft,
    /// The customer has it.
    Sent,
    /// The customer took it.
    Accepted,
    /// The customer did not take it.
    Declined,
    /// The shop took it back, or a later revision took its place.
    Withdrawn,
}

/// The state that a quote is brought to.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct QuoteTurn {
    /// A draft is sent or withdrawn; what was sent is accepted, declined or withdrawn.
    pub state: QuoteState,
}

impl Readable for QuoteTurn {
    const SCHEMA: &'static str = "QuoteTurn";
}

/// A revision of a quote without piece and estimate.
#[derive(Debug, Serialize, ToSchema)]
pub struct QuoteSummary {
    /// Id of this revision.
    pub id: String,
    /// Number, the same for all revisions.
    pub number: String,
    /// Counted from 1.
    pub revision: i64,
    /// Whether there is no later revision.
    pub latest: bool,
    /// State.
    pub state: QuoteState,
    /// What the customer calls it.
    pub customer_reference: String,
    /// What it is about.
    pub title: String,
    /// Terms.
    pub terms: String,
    /// Last day on which it holds.
    pub valid_until: String,
    /// Pieces.
    pub quantity: i64,
    /// Verdict of the estimate: comfortable, tight, out of reach or measure first.
    pub verdict: String,
    /// Chance of the estimate, 0 to 1.
    pub chance: f64,
    /// Price of one, an exact decimal; null where nothing is sewn.
    pub unit_price: Option<String>,
    /// Price of all, an exact decimal; null where nothing is sewn.
    pub total: Option<String>,
    /// Currency of both, after ISO 4217; null where nothing is sewn.
    pub currency: Option<String>,
    /// Version of the model that made the estimate.
    pub model_version: String,
    /// Revision of the library that it used.
    pub library_revision: String,
    /// When this revision was made, RFC 3339 in UTC.
    pub created_at: String,
    /// When it was last changed.
    pub changed_at: String,
    /// When it was sent; null before.
    pub sent_at: Option<String>,
    /// When it was accepted, declined or withdrawn; null before.
    pub decided_at: Option<String>,
    /// Address of this revision.
    pub href: String,
    /// Address of it for paper.
    pub print_href: String,
}

/// A revision of a quote, whole.
#[derive(Serialize, ToSchema)]
#[allow(dead_code, reason = "declared for the document; `quote_body` writes it, so that piece and estimate stay as they are stored")]
pub struct Quote {
    /// Everything else.
    #[serde(flatten)]
    summary: QuoteSummary,
    /// The piece as it came.
    #[schema(value_type = Piece)]
    piece: (),
    /// Its estimate as it was answered then, with every number that went in.
    #[schema(value_type = EstimateAnswer<'static>)]
    estimate: (),
}

/// The body of a whole quote: the summary with the stored texts of piece and estimate as two more fields.
pub fn quote_body(summary: &QuoteSummary, piece: &str, estimate: &str) -> String {
    let head = serde_json::to_string(summary).expect("a summary is plain data");
    let head = head.strip_suffix('}').expect("a summary is an object");
    format!("{head},\"piece\":{piece},\"estimate\":{estimate}}}")
}

/// A page of quotes, newest first.
#[derive(Serialize, ToSchema)]
pub struct Quotes {
    /// The quotes.
    pub quotes: Vec<QuoteSummary>,
    /// What to give as `after` for the next page; null on the last one.
    pub next: Option<String>,
}

/// A quote held against an estimate of today.
#[derive(Serialize, ToSchema)]
pub struct QuoteRerun {
    /// Id of the revision.
    pub id: String,
    /// Its number.
    pub number: String,
    /// Its revision.
    pub revision: i64,
    /// Whether the estimate of today is the same in every check and price.
    pub same: bool,
    /// Verdict then.
    #[schema(value_type = VerdictWord)]
    pub verdict_then: Value,
    /// Verdict today.
    #[schema(value_type = VerdictWord)]
    pub verdict_today: Value,
    /// What differs among what goes in: model, library, shop, rates, prices, inputs.
    pub causes: Vec<CauseAnswer>,
    /// What differs among what comes out, field by field: verdict, checks, prices.
    pub differences: Vec<DifferenceAnswer>,
    /// The causes in plain sentences.
    pub sentence: String,
}

/// Something that went in and is another today.
#[derive(Serialize, ToSchema)]
pub struct CauseAnswer {
    /// model, library, shop, rate, price or input.
    pub kind: &'static str,
    /// What it is called.
    pub name: String,
    /// Unit of the numbers; empty where there is none.
    pub unit: String,
    /// What it was; null where it was not there.
    pub then: Value,
    /// What it is; null where it is no longer there.
    pub today: Value,
}

/// Something that came out and is another today.
#[derive(Serialize, ToSchema)]
pub struct DifferenceAnswer {
    /// piece, check or price.
    pub part: &'static str,
    /// What it is called.
    pub name: String,
    /// Its field in the estimate.
    pub field: &'static str,
    /// Unit of the numbers; empty where there is none.
    pub unit: String,
    /// What it was; null where it was not there.
    pub then: Value,
    /// What it is; null where it is no longer there.
    pub today: Value,
}
