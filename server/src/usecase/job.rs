//! Jobs: a sheet of many rows taken in whole, worked off chunk by chunk by whoever is there, and given back in its order.

use std::io::{self, Read, Write};
use std::sync::Arc;
use std::sync::mpsc::{SyncSender, sync_channel};
use std::thread;

use sha2::{Digest, Sha256};
use toile_model::materials::Library;
use toile_model::{VERSION, Verdict};
use tokio::runtime::Handle;
use tokio::sync::{mpsc, oneshot};

use super::batch::{Given, batch_open};
use super::once::{KeptAnswer, KeyReused, Once, once};
pub use crate::sheet::MOST_XLSX_ROWS;
use crate::sheet::{Form, Head, Limits, Opened, SheetFault, Summary, Tally, Worker, write_xlsx};
use crate::store::{Counts, NewJob, Store, StoreFault, WholeJob};
pub use crate::store::{JobRow, JobState};

/// Largest number of rows of a job.
pub const MOST_ROWS: u64 = 5_000_000;

/// Jobs that one owner may have under way at a time.
pub const MOST_OPEN: i64 = 100;

/// Longest name of a job, characters.
pub const LONGEST_NAME: usize = 200;

/// Rows of a chunk: few enough that little is lost with a worker, many enough that claiming costs next to nothing.
const CHUNK_ROWS: u64 = 2000;

/// Text of a chunk, bytes, give or take a row.
const CHUNK_BYTES: usize = 512 * 1024;

/// Chunks that wait for the database while a sheet is read.
const WAITING: usize = 2;

/// The place of what an answer begins with, before those of its chunks.
const BEGINNING: i64 = -1;

/// The time over which the speed of a job is told, milliseconds.
const LATELY_MS: i64 = 60_000;

/// Why a job cannot be had as asked.
#[derive(Debug)]
pub enum JobFault {
    /// The sheet cannot be used.
    Sheet(SheetFault),
    /// The database does not do it.
    Store(StoreFault),
    /// Its result has more rows than a workbook holds.
    TooLongForXlsx {
        /// Rows that it has, header and titles counted.
        rows: u64,
    },
    /// So many jobs of this owner are under way already.
    TooMany(i64),
    /// There is none of this id.
    Missing,
    /// Its rows are not all answered; so many are, from the first without a gap.
    Unfinished {
        /// Where it stands.
        state: JobState,
        /// Rows that can be had.
        ready: i64,
    },
    /// It has ended already.
    Ended(JobState),
}

impl From<StoreFault> for JobFault {
    fn from(fault: StoreFault) -> Self {
        Self::Store(fault)
    }
}

impl From<SheetFault> for JobFault {
    fn from(fault: SheetFault) -> Self {
        Self::Sheet(fault)
    }
}

/// Who sends a sheet, and how it is to be answered.
#[derive(Debug, Clone)]
pub struct JobOrder {
    /// Who sends it.
    pub owner: String,
    /// What its owner calls it; may be empty.
    pub name: String,
    /// What the sheet comes in.
    pub given: Given,
    /// The shop's settings that prices are told by, as JSON; empty for none.
    pub shop: String,
}

/// A sheet that is in the database as a whole and not yet a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Received {
    id: String,
    whole: WholeJob,
    /// A digest of the bytes that came: two uploads with the same one are the same.
    pub digest: Vec<u8>,
}

/// What a sheet is cut into.
enum Part {
    /// How it is written, as JSON, and what its answer begins with.
    Head(String, Vec<u8>),
    Rows(i64, String),
}

/// Takes a sheet in: as it comes, a few chunks of it in memory at a time. Where it breaks off, what came of it is thrown away.
///
/// # Errors
/// [`JobFault`]: the sheet cannot be used, its owner has too many jobs, or the database does not take it.
pub async fn job_receive(
    store: &Store,
    order: JobOrder,
    library: Arc<Library>,
    input: impl Read + Send + 'static,
) -> Result<Received, JobFault> {
    if store.job_count_open(&order.owner).await? >= MOST_OPEN {
        return Err(JobFault::TooMany(MOST_OPEN));
    }
    let (sender, parts) = mpsc::channel(WAITING);
    let given = order.given.clone();
    let cutting = tokio::task::spawn_blocking(move || cut(input, &given, &library, &sender));
    let mut id = None;
    let kept = keep(store, order, parts, &mut id).await;
    let cut = cutting.await.map_err(|_| SheetFault::Internal)?;
    let whole = match (kept, cut) {
        // A sheet that was not read to its end because the database failed is told as what it is.
        (Err(fault), _) => Err(JobFault::Store(fault)),
        (Ok(_), Err(fault)) => Err(JobFault::Sheet(fault)),
        (Ok(chunks), Ok(end)) => Ok((chunks, end)),
    };
    match (whole, id) {
        (Ok((chunks, end)), Some(id)) => {
            let whole = WholeJob { rows: end.rows, chunks, defused: end.defused, notes: end.notes };
            Ok(Received { id, whole, digest: end.digest })
        }
        (Ok(_), None) => Err(SheetFault::Internal.into()),
        (Err(fault), id) => {
            if let Some(id) = id
                && let Err(why) = store.job_abandon(&id).await
            {
                // It is out of sight, and is swept when it has been silent for long enough.
                tracing::warn!(job = id, %why, "a broken upload could not be thrown away");
            }
            Err(fault)
        }
    }
}

