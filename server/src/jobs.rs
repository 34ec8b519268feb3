//! Workers: each claims a chunk of some job, answers its rows, records the answer, and looks for the next.
//!
//! A worker that dies is not missed by anybody: the lease of its chunk runs out, and another one takes the chunk. One that only
//! lost sight of the database goes on trying to record; whether it still may is decided by the database.

use std::collections::VecDeque;
use std::future::pending;
use std::sync::Arc;
use std::time::Duration;

use toile_model::VERSION;
use toile_model::materials::Library;
use tokio::sync::watch;
use tokio::task::JoinSet;
use tokio::time::{Instant, sleep, timeout_at};

use crate::store::{ChunkClaim, Counts, JobState, Recorded, Store, StoreFault, new_id};
use crate::usecase::job::{FellOver, RowAnswerer};

/// How often a chunk is tried before its rows are given up: something in it ends whoever works on it.
const MOST_ATTEMPTS: i64 = 5;

/// Longest pause before an idle worker looks again, and before one that could not reach the database tries again.
const PAUSE: Duration = Duration::from_millis(500);

/// How long a worker that is told to stop may take to finish the chunk in hand.
const LAST_CHUNK: Duration = Duration::from_secs(8);

/// Jobs whose answers a worker remembers at a time.
const REMEMBERED: usize = 2;

/// Time between two looks for what can be removed.
const SWEEP_EVERY: Duration = Duration::from_secs(60);

/// An upload that nothing was added to for so long has broken off, milliseconds.
const SILENCE_MS: i64 = 15 * 60 * 1000;

/// Makes the library that a job is answered by from the shop's settings that it came with.
pub type LibraryFor = Arc<dyn Fn(&str) -> Result<Library, String> + Send + Sync>;

/// How to work.
#[derive(Clone)]
pub struct Settings {
    /// Workers of this process.
    pub workers: usize,
    /// How long a chunk stays with a worker that gives no sign of life.
    pub lease: Duration,
    /// How long jobs are kept after their end.
    pub kept: Duration,
    /// Makes a job's library.
    pub library: LibraryFor,
}

/// Works off jobs until told to stop; then finishes the chunks in hand, or gives them back where that takes too long.
pub async fn work(store: Store, settings: Settings, stop: watch::Receiver<bool>) {
    let mut tasks = JoinSet::new();
    tasks.spawn(sweep(store.clone(), settings.kept, stop.clone()));
    // For people who look into the database; it decides nothing.
    let process = new_id();
    for k in 0..settings.workers {
        let name = format!("{process}/{k}");
        let worker = Worker { store: store.clone(), settings: settings.clone(), name, stop: stop.clone(), answerers: VecDeque::new() };
        tasks.spawn(worker.run());
    }
    while tasks.join_next().await.is_some() {}
}

struct Worker {
    store: Store,
    settings: Settings,
    name: String,
    stop: watch::Receiver<bool>,
    /// Of the jobs worked on last, the latest at the end.
    answerers: VecDeque<(String, Arc<RowAnswerer>)>,
}

impl Worker {
    async fn run(mut self) {
        let mut unreachable = false;
        while !*self.stop.borrow() {
            match self.store.job_chunk_claim(&self.name, VERSION, self.lease_ms()).await {
                Ok(Some(claim)) => {
                    unreachable = false;
                    self.work_off(claim).await;
                }
                Ok(None) => {
                    unreachable = false;
                    self.pause().await;
                }
                Err(fault) => {
                    // Said once, not twice a second.
                    if !std::mem::replace(&mut unreachable, true) {
                        tracing::warn!(why = %fault, "no work can be had from the database; trying again");
                    }
                    self.pause().await;
                }
            }
        }
    }

    async fn work_off(&mut self, claim: ChunkClaim) {
        let (store, stop, lease) = (self.store.clone(), self.stop.clone(), self.settings.lease);
        let answered = tokio::select! {
            answered = self.answer(&claim) => Some(answered),
            () = hold(&store, &claim, lease) => None,
            () = overtime(stop) => {
                tracing::info!(job = claim.job, place = claim.place, "stopping: the chunk in hand is given back");
                self.give_back(&claim, false).await;
                None
            }
        };
        match answered {
            Some(Ok((body, counts))) => self.record(&claim, &body, &counts).await,
            Some(Err(trouble)) => {
                self.forget(&claim.job);
                match trouble {
                    Trouble::Unusable(why) => {
                        tracing::error!(job = claim.job, why, "a job cannot be worked off");
                        if let Err(fault) = self.store.job_fail(&claim.job, &why).await {
                            tracing::warn!(job = claim.job, why = %fault, "that a job failed could not be noted; it will be tried again");
                        }
                    }
                    Trouble::FellOver => {
                        tracing::error!(job = claim.job, place = claim.place, "the work on a chunk fell over");
                        self.give_back(&claim, true).await;
                    }
                    Trouble::Store(fault) => {
                        tracing::warn!(job = claim.job, place = claim.place, why = %fault, "a chunk could not be read");
                        self.give_back(&claim, false).await;
                        self.pause().await;
                    }
                    Trouble::Gone => {}
                }
            }
            None => self.forget(&claim.job),
        }
    }

