//! Quotes: keep, change, revise, bring to another state, look for, print, hold against today.

use std::io;

use axum::body::{Body, Bytes};
use axum::extract::{FromRequestParts, Path, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderName, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use serde_json::Value;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;

use crate::api::answer::VerdictWord;
use crate::api::piece::Piece;
use crate::api::problem::{BodyProblems, ChangeProblems, FieldError, LookProblems, OnceProblems, Refusal};
use crate::api::quote::{
    CauseAnswer, DifferenceAnswer, LONGEST_LINE, Quote, QuoteDraft, QuoteRerun, QuoteState, QuoteSummary, QuoteTurn, Quotes, fault,
    quote_body,
};
use crate::api::read::{explain_faults, read};
use crate::app::App;
use crate::http::access::Caller;
use crate::http::conditions::{IfMatch, MatchHeader, is_held, tag_of};
use crate::http::document;
use crate::http::extract::{Askable, Asked, JsonBody, RangedJson};
use crate::http::once::{OnceHeader, OnceKey, kept_json};
use crate::http::v1::estimates::estimate_text;
use crate::usecase::clock::{date_from, time_text};
use crate::usecase::estimate::Wanted;
use crate::usecase::once::{KeptAnswer, once};
use crate::usecase::quote::{self, Asking, Draft, QuoteFault, QuoteFilter, QuoteName, QuoteRow, State as Stage, Version};

const PIECE: Wanted = Wanted { working: false, approach: false, runs: false };

/// Keeps a quote: estimates the piece and stores both with number, price, terms and validity. It is a draft until it is sent.
#[utoipa::path(
    post, path = "/api/v1/quotes", operation_id = "quote_create", tag = "quotes", summary = "Keep a quote",
    params(OnceHeader),
    request_body = QuoteDraft,
    responses((status = 201, description = "The quote, as a draft; its ETag names its state", body = QuoteSummary), BodyProblems, OnceProblems)
)]
pub async fn quote_create(State(app): State<App>, caller: Caller, key: OnceKey, body: JsonBody<QuoteDraft>) -> Result<KeptAnswer, Refusal> {
    let (wire, bytes) = body.into_parts();
    let request = key.once(&caller, "quote_create", &[&bytes]);
    let (app, caller) = (&app, &caller);
    once(&app.store, request, |request| async move {
        let draft = prepared(app, &caller.actor, wire, &bytes).await?;
        let asking = Asking { actor: &caller.actor, operation: "quote_create", once: request.as_ref() };
        Ok(quote::quote_create(&app.store, draft, asking, |row| kept(StatusCode::CREATED, row)).await?)
    })
    .await
}

/// Writes a draft anew, whole. What was sent stays as it is; make a revision of it.
#[utoipa::path(
    put, path = "/api/v1/quotes/{id}", operation_id = "quote_change", tag = "quotes", summary = "Change a draft",
    params(
        ("id" = String, Path, description = "Its id, its number (the latest revision), or number and revision: 2026-0007.2", max_length = 64),
        MatchHeader
    ),
    request_body = QuoteDraft,
    responses((status = 200, description = "The quote as it is now", body = QuoteSummary), BodyProblems, ChangeProblems)
)]
pub async fn quote_change(
    State(app): State<App>,
    caller: Caller,
    Named(name): Named,
    IfMatch(seen): IfMatch,
    body: JsonBody<QuoteDraft>,
) -> Result<KeptAnswer, Refusal> {
    let (wire, bytes) = body.into_parts();
    let draft = prepared(&app, &caller.actor, wire, &bytes).await?;
    let asking = Asking { actor: &caller.actor, operation: "quote_change", once: None };
    Ok(quote::quote_change(&app.store, &name, &seen, draft, asking, |row| kept(StatusCode::OK, row)).await?)
}