/// Writes the parts of a sheet as they come; how many chunks there were.
async fn keep(store: &Store, order: JobOrder, mut parts: mpsc::Receiver<Part>, id: &mut Option<String>) -> Result<i64, StoreFault> {
    let mut order = Some(order);
    let mut chunks = 0;
    while let Some(part) = parts.recv().await {
        match part {
            Part::Head(head, beginning) => {
                let Some(JobOrder { owner, name, shop, .. }) = order.take() else { continue };
                let new = store.job_create(&NewJob { owner, name, version: VERSION.into(), shop, head }).await?;
                store.job_answer_keep(&new, BEGINNING, &beginning).await?;
                *id = Some(new);
            }
            Part::Rows(rows, text) => {
                // No rows come before the head.
                let Some(id) = id.as_deref() else { continue };
                store.job_chunk_add(id, chunks, rows, &text).await?;
                chunks += 1;
            }
        }
    }
    Ok(chunks)
}

struct End {
    rows: i64,
    defused: i64,
    notes: String,
    digest: Vec<u8>,
}

/// Passes bytes on and digests them.
struct Digesting<R> {
    input: R,
    digest: Sha256,
}

impl<R: Read> Read for Digesting<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.input.read(buffer)?;
        self.digest.update(&buffer[..count]);
        Ok(count)
    }
}

/// Cuts a sheet into chunks of whole rows. Every row is looked at as far as its size goes: what would stop the sheet on the way
/// stops it here, before it is a job.
fn cut(input: impl Read, given: &Given, library: &Library, parts: &mpsc::Sender<Part>) -> Result<End, SheetFault> {
    let limits = Limits { most_rows: Some(MOST_ROWS), ..Limits::default() };
    let mut input = Digesting { input, digest: Sha256::new() };
    let Opened { head, mut rows, mut notes, .. } = batch_open(&mut input, given, &limits)?;
    let plan = head.plan(library, &limits)?;
    let mut beginning = Vec::new();
    let begun = plan.begin(&mut beginning);
    let json = serde_json::to_string(&head).map_err(|_| SheetFault::Internal)?;
    // Whoever takes the parts has gone only where the database failed, and knows why.
    let gone = |_| SheetFault::Internal;
    parts.blocking_send(Part::Head(json, beginning)).map_err(gone)?;
    let mut total = 0;
    loop {
        let mut text = String::new();
        let taken = rows.take_within(CHUNK_ROWS, CHUNK_BYTES, &mut text).map_err(|fault| fault.later(head.rows() + total))?;
        if taken == 0 {
            break;
        }
        plan.check(&text).map_err(|fault| fault.later(head.rows() + total))?;
        total += taken;
        if total > MOST_ROWS {
            return Err(SheetFault::TooManyRows { allowed: MOST_ROWS });
        }
        parts.blocking_send(Part::Rows(taken as i64, text)).map_err(gone)?;
    }
    notes.extend(Summary::of(&plan, &begun, &rows).notes);
    let notes = serde_json::to_string(&notes).map_err(|_| SheetFault::Internal)?;
    drop(rows);
    Ok(End { rows: total as i64, defused: begun.defused as i64, notes, digest: input.digest.finalize().to_vec() })
}

/// Makes a job of a sheet that was taken in; `answer` is what is told of it. Where the request was done before, the sheet is
/// thrown away again.
///
/// # Errors
/// [`JobFault`] where the database does not do it, and whatever else keeps a request from being done once.
pub async fn job_create<E>(
    store: &Store,
    received: Received,
    request: Option<Once>,
    answer: impl FnOnce(&JobRow) -> KeptAnswer,
) -> Result<KeptAnswer, E>
where
    E: From<StoreFault> + From<KeyReused>,
{
    let Received { id, whole, .. } = &received;
    let publish = |request: Option<Once>| async move { Ok::<_, E>(store.job_publish(id, whole, request.as_ref(), answer).await?) };
    let told = once(store, request, publish).await;
    // Nothing is left of the upload where it has become a job.
    if let Err(why) = store.job_abandon(id).await {
        tracing::warn!(job = id, %why, "an upload could not be thrown away");
    }
    told
}

