//! What happened that others may want to know of, noted in the transaction that makes it happen.

use jiff::Timestamp;
use serde_json::{Value, json};
use sqlx::{Any, Row, Transaction};

use super::{Store, StoreFault, new_id, now_ms};

/// What can happen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EventKind {
    /// A quote was made.
    QuoteCreated,
    /// A quote got another revision.
    QuoteRevised,
    /// A quote was sent to the customer.
    QuoteSent,
    /// The customer accepted a quote.
    QuoteAccepted,
    /// The customer declined a quote.
    QuoteDeclined,
    /// The shop took a quote back, or a later revision replaced it.
    QuoteWithdrawn,
    /// A job worked off all its rows.
    JobFinished,
    /// A job ended without its result.
    JobFailed,
    /// A job was cancelled.
    JobCancelled,
    /// Somebody tried a webhook out.
    WebhookPing,
}

// The last of them has the highest number.
const _: () = assert!(EventKind::ALL.len() == EventKind::WebhookPing as usize + 1, "a kind is missing in the list of all");

impl EventKind {
    /// All kinds, in the order in which the reference lists them.
    pub const ALL: [Self; 10] = [
        Self::QuoteCreated,
        Self::QuoteRevised,
        Self::QuoteSent,
        Self::QuoteAccepted,
        Self::QuoteDeclined,
        Self::QuoteWithdrawn,
        Self::JobFinished,
        Self::JobFailed,
        Self::JobCancelled,
        Self::WebhookPing,
    ];

    /// The name on the wire and in the database.
    pub const fn name(self) -> &'static str {
        match self {
            Self::QuoteCreated => "quote.created",
            Self::QuoteRevised => "quote.revised",
            Self::QuoteSent => "quote.sent",
            Self::QuoteAccepted => "quote.accepted",
            Self::QuoteDeclined => "quote.declined",
            Self::QuoteWithdrawn => "quote.withdrawn",
            Self::JobFinished => "job.finished",
            Self::JobFailed => "job.failed",
            Self::JobCancelled => "job.cancelled",
            Self::WebhookPing => "webhook.ping",
        }
    }

    /// The kind of this name.
    pub fn of(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }
}

impl Store {
    /// Notes what happened to a subject, and one delivery for every active webhook that asked for it, in the transaction that
    /// makes it happen: either both are there or neither. What nobody asked for is not kept.
    ///
    /// `data` is told as it is: ids, numbers and states, and no text of a customer. Who wants more asks for the subject with a key.
    pub(super) async fn event_note(
        transaction: &mut Transaction<'static, Any>,
        kind: EventKind,
        subject: &str,
        data: &Value,
    ) -> Result<(), StoreFault> {
        let rows = sqlx::query("select id, events from webhooks where active = 1 order by id").fetch_all(&mut **transaction).await?;
        let mut askers = Vec::new();
        for row in rows {
            let (id, asked): (String, String) = (row.try_get(0)?, row.try_get(1)?);
            if asked.split(' ').any(|name| name == kind.name()) {
                askers.push(id);
            }
        }
        Self::event_deliver(transaction, kind, subject, data, &askers).await.map(|_| ())
    }

    /// Notes an event with a delivery for each of these webhooks; the ids of the deliveries.
    pub(super) async fn event_deliver(
        transaction: &mut Transaction<'static, Any>,
        kind: EventKind,
        subject: &str,
        data: &Value,
        webhooks: &[String],
    ) -> Result<Vec<String>, StoreFault> {
        if webhooks.is_empty() {
            return Ok(Vec::new());
        }
        let (event, now) = (new_id(), now_ms());
        sqlx::query("insert into events (id, at_ms, kind, subject, payload) values ($1, $2, $3, $4, $5)")
            .bind(event.as_str())
            .bind(now)
            .bind(kind.name())
            .bind(subject)
            .bind(payload(kind, now, data))
            .execute(&mut **transaction)
            .await?;
        let mut deliveries = Vec::with_capacity(webhooks.len());
        for webhook in webhooks {
            let delivery = new_id();
            sqlx::query(
                "insert into deliveries (id, event_id, webhook_id, state, attempts, next_at_ms, claim, last_at_ms, last_status, last_error) \
                 values ($1, $2, $3, 'pending', 0, $4, '', 0, 0, '')",
            )
            .bind(delivery.as_str())
            .bind(event.as_str())
            .bind(webhook.as_str())
            .bind(now)
            .execute(&mut **transaction)
            .await?;
            deliveries.push(delivery);
        }
        Ok(deliveries)
    }
}

/// The body as it will be sent, in the members that the open scheme (Standard Webhooks 1.0.0, "Payload structure") names.
///
/// It is kept as text: a signature is one of bytes, and a second try must have those of the first.
fn payload(kind: EventKind, at_ms: i64, data: &Value) -> String {
    let at = Timestamp::from_millisecond(at_ms).unwrap_or(Timestamp::UNIX_EPOCH);
    json!({"type": kind.name(), "timestamp": at.to_string(), "data": data}).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_leads_back_to_its_kind() {
        for kind in EventKind::ALL {
            assert_eq!(EventKind::of(kind.name()), Some(kind));
        }
        assert_eq!(EventKind::of("quote.eaten"), None);
    }

    #[test]
    fn a_body_tells_kind_time_and_data() {
        // 1649367553 is 2022-04-07T21:39:13Z; `date -u -d @1649367553` says so.
        let told = payload(EventKind::QuoteSent, 1_649_367_553_120, &json!({"id": "x"}));
        assert_eq!(told, r#"{"type":"quote.sent","timestamp":"2022-04-07T21:39:13.12Z","data":{"id":"x"}}"#);
    }
}
