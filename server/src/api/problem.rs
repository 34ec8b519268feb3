//! Errors as RFC 9457 problems.

use std::time::Duration;

use axum::Json;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use toile_model::Faults;
use utoipa::{IntoResponses, ToSchema};

/// What went wrong (RFC 9457), with one entry for every fault found.
#[derive(Debug, Serialize, ToSchema)]
pub struct Problem {
    /// Stable name of the kind of problem, a path of this service.
    #[serde(rename = "type")]
    kind: &'static str,
    /// The kind in words.
    title: &'static str,
    /// HTTP status.
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
    /// This occurrence in words.
    detail: String,
    /// Every fault found, in the order of the body.
    #[schema(min_items = 0)]
    errors: Vec<FieldError>,
}

/// One fault of the request.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FieldError {
    /// JSON pointer (RFC 6901) of the field.
    pub pointer: String,
    /// What was given.
    #[schema(value_type = Value)]
    pub value: serde_json::Value,
    /// Why it is refused.
    pub message: String,
    /// What is allowed.
    pub allowed: String,
}

/// Everything a handler may answer besides its result.
#[derive(Debug)]
pub enum Refusal {
    /// 400: the body cannot be read at all.
    Unreadable(String),
    /// 401: no key, or none that is good.
    NoKey {
        /// Why, in words.
        detail: String,
        /// Whether there was a key.
        given: bool,
    },
    /// 403: the key does not allow it, or the request comes from where none may come from.
    NotYours(String),
    /// 404: nothing lives at this address.
    NotFound(String),
    /// 405: the address is right, the method is not.
    MethodNotAllowed(String),
    /// 409: it cannot be done in the state that the thing is in, or a key was used for something else.
    Conflict(String),
    /// 412: the thing was changed since the asker looked at it.
    Stale(String),
    /// 413: the body is larger than allowed.
    TooLarge(String),
    /// 415: the body is in a format this call does not take.
    UnsupportedMediaType(String),
    /// 422: the body was read, but something in it is not allowed.
    NotAllowed(Vec<FieldError>),
    /// 422: the spreadsheet as a whole cannot be used.
    UnusableSheet {
        /// Why, in words.
        detail: String,
    },
    /// 428: a change must say which state of the thing it is made to.
    MatchNeeded(String),
    /// 429: more requests than the key allows.
    TooOften {
        /// The limit, in words.
        detail: String,
        /// Seconds until the next request is taken.
        wait_s: u64,
    },
    /// 503: too much to do, or it took too long.
    Busy(String),
    /// 503: the line is full.
    Shed {
        /// Which line, in words.
        detail: String,
        /// When it is worth trying again.
        retry_after: Duration,
    },
    /// 503: something is lacking without which requests fail.
    NotReady(Vec<String>),
    /// 500: our fault.
    Internal,
}

