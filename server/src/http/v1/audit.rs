//! Who did what.

use axum::Json;
use axum::extract::State;

use crate::api::audit::{AuditAnswer, AuditList};
use crate::api::problem::{Problem, Refusal};
use crate::app::App;
use crate::http::extract::{Asked, PageQuery};
use crate::usecase::audit::audit_list as list;
use crate::usecase::clock::time_text;

/// Who did what to what is kept, the newest first.
#[utoipa::path(get, path = "/api/v1/audit", operation_id = "audit_list", tag = "keys", summary = "Who did what", params(PageQuery),
    responses((status = 200, description = "Some entries", body = AuditList),
        (status = 422, description = "The query cannot be used", body = Problem, content_type = "application/problem+json")))]
pub async fn audit_list(State(app): State<App>, Asked(page): Asked<PageQuery>) -> Result<Json<AuditList>, Refusal> {
    let entries = list(&app.store, page.before.as_deref(), page.most + 1).await?;
    let (entries, next) = page.cut(entries, |entry| &entry.id);
    let entries = entries.into_iter().map(|entry| AuditAnswer {
        id: entry.id,
        at: time_text(entry.at_ms),
        actor: entry.actor,
        actor_name: entry.actor_name,
        action: entry.action,
        subject: entry.subject,
        detail: entry.detail,
    });
    Ok(Json(AuditList { entries: entries.collect(), next }))
}
