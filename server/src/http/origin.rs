//! From where a browser may ask: pages of other origins, and pages that only pretend to be ours.
//!
//! With keys, a page of another origin has none to send. Without keys, whatever reaches the port may ask, and that includes any
//! page that is open in a browser on this machine: it could send what needs no leave of ours, or have its own name answered with
//! the address of this machine and so become a page of "our" origin. Hence a name of this machine is asked for in `Host`,
//! and no `Origin` but our own where something is changed.

use axum::extract::Request;
use axum::http::{HeaderName, HeaderValue, Method, header};
use tower_http::cors::CorsLayer;

use super::middleware::REQUEST_ID;
use crate::api::problem::Refusal;
use crate::config::Doors;

/// Lets pages of the origins that are allowed ask; nothing where none is.
pub fn others(doors: &Doors) -> Option<CorsLayer> {
    let origins: Vec<HeaderValue> = doors.origins.iter().filter_map(|origin| origin.parse().ok()).collect();
    if origins.is_empty() {
        return None;
    }
    let idempotency_key = HeaderName::from_static("idempotency-key");
    let server_timing = HeaderName::from_static("server-timing");
    let asked = [header::AUTHORIZATION, header::CONTENT_TYPE, header::IF_MATCH, header::IF_NONE_MATCH, idempotency_key, REQUEST_ID];
    let told = [header::ETAG, header::LOCATION, header::RETRY_AFTER, header::CONTENT_DISPOSITION, server_timing, REQUEST_ID];
    Some(
        CorsLayer::new()
            .allow_origin(origins)
            .allow_methods([Method::GET, Method::POST, Method::PUT, Method::PATCH, Method::DELETE])
            .allow_headers(asked)
            .expose_headers(told)
            .max_age(std::time::Duration::from_secs(600)),
    )
}

/// Refuses, where there are no keys, what a page of another origin may have sent.
///
/// # Errors
/// [`Refusal::NotYours`] with the reason.
pub fn expect_own(doors: &Doors, request: &Request) -> Result<(), Refusal> {
    let headers = request.headers();
    let text = |name: HeaderName| headers.get(name).map(|value: &HeaderValue| value.to_str().unwrap_or("?"));
    let host = request.uri().authority().map(|authority| authority.as_str()).or_else(|| text(header::HOST));
    if doors.loopback
        && let Some(host) = host
        && !names_this_machine(host)
    {
        let detail = "The address does not name this machine (127.0.0.1, [::1] or localhost). To serve under another name, make keys with `toile key add`.";
        return Err(Refusal::NotYours(detail.into()));
    }
    let changes = ![Method::GET, Method::HEAD, Method::OPTIONS].contains(request.method());
    if changes && let Some(origin) = text(header::ORIGIN) {
        let own = origin.split_once("://").is_some_and(|(_, rest)| Some(rest) == host);
        if !own && !doors.origins.iter().any(|allowed| allowed == origin) {
            let detail = "A page of another origin may not ask this; see --allow-origin.";
            return Err(Refusal::NotYours(detail.into()));
        }
    }
    Ok(())
}

/// Whether the host, with or without a port, is a name of this machine.
fn names_this_machine(host: &str) -> bool {
    let name = match host.strip_prefix('[').and_then(|rest| rest.split_once(']')) {
        Some((inside, _)) => inside,
        None => host.rsplit_once(':').map_or(host, |(name, _)| name),
    };
    name.eq_ignore_ascii_case("localhost") || name.parse::<std::net::IpAddr>().is_ok_and(|address| address.is_loopback())
}

#[cfg(test)]
mod tests {
    use super::names_this_machine;

    #[test]
    fn names_of_this_machine_are_told_from_others() {
        for host in ["127.0.0.1", "127.0.0.1:8460", "localhost", "LocalHost:1", "[::1]", "[::1]:8460", "127.1.2.3:80"] {
            assert!(names_this_machine(host), "{host}");
        }
        for host in
            ["evil.example", "localhost.evil.example:8460", "127.0.0.1.evil.example", "10.0.0.1:8460", "[2001:db8::1]", "", "?", "::"]
        {
            assert!(!names_this_machine(host), "{host}");
        }
    }
}
