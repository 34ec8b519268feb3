//! What handlers, workers and use cases share: limits, library, store, and leave to do heavy work.

use std::sync::Arc;

use toile_model::materials::Library;
use tokio::sync::Semaphore;

use crate::config::{Doors, Limits};
use crate::keys::KeyRing;
use crate::store::Store;

/// What handlers share.
#[derive(Clone)]
pub struct App {
    /// Sizes and times.
    pub limits: Limits,
    /// Threads, fabrics, controllers, and the shop's rates.
    pub library: Arc<Library>,
    /// The shop's settings that the library's rates come from, as JSON; empty for none. Jobs keep them.
    pub shop: Arc<str>,
    /// What outlives a request.
    pub store: Store,
    /// The keys in use.
    pub keys: KeyRing,
    /// Who is let in without a key, and from where.
    pub doors: Arc<Doors>,
    /// Leave to compute something that takes longer than a request should hold an async thread.
    heavy: Arc<Semaphore>,
    /// Leave to run a batch.
    pub batches: Arc<Semaphore>,
}

/// The work panicked or the service is going down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CutOff;

impl App {
    /// State for a service with these limits, library and store, that only this machine reaches.
    pub fn new(limits: Limits, library: Library, store: Store) -> Self {
        let cores = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
        let leave = || Arc::new(Semaphore::new(cores));
        let keys = KeyRing::new(store.clone());
        let doors = Arc::new(Doors { loopback: true, everyone: false, origins: Vec::new() });
        Self { limits, library: Arc::new(library), shop: "".into(), store, keys, doors, heavy: leave(), batches: leave() }
    }

    /// The same, for a shop with settings of its own.
    #[must_use]
    pub fn with_shop(self, settings: &str) -> Self {
        Self { shop: settings.into(), ..self }
    }

    /// The same with other doors.
    #[must_use]
    pub fn with_doors(self, doors: Doors) -> Self {
        Self { doors: Arc::new(doors), ..self }
    }

    /// Runs work that would hold an async thread for too long elsewhere, no more of it at once than there are cores.
    ///
    /// # Errors
    /// [`CutOff`] when the work panicked.
    pub async fn heavy<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> Result<T, CutOff> {
        let _leave = self.heavy.acquire().await.map_err(|_| CutOff)?;
        tokio::task::spawn_blocking(work).await.map_err(|_| CutOff)
    }
}
