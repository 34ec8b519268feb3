//! The keys in use, as this process knows them.
//!
//! A request must not cost a question to the database, and a key revoked by another process must stop working within seconds.
//! So all keys in use are read together, by whoever asks first after a second has passed, beside the request; after five
//! seconds without a request the next one waits for them. While the database does not answer, the keys that were known last
//! go on for a minute; where there were none, the service goes on without.

use std::collections::HashMap;
use std::num::NonZeroU32;
use std::sync::atomic::{AtomicBool, AtomicI64, Ordering};
use std::sync::{Arc, RwLock};
use std::time::{Duration, Instant};

use governor::clock::{Clock, DefaultClock};
use governor::{DefaultDirectRateLimiter, Quota, RateLimiter};
use tokio::sync::Mutex;

use super::Role;
use super::secret;
use crate::store::{KeyRow, Store, StoreFault, now_ms};

/// Keys read longer ago are read again beside the request that finds them so.
const FRESH: Duration = Duration::from_secs(1);
/// Keys read longer ago are not used, unless the database cannot be asked.
const STALE: Duration = Duration::from_secs(5);
/// For so long keys go on without the database.
const ALONE: Duration = Duration::from_secs(60);
/// An unknown key may be a new one: the keys are read again, but no more often than this.
const STRANGER: Duration = Duration::from_millis(200);
/// Use of a key is noted no more often than this.
const NOTED_MS: i64 = 60_000;

/// Who holds a key that is good.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holder {
    /// The key's id.
    pub id: String,
    /// The key's name.
    pub name: String,
    /// What the holder may do.
    pub role: Role,
}

/// What a look at the keys says about a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Pass {
    /// No key was ever made.
    NoKeys,
    /// The key is good.
    Holder(Holder),
    /// There are keys, and none was sent.
    Nothing,
    /// The key that was sent is none of those in use.
    Unknown,
    /// The key has come to its end.
    Expired,
    /// More requests than the key allows.
    TooOften {
        /// What it allows in a minute.
        per_minute: u32,
        /// Seconds until the next one is taken.
        wait_s: u64,
    },
}

/// The keys in use.
#[derive(Debug, Clone)]
pub struct KeyRing(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    store: Store,
    known: RwLock<Option<Arc<Known>>>,
    /// When reading was tried last; held while it goes on.
    reading: Arc<Mutex<Option<Instant>>>,
    /// The last reading failed.
    alone: AtomicBool,
}

/// What was read at one time.
#[derive(Debug)]
struct Known {
    at: Instant,
    any: bool,
    by_prefix: HashMap<String, Arc<Key>>,
}

#[derive(Debug)]
struct Key {
    row: KeyRow,
    role: Role,
    limit: Option<(u32, DefaultDirectRateLimiter)>,
    noted_ms: AtomicI64,
}

impl KeyRing {
    /// The keys of this database; none is read yet.
    pub fn new(store: Store) -> Self {
        Self(Arc::new(Inner { store, known: RwLock::new(None), reading: Arc::default(), alone: AtomicBool::new(false) }))
    }

