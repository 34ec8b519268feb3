//! Quotes: a saved estimate with price, terms and revision.
//!
//! A draft may be changed. What was sent stays as it is: a change of it makes a new revision under the same number, and when
//! that is sent, the earlier ones are withdrawn.

mod answered;
mod compare;
mod paper;
mod sheet;
mod state;

use jiff::ToSpan;
use jiff::civil::Date;

use self::answered::Answered;
pub use self::compare::{Cause, Difference, quote_compare, quote_compare_sentence};
pub use self::paper::quote_print;
pub use self::sheet::{QUOTE_COLUMNS, quote_head, quote_lines};
pub use self::state::State;
use super::clock::today;
use super::once::{KeptAnswer, KeyReused, Once};
use crate::store::{Doing, QuoteContent, QuoteSaid, QuoteTurn, Store, StoreFault};
pub use crate::store::{QuoteFilter, QuoteName, QuoteRow, QuoteWhole};

/// Days that a quote holds where nothing is given: common practice, no source.
pub const DAYS_VALID: i32 = 30;

/// Why nothing was done.
#[derive(Debug)]
pub enum QuoteFault {
    /// There is no such quote.
    NotFound,
    /// It was changed since the asker looked at it.
    Stale,
    /// Its content cannot be changed in this state.
    Fixed(State),
    /// This state does not lead to that one.
    NoWay {
        /// State that it is in.
        from: State,
        /// State that was asked for.
        to: State,
    },
    /// There is a later revision, and revisions are made of the latest.
    NotLatest,
    /// A draft is changed, not revised.
    StillDraft,
    /// The key came before with another request.
    KeyReused(KeyReused),
    /// The database.
    Store(StoreFault),
}

impl From<StoreFault> for QuoteFault {
    fn from(fault: StoreFault) -> Self {
        Self::Store(fault)
    }
}

impl From<KeyReused> for QuoteFault {
    fn from(reused: KeyReused) -> Self {
        Self::KeyReused(reused)
    }
}

/// A quote as it is asked for.
#[derive(Debug, Clone)]
pub struct Draft {
    /// What the customer calls it.
    pub customer_reference: String,
    /// What it is about.
    pub title: String,
    /// Terms.
    pub terms: String,
    /// Last day on which it holds; [`DAYS_VALID`] from now where nothing is given.
    pub valid_until: Option<Date>,
    /// Pieces.
    pub quantity: u32,
    /// The piece, JSON.
    pub piece: String,
    /// Its estimate as answered, JSON.
    pub estimate: String,
}

/// Who asks, and for what.
#[derive(Debug, Clone, Copy)]
pub struct Asking<'a> {
    /// For the audit log.
    pub actor: &'a str,
    /// Id of the operation.
    pub operation: &'a str,
    /// The request to be done once.
    pub once: Option<&'a Once>,
}

impl<'a> Asking<'a> {
    const fn doing(self) -> Doing<'a> {
        Doing { actor: self.actor, operation: self.operation, once: self.once }
    }
}

/// Which version of which row a change is made to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Version {
    /// Id of the revision.
    pub id: String,
    /// Version of its row.
    pub version: i64,
}

impl Version {
    /// The version that a row is in.
    pub fn of(row: &QuoteRow) -> Self {
        Self { id: row.id.clone(), version: row.version }
    }
}

/// Which versions the asker takes for the one that is there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Seen {
    /// Whatever is there.
    Any,
    /// One of these.
    These(Vec<Version>),
}

/// Keeps a new quote.
///
/// # Errors
/// Why it is not kept.
pub async fn quote_create(
    store: &Store,
    draft: Draft,
    asking: Asking<'_>,
    answer: impl FnOnce(&QuoteRow) -> KeptAnswer,
) -> Result<KeptAnswer, QuoteFault> {
    let today = today();
    Ok(store.quote_create(&content(draft, today)?, today.year(), asking.doing(), answer).await?)
}

/// Writes a draft anew, when it is still as the asker saw it.
///
/// # Errors
/// Why it is not.
pub async fn quote_change(
    store: &Store,
    name: &QuoteName,
    seen: &Seen,
    draft: Draft,
    asking: Asking<'_>,
    answer: impl FnOnce(&QuoteRow) -> KeptAnswer,
) -> Result<KeptAnswer, QuoteFault> {
    let row = seen_row(store, name, seen).await?;
    match state_of(&row)? {
        State::Draft => {}
        other => return Err(QuoteFault::Fixed(other)),
    }
    store.quote_change(&row, &content(draft, today())?, asking.doing(), answer).await?.ok_or(QuoteFault::Stale)
}

