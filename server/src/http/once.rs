//! Requests that may come twice: the header `Idempotency-Key`, and answers as they are kept.
//!
//! A handler of a POST that keeps something takes an [`OnceKey`] and ends in
//!
//! ```text
//! let request = key.once(&caller, "thing_create", &[&bytes]);
//! let answer = once(&app.store, request, |request| async move {
//!     // compute; then one transaction of the store: once_claim, write the thing, once_keep
//!     let answer = |thing: &ThingRow| kept_json(StatusCode::CREATED, &[(header::LOCATION, &address)], &ThingAnswer::new(thing));
//!     thing_create(&app.store, thing, &caller.actor, request.as_ref(), answer).await
//! });
//! ```
//!
//! where [`once`](crate::usecase::once::once) looks whether it was answered before, and the store's function claims the key
//! first and keeps the answer last, both in the transaction of the thing itself (see `store/idempotency.rs`; `store/quote.rs`
//! shows it in use).

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::access::Caller;
use crate::api::problem::Refusal;
use crate::usecase::once::{KeptAnswer, Once};

/// Name of the header.
pub const IDEMPOTENCY_KEY: HeaderName = HeaderName::from_static("idempotency-key");

/// Longest key that is taken, characters.
const LONGEST_KEY: usize = 128;

/// The header, as the document tells it.
#[derive(utoipa::IntoParams)]
#[into_params(parameter_in = Header)]
#[allow(dead_code, reason = "declared for the document; `OnceKey` reads it")]
pub struct OnceHeader {
    /// A key of your choosing. The same request with the same key gets the same answer for a day, and is done once.
    #[param(rename = "Idempotency-Key", required = false, value_type = String, min_length = 1, max_length = 128, pattern = "^[!#-~]+$")]
    key: Option<String>,
}

/// The `Idempotency-Key` of a request, where it has one.
pub struct OnceKey(Option<String>);

impl<S: Send + Sync> FromRequestParts<S> for OnceKey {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Refusal> {
        let mut given = parts.headers.get_all(IDEMPOTENCY_KEY).iter();
        let Some(first) = given.next() else { return Ok(Self(None)) };
        let key = first.to_str().unwrap_or_default();
        // Written with or without the quotes of a structured header, it is the same key.
        let key = key.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')).unwrap_or(key);
        let sound = (1..=LONGEST_KEY).contains(&key.len()) && key.bytes().all(|byte| byte.is_ascii_graphic());
        if !sound || given.next().is_some() {
            let allowed = format!("one key of 1 to {LONGEST_KEY} letters, digits and signs without spaces; a random UUID serves well");
            return Err(Refusal::Unreadable(format!("The header Idempotency-Key is not taken as given: {allowed}.")));
        }
        Ok(Self(Some(key.to_owned())))
    }
}

impl OnceKey {
    /// The request to be done once: of this caller, for this operation, with these parts of what was asked (path, body).
    pub fn once(self, caller: &Caller, operation: &str, asked: &[&[u8]]) -> Option<Once> {
        let key = self.0?;
        let mut digest = Sha256::new();
        for part in std::iter::once(operation.as_bytes()).chain(asked.iter().copied()) {
            // With its length in front, so that no two lists of parts run into the same bytes.
            digest.update((part.len() as u64).to_be_bytes());
            digest.update(part);
        }
        let fingerprint = digest.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
        Some(Once { caller: caller.actor.clone(), key, fingerprint })
    }
}

/// A JSON answer to be kept: its status, its body and headers of its own.
pub fn kept_json(status: StatusCode, headers: &[(HeaderName, &str)], body: &impl Serialize) -> KeptAnswer {
    let json = (header::CONTENT_TYPE.to_string(), "application/json".to_owned());
    let own = headers.iter().map(|(name, value)| (name.to_string(), (*value).to_owned()));
    KeptAnswer {
        status: status.as_u16(),
        headers: std::iter::once(json).chain(own).collect(),
        body: serde_json::to_string(body).expect("an answer is plain data"),
    }
}

impl IntoResponse for KeptAnswer {
    fn into_response(self) -> Response {
        let mut response = self.body.into_response();
        *response.status_mut() = StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let headers = response.headers_mut();
        for (name, value) in self.headers {
            if let (Ok(name), Ok(value)) = (HeaderName::try_from(name), HeaderValue::try_from(value)) {
                headers.insert(name, value);
            }
        }
        response
    }
}
