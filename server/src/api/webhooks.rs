//! Webhooks on the wire: who is told what, what became of it, and the bodies that are sent.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::read::Readable;

/// What a webhook can be told of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize, ToSchema)]
pub enum EventName {
    /// A quote was made.
    #[serde(rename = "quote.created")]
    QuoteCreated,
    /// A quote got another revision.
    #[serde(rename = "quote.revised")]
    QuoteRevised,
    /// A quote was sent to the customer.
    #[serde(rename = "quote.sent")]
    QuoteSent,
    /// The customer accepted a quote.
    #[serde(rename = "quote.accepted")]
    QuoteAccepted,
    /// The customer declined a quote.
    #[serde(rename = "quote.declined")]
    QuoteDeclined,
    /// The shop took a quote back, or a later revision replaced it.
    #[serde(rename = "quote.withdrawn")]
    QuoteWithdrawn,
    /// A job worked off all its rows.
    #[serde(rename = "job.finished")]
    JobFinished,
    /// A job ended without its result.
    #[serde(rename = "job.failed")]
    JobFailed,
    /// A job was cancelled.
    #[serde(rename = "job.cancelled")]
    JobCancelled,
}

impl EventName {
    /// What it tells.
    pub const fn what(self) -> &'static str {
        match self {
            Self::QuoteCreated => "A quote was made",
            Self::QuoteRevised => "A quote got another revision",
            Self::QuoteSent => "A quote was sent to the customer",
            Self::QuoteAccepted => "The customer accepted a quote",
            Self::QuoteDeclined => "The customer declined a quote",
            Self::QuoteWithdrawn => "The shop took a quote back, or a later revision replaced it",
            Self::JobFinished => "A job worked off all its rows",
            Self::JobFailed => "A job ended without its result",
            Self::JobCancelled => "A job was cancelled",
        }
    }
}

/// A webhook to be made.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WebhookDraft {
    /// Where events are posted: an address that begins with `https://` and that everybody can reach. With
    /// `--allow-private-webhooks` also `http://` and addresses inside.
    #[schema(max_length = 2000)]
    pub url: String,
    /// What it is told.
    #[schema(min_items = 1, max_items = 9)]
    pub events: Vec<EventName>,
    /// What it is for, in your words.
    #[serde(default)]
    #[schema(required = false, max_length = 200)]
    pub note: String,
}

impl Readable for WebhookDraft {
    const SCHEMA: &'static str = "WebhookDraft";
}

/// What is to be different about a webhook; what is left out stays.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WebhookEdit {
    /// Where events are posted.
    #[schema(max_length = 2000)]
    pub url: Option<String>,
    /// What it is told.
    #[schema(min_items = 1, max_items = 9)]
    pub events: Option<Vec<EventName>>,
    /// What it is for, in your words.
    #[schema(max_length = 200)]
    pub note: Option<String>,
    /// `false` pauses it: what waits for it waits on, and it gets no new events. `true` resumes it.
    pub active: Option<bool>,
}

impl Readable for WebhookEdit {
    const SCHEMA: &'static str = "WebhookEdit";
}

/// A webhook. Its secret is not shown again.
#[derive(Debug, Serialize, ToSchema)]
pub struct WebhookAnswer {
    /// Id.
    pub id: String,
    /// Where events are posted.
    pub url: String,
    /// What it is told.
    pub events: Vec<String>,
    /// What it is for.
    pub note: String,
    /// Whether it works; `false` while it is paused.
    pub active: bool,
    /// Until when the secret before the present one signs as well, milliseconds since 1970; `null` where there is none.
    pub old_secret_until_ms: Option<i64>,
    /// Who made it.
    pub made_by: String,
    /// When, milliseconds since 1970.
    pub made_at_ms: i64,
    /// Deliveries that wait for a try.
    pub pending: i64,
    /// Deliveries that were given up and may be sent again.
    pub parked: i64,
}

/// All webhooks.
#[derive(Debug, Serialize, ToSchema)]
pub struct WebhookList {
    /// Oldest first.
    #[schema(min_items = 0)]
    pub webhooks: Vec<WebhookAnswer>,
}

