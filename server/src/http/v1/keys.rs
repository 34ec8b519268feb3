//! Keys, for admins.

use axum::Json;
use axum::extract::State;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::IntoResponse;

use crate::api::key::{KeyAnswer, KeyList, KeyMade, KeyQuestion, KeyRole};
use crate::api::problem::{BodyProblems, FieldError, Problem, Refusal};
use crate::app::App;
use crate::http::access::Caller;
use crate::http::extract::{Asked, Id, PageQuery, RangedJson};
use crate::keys::Role;
use crate::usecase::clock::time_text;
use crate::usecase::key::{
    KeyFault, KeyRow, KeyWish, LONGEST_NAME, MOST_KEYS, RevokeFault, end_after_days, key_create as create, key_list as list,
    key_revoke as revoke,
};

/// Makes a key. The answer holds it in full, this once: only a digest is kept. Once there is a key, everything but the page,
/// health and this document needs one.
#[utoipa::path(post, path = "/api/v1/keys", operation_id = "key_create", tag = "keys", summary = "Make a key", request_body = KeyQuestion,
    responses((status = 201, description = "The key", body = KeyMade), BodyProblems))]
pub async fn key_create(
    State(app): State<App>,
    caller: Caller,
    RangedJson(question): RangedJson<KeyQuestion>,
) -> Result<impl IntoResponse, Refusal> {
    let name = question.name.clone();
    let wish = KeyWish {
        name: question.name,
        role: role(question.role),
        expires_ms: question.expires_in_days.map(end_after_days),
        per_minute: question.per_minute,
    };
    let (row, secret) = create(&app.store, wish, &caller.actor).await.map_err(|fault| refusal(fault, name))?;
    app.keys.refresh().await?;
    let made = KeyMade { key: answer(row), secret: secret.reveal().to_owned() };
    Ok((StatusCode::CREATED, [(header::CACHE_CONTROL, HeaderValue::from_static("no-store"))], Json(made)))
}

/// The keys, revoked ones too, the newest first.
#[utoipa::path(get, path = "/api/v1/keys", operation_id = "key_list", tag = "keys", summary = "List the keys", params(PageQuery),
    responses((status = 200, description = "Some keys", body = KeyList),
        (status = 422, description = "The query cannot be used", body = Problem, content_type = "application/problem+json")))]
pub async fn key_list(State(app): State<App>, Asked(page): Asked<PageQuery>) -> Result<Json<KeyList>, Refusal> {
    let keys = list(&app.store, page.before.as_deref(), page.most + 1).await?;
    let (keys, next) = page.cut(keys, |key| &key.id);
    Ok(Json(KeyList { keys: keys.into_iter().map(answer).collect(), next }))
}

/// Revokes a key: within seconds no process takes it any more. One that was revoked before stays as it is. The key that asks is
/// not revoked.
#[utoipa::path(delete, path = "/api/v1/keys/{id}", operation_id = "key_revoke", tag = "keys", summary = "Revoke a key",
    params(("id" = String, Path, description = "Id of the key, or the prefix it begins with")),
    responses((status = 200, description = "The key as it is now", body = KeyAnswer),
        (status = 404, description = "There is no such key", body = Problem, content_type = "application/problem+json"),
        (status = 409, description = "It is the key that asks", body = Problem, content_type = "application/problem+json")))]
pub async fn key_revoke(State(app): State<App>, caller: Caller, Id(id): Id) -> Result<Json<KeyAnswer>, Refusal> {
    let row = revoke(&app.store, &id, &caller.actor).await.map_err(|fault| match fault {
        RevokeFault::NotThere => Refusal::NotFound("There is no key with this id or prefix.".into()),
        RevokeFault::Own => Refusal::Conflict("This is the key that asks. Revoke it with another one, or with `toile key revoke`.".into()),
        RevokeFault::Store(fault) => fault.into(),
    })?;
    app.keys.refresh().await?;
    Ok(Json(answer(row)))
}

fn role(role: KeyRole) -> Role {
    match role {
        KeyRole::Reader => Role::Reader,
        KeyRole::Estimator => Role::Estimator,
        KeyRole::Lab => Role::Lab,
        KeyRole::Admin => Role::Admin,
    }
}

fn answer(row: KeyRow) -> KeyAnswer {
    KeyAnswer {
        id: row.id,
        prefix: row.prefix,
        name: row.name,
        role: row.role,
        created_at: time_text(row.created_ms),
        created_by: row.created_by,
        expires_at: row.expires_ms.map(time_text),
        per_minute: row.per_minute,
        last_used_at: row.last_used_ms.map(time_text),
        revoked_at: row.revoked_ms.map(time_text),
    }
}

fn refusal(fault: KeyFault, name: String) -> Refusal {
    let message = fault.to_string();
    match fault {
        KeyFault::Name => Refusal::NotAllowed(vec![FieldError {
            pointer: "/name".into(),
            value: name.into(),
            message: "The name cannot be used.".into(),
            allowed: format!("1 to {LONGEST_NAME} characters that can be printed"),
        }]),
        KeyFault::TooMany => Refusal::NotAllowed(vec![FieldError {
            pointer: String::new(),
            value: serde_json::Value::Null,
            message: format!("No key was made: {message}."),
            allowed: format!("at most {MOST_KEYS} keys in use"),
        }]),
        KeyFault::Store(fault) => fault.into(),
    }
}
