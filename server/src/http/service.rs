//! State of the service: health, metrics, document.

use std::sync::OnceLock;

use axum::Json;
use axum::http::header;
use axum::response::IntoResponse;
use metrics_exporter_prometheus::{Matcher, PrometheusBuilder, PrometheusHandle};
use serde::Serialize;
use utoipa::ToSchema;

use super::document;

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

/// Whether requests can be answered.
#[utoipa::path(get, path = "/health/ready", operation_id = "health_ready", tag = "service", summary = "Whether requests can be answered",
    responses((status = 200, description = "They can", body = Health)))]
pub async fn health_ready() -> Json<Health> {
    // Everything an answer needs is in the binary: the process that answers this can answer an estimate.
    Json(Health { status: "ok" })
}

/// Counts and times of requests.
#[utoipa::path(get, path = "/metrics", operation_id = "metrics_read", tag = "service", summary = "Counts and times of requests",
    responses((status = 200, description = "Prometheus text", body = String, content_type = "text/plain")))]
pub async fn metrics_read() -> impl IntoResponse {
    ([(header::CONTENT_TYPE, "text/plain; version=0.0.4; charset=utf-8")], recorder().render())
}

/// The one recorder of the process; every router of a test run shares it.
pub fn recorder() -> &'static PrometheusHandle {
    static RECORDER: OnceLock<PrometheusHandle> = OnceLock::new();
    RECORDER.get_or_init(|| {
        let seconds = [0.0001, 0.0003, 0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0];
        PrometheusBuilder::new()
            .set_buckets_for_metric(Matcher::Full("toile_request_seconds".into()), &seconds)
            .and_then(PrometheusBuilder::install_recorder)
            .expect("the recorder is installed once, with buckets that are there")
    })
}

/// The OpenAPI document of this API.
#[utoipa::path(get, path = "/api/v1/openapi.json", operation_id = "document_read", tag = "service", summary = "The OpenAPI document of this API",
    responses((status = 200, description = "OpenAPI 3.1", body = Object, content_type = "application/json")))]
pub async fn document_read() -> impl IntoResponse {
    ([(header::CONTENT_TYPE, "application/json")], document::as_text())
}
