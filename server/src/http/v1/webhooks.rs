//! Webhooks: who is told what happens, and what became of it.

use axum::Json;
use axum::extract::State;
use serde::Deserialize;

use crate::api::problem::{BodyProblems, LookProblems, Problem, Refusal};
use crate::api::webhooks::{
    DeliveryAnswer, DeliveryList, EventName, PingMade, WebhookAnswer, WebhookDraft, WebhookEdit, WebhookGone, WebhookList, WebhookMade,
};
use crate::app::App;
use crate::http::access::Caller;
use crate::http::extract::{Askable, Asked, Id, Ids, RangedJson, is_page};
use crate::usecase::webhook::{self, Delivery, DeliveryState, EventKind, MOST_WEBHOOKS, Webhook, WebhookFault, WebhookWish};

/// Makes a webhook. Its secret is told in this answer and never again.
///
/// Events are posted as JSON and signed by the open scheme Standard Webhooks 1.0.0: the header `webhook-signature` holds `v1,` and
/// the base64 of HMAC-SHA-256 over `webhook-id`, a dot, `webhook-timestamp`, a dot and the body, made with the bytes whose base64
/// follows `whsec_` in the secret. Any answer of 2xx takes the event; 410 pauses the webhook; anything else, or no answer in time,
/// is tried ten times within about a day, then parked. Redirects are not followed. `webhooks` in this document lists the bodies.
///
/// An event arrives at least once: keep the `webhook-id` of those taken, and answer a known one with 2xx. Events may overtake
/// each other; `timestamp` tells their order.
#[utoipa::path(
    post, path = "/api/v1/webhooks", operation_id = "webhook_create", tag = "webhooks", summary = "Make a webhook",
    request_body = WebhookDraft, responses((status = 200, description = "The webhook and its secret", body = WebhookMade),
        (status = 409, description = "There are as many webhooks as there may be", body = Problem, content_type = "application/problem+json"), BodyProblems)
)]
pub async fn webhook_create(
    State(app): State<App>,
    caller: Caller,
    RangedJson(draft): RangedJson<WebhookDraft>,
) -> Result<Json<WebhookMade>, Refusal> {
    let WebhookDraft { url, events, note } = draft;
    let wish = WebhookWish { url: Some(url), events: Some(kinds(&events)), note: Some(note), active: None };
    let (webhook, secret) = webhook::webhook_create(&app.store, &caller.actor, wish, app.portal.allow_private_webhooks).await?;
    Ok(Json(WebhookMade { webhook: answer(webhook), secret }))
}

/// Every webhook, oldest first, without secrets.
#[utoipa::path(
    get, path = "/api/v1/webhooks", operation_id = "webhook_list", tag = "webhooks", summary = "List the webhooks",
    responses((status = 200, description = "All webhooks", body = WebhookList), LookProblems)
)]
pub async fn webhook_list(State(app): State<App>, _: Caller) -> Result<Json<WebhookList>, Refusal> {
    let webhooks = webhook::webhook_list(&app.store).await?.into_iter().map(answer).collect();
    Ok(Json(WebhookList { webhooks }))
}

/// One webhook, without its secret.
#[utoipa::path(
    get, path = "/api/v1/webhooks/{id}", operation_id = "webhook_find", tag = "webhooks", summary = "Look at a webhook",
    params(("id" = String, Path, description = "Id of the webhook")),
    responses((status = 200, description = "The webhook", body = WebhookAnswer), LookProblems)
)]
pub async fn webhook_find(State(app): State<App>, _: Caller, Id(id): Id) -> Result<Json<WebhookAnswer>, Refusal> {
    Ok(Json(answer(webhook::webhook_find(&app.store, &id).await?)))
}

/// Changes a webhook, pauses it or resumes it.
///
/// A paused webhook gets no new events; what waits for it is sent when it is resumed.
#[utoipa::path(
    patch, path = "/api/v1/webhooks/{id}", operation_id = "webhook_change", tag = "webhooks", summary = "Change, pause or resume a webhook",
    params(("id" = String, Path, description = "Id of the webhook")), request_body = WebhookEdit,
    responses((status = 200, description = "The webhook as it is now", body = WebhookAnswer), LookProblems, BodyProblems)
)]
pub async fn webhook_change(
    State(app): State<App>,
    caller: Caller,
    Id(id): Id,
    RangedJson(edit): RangedJson<WebhookEdit>,
) -> Result<Json<WebhookAnswer>, Refusal> {
    let WebhookEdit { url, events, note, active } = edit;
    let wish = WebhookWish { url, events: events.as_deref().map(kinds), note, active };
    let changed = webhook::webhook_change(&app.store, &caller.actor, &id, wish, app.portal.allow_private_webhooks).await?;
    Ok(Json(answer(changed)))
}