/// Makes the next revision of a quote that was sent, accepted, declined or withdrawn: a draft under the same number. When it
/// is sent, earlier revisions that the customer still has are withdrawn.
#[utoipa::path(
    post, path = "/api/v1/quotes/{id}/revisions", operation_id = "quote_revise", tag = "quotes", summary = "Make a revision of a quote",
    params(
        ("id" = String, Path, description = "Its id, its number (the latest revision), or number and revision: 2026-0007.2", max_length = 64),
        OnceHeader
    ),
    request_body = QuoteDraft,
    responses((status = 201, description = "The revision, as a draft", body = QuoteSummary), BodyProblems, ChangeProblems)
)]
pub async fn quote_revise(
    State(app): State<App>,
    caller: Caller,
    key: OnceKey,
    Named(name): Named,
    body: JsonBody<QuoteDraft>,
) -> Result<KeptAnswer, Refusal> {
    let (wire, bytes) = body.into_parts();
    let request = key.once(&caller, "quote_revise", &[in_words(&name).as_bytes(), &bytes]);
    let (app, caller, name) = (&app, &caller, &name);
    once(&app.store, request, |request| async move {
        let draft = prepared(app, &caller.actor, wire, &bytes).await?;
        let asking = Asking { actor: &caller.actor, operation: "quote_revise", once: request.as_ref() };
        Ok(quote::quote_revise(&app.store, name, draft, asking, |row| kept(StatusCode::CREATED, row)).await?)
    })
    .await
}

/// Brings a quote to another state: a draft is sent or withdrawn; what was sent is accepted, declined or withdrawn.
#[utoipa::path(
    post, path = "/api/v1/quotes/{id}/state", operation_id = "quote_turn", tag = "quotes", summary = "Send, accept, decline or withdraw a quote",
    params(
        ("id" = String, Path, description = "Its id, its number (the latest revision), or number and revision: 2026-0007.2", max_length = 64),
        MatchHeader,
        OnceHeader
    ),
    request_body = QuoteTurn,
    responses((status = 200, description = "The quote as it is now", body = QuoteSummary), BodyProblems, ChangeProblems)
)]
pub async fn quote_turn(
    State(app): State<App>,
    caller: Caller,
    key: OnceKey,
    Named(name): Named,
    IfMatch(seen): IfMatch,
    RangedJson(wire): RangedJson<QuoteTurn>,
) -> Result<KeptAnswer, Refusal> {
    let to = stage(wire.state);
    let request = key.once(&caller, "quote_turn", &[in_words(&name).as_bytes(), to.word().as_bytes()]);
    let (app, caller, name, seen) = (&app, &caller, &name, &seen);
    once(&app.store, request, |request| async move {
        let asking = Asking { actor: &caller.actor, operation: "quote_turn", once: request.as_ref() };
        Ok(quote::quote_turn(&app.store, name, seen, to, asking, |row| kept(StatusCode::OK, row)).await?)
    })
    .await
}

/// One quote, whole: with the piece as it came and the estimate as it was answered.
#[utoipa::path(
    get, path = "/api/v1/quotes/{id}", operation_id = "quote_find", tag = "quotes", summary = "One quote",
    params(
        ("id" = String, Path, description = "Its id, its number (the latest revision), or number and revision: 2026-0007.2", max_length = 64),
        ("If-None-Match" = Option<String>, Header, description = "The ETag that was told last; where it still holds, the answer is 304 without a body")
    ),
    responses((status = 200, description = "The quote; its ETag names its state", body = Quote), LookProblems)
)]
pub async fn quote_find(State(app): State<App>, _caller: Caller, Named(name): Named, headers: HeaderMap) -> Result<Response, Refusal> {
    let found = quote::quote_find(&app.store, &name).await?;
    let version = Version::of(&found.row);
    let tag = [(header::ETAG, tag_of(&version)), (header::CACHE_CONTROL, "no-cache".into())];
    if is_held(&headers, &version) {
        return Ok((StatusCode::NOT_MODIFIED, tag).into_response());
    }
    let body = quote_body(&summary(&found.row), &found.piece, &found.estimate);
    Ok((tag, [(header::CONTENT_TYPE, "application/json")], body).into_response())
}

/// What may be asked for in a list of quotes.
#[derive(Debug, Clone, Default, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct QuoteQuery {
    /// What number, customer reference or title contain, in any case of letters.
    #[serde(default)]
    #[param(required = false, max_length = 200)]
    text: String,
    /// The customer reference, exactly.
    #[serde(default)]
    #[param(required = false, max_length = 200)]
    customer_reference: String,
    /// Only those in this state.
    #[param(inline)]
    state: Option<QuoteState>,
    /// Only those with this verdict.
    #[param(inline)]
    verdict: Option<VerdictWord>,
    /// Earlier revisions too; otherwise only the latest of each number.
    #[serde(default)]
    #[param(required = false)]
    revisions: bool,
    /// Where the page begins: `next` of the page before.
    #[param(max_length = 64)]
    after: Option<String>,
    /// Most quotes in a page.
    #[serde(default = "usual_page")]
    #[param(required = false, minimum = 1, maximum = 200, default = 50)]
    limit: u32,
}

