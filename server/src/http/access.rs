//! Who asks, and what they must be to ask it.

use std::collections::HashMap;
use std::sync::OnceLock;

use axum::extract::{FromRequestParts, MatchedPath, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::middleware::AskedAs;
use super::{document, origin};
use crate::api::problem::Refusal;
use crate::app::App;
use crate::config::Doors;
use crate::keys::{Holder, Pass, Role};

/// No key needed, where there are keys.
const FREE: Option<Role> = None;
const READER: Option<Role> = Some(Role::Reader);
const ESTIMATOR: Option<Role> = Some(Role::Estimator);
const ADMIN: Option<Role> = Some(Role::Admin);

/// The least role for each operation, by its id. An operation that is not told here is for admins only.
pub const LEAST_ROLES: &[(&str, Option<Role>)] = &[
    // Whole pieces
    ("estimate_create", ESTIMATOR),
    ("batch_answer", ESTIMATOR),
    ("batch_preview", ESTIMATOR),
    ("batch_template_csv", FREE),
    ("batch_template_xlsx", FREE),
    ("charge_draw", ESTIMATOR),
    // Jobs
    ("job_create", ESTIMATOR),
    ("job_list", READER),
    ("job_find", READER),
    ("job_delete", ESTIMATOR),
    ("job_cancel", ESTIMATOR),
    ("job_result", READER),
    // Quotes
    ("quote_list", READER),
    ("quote_create", ESTIMATOR),
    ("quote_export", READER),
    ("quote_find", READER),
    ("quote_change", ESTIMATOR),
    ("quote_revise", ESTIMATOR),
    ("quote_turn", ESTIMATOR),
    ("quote_rerun", READER),
    ("quote_print", READER),
    // Library
    ("thread_list", READER),
    ("fabric_list", READER),
    ("controller_list", READER),
    ("rate_list", READER),
    ("metal_list", READER),
    // Single parts
    ("capacitance_solve", ESTIMATOR),
    ("line_solve", ESTIMATOR),
    ("rows_solve", ESTIMATOR),
    ("production_solve", ESTIMATOR),
    ("stitching_solve", ESTIMATOR),
    ("run_solve", ESTIMATOR),
    ("fill_solve", ESTIMATOR),
    ("settling_solve", ESTIMATOR),
    ("touch_solve", ESTIMATOR),
    ("electrode_solve", ESTIMATOR),
    ("light_row_solve", ESTIMATOR),
    ("heat_solve", ESTIMATOR),
    ("laid_wire_solve", ESTIMATOR),
    // Keys
    ("key_create", ADMIN),
    ("key_list", ADMIN),
    ("key_revoke", ADMIN),
    ("audit_list", ADMIN),
    // Webhooks
    ("webhook_create", ADMIN),
    ("webhook_list", ADMIN),
    ("webhook_find", ADMIN),
    ("webhook_change", ADMIN),
    ("webhook_delete", ADMIN),
    ("webhook_rotate", ADMIN),
    ("webhook_ping", ADMIN),
    ("delivery_list", ADMIN),
    ("delivery_resend", ADMIN),
    // Service
    ("health_live", FREE),
    ("health_ready", FREE),
    ("metrics_read", READER),
    ("document_read", FREE),
];

/// The least role for an operation; none where no key is needed.
pub fn least_role(operation: &str) -> Option<Role> {
    LEAST_ROLES.iter().find(|(id, _)| *id == operation).map_or(Some(Role::Admin), |(_, least)| *least)
}

/// Methods of a route, each with the least role for it.
type Methods = Vec<(String, Option<Role>)>;

/// The least role for whatever answers this method at this route; none where no operation does.
fn least_role_at(method: &Method, route: &str) -> Option<Role> {
    static BY_ROUTE: OnceLock<HashMap<String, Methods>> = OnceLock::new();
    let by_route = BY_ROUTE.get_or_init(|| {
        let mut by_route = HashMap::<String, Methods>::new();
        for (path, method, operation) in document::operations(document::as_json()) {
            let id = operation["operationId"].as_str().unwrap_or_default();
            by_route.entry(path.to_owned()).or_default().push((method.to_owned(), least_role(id)));
        }
        by_route
    });
    // What answers GET answers HEAD.
    let method = if method == Method::HEAD { "get".to_owned() } else { method.as_str().to_ascii_lowercase() };
    by_route.get(route)?.iter().find(|(name, _)| *name == method)?.1
}

/// Who asks: every handler that keeps something or looks at what is kept takes this.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caller {
    /// The id of the key; none where there are no keys.
    pub key: Option<String>,
    /// The name of the key; `this machine` or `everyone` where there are no keys.
    pub name: String,
    /// What they may do.
    pub role: Role,
    /// Who it is in the audit log: the id of the key, or the name.
    pub actor: String,
}