/// Deletes a webhook with all its deliveries; nothing more is sent to it, except what is under way at this moment.
#[utoipa::path(
    delete, path = "/api/v1/webhooks/{id}", operation_id = "webhook_delete", tag = "webhooks", summary = "Delete a webhook",
    params(("id" = String, Path, description = "Id of the webhook")),
    responses((status = 200, description = "It is gone", body = WebhookGone), LookProblems)
)]
pub async fn webhook_delete(State(app): State<App>, caller: Caller, Id(id): Id) -> Result<Json<WebhookGone>, Refusal> {
    webhook::webhook_delete(&app.store, &caller.actor, &id).await?;
    Ok(Json(WebhookGone { deleted: id }))
}

/// Gives a webhook another secret, told in this answer and never again. For a day deliveries carry a signature of each, so that
/// the receiver can change over in between.
#[utoipa::path(
    post, path = "/api/v1/webhooks/{id}/secret", operation_id = "webhook_rotate", tag = "webhooks", summary = "Give a webhook another secret",
    params(("id" = String, Path, description = "Id of the webhook")),
    responses((status = 200, description = "The webhook and its new secret", body = WebhookMade), LookProblems)
)]
pub async fn webhook_rotate(State(app): State<App>, caller: Caller, Id(id): Id) -> Result<Json<WebhookMade>, Refusal> {
    let (webhook, secret) = webhook::webhook_rotate(&app.store, &caller.actor, &id).await?;
    Ok(Json(WebhookMade { webhook: answer(webhook), secret }))
}

/// Puts the test event `webhook.ping` in line, for this webhook alone. Its deliveries tell what becomes of it.
#[utoipa::path(
    post, path = "/api/v1/webhooks/{id}/ping", operation_id = "webhook_ping", tag = "webhooks", summary = "Try a webhook out",
    params(("id" = String, Path, description = "Id of the webhook")),
    responses((status = 200, description = "It is in line", body = PingMade), LookProblems)
)]
pub async fn webhook_ping(State(app): State<App>, caller: Caller, Id(id): Id) -> Result<Json<PingMade>, Refusal> {
    let delivery_id = webhook::webhook_ping(&app.store, &caller.actor, &id).await?;
    Ok(Json(PingMade { delivery_id }))
}

/// Which deliveries.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct DeliveryQuery {
    /// Those in this state only: `pending`, `delivered` or `parked`.
    #[param(required = false, inline)]
    state: Option<StateName>,
    /// Those older than this one: `next` of the answer before.
    #[param(required = false, max_length = 64)]
    before: Option<String>,
    /// Most in one answer.
    #[serde(default = "usual_most")]
    #[param(required = false, minimum = 1, maximum = 200)]
    most: u32,
}

/// State of a delivery.
#[derive(Debug, Clone, Copy, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
enum StateName {
    /// It waits for a try.
    Pending,
    /// It was taken.
    Delivered,
    /// It was given up.
    Parked,
}

const fn usual_most() -> u32 {
    50
}

impl Askable for DeliveryQuery {
    const ALLOWED: &'static str = "state (pending, delivered or parked), before (an id), most (1 to 200)";

    fn is_in_range(&self) -> bool {
        is_page(self.most, self.before.as_deref())
    }
}

/// Deliveries of a webhook, newest first. Delivered ones are listed for a week, parked ones for a month, no more than the newest
/// 10,000 and 1000 of them.
#[utoipa::path(
    get, path = "/api/v1/webhooks/{id}/deliveries", operation_id = "delivery_list", tag = "webhooks", summary = "List the deliveries of a webhook",
    params(("id" = String, Path, description = "Id of the webhook"), DeliveryQuery),
    responses((status = 200, description = "Deliveries", body = DeliveryList), LookProblems)
)]
pub async fn delivery_list(
    State(app): State<App>,
    _: Caller,
    Id(id): Id,
    Asked(query): Asked<DeliveryQuery>,
) -> Result<Json<DeliveryList>, Refusal> {
    let state = query.state.map(|state| match state {
        StateName::Pending => DeliveryState::Pending,
        StateName::Delivered => DeliveryState::Delivered,
        StateName::Parked => DeliveryState::Parked,
    });
    let found = webhook::delivery_list(&app.store, &id, state, query.before.as_deref(), query.most).await?;
    let next = found.last().filter(|_| found.len() == query.most as usize).map(|last| last.id.clone());
    Ok(Json(DeliveryList { deliveries: found.into_iter().map(delivery_answer).collect(), next }))
}

