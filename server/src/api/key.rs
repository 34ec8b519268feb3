//! Keys on the wire.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::read::Readable;

/// What the holder of a key may do; each may do all that those before it may.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum KeyRole {
    /// Looks at what is kept.
    Reader,
    /// Estimates, quotes, runs jobs.
    Estimator,
    /// Records coupons and what samples measured.
    Lab,
    /// Keys, webhooks, audit log.
    Admin,
}

/// A key to be made.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct KeyQuestion {
    /// What people call it: who holds it, or what for.
    #[schema(min_length = 1, max_length = 100)]
    pub name: String,
    /// What its holder may do.
    pub role: KeyRole,
    /// In how many days it ends; never, where nothing is given.
    #[schema(minimum = 1, maximum = 3660)]
    pub expires_in_days: Option<u32>,
    /// Most requests in a minute, at each process of the service; any number, where nothing is given.
    #[schema(minimum = 1, maximum = 1_000_000)]
    pub per_minute: Option<u32>,
}

impl Readable for KeyQuestion {
    const SCHEMA: &'static str = "KeyQuestion";
}

/// A key, without its secret.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct KeyAnswer {
    /// Its id.
    pub id: String,
    /// What it begins with.
    pub prefix: String,
    /// What people call it.
    pub name: String,
    /// What its holder may do.
    pub role: String,
    /// When it was made.
    #[schema(format = DateTime)]
    pub created_at: String,
    /// Who made it: the id of a key, `this machine` or `command line`.
    pub created_by: String,
    /// When it ends; null where it does not.
    #[schema(format = DateTime)]
    pub expires_at: Option<String>,
    /// Most requests in a minute; null for any number.
    pub per_minute: Option<i64>,
    /// When it was last used, to a minute; null where it was not.
    #[schema(format = DateTime)]
    pub last_used_at: Option<String>,
    /// When it was revoked; null where it was not.
    #[schema(format = DateTime)]
    pub revoked_at: Option<String>,
}

/// A key that was just made.
#[derive(Serialize, ToSchema)]
pub struct KeyMade {
    /// What is kept of it.
    pub key: KeyAnswer,
    /// The key itself. It is told this once: only a digest is kept.
    pub secret: String,
}

/// Some of the keys.
#[derive(Debug, Serialize, ToSchema)]
pub struct KeyList {
    /// The newest first, revoked ones too.
    pub keys: Vec<KeyAnswer>,
    /// What to give as `before` for those that follow; null where none do.
    pub next: Option<String>,
}
