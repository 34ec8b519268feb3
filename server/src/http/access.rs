//! Who asks.

use axum::extract::{FromRequestParts, Request, State};
use axum::http::request::Parts;
use axum::middleware::Next;
use axum::response::Response;

use crate::api::problem::Refusal;
use crate::app::App;

/// Who asks: every handler that keeps something or looks at what is kept takes this.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caller {
    /// Name for the audit log: the id of a key, or `this machine`.
    pub actor: String,
}

impl Caller {
    /// Somebody on this machine, where there are no keys.
    fn this_machine() -> Self {
        Self { actor: "this machine".into() }
    }
}

impl<S: Send + Sync> FromRequestParts<S> for Caller {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Refusal> {
        // `identify` stands before every handler; without it nobody may do anything.
        parts.extensions.get::<Self>().cloned().ok_or(Refusal::Internal)
    }
}

/// Finds out who asks.
pub async fn identify(State(_app): State<App>, mut request: Request, next: Next) -> Response {
    request.extensions_mut().insert(Caller::this_machine());
    next.run(request).await
}