    async fn answer(&mut self, claim: &ChunkClaim) -> Result<(Vec<u8>, Counts), Trouble> {
        let answerer = self.answerer(&claim.job).await?;
        let text = self.store.job_chunk_text(claim).await?.ok_or(Trouble::Gone)?;
        let refused = claim.attempts > MOST_ATTEMPTS;
        if refused {
            tracing::error!(job = claim.job, place = claim.place, "the rows of a chunk are given up: work on them broke off too often");
        }
        Ok(answerer.answer(text, refused).await?)
    }

    /// What answers the rows of a job; kept from chunk to chunk.
    async fn answerer(&mut self, id: &str) -> Result<Arc<RowAnswerer>, Trouble> {
        if let Some(at) = self.answerers.iter().position(|(job, _)| job == id)
            && let Some(known) = self.answerers.remove(at)
        {
            self.answerers.push_back(known.clone());
            return Ok(known.1);
        }
        let job = self.store.job_find(id).await?.ok_or(Trouble::Gone)?;
        if job.state != JobState::Running {
            return Err(Trouble::Gone);
        }
        let library = (self.settings.library)(&job.shop).map_err(Trouble::Unusable)?;
        let started = tokio::task::spawn_blocking(move || RowAnswerer::start(&job, library)).await;
        let answerer = Arc::new(started.map_err(|_| Trouble::FellOver)?.map_err(Trouble::Unusable)?);
        if self.answerers.len() >= REMEMBERED {
            self.answerers.pop_front();
        }
        self.answerers.push_back((id.to_owned(), answerer.clone()));
        Ok(answerer)
    }

    fn forget(&mut self, id: &str) {
        self.answerers.retain(|(job, _)| job != id);
    }

    /// Records an answer, as often as it takes: a database that is away comes back, and knows then whether it is too late.
    async fn record(&mut self, claim: &ChunkClaim, body: &[u8], counts: &Counts) {
        loop {
            match self.store.job_chunk_record(claim, body, counts).await {
                Ok(recorded @ (Recorded::Kept | Recorded::Last)) => {
                    metrics::counter!("toile_job_rows_total").increment(claim.rows as u64);
                    if recorded == Recorded::Last {
                        tracing::info!(job = claim.job, "a job is finished");
                    }
                    return;
                }
                Ok(Recorded::TooLate) => {
                    metrics::counter!("toile_job_chunks_too_late_total").increment(1);
                    return tracing::info!(job = claim.job, place = claim.place, "an answer came too late and was not recorded");
                }
                Err(fault) => {
                    tracing::warn!(job = claim.job, place = claim.place, why = %fault, "an answer could not be recorded; trying again");
                    let worth_it = matches!(fault, StoreFault::Unreachable(_) | StoreFault::Unwritable(_));
                    if !worth_it {
                        return self.give_back(claim, true).await;
                    }
                    tokio::select! {
                        () = sleep(PAUSE) => {}
                        () = overtime(self.stop.clone()) => return,
                    }
                }
            }
        }
    }

    async fn give_back(&self, claim: &ChunkClaim, tried: bool) {
        if let Err(fault) = self.store.job_chunk_give_back(claim, tried).await {
            // The lease runs out by itself.
            tracing::warn!(job = claim.job, place = claim.place, why = %fault, "a chunk could not be given back");
        }
    }

    async fn pause(&mut self) {
        tokio::select! {
            () = sleep(PAUSE) => {}
            _ = self.stop.wait_for(|stop| *stop) => {}
        }
    }

    fn lease_ms(&self) -> i64 {
        self.settings.lease.as_millis() as i64
    }
}

/// Why a chunk was not answered.
enum Trouble {
    /// Its job is at its end, or was thrown away.
    Gone,
    /// The thread that worked on it fell over.
    FellOver,
    /// Its job cannot be worked off.
    Unusable(String),
    /// The database does not tell what is needed.
    Store(StoreFault),
}

impl From<StoreFault> for Trouble {
    fn from(fault: StoreFault) -> Self {
        Self::Store(fault)
    }
}

impl From<FellOver> for Trouble {
    fn from(_: FellOver) -> Self {
        Self::FellOver
    }
}

/// Holds a chunk for as long as it may be held; ends when it is lost.
async fn hold(store: &Store, claim: &ChunkClaim, lease: Duration) {
    loop {
        sleep(lease / 3).await;
        // A database that does not answer takes nothing away.
        if let Ok(false) = store.job_chunk_renew(claim, lease.as_millis() as i64).await {
            return tracing::info!(job = claim.job, place = claim.place, "a chunk was lost to another worker, or its job has ended");
        }
    }
}

/// Ends when a stop was asked for and the time for the chunk in hand is over.
async fn overtime(mut stop: watch::Receiver<bool>) {
    if stop.wait_for(|stop| *stop).await.is_err() {
        pending::<()>().await;
    }
    sleep(LAST_CHUNK).await;
}

/// Removes what nobody needs any more, now and then.
async fn sweep(store: Store, kept: Duration, mut stop: watch::Receiver<bool>) {
    let mut next = Instant::now();
    while timeout_at(next, stop.wait_for(|stop| *stop)).await.is_err() {
        next = Instant::now() + SWEEP_EVERY;
        match store.job_sweep(SILENCE_MS, kept.as_millis() as i64).await {
            // There is more of it: soon, but not so soon that others have to wait.
            Ok(true) => next = Instant::now() + Duration::from_millis(50),
            Ok(false) => {}
            Err(fault) => tracing::debug!(why = %fault, "nothing could be removed from the database just now"),
        }
    }
}