impl Refusal {
    const fn status(&self) -> StatusCode {
        match self {
            Self::Unreadable(_) => StatusCode::BAD_REQUEST,
            Self::NoKey { .. } => StatusCode::UNAUTHORIZED,
            Self::NotYours(_) => StatusCode::FORBIDDEN,
            Self::NotFound(_) => StatusCode::NOT_FOUND,
            Self::MethodNotAllowed(_) => StatusCode::METHOD_NOT_ALLOWED,
            Self::Conflict(_) => StatusCode::CONFLICT,
            Self::Stale(_) => StatusCode::PRECONDITION_FAILED,
            Self::TooLarge(_) => StatusCode::PAYLOAD_TOO_LARGE,
            Self::UnsupportedMediaType(_) => StatusCode::UNSUPPORTED_MEDIA_TYPE,
            Self::NotAllowed(_) | Self::UnusableSheet { .. } => StatusCode::UNPROCESSABLE_ENTITY,
            Self::MatchNeeded(_) => StatusCode::PRECONDITION_REQUIRED,
            Self::TooOften { .. } => StatusCode::TOO_MANY_REQUESTS,
            Self::Busy(_) | Self::Shed { .. } | Self::NotReady(_) => StatusCode::SERVICE_UNAVAILABLE,
            Self::Internal => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    const fn kind_and_title(&self) -> (&'static str, &'static str) {
        match self {
            Self::Unreadable(_) => ("/reference#unreadable", "The body cannot be read"),
            Self::NoKey { .. } => ("/reference#no-key", "A key is needed"),
            Self::NotYours(_) => ("/reference#not-yours", "This is not yours to do"),
            Self::NotFound(_) => ("/reference#not-found", "Nothing here"),
            Self::MethodNotAllowed(_) => ("/reference#method-not-allowed", "The method does not fit the address"),
            Self::Conflict(_) => ("/reference#conflict", "It does not go together with what is kept"),
            Self::Stale(_) => ("/reference#stale", "It was changed in the meantime"),
            Self::TooLarge(_) => ("/reference#too-large", "The body is too large"),
            Self::UnsupportedMediaType(_) => ("/reference#unsupported-media-type", "The format of the body is not taken here"),
            Self::NotAllowed(_) => ("/reference#not-allowed", "Something in the body is not allowed"),
            Self::UnusableSheet { .. } => ("/reference#unusable-sheet", "The spreadsheet cannot be used"),
            Self::MatchNeeded(_) => ("/reference#match-needed", "The change does not say what it is made to"),
            Self::TooOften { .. } => ("/reference#too-often", "More requests than the key allows"),
            Self::Busy(_) | Self::Shed { .. } => ("/reference#busy", "Too much to do just now"),
            Self::NotReady(_) => ("/reference#not-ready", "Not ready"),
            Self::Internal => ("/reference#internal", "Something went wrong on our side"),
        }
    }

    fn into_detail(self) -> (String, Vec<FieldError>) {
        match self {
            Self::Unreadable(detail)
            | Self::NoKey { detail, .. }
            | Self::NotYours(detail)
            | Self::NotFound(detail)
            | Self::MethodNotAllowed(detail)
            | Self::Conflict(detail)
            | Self::Stale(detail)
            | Self::MatchNeeded(detail)
            | Self::TooLarge(detail)
            | Self::UnsupportedMediaType(detail)
            | Self::UnusableSheet { detail }
            | Self::TooOften { detail, .. }
            | Self::Busy(detail)
            | Self::Shed { detail, .. } => (detail, Vec::new()),
            Self::NotAllowed(errors) => {
                let detail = match errors.as_slice() {
                    [one] => format!("{} {}", place(&one.pointer), one.message),
                    many => format!("{} fields are not allowed as given; `errors` names each of them.", many.len()),
                };
                (detail, errors)
            }
            Self::NotReady(lacks) => (lacks.join("; "), Vec::new()),
            Self::Internal => ("The fault is noted with the request id of this answer.".into(), Vec::new()),
        }
    }
}

fn place(pointer: &str) -> String {
    if pointer.is_empty() { "The body:".into() } else { format!("{pointer}:") }
}

impl From<Faults> for Refusal {
    fn from(faults: Faults) -> Self {
        Self::NotAllowed(
            faults
                .0
                .into_iter()
                .map(|f| FieldError { pointer: f.pointer, value: f.given.into(), message: f.message, allowed: f.allowed })
                .collect(),
        )
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let status = self.status();
        let (kind, title) = self.kind_and_title();
        // RFC 6750, 3: what kind of key is wanted, and whether one that was given is the trouble.
        let challenge = match self {
            Self::NoKey { given: false, .. } => Some("Bearer realm=\"toile\""),
            Self::NoKey { given: true, .. } => Some("Bearer realm=\"toile\", error=\"invalid_token\""),
            _ => None,
        };
        let wait_s = match self {
            Self::TooOften { wait_s, .. } => Some(wait_s),
            Self::Shed { retry_after, .. } => Some(retry_after.as_secs().max(1)),
            Self::Busy(_) | Self::NotReady(_) => Some(2),
            _ => None,
        };
        let (detail, errors) = self.into_detail();
        let mut response = (status, Json(Problem { kind, title, status: status.as_u16(), detail, errors })).into_response();
        let headers = response.headers_mut();
        headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("application/problem+json"));
        if let Some(challenge) = challenge {
            headers.insert(header::WWW_AUTHENTICATE, HeaderValue::from_static(challenge));
        }
        if let Some(wait_s) = wait_s {
            headers.insert(header::RETRY_AFTER, HeaderValue::from(wait_s));
        }
        response
    }
}

/// The error answers of a call without a body that makes something.
#[derive(IntoResponses)]
#[allow(dead_code, reason = "declared for the document; the answers are made by `Refusal`")]
pub enum BusyProblems {
    /// Something went wrong on our side.
    #[response(status = 500, content_type = "application/problem+json")]
    Internal(Problem),
    /// Too much to do; try again after the time in `Retry-After`.
    #[response(status = 503, content_type = "application/problem+json")]
    Busy(Problem),
}

/// The error answers that every call with a body declares.
#[derive(IntoResponses)]
#[allow(dead_code, reason = "declared for the document; the answers are made by `Refusal`")]
pub enum BodyProblems {
    /// The body cannot be read.
    #[response(status = 400, content_type = "application/problem+json")]
    Unreadable(Problem),
    /// The body is larger than allowed.
    #[response(status = 413, content_type = "application/problem+json")]
    TooLarge(Problem),
    /// The format of the body is not taken here.
    #[response(status = 415, content_type = "application/problem+json")]
    UnsupportedMediaType(Problem),
    /// Something in the body is not allowed; `errors` names every fault.
    #[response(status = 422, content_type = "application/problem+json")]
    NotAllowed(Problem),
    /// Something went wrong on our side.
    #[response(status = 500, content_type = "application/problem+json")]
    Internal(Problem),
    /// Too much to do; try again after the time in `Retry-After`.
    #[response(status = 503, content_type = "application/problem+json")]
    Busy(Problem),
}

/// The error answers of a call that looks for what is kept.
#[derive(IntoResponses)]
#[allow(dead_code, reason = "declared for the document; the answers are made by `Refusal`")]
pub enum LookProblems {
    /// Nothing of the kind is kept.
    #[response(status = 404, content_type = "application/problem+json")]
    NotFound(Problem),
    /// Something in the query is not allowed.
    #[response(status = 422, content_type = "application/problem+json")]
    NotAllowed(Problem),
    /// Something went wrong on our side.
    #[response(status = 500, content_type = "application/problem+json")]
    Internal(Problem),
    /// Too much to do, or the database does not answer; try again after the time in `Retry-After`.
    #[response(status = 503, content_type = "application/problem+json")]
    Busy(Problem),
}

/// The further error answers of a call that keeps something and takes an `Idempotency-Key`.
#[derive(IntoResponses)]
#[allow(dead_code, reason = "declared for the document; the answers are made by `Refusal`")]
pub enum OnceProblems {
    /// The `Idempotency-Key` came before with another request, or the state of the thing does not allow it.
    #[response(status = 409, content_type = "application/problem+json")]
    Conflict(Problem),
}

/// The further error answers of a call that changes something kept.
#[derive(IntoResponses)]
#[allow(dead_code, reason = "declared for the document; the answers are made by `Refusal`")]
pub enum ChangeProblems {
    /// Nothing of the kind is kept.
    #[response(status = 404, content_type = "application/problem+json")]
    NotFound(Problem),
    /// The state of the thing does not allow it.
    #[response(status = 409, content_type = "application/problem+json")]
    Conflict(Problem),
    /// It was changed since the `ETag` in `If-Match` was told.
    #[response(status = 412, content_type = "application/problem+json")]
    Stale(Problem),
    /// `If-Match` is missing.
    #[response(status = 428, content_type = "application/problem+json")]
    MatchNeeded(Problem),
}

/// The error answer of readiness.
#[derive(IntoResponses)]
#[allow(dead_code, reason = "declared for the document; the answers are made by `Refusal`")]
pub enum NotReadyProblem {
    /// They cannot; `detail` says what is lacking.
    #[response(status = 503, content_type = "application/problem+json")]
    NotReady(Problem),
}
