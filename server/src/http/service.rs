//! State of the service: health, metrics, document.

use axum::Json;
use axum::extract::State;
use axum::http::header;
use axum::response::IntoResponse;
use serde::Serialize;
use utoipa::ToSchema;

use super::{document, metrics};
use crate::api::problem::{NotReadyProblem, Refusal};
use crate::app::App;

/// State of the service.
#[derive(Serialize, ToSchema)]
pub struct Health {
    /// `ok`.
    status: &'static str,
}

/// Whether the process lives.
#[utoipa::path(get, path = "/health/live", operation_id = "health_live", tag = "service", summary = "Whether the process lives",
    responses((status = 200, description = "It lives", body = Health)))]
pub async fn health_live() -> Json<Health> {
    Json(Health { status: "ok" })
}

/// Whether requests can be answered: the database answers and takes something, the disk has room, the line before heavy
/// work has too, and nobody told the service to stop.
#[utoipa::path(get, path = "/health/ready", operation_id = "health_ready", tag = "service", summary = "Whether requests can be answered",
    responses((status = 200, description = "They can", body = Health), NotReadyProblem))]
pub async fn health_ready(State(app): State<App>) -> Result<Json<Health>, Refusal> {
    let lacks = app.lacks().await;
    if lacks.is_empty() {
        Ok(Json(Health { status: "ok" }))
    } else {
        Err(Refusal::NotReady(lacks.iter().map(ToString::to_string).collect()))
    }
}

/// Counts and times of requests, and what the service looks like just now.
#[utoipa::path(get, path = "/metrics", operation_id = "metrics_read", tag = "service", summary = "Counts and times of requests",
    responses((status = 200, description = "Prometheus text", body = String, content_type = "text/plain")))]
pub async fn metrics_read(State(app): State<App>) -> impl IntoResponse {
    metrics::look(&app).await;
    ([(header::CONTENT_TYPE, "text/plain; version=0.0.4; charset=utf-8")], metrics::recorder().render())
}

/// The OpenAPI document of this API.
#[utoipa::path(get, path = "/api/v1/openapi.json", operation_id = "document_read", tag = "service", summary = "The OpenAPI document of this API",
    responses((status = 200, description = "OpenAPI 3.1", body = Object, content_type = "application/json")))]
pub async fn document_read() -> impl IntoResponse {
    ([(header::CONTENT_TYPE, "application/json")], document::as_text())
}
