//! What handlers, workers and use cases share: limits, library, store, and leave to do heavy work.

use std::sync::Arc;

use toile_model::materials::Library;
use tokio::sync::Semaphore;

use crate::config::{Limits, Portal};
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
    /// What a portal beside this service may do.
    pub portal: Arc<Portal>,
    /// Leave to compute something that takes longer than a request should hold an async thread.
    heavy: Arc<Semaphore>,
    /// Leave to run a batch.
    pub batches: Arc<Semaphore>,
}

/// The work panicked or the service is going down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CutOff;

impl App {
    /// State for a service with these limits, library and store.
    pub fn new(limits: Limits, library: Library, store: Store) -> Self {
        let cores = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
        let leave = || Arc::new(Semaphore::new(cores));
        Self { limits, library: Arc::new(library), shop: "".into(), store, portal: Arc::default(), heavy: leave(), batches: leave() }
    }

    /// The same, for a shop with settings of its own.
    #[must_use]
    pub fn with_shop(self, settings: &str) -> Self {
        Self { shop: settings.into(), ..self }
    }

    /// The same for a service with a portal beside it.
    pub fn with_portal(self, portal: Portal) -> Self {
        Self { portal: Arc::new(portal), ..self }
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
