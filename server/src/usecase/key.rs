//! Making, listing and revoking keys.

use crate::keys::{Role, Secret};
pub use crate::store::KeyRow;
use crate::store::{NewKey, Store, StoreFault, now_ms};

/// Most keys in use at a time: every process knows them all.
pub const MOST_KEYS: i64 = 1000;
/// Longest name of a key, characters.
pub const LONGEST_NAME: usize = 100;
/// Longest life of a key that ends, days.
pub const MOST_DAYS: u32 = 3660;
/// Most requests a minute that a key can be held to.
pub const MOST_PER_MINUTE: u32 = 1_000_000;

const DAY_MS: i64 = 24 * 60 * 60 * 1000;

/// A key that somebody wants.
#[derive(Debug, Clone)]
pub struct KeyWish {
    /// What people call it.
    pub name: String,
    /// What its holder may do.
    pub role: Role,
    /// When it ends, milliseconds since 1970; never, where nothing is given.
    pub expires_ms: Option<i64>,
    /// Most requests in a minute; any number, where nothing is given.
    pub per_minute: Option<u32>,
}

/// Why a key was not made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum KeyFault {
    /// The name is empty, too long, or holds characters that cannot be printed.
    Name,
    /// There are [`MOST_KEYS`].
    TooMany,
    /// The database.
    Store(StoreFault),
}

impl From<StoreFault> for KeyFault {
    fn from(fault: StoreFault) -> Self {
        Self::Store(fault)
    }
}

impl std::fmt::Display for KeyFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Name => write!(f, "a name has 1 to {LONGEST_NAME} characters that can be printed"),
            Self::TooMany => write!(f, "there are {MOST_KEYS} keys in use; revoke some first"),
            Self::Store(fault) => fault.fmt(f),
        }
    }
}

/// When a key made now ends that lives for so many days.
pub fn end_after_days(days: u32) -> i64 {
    now_ms() + i64::from(days) * DAY_MS
}

/// Makes a key: what is kept of it, and the key itself, which is told nowhere else.
///
/// # Errors
/// A name that cannot be used, too many keys, the database.
pub async fn key_create(store: &Store, wish: KeyWish, actor: &str) -> Result<(KeyRow, Secret), KeyFault> {
    let name = wish.name.trim();
    if name.is_empty() || name.chars().count() > LONGEST_NAME || name.chars().any(char::is_control) {
        return Err(KeyFault::Name);
    }
    let secret = Secret::random();
    let (prefix, digest) = secret.kept();
    let new = NewKey {
        prefix,
        digest,
        name: name.to_owned(),
        role: wish.role.name().into(),
        expires_ms: wish.expires_ms,
        per_minute: wish.per_minute.map(i64::from),
    };
    let row = store.key_create(new, actor, MOST_KEYS).await?.ok_or(KeyFault::TooMany)?;
    Ok((row, secret))
}

/// Keys made before one of them, newest first, revoked ones too.
///
/// # Errors
/// The database.
pub async fn key_list(store: &Store, before: Option<&str>, most: u32) -> Result<Vec<KeyRow>, StoreFault> {
    store.key_list(before, most).await
}

/// Why a key was not revoked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RevokeFault {
    /// There is no such key.
    NotThere,
    /// It is the key that asks: whoever revoked the last admin's by mistake could not take it back.
    Own,
    /// The database.
    Store(StoreFault),
}

/// Revokes a key by its id or prefix. One that was revoked before stays as it is.
///
/// # Errors
/// No such key, the key that asks, the database.
pub async fn key_revoke(store: &Store, id_or_prefix: &str, actor: &str) -> Result<KeyRow, RevokeFault> {
    let row = store.key_revoke(id_or_prefix, actor).await.map_err(RevokeFault::Store)?.ok_or(RevokeFault::NotThere)?;
    if row.revoked_ms.is_none() { Err(RevokeFault::Own) } else { Ok(row) }
}