/// A webhook with its secret, which is told this once.
#[derive(Debug, Serialize, ToSchema)]
pub struct WebhookMade {
    /// The webhook.
    pub webhook: WebhookAnswer,
    /// What its deliveries are signed with: `whsec_` and 32 bytes in base64. Keep it; it is not told again. The service keeps it
    /// too, as it is, because a hash could not sign: who reads the database can sign.
    pub secret: String,
}

/// One event on its way to one webhook.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeliveryAnswer {
    /// Id.
    pub id: String,
    /// The event: the `webhook-id` header of every try, the same each time.
    pub event_id: String,
    /// What happened.
    pub event: String,
    /// To what: the id of a quote or a job.
    pub subject: String,
    /// When, milliseconds since 1970.
    pub at_ms: i64,
    /// `pending`, `delivered` or `parked`.
    pub state: String,
    /// Tries so far.
    pub attempts: i64,
    /// When it is tried next, milliseconds since 1970; `null` where it is not.
    pub next_at_ms: Option<i64>,
    /// When it was tried last, milliseconds since 1970; `null` before the first try.
    pub last_at_ms: Option<i64>,
    /// HTTP status of the last answer; `null` where none came.
    pub last_status: Option<i64>,
    /// Why the last try failed; `null` where it did not.
    pub last_error: Option<String>,
}

/// Deliveries, newest first.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeliveryList {
    /// Newest first.
    #[schema(min_items = 0)]
    pub deliveries: Vec<DeliveryAnswer>,
    /// What to give as `before` for those that follow; `null` at the end.
    pub next: Option<String>,
}

/// A test event was put in line.
#[derive(Debug, Serialize, ToSchema)]
pub struct PingMade {
    /// Its delivery: `GET /webhooks/{id}/deliveries` tells what becomes of it.
    pub delivery_id: String,
}

/// A webhook was deleted.
#[derive(Debug, Serialize, ToSchema)]
pub struct WebhookGone {
    /// Its id.
    pub deleted: String,
}

/// Body of a `quote...` event: which revision of which quote. What it says is for `GET /quotes/{id}` with a key.
#[derive(Debug, Serialize, ToSchema)]
#[allow(dead_code, reason = "declared for the document; the bodies are made where it happens")]
pub struct QuoteEvent {
    /// What happened.
    #[serde(rename = "type")]
    #[schema(example = "quote.sent")]
    kind: String,
    /// When (RFC 3339). Events may overtake each other; this tells their order.
    #[schema(example = "2026-03-02T10:15:30.120Z")]
    timestamp: String,
    /// The quote.
    data: QuoteEventData,
}

/// Which revision of which quote.
#[derive(Debug, Serialize, ToSchema)]
#[allow(dead_code, reason = "declared for the document; the bodies are made where it happens")]
pub struct QuoteEventData {
    /// Id of the revision.
    id: String,
    /// Number of the quote.
    number: String,
    /// Its revision.
    revision: i64,
}

/// Body of a `job...` event: which job, and how far it came.
#[derive(Debug, Serialize, ToSchema)]
#[allow(dead_code, reason = "declared for the document; the bodies are made where it happens")]
pub struct JobEvent {
    /// What happened.
    #[serde(rename = "type")]
    #[schema(example = "job.finished")]
    kind: String,
    /// When (RFC 3339).
    #[schema(example = "2026-03-02T10:15:30.120Z")]
    timestamp: String,
    /// The job.
    data: JobEventData,
}

/// Which job, and how far it came.
#[derive(Debug, Serialize, ToSchema)]
#[allow(dead_code, reason = "declared for the document; the bodies are made where it happens")]
pub struct JobEventData {
    /// Id of the job.
    id: String,
    /// Its state.
    state: String,
}

/// Body of the test event `webhook.ping`, which nobody has to ask for.
#[derive(Debug, Serialize, ToSchema)]
#[allow(dead_code, reason = "declared for the document; the bodies are made where it happens")]
pub struct PingEvent {
    /// `webhook.ping`.
    #[serde(rename = "type")]
    #[schema(example = "webhook.ping")]
    kind: String,
    /// When (RFC 3339).
    #[schema(example = "2026-03-02T10:15:30.120Z")]
    timestamp: String,
    /// The webhook.
    data: PingEventData,
}

/// Which webhook.
#[derive(Debug, Serialize, ToSchema)]
#[allow(dead_code, reason = "declared for the document; the bodies are made where it happens")]
pub struct PingEventData {
    /// Id of the webhook.
    webhook: String,
}