impl Caller {
    /// Somebody without a key, where there are no keys.
    fn without_key(doors: &Doors) -> Result<Self, Refusal> {
        let unkeyed = |name: &str, role| Self { key: None, name: name.into(), role, actor: name.into() };
        if doors.loopback {
            Ok(unkeyed("this machine", Role::Admin))
        } else if doors.everyone {
            // Not admin: the first to make a key would lock everybody else out.
            Ok(unkeyed("everyone", Role::Lab))
        } else {
            Err(no_key(false, "There are no keys, and this service reaches beyond its machine. Make one there with `toile key add`."))
        }
    }
}

impl From<Holder> for Caller {
    fn from(holder: Holder) -> Self {
        Self { actor: holder.id.clone(), key: Some(holder.id), name: holder.name, role: holder.role }
    }
}

impl<S: Send + Sync> FromRequestParts<S> for Caller {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Refusal> {
        // `identify` stands before every handler; without it nobody may do anything.
        parts.extensions.get::<Self>().cloned().ok_or(Refusal::Internal)
    }
}

/// Finds out who asks, and lets pass who may.
pub async fn identify(State(app): State<App>, mut request: Request, next: Next) -> Response {
    let route = request.extensions().get::<MatchedPath>().map(MatchedPath::as_str).unwrap_or_default();
    if let Some(least) = least_role_at(request.method(), route) {
        // Owned, because a request cannot be shared while something is waited for.
        let sent = sent_key(request.headers()).map(str::to_owned);
        let own = origin::expect_own(&app.doors, &request);
        let caller = match caller(&app, sent.as_deref(), own, least).await {
            Ok(caller) => caller,
            Err(refusal) => return refusal.into_response(),
        };
        let role = caller.role;
        request.extensions_mut().insert(caller);
        let mut response = next.run(request).await;
        response.extensions_mut().insert(AskedAs(role.name()));
        return response;
    }
    next.run(request).await
}

async fn caller(app: &App, sent: Option<&str>, own: Result<(), Refusal>, least: Role) -> Result<Caller, Refusal> {
    let caller = match app.keys.check(sent).await? {
        Pass::NoKeys => {
            own?;
            Caller::without_key(&app.doors)?
        }
        Pass::Holder(holder) => holder.into(),
        Pass::Nothing => return Err(no_key(false, "This needs a key, sent as `Authorization: Bearer KEY`.")),
        Pass::Unknown => return Err(no_key(true, "The key is not known here, or it was revoked.")),
        Pass::Expired => return Err(no_key(true, "The key has come to its end.")),
        Pass::TooOften { per_minute, wait_s } => {
            let detail = format!("The key allows {per_minute} requests in a minute; the next one is taken in {wait_s} s.");
            return Err(Refusal::TooOften { detail, wait_s });
        }
    };
    if caller.role < least {
        let who = if caller.key.is_some() { "this key" } else { "a caller without a key" };
        return Err(Refusal::NotYours(format!("This takes the role {least} or more; {who} has the role {}.", caller.role)));
    }
    Ok(caller)
}

fn no_key(given: bool, detail: &str) -> Refusal {
    Refusal::NoKey { detail: detail.into(), given }
}

/// The key that was sent: what follows `Bearer` (RFC 6750, 2.1). Anything else that was sent is a key that nobody knows.
fn sent_key(headers: &HeaderMap) -> Option<&str> {
    let sent = headers.get(header::AUTHORIZATION)?.to_str().unwrap_or("?");
    match sent.split_once(' ') {
        Some((scheme, key)) if scheme.eq_ignore_ascii_case("bearer") => Some(key.trim()),
        _ => Some("?"),
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::{LEAST_ROLES, document};

    #[test]
    fn every_operation_has_a_least_role_and_no_other_has() {
        let told: BTreeSet<&str> = LEAST_ROLES.iter().map(|(id, _)| *id).collect();
        assert_eq!(told.len(), LEAST_ROLES.len(), "an operation is told twice");
        let there: BTreeSet<&str> = document::operations(document::as_json()).filter_map(|(_, _, o)| o["operationId"].as_str()).collect();
        let missing: Vec<_> = there.difference(&told).collect();
        let stale: Vec<_> = told.difference(&there).collect();
        assert!(missing.is_empty() && stale.is_empty(), "without a least role: {missing:?}; no longer there: {stale:?}");
    }
}
