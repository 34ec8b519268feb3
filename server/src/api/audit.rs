//! The audit log on the wire.

use serde::Serialize;
use utoipa::ToSchema;

/// One thing done.
#[derive(Debug, Serialize, ToSchema)]
pub struct AuditAnswer {
    /// Grows with time.
    pub id: String,
    /// When.
    #[schema(format = DateTime)]
    pub at: String,
    /// Who: the id of a key, `this machine`, `everyone` or `command line`.
    pub actor: String,
    /// The name of that key; null where it was none.
    pub actor_name: Option<String>,
    /// What was done: the id of the operation.
    pub action: String,
    /// What it was done to, by its id.
    pub subject: String,
    /// Anything else.
    pub detail: String,
}

/// Some of the audit log.
#[derive(Debug, Serialize, ToSchema)]
pub struct AuditList {
    /// The newest first.
    pub entries: Vec<AuditAnswer>,
    /// What to give as `before` for those that follow; null where none do.
    pub next: Option<String>,
}