    /// Whether a key was ever made.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn any(&self) -> Result<bool, StoreFault> {
        Ok(self.known().await?.any)
    }

    /// Holds a key that was sent against those in use, and counts the request.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn check(&self, sent: Option<&str>) -> Result<Pass, StoreFault> {
        let known = self.known().await?;
        let Some(sent) = sent else {
            return Ok(if known.any { Pass::Nothing } else { Pass::NoKeys });
        };
        let Some((prefix, secret)) = secret::parts(sent) else {
            return Ok(if known.any { Pass::Unknown } else { Pass::NoKeys });
        };
        let found = match known.by_prefix.get(prefix) {
            Some(key) => Some(key.clone()),
            None => self.read(STRANGER).await?.by_prefix.get(prefix).cloned(),
        };
        match found {
            Some(key) if secret::is_of(secret, &key.row.digest) => Ok(self.admit(&key)),
            Some(_) => Ok(Pass::Unknown),
            None => Ok(if self.known().await?.any { Pass::Unknown } else { Pass::NoKeys }),
        }
    }

    /// Reads the keys again: somebody here has just made or revoked one.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn refresh(&self) -> Result<(), StoreFault> {
        self.read(Duration::ZERO).await.map(|_| ())
    }

    fn admit(&self, key: &Arc<Key>) -> Pass {
        let now = now_ms();
        if key.row.expires_ms.is_some_and(|end| end <= now) {
            return Pass::Expired;
        }
        if let Some((per_minute, limiter)) = &key.limit
            && let Err(not_until) = limiter.check()
        {
            let wait = not_until.wait_time_from(DefaultClock::default().now());
            // Whole seconds, and never one too few.
            return Pass::TooOften { per_minute: *per_minute, wait_s: wait.as_secs() + 1 };
        }
        let noted = key.noted_ms.load(Ordering::Relaxed);
        if now - noted >= NOTED_MS && key.noted_ms.compare_exchange(noted, now, Ordering::Relaxed, Ordering::Relaxed).is_ok() {
            let (store, id) = (self.0.store.clone(), key.row.id.clone());
            tokio::spawn(async move {
                if let Err(fault) = store.key_used(&id, now).await {
                    tracing::warn!(target: "toile::keys", %fault, key = id, "the use of a key could not be noted");
                }
            });
        }
        Pass::Holder(Holder { id: key.row.id.clone(), name: key.row.name.clone(), role: key.role })
    }

    /// The keys, as fresh as the times above ask.
    async fn known(&self) -> Result<Arc<Known>, StoreFault> {
        let Some(known) = self.last() else { return self.read(FRESH).await };
        let age = known.at.elapsed();
        if age < FRESH {
            return Ok(known);
        }
        let alone = self.0.alone.load(Ordering::Relaxed);
        if age < STALE || alone {
            self.read_beside();
            return if age < ALONE || !known.any {
                Ok(known)
            } else {
                Err(StoreFault::Unreachable("keys were last read too long ago".into()))
            };
        }
        match self.read(FRESH).await {
            Err(fault) if age >= ALONE && known.any => Err(fault),
            read => Ok(read.unwrap_or(known)),
        }
    }

    fn last(&self) -> Option<Arc<Known>> {
        self.0.known.read().expect("nothing panics while it holds this lock").clone()
    }

    /// Reads the keys, unless they were read within `age` by another meanwhile.
    async fn read(&self, age: Duration) -> Result<Arc<Known>, StoreFault> {
        let fresh = || self.last().filter(|known| known.at.elapsed() < age);
        if let Some(known) = fresh() {
            return Ok(known);
        }
        let mut turn = self.0.reading.lock().await;
        if let Some(known) = fresh() {
            return Ok(known);
        }
        self.read_now(&mut turn).await
    }

    /// Reads the keys beside a request, unless another does so or has just tried.
    fn read_beside(&self) {
        let Ok(mut turn) = self.0.reading.clone().try_lock_owned() else { return };
        if turn.is_none_or(|tried| tried.elapsed() >= FRESH) {
            let ring = self.clone();
            tokio::spawn(async move { ring.read_now(&mut turn).await });
        }
    }

    async fn read_now(&self, tried: &mut Option<Instant>) -> Result<Arc<Known>, StoreFault> {
        let at = Instant::now();
        let rows = self.read_rows().await;
        *tried = Some(Instant::now());
        self.0.alone.store(rows.is_err(), Ordering::Relaxed);
        let (rows, any) = rows?;
        let before = self.last();
        let by_prefix = rows
            .into_iter()
            .filter_map(|row| {
                let kept = before.as_ref().and_then(|known| known.by_prefix.get(&row.prefix)).filter(|key| key.stays(&row));
                // A role from a later version is none that this one could grant.
                let key = kept.cloned().or_else(|| Key::new(row).map(Arc::new))?;
                Some((key.row.prefix.clone(), key))
            })
            .collect();
        let known = Arc::new(Known { at, any, by_prefix });
        *self.0.known.write().expect("nothing panics while it holds this lock") = Some(known.clone());
        Ok(known)
    }

    async fn read_rows(&self) -> Result<(Vec<KeyRow>, bool), StoreFault> {
        let rows = self.0.store.key_list_in_use().await?;
        // Once there were keys, revoking the last one must not open the door to everybody.
        let any = !rows.is_empty() || self.last().is_some_and(|known| known.any) || self.0.store.key_any().await?;
        Ok((rows, any))
    }
}

impl Key {
    fn new(row: KeyRow) -> Option<Self> {
        let role = row.role.parse().ok()?;
        let per_minute = row.per_minute.and_then(|n| u32::try_from(n).ok()).and_then(NonZeroU32::new);
        let limit = per_minute.map(|n| (n.get(), RateLimiter::direct(Quota::per_minute(n))));
        let noted_ms = AtomicI64::new(row.last_used_ms.unwrap_or(0));
        Some(Self { row, role, limit, noted_ms })
    }

    /// Whether this is still the key of a row: then its count of requests goes on.
    fn stays(&self, row: &KeyRow) -> bool {
        let of = |row: &KeyRow| (row.id.clone(), row.digest.clone(), row.role.clone(), row.expires_ms, row.per_minute);
        of(&self.row) == of(row)
    }
}