const MOST_IN_A_PAGE: u32 = 200;

const fn usual_page() -> u32 {
    50
}

impl Askable for QuoteQuery {
    const ALLOWED: &'static str = "text, customer_reference, state, verdict, revisions (true or false), after, limit (1 to 200)";
}

impl QuoteQuery {
    fn filter(&self) -> Result<QuoteFilter, Refusal> {
        let mut faults = Vec::new();
        for (field, text) in [("text", &self.text), ("customer_reference", &self.customer_reference)] {
            if text.chars().count() > LONGEST_LINE || text.chars().any(char::is_control) {
                let message = format!("`{field}` of the query cannot be looked for.");
                faults.push(fault("", text, &message, format!("at most {LONGEST_LINE} characters that can be printed")));
            }
        }
        if !(1..=MOST_IN_A_PAGE).contains(&self.limit) {
            faults.push(fault("", &self.limit.to_string(), "`limit` of the query is out of range.", format!("1 to {MOST_IN_A_PAGE}")));
        }
        if self.after.as_deref().is_some_and(|after| !is_id(after)) {
            faults.push(fault("", self.after.as_deref().unwrap_or_default(), "`after` is none of ours.", "`next` of a page".into()));
        }
        if !faults.is_empty() {
            return Err(Refusal::NotAllowed(faults));
        }
        Ok(QuoteFilter {
            text: self.text.clone(),
            customer_reference: self.customer_reference.clone(),
            state: self.state.map_or("", |state| stage(state).word()).into(),
            verdict: self.verdict.map_or("", VerdictWord::word).into(),
            all_revisions: self.revisions,
        })
    }
}

/// Quotes, newest first, page by page.
#[utoipa::path(
    get, path = "/api/v1/quotes", operation_id = "quote_list", tag = "quotes", summary = "List and search quotes",
    params(QuoteQuery),
    responses((status = 200, description = "A page of quotes", body = Quotes), LookProblems)
)]
pub async fn quote_list(State(app): State<App>, _caller: Caller, Asked(query): Asked<QuoteQuery>) -> Result<Response, Refusal> {
    let (rows, next) = quote::quote_list(&app.store, &query.filter()?, query.after.as_deref(), query.limit).await?;
    Ok(axum::Json(Quotes { quotes: rows.iter().map(summary).collect(), next }).into_response())
}

/// Quotes that are read at once for an export; no more of it is held in memory.
const EXPORTED_AT_ONCE: u32 = 500;

/// All quotes that fit the query as a spreadsheet, newest first. `after` and `limit` are not looked at. Texts that a
/// spreadsheet would run as a formula get an apostrophe in front.
#[utoipa::path(
    get, path = "/api/v1/quotes/export", operation_id = "quote_export", tag = "quotes", summary = "Quotes as a spreadsheet",
    params(QuoteQuery),
    responses((status = 200, description = "CSV in UTF-8 with a header row", body = String, content_type = "text/csv"), LookProblems)
)]
pub async fn quote_export(State(app): State<App>, _caller: Caller, Asked(query): Asked<QuoteQuery>) -> Result<Response, Refusal> {
    let filter = query.filter()?;
    // The first page is there before the status is told.
    let (rows, mut next) = quote::quote_list(&app.store, &filter, None, EXPORTED_AT_ONCE).await?;
    let mut first = quote::quote_head();
    first.extend(quote::quote_lines(&rows));
    let (sender, receiver) = mpsc::channel::<io::Result<Bytes>>(1);
    tokio::spawn(async move {
        let mut ready = Ok(Bytes::from(first));
        loop {
            let failed = ready.is_err();
            // A client that has gone away needs no more; neither does one whose table broke off.
            if sender.send(ready).await.is_err() || failed {
                return;
            }
            let Some(before) = next.take() else { return };
            ready = match quote::quote_list(&app.store, &filter, Some(&before), EXPORTED_AT_ONCE).await {
                Ok((rows, following)) => {
                    next = following;
                    Ok(quote::quote_lines(&rows).into())
                }
                Err(fault) => {
                    tracing::warn!(target: "toile::store", why = %fault, "an export broke off");
                    Err(io::Error::other("the database does not answer any more"))
                }
            };
        }
    });
    let headers = [(header::CONTENT_TYPE, "text/csv; charset=utf-8"), (header::CONTENT_DISPOSITION, "attachment; filename=\"quotes.csv\"")];
    Ok((headers, Body::from_stream(ReceiverStream::new(receiver))).into_response())
}

