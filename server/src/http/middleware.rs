//! What every answer goes through: request id, log line, metrics, timeout, security headers, panics.

use std::any::Any;
use std::time::{Duration, Instant};

use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderName, HeaderValue, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use tracing::Instrument;

use super::trace::{TRACEPARENT, Trace};
use crate::api::problem::Refusal;
use crate::app::App;
use crate::http::page::EMBED;

/// Request id header, taken from the client where it is sound, made otherwise.
pub const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

/// Role of who asked, left by what finds it out for the labels of the metrics.
#[derive(Debug, Clone, Copy)]
pub struct AskedAs(pub &'static str);

/// Times, counts and logs a request, and ends it when it takes too long.
pub async fn observe(State(app): State<App>, request: Request, next: Next) -> Response {
    let started = Instant::now();
    let method = request.method().clone();
    let route = request.extensions().get::<MatchedPath>().map_or_else(|| "none".to_owned(), |p| p.as_str().to_owned());
    let id = request.headers().get(REQUEST_ID).and_then(|v| v.to_str().ok()).unwrap_or_default().to_owned();
    let trace = Trace::of(request.headers());
    // Everything that is logged meanwhile tells whose request it was about.
    let span = tracing::info_span!(target: "toile::request", "request", id, trace = trace.id(), %method, route);
    // A batch, a job and the result of one are as long as their file; an upload watches for silence itself.
    let as_long_as_its_file = ["/batches", "/batches/preview", "/jobs", "/jobs/{id}/result"];
    let limit = if as_long_as_its_file.iter().any(|end| route.ends_with(end)) { Duration::MAX } else { app.limits.timeout };
    let mut response = match tokio::time::timeout(limit, next.run(request).instrument(span)).await {
        Ok(response) => response,
        Err(_) => Refusal::Busy(format!("The answer took longer than {} seconds.", limit.as_secs())).into_response(),
    };
    if let Some(header) = trace.header() {
        response.headers_mut().insert(TRACEPARENT, header);
    }
    let (status, elapsed) = (response.status().as_u16(), started.elapsed());
    let role = response.extensions().get::<AskedAs>().map_or("none", |role| role.0);
    metrics::counter!(
        "toile_requests_total",
        "method" => method_label(&method), "route" => route.clone(), "status" => status.to_string(), "role" => role
    )
    .increment(1);
    metrics::histogram!("toile_request_seconds", "route" => route.clone()).record(elapsed.as_secs_f64());
    let microseconds = elapsed.as_micros() as u64;
    tracing::info!(target: "toile::request", id, trace = trace.id(), %method, route, status, role, microseconds, "answered");
    response
}

/// Holds room in memory for a JSON body before it is read, as much as it says it is long; the largest allowed where it does not
/// say. Sheets are read as a stream.
pub async fn bounded_bodies(State(app): State<App>, request: Request, next: Next) -> Response {
    let headers = request.headers();
    let is_json = headers.get(header::CONTENT_TYPE).is_some_and(|v| v.as_bytes().starts_with(b"application/json"));
    if !is_json {
        return next.run(request).await;
    }
    let told = headers.get(header::CONTENT_LENGTH).and_then(|v| v.to_str().ok()).and_then(|v| v.parse::<usize>().ok());
    // One that is larger than allowed is refused as soon as it is read.
    let bytes = told.unwrap_or(usize::MAX).min(app.limits.body_bytes);
    let kib = u32::try_from(bytes.div_ceil(1024)).unwrap_or(u32::MAX);
    match app.bodies.clone().try_acquire_many_owned(kib) {
        Ok(_room) => next.run(request).await,
        Err(_) => Refusal::Busy("As many bodies are being read as this service has room for.".into()).into_response(),
    }
}

/// Methods are a label of the metrics; a made-up one must not make a new series.
fn method_label(method: &axum::http::Method) -> &'static str {
    match method.as_str() {
        "GET" => "GET",
        "HEAD" => "HEAD",
        "POST" => "POST",
        "PUT" => "PUT",
        "OPTIONS" => "OPTIONS",
        _ => "other",
    }
}

/// Drops a request id of the client that is too long or not plain, so that it can go into the log.
pub async fn sound_request_id(mut request: Request, next: Next) -> Response {
    let sound = |v: &HeaderValue| v.len() <= 64 && v.as_bytes().iter().all(|b| b.is_ascii_alphanumeric() || b"-_.".contains(b));
    if request.headers().get(REQUEST_ID).is_some_and(|v| !sound(v)) {
        request.headers_mut().remove(REQUEST_ID);
    }
    next.run(request).await
}

const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; \
    form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The reference page is a library's and styles itself inline; it gets that much more and nothing else.
const REFERENCE_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
    connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The policy of the form that other pages may show within themselves: only those that the settings name may.
fn embed_policy(origins: &[String]) -> Option<HeaderValue> {
    let ancestors = format!("frame-ancestors {}", origins.join(" "));
    HeaderValue::from_str(&POLICY.replace("frame-ancestors 'none'", &ancestors)).ok()
}

/// Headers that keep a browser from doing more than the page needs.
pub async fn secure(State(app): State<App>, request: Request, next: Next) -> Response {
    let framed = request.uri().path() == EMBED && !app.portal.embed_origins.is_empty();
    let usual = HeaderValue::from_static(if request.uri().path().starts_with("/reference") { REFERENCE_POLICY } else { POLICY });
    let policy = if framed { embed_policy(&app.portal.embed_origins).unwrap_or(usual) } else { usual };
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_SECURITY_POLICY, policy);
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    headers.insert(HeaderName::from_static("cross-origin-opener-policy"), HeaderValue::from_static("same-origin"));
    // A page that isolates itself shows nothing of others that does not let itself be shown.
    let sharing = HeaderValue::from_static(if framed { "cross-origin" } else { "same-origin" });
    headers.insert(HeaderName::from_static("cross-origin-resource-policy"), sharing);
    headers.insert(HeaderName::from_static("permissions-policy"), HeaderValue::from_static("camera=(), geolocation=(), microphone=()"));
    response
}

/// A panic in a handler: noted whole in the log, told as a bare 500.
pub fn panicked(cause: Box<dyn Any + Send + 'static>) -> Response {
    let text = cause.downcast_ref::<String>().map(String::as_str).or_else(|| cause.downcast_ref::<&str>().copied());
    tracing::error!(target: "toile::request", cause = text.unwrap_or("not told"), "a handler panicked");
    Refusal::Internal.into_response()
}