/// A job and how it gets on.
#[derive(Debug, Clone, PartialEq)]
pub struct JobProgress {
    /// The job.
    pub job: JobRow,
    /// Rows a second: of the last minute while it runs, of all its time once it has ended.
    pub rows_per_second: Option<f64>,
    /// When its last row will be done at that speed, milliseconds since 1970.
    pub estimated_end_ms: Option<i64>,
}

/// A job and how it gets on.
///
/// # Errors
/// [`JobFault::Missing`], or why the database cannot tell.
pub async fn job_find(store: &Store, id: &str) -> Result<JobProgress, JobFault> {
    let job = store.job_find(id).await?.ok_or(JobFault::Missing)?;
    let per_second = |rows: i64, ms: i64| (rows > 0).then(|| rows as f64 / (ms.max(1) as f64 / 1000.0));
    if job.state != JobState::Running {
        let rows_per_second = per_second(job.rows_done, job.ended_ms - job.started_ms);
        return Ok(JobProgress { job, rows_per_second, estimated_end_ms: None });
    }
    let (lately, now) = store.job_rows_lately(id, LATELY_MS).await?;
    let rows_per_second = per_second(lately, LATELY_MS.min(now - job.started_ms));
    let left = (job.rows_all - job.rows_done) as f64;
    let estimated_end_ms = rows_per_second.map(|speed| now + (left / speed * 1000.0) as i64);
    Ok(JobProgress { job, rows_per_second, estimated_end_ms })
}

/// Jobs sent before another one, newest first.
///
/// # Errors
/// Why the database cannot tell.
pub async fn job_list(store: &Store, before: Option<&str>, most: u32) -> Result<Vec<JobRow>, JobFault> {
    Ok(store.job_list(before, most).await?)
}

/// Stops a job; rows that are answered stay.
///
/// # Errors
/// [`JobFault::Missing`], [`JobFault::Ended`], or why the database does not do it.
pub async fn job_cancel(store: &Store, id: &str, actor: &str) -> Result<JobProgress, JobFault> {
    let stopped = store.job_cancel(id, actor).await?;
    let progress = job_find(store, id).await?;
    if stopped { Ok(progress) } else { Err(JobFault::Ended(progress.job.state)) }
}

/// Throws a job away with all its rows.
///
/// # Errors
/// [`JobFault::Missing`], or why the database does not do it.
pub async fn job_delete(store: &Store, id: &str, actor: &str) -> Result<(), JobFault> {
    if store.job_delete(id, actor).await? { Ok(()) } else { Err(JobFault::Missing) }
}

/// The answer of a job, chunk by chunk.
#[derive(Debug)]
pub struct JobAnswer {
    store: Store,
    /// The job.
    pub job: JobRow,
    /// How its sheet is written.
    head: Head,
    /// Rows that come.
    pub rows: i64,
    /// Whether these are all.
    pub complete: bool,
    next: i64,
    end: i64,
}

/// The answer of a job in the order of its rows: all of it, or where `partial` is enough, those from the first that are done
/// without a gap.
///
/// # Errors
/// [`JobFault::Missing`], [`JobFault::Unfinished`], or why the database does not tell.
pub async fn job_answer(store: &Store, id: &str, partial: bool) -> Result<JobAnswer, JobFault> {
    let job = store.job_find(id).await?.ok_or(JobFault::Missing)?;
    let head = serde_json::from_str(&job.head).map_err(|_| SheetFault::Internal)?;
    let complete = job.state == JobState::Finished;
    let (end, rows) = if complete { (job.chunks_all, job.rows_all) } else { store.job_chunks_ready(id).await? };
    if !complete && !partial {
        return Err(JobFault::Unfinished { state: job.state, ready: rows });
    }
    Ok(JobAnswer { store: store.clone(), job, head, rows, complete, next: BEGINNING, end })
}