/// Puts a delivery in line again, whatever became of it, with all its tries before it. The event keeps its `webhook-id`.
#[utoipa::path(
    post, path = "/api/v1/webhooks/{id}/deliveries/{delivery}/resend", operation_id = "delivery_resend", tag = "webhooks",
    summary = "Send an event again",
    params(("id" = String, Path, description = "Id of the webhook"), ("delivery" = String, Path, description = "Id of the delivery")),
    responses((status = 200, description = "It is in line again", body = DeliveryAnswer), LookProblems)
)]
pub async fn delivery_resend(State(app): State<App>, caller: Caller, Ids(id, delivery): Ids) -> Result<Json<DeliveryAnswer>, Refusal> {
    Ok(Json(delivery_answer(webhook::delivery_resend(&app.store, &caller.actor, &id, &delivery).await?)))
}

impl From<WebhookFault> for Refusal {
    fn from(fault: WebhookFault) -> Self {
        match fault {
            WebhookFault::NotAllowed(faults) => faults.into(),
            WebhookFault::TooMany => {
                Self::Conflict(format!("There are {MOST_WEBHOOKS} webhooks, and no more may be made; delete one first."))
            }
            WebhookFault::Missing => Self::NotFound("There is no such webhook, or no such delivery of it.".into()),
            WebhookFault::Store(fault) => fault.into(),
        }
    }
}

fn kinds(events: &[EventName]) -> Vec<EventKind> {
    events.iter().copied().map(kind_of).collect()
}

/// What a name on the wire stands for. With [`name_of`] it holds the two lists of events together: one that is added to either of
/// them compiles only once it has its place here.
pub const fn kind_of(name: EventName) -> EventKind {
    match name {
        EventName::QuoteCreated => EventKind::QuoteCreated,
        EventName::QuoteRevised => EventKind::QuoteRevised,
        EventName::QuoteSent => EventKind::QuoteSent,
        EventName::QuoteAccepted => EventKind::QuoteAccepted,
        EventName::QuoteDeclined => EventKind::QuoteDeclined,
        EventName::QuoteWithdrawn => EventKind::QuoteWithdrawn,
        EventName::JobFinished => EventKind::JobFinished,
        EventName::JobFailed => EventKind::JobFailed,
        EventName::JobCancelled => EventKind::JobCancelled,
    }
}

/// What it is asked for by; nobody has to ask for a ping.
pub const fn name_of(kind: EventKind) -> Option<EventName> {
    Some(match kind {
        EventKind::QuoteCreated => EventName::QuoteCreated,
        EventKind::QuoteRevised => EventName::QuoteRevised,
        EventKind::QuoteSent => EventName::QuoteSent,
        EventKind::QuoteAccepted => EventName::QuoteAccepted,
        EventKind::QuoteDeclined => EventName::QuoteDeclined,
        EventKind::QuoteWithdrawn => EventName::QuoteWithdrawn,
        EventKind::JobFinished => EventName::JobFinished,
        EventKind::JobFailed => EventName::JobFailed,
        EventKind::JobCancelled => EventName::JobCancelled,
        EventKind::WebhookPing => return None,
    })
}

fn answer(webhook: Webhook) -> WebhookAnswer {
    WebhookAnswer {
        id: webhook.id,
        url: webhook.url,
        events: webhook.events.iter().map(|kind| kind.name().to_owned()).collect(),
        note: webhook.note,
        active: webhook.active,
        old_secret_until_ms: told(webhook.old_secret_until_ms),
        made_by: webhook.made_by,
        made_at_ms: webhook.made_at_ms,
        pending: webhook.pending,
        parked: webhook.parked,
    }
}

fn delivery_answer(delivery: Delivery) -> DeliveryAnswer {
    DeliveryAnswer {
        id: delivery.id,
        event_id: delivery.event,
        event: delivery.kind,
        subject: delivery.subject,
        at_ms: delivery.at_ms,
        next_at_ms: told(delivery.next_at_ms).filter(|_| delivery.state == DeliveryState::Pending),
        state: delivery.state.name().to_owned(),
        attempts: delivery.attempts,
        last_at_ms: told(delivery.last_at_ms),
        last_status: told(delivery.last_status),
        last_error: Some(delivery.last_error).filter(|why| !why.is_empty()),
    }
}

/// A number that stands for nothing where it is 0.
fn told(number: i64) -> Option<i64> {
    Some(number).filter(|number| *number != 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_event_has_the_same_name_on_the_wire_as_where_it_is_kept() {
        for kind in EventKind::ALL {
            let Some(name) = name_of(kind) else {
                assert_eq!(kind, EventKind::WebhookPing);
                continue;
            };
            assert_eq!(kind_of(name), kind);
            assert_eq!(serde_json::to_value(name).unwrap(), kind.name());
        }
    }
}