/// Makes the next revision of a quote that is no draft any more.
///
/// # Errors
/// Why it is not made.
pub async fn quote_revise(
    store: &Store,
    name: &QuoteName,
    draft: Draft,
    asking: Asking<'_>,
    answer: impl FnOnce(&QuoteRow) -> KeptAnswer,
) -> Result<KeptAnswer, QuoteFault> {
    let row = quote_find(store, name).await?.row;
    if state_of(&row)? == State::Draft {
        return Err(QuoteFault::StillDraft);
    }
    if !row.latest {
        return Err(QuoteFault::NotLatest);
    }
    store.quote_revise(&row, &content(draft, today())?, asking.doing(), answer).await?.ok_or(QuoteFault::NotLatest)
}

/// Brings a quote to another state, when it is still as the asker saw it.
///
/// # Errors
/// Why it is not.
pub async fn quote_turn(
    store: &Store,
    name: &QuoteName,
    seen: &Seen,
    to: State,
    asking: Asking<'_>,
    answer: impl FnOnce(&QuoteRow) -> KeptAnswer,
) -> Result<KeptAnswer, QuoteFault> {
    let row = seen_row(store, name, seen).await?;
    let from = state_of(&row)?;
    if !from.next().contains(&to) {
        return Err(QuoteFault::NoWay { from, to });
    }
    let turn = QuoteTurn { from: from.word(), to: to.word(), sends: to == State::Sent, replaced: State::Withdrawn.word() };
    store.quote_turn(&row, turn, asking.doing(), answer).await?.ok_or(QuoteFault::Stale)
}

/// One revision of a quote, whole.
///
/// # Errors
/// [`QuoteFault::NotFound`], and why the database cannot tell.
pub async fn quote_find(store: &Store, name: &QuoteName) -> Result<QuoteWhole, QuoteFault> {
    store.quote_find(name).await?.ok_or(QuoteFault::NotFound)
}

/// One page of quotes, newest first, and where the next one begins.
///
/// # Errors
/// Why the database cannot tell.
pub async fn quote_list(
    store: &Store,
    filter: &QuoteFilter,
    before: Option<&str>,
    most: u32,
) -> Result<(Vec<QuoteRow>, Option<String>), StoreFault> {
    // One more than asked for tells whether there is a next page.
    let mut rows = store.quote_list(filter, before, most + 1).await?;
    let more = rows.len() > most as usize;
    rows.truncate(most as usize);
    let next = rows.last().filter(|_| more).map(|row| row.id.clone());
    Ok((rows, next))
}

async fn seen_row(store: &Store, name: &QuoteName, seen: &Seen) -> Result<QuoteRow, QuoteFault> {
    let row = quote_find(store, name).await?.row;
    match seen {
        Seen::Any => Ok(row),
        Seen::These(versions) if versions.contains(&Version::of(&row)) => Ok(row),
        Seen::These(_) => Err(QuoteFault::Stale),
    }
}

fn state_of(row: &QuoteRow) -> Result<State, StoreFault> {
    State::of(&row.state).ok_or_else(|| StoreFault::Internal(format!("a quote is stored in the state {}", row.state)))
}

fn content(draft: Draft, today: Date) -> Result<QuoteContent, StoreFault> {
    let answered: Answered = read_estimate(&draft.estimate)?;
    let production = answered.production;
    let (unit_price, total, currency) = match production {
        Some(p) => (Some(p.series.unit_price), Some(p.series.total), Some(p.currency)),
        None => (None, None, None),
    };
    let valid_until = draft.valid_until.unwrap_or_else(|| today.saturating_add(DAYS_VALID.days()));
    let said = QuoteSaid {
        customer_reference: draft.customer_reference,
        title: draft.title,
        terms: draft.terms,
        valid_until: valid_until.to_string(),
        verdict: answered.verdict,
        chance: answered.chance,
        quantity: i64::from(draft.quantity),
        unit_price,
        total,
        currency,
        model_version: answered.model_version,
        library_revision: answered.library_revision,
    };
    Ok(QuoteContent { said, piece: draft.piece, estimate: draft.estimate })
}

/// Reads what is needed of an estimate as it was answered.
fn read_estimate<'a, T: serde::Deserialize<'a>>(text: &'a str) -> Result<T, StoreFault> {
    serde_json::from_str(text).map_err(|error| StoreFault::Internal(format!("a stored estimate cannot be read: {error}")))
}
