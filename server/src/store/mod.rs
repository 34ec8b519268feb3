//! Everything that outlives a request: all SQL, one file per table, and the rows as they are stored.
//!
//! One set of queries and migrations serves an SQLite file and PostgreSQL. So that both take them, columns are `text`,
//! `bigint` and `double precision` only: times are milliseconds since 1970, truth values 0 or 1, documents JSON text, and ids
//! UUIDs of version 7, which sort by time. Where the two databases must be asked differently, [`Store::kind`] tells which it is.
//!
//! What a call that returned `Ok` wrote stays written, whatever dies next: SQLite syncs its log at each commit.

mod audit;
mod backup;
mod counts;
mod deliveries;
mod events;
mod fault;
mod idempotency;
mod job_chunks;
mod jobs;
mod key;
mod quote;
mod webhooks;

use std::fs::File;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use sqlx::any::{AnyConnectOptions, AnyPoolOptions};
use sqlx::migrate::Migrator;
use sqlx::{Any, AnyPool, ConnectOptions, Connection, Executor, Transaction};
use uuid::Uuid;

pub use audit::AuditEntry;
pub use counts::StateCounts;
pub use deliveries::{Delivery, DeliveryBounds, DeliveryClaim, DeliveryOutcome, DeliveryState};
pub use events::EventKind;
pub use fault::StoreFault;
pub use idempotency::{KeptAnswer, Known, Once};
pub use job_chunks::{ChunkClaim, Recorded};
pub use jobs::{Counts, JobRow, JobState, NewJob, WholeJob};
pub use key::{KeyRow, NewKey};
pub use quote::{Doing, QuoteContent, QuoteFilter, QuoteName, QuoteRow, QuoteSaid, QuoteTurn, QuoteWhole};
pub use webhooks::{NewWebhook, Webhook, WebhookChange};

static MIGRATIONS: Migrator = sqlx::migrate!("src/store/migrations");

/// Longest wait for a connection or a lock before the caller is told that the database is busy.
const PATIENCE: Duration = Duration::from_secs(3);

/// Name of the database file in the data folder.
pub const DATABASE_FILE: &str = "toile.db";

/// Which database it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A file of this machine.
    Sqlite,
    /// A server that several machines share.
    Postgres,
}

/// The database.
#[derive(Debug, Clone)]
pub struct Store {
    pool: AnyPool,
    kind: Kind,
    folder: Option<Arc<Path>>,
}

impl Store {
    /// Opens the database file in this folder; folder and file are made where they are missing.
    ///
    /// # Errors
    /// What keeps the file from being made, read or brought up to date.
    pub async fn open_folder(folder: &Path) -> Result<Self, StoreFault> {
        let cannot = |error: std::io::Error| StoreFault::Unusable(format!("{}: {error}", folder.display()));
        std::fs::create_dir_all(folder).map_err(cannot)?;
        // Two processes that start at once on a new folder would both see no tables and both make them.
        let lock = File::create(folder.join("toile.lock")).map_err(cannot)?;
        let held = tokio::task::spawn_blocking(move || lock.lock().map(|()| lock)).await;
        let _held = held.map_err(|error| StoreFault::Unusable(error.to_string()))?.map_err(cannot)?;
        let path = folder.join(DATABASE_FILE);
        let path = path.to_str().ok_or_else(|| StoreFault::Unusable(format!("{} is no path in UTF-8", path.display())))?;
        let mut url = url::Url::parse("sqlite:").expect("a plain address");
        url.set_path(path);
        url.set_query(Some("mode=rwc"));
        let store = Self::open(url.as_str(), Kind::Sqlite).await?;
        Ok(Self { folder: Some(folder.into()), ..store })
    }

    /// Opens the PostgreSQL database at this address.
    ///
    /// # Errors
    /// An address of another kind, and what keeps the database from being reached or brought up to date.
    pub async fn open_url(address: &str) -> Result<Self, StoreFault> {
        if !(address.starts_with("postgres://") || address.starts_with("postgresql://")) {
            return Err(StoreFault::Unusable("the address of a database begins with postgres://".into()));
        }
        Self::open(address, Kind::Postgres).await
    }

    async fn open(address: &str, kind: Kind) -> Result<Self, StoreFault> {
        sqlx::any::install_default_drivers();
        let options: AnyConnectOptions = address.parse().map_err(StoreFault::from)?;
        let pool = AnyPoolOptions::new()
            .max_connections(if kind == Kind::Sqlite { 4 } else { 10 })
            .acquire_timeout(PATIENCE)
            .after_connect(move |connection, _| {
                Box::pin(async move {
                    if kind == Kind::Sqlite {
                        let pragmas =
                            "pragma journal_mode = wal; pragma synchronous = full; pragma busy_timeout = 3000; pragma foreign_keys = on";
                        connection.execute(pragmas).await?;
                    }
                    Ok(())
                })
            })
            // Where a commit fails, as on a full disk, SQLite ends the transaction itself and the driver goes on counting it: such
            // a connection could begin nothing any more.
            .before_acquire(|connection, _| Box::pin(async move { Ok(!connection.is_in_transaction()) }))
            .connect_with(options.disable_statement_logging())
            .await?;
        MIGRATIONS
            .run(&pool)
            .await
            .map_err(|error| StoreFault::Unusable(format!("its tables could not be brought up to date: {error}")))?;
        Ok(Self { pool, kind, folder: None })
    }

    /// Which database it is.
    pub const fn kind(&self) -> Kind {
        self.kind
    }

    /// The folder of the embedded database.
    pub fn folder(&self) -> Option<&Path> {
        self.folder.as_deref()
    }

    /// Whether the database answers, and takes anything.
    ///
    /// # Errors
    /// Why it does not.
    pub async fn ping(&self) -> Result<(), StoreFault> {
        let question = match self.kind {
            // Whether its disk takes anything is seen in the folder: asking for the one write lock would be in everybody's way.
            Kind::Sqlite => "select 'off'",
            // A stand-by answers and takes nothing.
            Kind::Postgres => "select current_setting('transaction_read_only')",
        };
        let read_only: String = sqlx::query_scalar(question).fetch_one(&self.pool).await?;
        if read_only == "on" { Err(StoreFault::Unwritable("it is read-only".into())) } else { Ok(()) }
    }

    /// Connections to the database: open, and of these idle.
    pub fn connections(&self) -> (usize, usize) {
        (self.pool.size() as usize, self.pool.num_idle())
    }

    /// Closes all connections; SQLite then folds its log into the file.
    pub async fn close(&self) {
        self.pool.close().await;
    }

    /// Begins a transaction that will write. SQLite takes its one write lock at once: taken later, a reader that became a writer
    /// would be refused instead of waiting.
    async fn begin(&self) -> Result<Transaction<'static, Any>, StoreFault> {
        Ok(match self.kind {
            Kind::Sqlite => self.pool.begin_with("begin immediate").await?,
            Kind::Postgres => self.pool.begin().await?,
        })
    }
}

/// A new id; ids made later sort later.
pub fn new_id() -> String {
    Uuid::now_v7().to_string()
}

/// The time now, milliseconds since 1970.
pub fn now_ms() -> i64 {
    SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_millis() as i64)
}