/// Estimates the piece of a quote again and tells what differs today, and what that comes from: model, library, rates,
/// inputs. The quote stays as it is.
#[utoipa::path(
    post, path = "/api/v1/quotes/{id}/rerun", operation_id = "quote_rerun", tag = "quotes", summary = "Hold a quote against today",
    params(("id" = String, Path, description = "Its id, its number (the latest revision), or number and revision: 2026-0007.2", max_length = 64)),
    responses((status = 200, description = "What differs, and why", body = QuoteRerun), LookProblems)
)]
pub async fn quote_rerun(State(app): State<App>, caller: Caller, Named(name): Named) -> Result<Response, Refusal> {
    let found = quote::quote_find(&app.store, &name).await?;
    let piece: Piece = read(found.piece.as_bytes(), document::as_json)?;
    let today = estimate_text(&app, &caller.actor, piece.into(), PIECE, true).await?.map_err(Refusal::from)?;
    let broken = |error: serde_json::Error| {
        tracing::error!(target: "toile::store", why = %error, "a stored estimate cannot be read");
        Refusal::Internal
    };
    let then: Value = serde_json::from_str(&found.estimate).map_err(broken)?;
    let today: Value = serde_json::from_slice(&today).map_err(broken)?;
    let (causes, differences) = quote::quote_compare(&then, &today);
    let sentence = quote::quote_compare_sentence(&causes, &differences);
    let answer = QuoteRerun {
        id: found.row.id,
        number: found.row.number,
        revision: found.row.revision,
        same: differences.is_empty(),
        verdict_then: then["verdict"].clone(),
        verdict_today: today["verdict"].clone(),
        causes: causes
            .into_iter()
            .map(|c| CauseAnswer { kind: c.kind, name: c.name, unit: c.unit, then: c.then, today: c.today })
            .collect(),
        differences: differences
            .into_iter()
            .map(|d| DifferenceAnswer { part: d.part, name: d.name, field: d.field, unit: d.unit, then: d.then, today: d.today })
            .collect(),
        sentence,
    };
    Ok(axum::Json(answer).into_response())
}

/// A quote for paper: one or two pages of A4.
#[utoipa::path(
    get, path = "/api/v1/quotes/{id}/print", operation_id = "quote_print", tag = "quotes", summary = "A quote for paper",
    params(("id" = String, Path, description = "Its id, its number (the latest revision), or number and revision: 2026-0007.2", max_length = 64)),
    responses((status = 200, description = "A page to print", body = String, content_type = "text/html"), LookProblems)
)]
pub async fn quote_print(State(app): State<App>, _caller: Caller, Named(name): Named) -> Result<Response, Refusal> {
    let found = quote::quote_find(&app.store, &name).await?;
    let page = quote::quote_print(&found)?;
    Ok(([(header::CONTENT_TYPE, "text/html; charset=utf-8"), (header::CACHE_CONTROL, "no-cache")], page).into_response())
}

/// A draft with its estimate, or every fault of it.
async fn prepared(app: &App, by: &str, wire: QuoteDraft, bytes: &Bytes) -> Result<Draft, Refusal> {
    let mut faults = wire.faults();
    let given = wire.valid_until.as_deref().unwrap_or_default();
    let valid_until = date_from(given);
    if valid_until.is_none() && wire.valid_until.is_some() {
        faults.push(fault("/valid_until", given, "This is no date.", "a date, year first: 2026-12-31".into()));
    }
    let piece = toile_model::Piece::from(wire.piece);
    let (quantity, piece_name) = (piece.quantity, piece.name.clone());
    let estimate = estimate_text(app, by, piece, PIECE, true).await?;
    if let Err(found) = &estimate {
        let inside = |f: &toile_model::Fault| FieldError {
            pointer: format!("/piece{}", f.pointer),
            value: f.given.clone().into(),
            message: f.message.clone(),
            allowed: f.allowed.clone(),
        };
        faults.extend(found.0.iter().map(inside));
    }
    let estimate = match estimate {
        Ok(text) if faults.is_empty() => text,
        _ => return Err(explain_faults::<QuoteDraft>(bytes, faults, document::as_json)),
    };
    // As it came, field by field and in its order, without the white space around.
    let body: Value = serde_json::from_slice(bytes).map_err(|error| Refusal::Unreadable(error.to_string()))?;
    Ok(Draft {
        customer_reference: wire.customer_reference.trim().to_owned(),
        // The name of a piece may hold anything; a title is a line to be printed.
        title: wire.title.or(piece_name).unwrap_or_default().replace(char::is_control, " ").trim().to_owned(),
        terms: wire.terms.unwrap_or_default(),
        valid_until,
        quantity,
        piece: body["piece"].to_string(),
        estimate: String::from_utf8(estimate).map_err(|_| Refusal::Internal)?,
    })
}

