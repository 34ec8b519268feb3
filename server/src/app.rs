//! What handlers, workers and use cases share: limits, library, store, and leave to do heavy work.

use std::sync::Arc;
use std::sync::atomic::Ordering::Relaxed;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize};

use toile_model::materials::Library;
use tokio::sync::Semaphore;

use crate::config::{Doors, Limits, Portal};
use crate::gate::{Bounds, Gate, TurnedAway};
use crate::keys::KeyRing;
use crate::readiness::{Lack, Lookout, Need};
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
    /// What a portal beside this service may do.
    pub portal: Arc<Portal>,
    /// Leave to compute something that takes longer than a request should hold an async thread.
    pub heavy: Gate,
    /// Leave to run a batch.
    pub batches: Gate,
    /// Room for bodies that are held in memory, KiB.
    pub bodies: Arc<Semaphore>,
    /// Who is connected, and whether the service is going down.
    pub traffic: Arc<Traffic>,
    /// Whether database and disk are well.
    pub lookout: Lookout,
}

/// Bodies of the largest size that are held in memory at once; of smaller ones accordingly more.
const LARGEST_BODIES: usize = 64;

/// Who is connected, and whether the service is going down.
#[derive(Debug, Default)]
pub struct Traffic {
    /// Connections that are open.
    pub connections: AtomicUsize,
    /// Connections that found no place since the start.
    pub refused: AtomicU64,
    /// Whether the service was told to stop.
    pub stopping: AtomicBool,
}

/// Why work was not done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotDone {
    /// There is more to do than can be done: it was not begun.
    TurnedAway(TurnedAway),
    /// It panicked, or the service is going down.
    CutOff,
}

impl App {
    /// State for a service with these limits, library and store, that only this machine reaches.
    pub fn new(limits: Limits, library: Library, store: Store) -> Self {
        let cores = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
        let heavy = Bounds {
            line: "heavy",
            places: cores,
            // Work is short and places go round: one caller may have them all while nobody else wants any.
            most_of_one: cores,
            most_waiting: limits.most_waiting,
            longest_wait: limits.longest_wait,
        };
        // A batch uses every core and may take an hour: one place more, which is left for somebody else.
        let batches = Bounds { line: "batch", places: cores + 1, ..heavy };
        Self {
            limits,
            library: Arc::new(library),
            shop: "".into(),
            lookout: Lookout::new(store.clone()),
            keys: KeyRing::new(store.clone()),
            doors: Arc::new(Doors { loopback: true, everyone: false, origins: Vec::new() }),
            portal: Arc::default(),
            store,
            heavy: Gate::new(heavy),
            batches: Gate::new(batches),
            bodies: Arc::new(Semaphore::new(LARGEST_BODIES * limits.body_bytes.div_ceil(1024))),
            traffic: Arc::default(),
        }
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

    /// The same for a service with a portal beside it.
    #[must_use]
    pub fn with_portal(self, portal: Portal) -> Self {
        Self { portal: Arc::new(portal), ..self }
    }

    /// What the service lacks to do its work; nothing, when it is ready.
    pub async fn lacks(&self) -> Vec<Lack> {
        let mut lacks = self.lookout.look().await;
        if self.heavy.is_full() {
            lacks.push(Lack { need: Need::Line, why: "it is full".into() });
        }
        if self.traffic.stopping.load(Relaxed) {
            lacks.push(Lack { need: Need::Running, why: "the service is stopping".into() });
        }
        lacks
    }

    /// Runs work that would hold an async thread for too long elsewhere, no more of it at once than there are cores, each
    /// caller in turn.
    ///
    /// # Errors
    /// [`NotDone`] when the line is too long or the work panicked.
    pub async fn heavy<T: Send + 'static>(&self, by: &str, work: impl FnOnce() -> T + Send + 'static) -> Result<T, NotDone> {
        let leave = self.heavy.enter(by).await.map_err(NotDone::TurnedAway)?;
        // The place is held until the work ends, also where nobody waits for it any more.
        let work = move || {
            let _leave = leave;
            work()
        };
        tokio::task::spawn_blocking(work).await.map_err(|_| NotDone::CutOff)
    }
}
