//! What is read out of an estimate as it was answered: the columns of a stored quote, so that they cannot differ from it.

use serde::Deserialize;

/// What a stored quote repeats of its estimate.
#[derive(Debug, Deserialize)]
pub struct Answered {
    /// Version of the model.
    pub model_version: String,
    /// Revision of the library.
    pub library_revision: String,
    /// Verdict of the piece.
    pub verdict: String,
    /// Chance of the piece.
    pub chance: f64,
    /// Time and price, where there is something to sew.
    pub production: Option<AnsweredProduction>,
}

/// What a stored quote repeats of time and price.
#[derive(Debug, Deserialize)]
pub struct AnsweredProduction {
    /// Currency of the amounts.
    pub currency: String,
    /// The quantity of the piece.
    pub series: AnsweredSeries,
}

/// Price of the quantity of the piece.
#[derive(Debug, Deserialize)]
pub struct AnsweredSeries {
    /// Price of one.
    pub unit_price: String,
    /// Unit price times quantity.
    pub total: String,
}