impl JobAnswer {
    /// The next part; `None` at the end.
    ///
    /// # Errors
    /// Why the database does not tell it, or that the job was thrown away meanwhile.
    pub async fn next(&mut self) -> Result<Option<Vec<u8>>, StoreFault> {
        if self.next >= self.end {
            return Ok(None);
        }
        let part = self.store.job_answer_find(&self.job.id, self.next).await?;
        self.next += 1;
        part.map(Some).ok_or_else(|| StoreFault::Internal("the job was thrown away meanwhile".into()))
    }

    /// Whether the sheet came in a workbook.
    pub const fn is_of_workbook(&self) -> bool {
        self.head.is_of_workbook()
    }

    /// The same, where it can be had in this form.
    ///
    /// # Errors
    /// [`JobFault::TooLongForXlsx`].
    pub fn fit_for(self, form: Form) -> Result<Self, JobFault> {
        let rows = self.head.rows() + self.rows.unsigned_abs();
        if form != Form::Csv && rows > MOST_XLSX_ROWS { Err(JobFault::TooLongForXlsx { rows }) } else { Ok(self) }
    }

    /// Writes the answer as xlsx. To be called on a thread of the runtime that may wait.
    ///
    /// # Errors
    /// Why the answer cannot be read or written.
    pub fn write_xlsx(self, output: impl Write + Send) -> Result<(), SheetFault> {
        let head = self.head.clone();
        write_xlsx(AnswerText { answer: self, runtime: Handle::current(), part: Vec::new(), at: 0 }, &head, output)
    }
}

/// The parts of an answer as one text, for a reader that waits.
struct AnswerText {
    answer: JobAnswer,
    runtime: Handle,
    part: Vec<u8>,
    at: usize,
}

impl Read for AnswerText {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while self.at == self.part.len() {
            match self.runtime.block_on(self.answer.next()).map_err(io::Error::other)? {
                None => return Ok(0),
                Some(part) => (self.part, self.at) = (part, 0),
            }
        }
        let count = buffer.len().min(self.part.len() - self.at);
        buffer[..count].copy_from_slice(&self.part[self.at..self.at + count]);
        self.at += count;
        Ok(count)
    }
}

/// What answers the rows of one job on a thread of its own, which remembers answers from chunk to chunk.
#[derive(Debug)]
pub struct RowAnswerer {
    orders: SyncSender<Order>,
}

struct Order {
    text: String,
    refused: bool,
    done: oneshot::Sender<(Vec<u8>, Counts)>,
}

/// The thread of a [`RowAnswerer`] fell over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FellOver;

impl RowAnswerer {
    /// Understands the head of a job.
    ///
    /// # Errors
    /// Why it cannot, in words.
    pub fn start(job: &JobRow, library: Library) -> Result<Self, String> {
        let head: Head = serde_json::from_str(&job.head).map_err(|error| error.to_string())?;
        let (orders, received) = sync_channel::<Order>(1);
        let (understood, outcome) = sync_channel(1);
        let work = move || {
            let limits = Limits::default();
            let plan = match head.plan(&library, &limits) {
                Ok(plan) => plan,
                Err(fault) => return drop(understood.send(Err(fault.to_string()))),
            };
            let _ = understood.send(Ok(()));
            let mut worker = Worker::new(&plan);
            while let Ok(order) = received.recv() {
                let mut out = Vec::new();
                let tally = if order.refused { worker.refuse(&order.text, &mut out) } else { worker.answer(&order.text, &mut out).0 };
                // Nobody waits for it any more where the chunk was lost to another worker.
                let _ = order.done.send((out, counts(&tally)));
            }
        };
        thread::Builder::new().name("toile-rows".into()).spawn(work).map_err(|error| error.to_string())?;
        outcome.recv().map_err(|error| error.to_string())??;
        Ok(Self { orders })
    }

    /// Answers the rows of a chunk; where `refused`, each only gets the problem that it could not be worked out.
    ///
    /// # Errors
    /// [`FellOver`]; this answerer is of no use any more.
    pub async fn answer(&self, text: String, refused: bool) -> Result<(Vec<u8>, Counts), FellOver> {
        let (done, answer) = oneshot::channel();
        self.orders.try_send(Order { text, refused, done }).map_err(|_| FellOver)?;
        answer.await.map_err(|_| FellOver)
    }
}

fn counts(tally: &Tally) -> Counts {
    Counts {
        blank: (tally.records - tally.rows) as i64,
        problems: tally.problems as i64,
        comfortable: tally.of(Verdict::Comfortable) as i64,
        tight: tally.of(Verdict::Tight) as i64,
        measure_first: tally.of(Verdict::MeasureFirst) as i64,
        out_of_reach: tally.of(Verdict::OutOfReach) as i64,
        defused: tally.defused as i64,
    }
}
