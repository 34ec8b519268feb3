//! Whether the service can do its work: asked of the database and of the disk, not assumed.

use std::fmt;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use tokio::sync::Mutex;

use crate::store::Store;

/// Something without which requests fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// What is kept.
    Database,
    /// Room for the embedded database.
    DataFolder,
    /// Room for answers that wait to be fetched.
    SpoolFolder,
    /// Room in the line before heavy work.
    Line,
    /// That nobody told it to stop.
    Running,
}

impl Need {
    /// Its name on the wire.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Database => "database",
            Self::DataFolder => "data_folder",
            Self::SpoolFolder => "spool_folder",
            Self::Line => "line",
            Self::Running => "running",
        }
    }
}

/// A need that is not met, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lack {
    /// What is lacking.
    pub need: Need,
    /// Why, in words that name no path and no address.
    pub why: String,
}

impl fmt::Display for Lack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.need.name(), self.why)
    }
}

/// Longest wait for the database; one that answers later is no help to a request either.
const PATIENCE: Duration = Duration::from_secs(1);

/// Age up to which an outcome is told again: asking often must not become work.
const FRESH: Duration = Duration::from_millis(500);

/// Written to a disk to see whether it takes anything: more than a page, so that a file system must find room for it.
const PROBE: [u8; 16 * 1024] = [0; 16 * 1024];

/// When it was looked last, and what was lacking then.
type Seen = Option<(Instant, Vec<Lack>)>;

/// Looks whether what is needed is there.
#[derive(Debug, Clone)]
pub struct Lookout {
    store: Store,
    seen: Arc<Mutex<Seen>>,
}

impl Lookout {
    /// A lookout over this database and the folders that this process writes to.
    pub fn new(store: Store) -> Self {
        Self { store, seen: Arc::default() }
    }

    /// What the database and the disk lack just now.
    pub async fn look(&self) -> Vec<Lack> {
        // Whoever comes while it is being looked waits for the same outcome.
        let mut seen = self.seen.lock().await;
        if let Some((_, lacks)) = seen.as_ref().filter(|(when, _)| when.elapsed() < FRESH) {
            return lacks.clone();
        }
        let data = self.store.folder().map(Path::to_path_buf);
        let (database, data, spool) =
            tokio::join!(self.database(), probe(Need::DataFolder, data), probe(Need::SpoolFolder, Some(std::env::temp_dir())));
        let lacks: Vec<Lack> = [database, data, spool].into_iter().flatten().collect();
        for lack in &lacks {
            tracing::warn!(target: "toile::readiness", need = lack.need.name(), why = lack.why, "not ready");
        }
        *seen = Some((Instant::now(), lacks.clone()));
        lacks
    }

    async fn database(&self) -> Option<Lack> {
        let why = match tokio::time::timeout(PATIENCE, self.store.ping()).await {
            Ok(Ok(())) => return None,
            Ok(Err(fault)) => {
                tracing::debug!(target: "toile::readiness", %fault, "the database was asked");
                fault.in_short()
            }
            Err(_) => "it does not answer",
        };
        Some(Lack { need: Need::Database, why: why.into() })
    }
}

/// Whether a folder takes a small file; it has no name and leaves nothing behind.
async fn probe(need: Need, folder: Option<PathBuf>) -> Option<Lack> {
    let folder = folder?;
    let written = tokio::task::spawn_blocking(move || {
        let mut file = tempfile::tempfile_in(folder)?;
        file.write_all(&PROBE)?;
        file.sync_data()
    });
    match written.await {
        Ok(Ok(())) => None,
        Ok(Err(error)) => Some(Lack { need, why: format!("it takes no file: {}", error.kind()) }),
        Err(_) => Some(Lack { need, why: "it could not be looked at".into() }),
    }
}