/// How a quote is called in the address.
pub struct Named(QuoteName);

impl<S: Send + Sync> FromRequestParts<S> for Named {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Refusal> {
        // What is no UTF-8 names no quote.
        let Path(text) = Path::<String>::from_request_parts(parts, state).await.map_err(|_| Refusal::from(QuoteFault::NotFound))?;
        name_of(&text).map(Self).map_err(Refusal::from)
    }
}

/// A name as it stands in an address.
fn in_words(name: &QuoteName) -> String {
    match name {
        QuoteName::Id(text) | QuoteName::Number(text) => text.clone(),
        QuoteName::Revision(number, revision) => format!("{number}.{revision}"),
    }
}

fn name_of(id: &str) -> Result<QuoteName, QuoteFault> {
    let digits = |text: &str| (1..=12).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    let is_number = |text: &str| text.split_once('-').is_some_and(|(year, count)| digits(year) && digits(count));
    match id.split_once('.') {
        _ if is_id(id) => Ok(QuoteName::Id(id.to_ascii_lowercase())),
        None if is_number(id) => Ok(QuoteName::Number(id.into())),
        Some((number, revision)) if is_number(number) && digits(revision) => {
            Ok(QuoteName::Revision(number.into(), revision.parse().map_err(|_| QuoteFault::NotFound)?))
        }
        _ => Err(QuoteFault::NotFound),
    }
}

/// Whether a text has the form of our ids: a UUID with dashes.
fn is_id(text: &str) -> bool {
    let dashes = [8, 13, 18, 23];
    text.len() == 36 && text.bytes().enumerate().all(|(k, byte)| if dashes.contains(&k) { byte == b'-' } else { byte.is_ascii_hexdigit() })
}

const fn stage(state: QuoteState) -> Stage {
    match state {
        QuoteState::Draft => Stage::Draft,
        QuoteState::Sent => Stage::Sent,
        QuoteState::Accepted => Stage::Accepted,
        QuoteState::Declined => Stage::Declined,
        QuoteState::Withdrawn => Stage::Withdrawn,
    }
}

fn state_word(word: &str) -> QuoteState {
    match Stage::of(word) {
        Some(Stage::Sent) => QuoteState::Sent,
        Some(Stage::Accepted) => QuoteState::Accepted,
        Some(Stage::Declined) => QuoteState::Declined,
        Some(Stage::Withdrawn) => QuoteState::Withdrawn,
        Some(Stage::Draft) | None => QuoteState::Draft,
    }
}

fn address(row: &QuoteRow) -> String {
    format!("/api/v1/quotes/{}", row.id)
}

fn summary(row: &QuoteRow) -> QuoteSummary {
    QuoteSummary {
        id: row.id.clone(),
        number: row.number.clone(),
        revision: row.revision,
        latest: row.latest,
        state: state_word(&row.state),
        customer_reference: row.said.customer_reference.clone(),
        title: row.said.title.clone(),
        terms: row.said.terms.clone(),
        valid_until: row.said.valid_until.clone(),
        quantity: row.said.quantity,
        verdict: row.said.verdict.clone(),
        chance: row.said.chance,
        unit_price: row.said.unit_price.clone(),
        total: row.said.total.clone(),
        currency: row.said.currency.clone(),
        model_version: row.said.model_version.clone(),
        library_revision: row.said.library_revision.clone(),
        created_at: time_text(row.created_ms),
        changed_at: time_text(row.changed_ms),
        sent_at: row.sent_ms.map(time_text),
        decided_at: row.decided_ms.map(time_text),
        href: address(row),
        print_href: format!("{}/print", address(row)),
    }
}

/// The answer to a request that kept or changed a quote.
fn kept(status: StatusCode, row: &QuoteRow) -> KeptAnswer {
    let tag = tag_of(&Version::of(row));
    let address = address(row);
    let mut headers: Vec<(HeaderName, &str)> = vec![(header::ETAG, &tag)];
    if status == StatusCode::CREATED {
        headers.push((header::LOCATION, &address));
    }
    kept_json(status, &headers, &summary(row))
}
