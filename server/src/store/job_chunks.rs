//! Chunks of jobs: some thousand rows each, claimed by workers with a lease and recorded once.
//!
//! A claim makes a new token and a time until which nobody else may claim the chunk. Recording asks for that token in the same
//! transaction that writes the answer, so of two workers that both believe to hold a chunk one writes and the other is told
//! that it came too late.

use sqlx::{Any, Row, Transaction};

use super::jobs::{Counts, JobState};
use super::{Kind, Store, StoreFault, new_id};

/// A chunk that a worker holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChunkClaim {
    /// The job it belongs to.
    pub job: String,
    /// Its place in the sheet, from 0.
    pub place: i64,
    /// How often it was claimed, this time counted.
    pub attempts: i64,
    /// Its rows.
    pub rows: i64,
    token: String,
}

/// What became of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Recorded {
    /// It is kept.
    Kept,
    /// It is kept, and was the last of its job.
    Last,
    /// It is not: another worker holds the chunk or has recorded it, or the job has ended.
    TooLate,
}

/// Jobs looked at for a chunk before the worker is told to wait.
const CANDIDATES: i64 = 8;

impl Store {
    /// Adds rows to an upload.
    ///
    /// # Errors
    /// Why the database does not take them; [`StoreFault::Taken`] where the upload was given up meanwhile.
    pub async fn job_chunk_add(&self, job: &str, place: i64, rows: i64, text: &str) -> Result<(), StoreFault> {
        let mut transaction = self.begin().await?;
        let now = self.clock(&mut transaction).await?;
        let there = sqlx::query("update jobs set touched_ms = $2 where id = $1 and state = 'uploading'")
            .bind(job)
            .bind(now)
            .execute(&mut *transaction)
            .await?;
        if there.rows_affected() == 0 {
            return Err(StoreFault::Taken);
        }
        sqlx::query(
            "insert into job_chunks (job_id, place, rows_all, done, attempts, lease, lease_until_ms, worker, done_ms) \
             values ($1, $2, $3, 0, 0, '', 0, '', 0)",
        )
        .bind(job)
        .bind(place)
        .bind(rows)
        .execute(&mut *transaction)
        .await?;
        // As bytes, because PostgreSQL takes no zero characters in a text, and a sheet may hold some.
        sqlx::query("insert into job_texts (job_id, place, body) values ($1, $2, $3)")
            .bind(job)
            .bind(place)
            .bind(text.as_bytes())
            .execute(&mut *transaction)
            .await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Gives a worker of this version a chunk for so long.
    ///
    /// The owner that was served longest ago comes first, of theirs the job that was, of that the first chunk that nobody holds:
    /// a small job need not wait for the end of a large one.
    ///
    /// # Errors
    /// Why the database does not give any.
    pub async fn job_chunk_claim(&self, worker: &str, version: &str, lease_ms: i64) -> Result<Option<ChunkClaim>, StoreFault> {
        // Looked at without any lock: most of the time there is nothing to do.
        let mut look = self.pool.begin().await?;
        let now = self.clock(&mut look).await?;
        let jobs: Vec<String> = sqlx::query_scalar(
            "select j.id from jobs j where j.state = 'running' and j.version = $1 and exists \
             (select 1 from job_chunks c where c.job_id = j.id and c.done = 0 and c.lease_until_ms < $2) \
             order by (select max(o.claimed_ms) from jobs o where o.owner = j.owner and o.state = 'running'), j.claimed_ms, j.id limit $3",
        )
        .bind(version)
        .bind(now)
        .bind(CANDIDATES)
        .fetch_all(&mut *look)
        .await?;
        look.commit().await?;
        for job in jobs {
            if let Some(claim) = self.claim_of(job, worker, lease_ms).await? {
                return Ok(Some(claim));
            }
        }
        Ok(None)
    }

    async fn claim_of(&self, job: String, worker: &str, lease_ms: i64) -> Result<Option<ChunkClaim>, StoreFault> {
        let mut transaction = self.begin().await?;
        let now = self.clock(&mut transaction).await?;
        // SQLite has no such clause and needs none: only one transaction writes at a time.
        let free = match self.kind {
            Kind::Sqlite => {
                "select place, attempts, rows_all from job_chunks where job_id = $1 and done = 0 and lease_until_ms < $2 \
                 order by place limit 1"
            }
            Kind::Postgres => {
                "select place, attempts, rows_all from job_chunks where job_id = $1 and done = 0 and lease_until_ms < $2 \
                 order by place limit 1 for update skip locked"
            }
        };
        let Some(row) = sqlx::query(free).bind(&job).bind(now).fetch_optional(&mut *transaction).await? else { return Ok(None) };
        let (place, attempts, rows): (i64, i64, i64) = (row.try_get(0)?, row.try_get(1)?, row.try_get(2)?);
        let claim = ChunkClaim { job, place, attempts: attempts + 1, rows, token: new_id() };
        sqlx::query("update job_chunks set lease = $3, lease_until_ms = $4, attempts = $5, worker = $6 where job_id = $1 and place = $2")
            .bind(&claim.job)
            .bind(claim.place)
            .bind(&claim.token)
            .bind(now + lease_ms)
            .bind(claim.attempts)
            .bind(worker)
            .execute(&mut *transaction)
            .await?;
        let runs = sqlx::query(
            "update jobs set claimed_ms = $2, started_ms = case when started_ms = 0 then $2 else started_ms end \
             where id = $1 and state = 'running'",
        )
        .bind(&claim.job)
        .bind(now)
        .execute(&mut *transaction)
        .await?;
        if runs.rows_affected() == 0 {
            return Ok(None);
        }
        transaction.commit().await?;
        Ok(Some(claim))
    }

    /// The text of a chunk that is held.
    ///
    /// # Errors
    /// Why the database does not tell it.
    pub async fn job_chunk_text(&self, claim: &ChunkClaim) -> Result<Option<String>, StoreFault> {
        let query = sqlx::query_scalar("select body from job_texts where job_id = $1 and place = $2");
        let body: Option<Vec<u8>> = query.bind(&claim.job).bind(claim.place).fetch_optional(&self.pool).await?;
        body.map(|b| String::from_utf8(b).map_err(|error| StoreFault::Internal(error.to_string()))).transpose()
    }

    /// Holds a chunk for longer; false where it is not held any more.
    ///
    /// # Errors
    /// Why the database does not tell.
    pub async fn job_chunk_renew(&self, claim: &ChunkClaim, lease_ms: i64) -> Result<bool, StoreFault> {
        let mut transaction = self.begin().await?;
        let now = self.clock(&mut transaction).await?;
        let held = sqlx::query(
            "update job_chunks set lease_until_ms = $4 where job_id = $1 and place = $2 and lease = $3 and done = 0 \
             and exists (select 1 from jobs where id = $1 and state = 'running')",
        )
        .bind(&claim.job)
        .bind(claim.place)
        .bind(&claim.token)
        .bind(now + lease_ms)
        .execute(&mut *transaction)
        .await?;
        transaction.commit().await?;
        Ok(held.rows_affected() > 0)
    }

    /// Lets go of a chunk that was not worked off. Where it was not `tried`, the claim does not count as an attempt.
    ///
    /// # Errors
    /// Why the database does not take it; the lease then runs out by itself.
    pub async fn job_chunk_give_back(&self, claim: &ChunkClaim, tried: bool) -> Result<(), StoreFault> {
        let mut transaction = self.begin().await?;
        sqlx::query(
            "update job_chunks set lease = '', lease_until_ms = 0, attempts = attempts - $4 \
             where job_id = $1 and place = $2 and lease = $3 and done = 0",
        )
        .bind(&claim.job)
        .bind(claim.place)
        .bind(&claim.token)
        .bind(i64::from(!tried))
        .execute(&mut *transaction)
        .await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Keeps the answer to a chunk, if it is still held, and counts it; the last one ends the job.
    ///
    /// # Errors
    /// Why the database does not take it. It may be asked again: what is kept once is not kept twice.
    pub async fn job_chunk_record(&self, claim: &ChunkClaim, answer: &[u8], counts: &Counts) -> Result<Recorded, StoreFault> {
        let mut transaction = self.begin().await?;
        let now = self.clock(&mut transaction).await?;
        let held = sqlx::query("update job_chunks set done = 1, done_ms = $4 where job_id = $1 and place = $2 and lease = $3 and done = 0")
            .bind(&claim.job)
            .bind(claim.place)
            .bind(&claim.token)
            .bind(now)
            .execute(&mut *transaction)
            .await?;
        if held.rows_affected() == 0 {
            return Ok(Recorded::TooLate);
        }
        answer_insert(&mut transaction, &claim.job, claim.place, answer).await?;
        sqlx::query("delete from job_texts where job_id = $1 and place = $2")
            .bind(&claim.job)
            .bind(claim.place)
            .execute(&mut *transaction)
            .await?;
        // The job's own row comes last, since all its workers meet there.
        let Some(left) = count(&mut transaction, claim, counts).await? else { return Ok(Recorded::TooLate) };
        if left == 0 {
            self.job_end(&mut transaction, &claim.job, JobState::Finished, "").await?;
        }
        transaction.commit().await?;
        Ok(if left == 0 { Recorded::Last } else { Recorded::Kept })
    }

    /// Chunks from the first that are done without a gap, and their rows.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn job_chunks_ready(&self, job: &str) -> Result<(i64, i64), StoreFault> {
        let row = sqlx::query(
            "select cast(count(*) as bigint), cast(coalesce(sum(rows_all), 0) as bigint) from job_chunks where job_id = $1 and place < \
             coalesce((select min(o.place) from job_chunks o where o.job_id = $1 and o.done = 0), 9223372036854775807)",
        )
        .bind(job)
        .fetch_one(&self.pool)
        .await?;
        Ok((row.try_get(0)?, row.try_get(1)?))
    }

    /// Keeps a part of an answer that no chunk stands for.
    ///
    /// # Errors
    /// Why the database does not take it.
    pub async fn job_answer_keep(&self, job: &str, place: i64, body: &[u8]) -> Result<(), StoreFault> {
        let mut transaction = self.begin().await?;
        answer_insert(&mut transaction, job, place, body).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// The answer to a chunk that is done.
    ///
    /// # Errors
    /// Why the database does not tell it.
    pub async fn job_answer_find(&self, job: &str, place: i64) -> Result<Option<Vec<u8>>, StoreFault> {
        let query = sqlx::query_scalar("select body from job_answers where job_id = $1 and place = $2");
        Ok(query.bind(job).bind(place).fetch_optional(&self.pool).await?)
    }

    /// Rows of a job that were done within the last so many milliseconds, and the time now.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn job_rows_lately(&self, job: &str, within_ms: i64) -> Result<(i64, i64), StoreFault> {
        let mut look = self.pool.begin().await?;
        let now = self.clock(&mut look).await?;
        let rows = sqlx::query_scalar(
            "select cast(coalesce(sum(rows_all), 0) as bigint) from job_chunks where job_id = $1 and done = 1 and done_ms > $2",
        )
        .bind(job)
        .bind(now - within_ms)
        .fetch_one(&mut *look)
        .await?;
        look.commit().await?;
        Ok((rows, now))
    }
}

/// Adds a chunk's counts to its job's; how many chunks are left, `None` where the job does not run.
async fn count(transaction: &mut Transaction<'static, Any>, claim: &ChunkClaim, counts: &Counts) -> Result<Option<i64>, StoreFault> {
    let left = sqlx::query_scalar(
        "update jobs set chunks_done = chunks_done + 1, rows_done = rows_done + $2, blank = blank + $3, problems = problems + $4, \
         comfortable = comfortable + $5, tight = tight + $6, measure_first = measure_first + $7, out_of_reach = out_of_reach + $8, \
         defused = defused + $9 where id = $1 and state = 'running' returning chunks_all - chunks_done",
    )
    .bind(&claim.job)
    .bind(claim.rows)
    .bind(counts.blank)
    .bind(counts.problems)
    .bind(counts.comfortable)
    .bind(counts.tight)
    .bind(counts.measure_first)
    .bind(counts.out_of_reach)
    .bind(counts.defused)
    .fetch_optional(&mut **transaction)
    .await?;
    Ok(left)
}

async fn answer_insert(transaction: &mut Transaction<'static, Any>, job: &str, place: i64, body: &[u8]) -> Result<(), StoreFault> {
    sqlx::query("insert into job_answers (job_id, place, body) values ($1, $2, $3)")
        .bind(job)
        .bind(place)
        .bind(body)
        .execute(&mut **transaction)
        .await?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::{NewJob, Once, WholeJob};
    use super::*;
    use crate::store::KeptAnswer;

    const LEASE_MS: i64 = 60_000;
    /// A lease that is over before anybody can look.
    const OVER_MS: i64 = -1;

    async fn store() -> (tempfile::TempDir, Store) {
        let folder = tempfile::tempdir().expect("room for a folder");
        let store = Store::open_folder(folder.path()).await.expect("a database");
        (folder, store)
    }

    async fn job(store: &Store, owner: &str, chunks: i64) -> String {
        let new = NewJob { owner: owner.into(), name: String::new(), version: "1".into(), shop: String::new(), head: String::new() };
        let id = store.job_create(&new).await.expect("an upload");
        for place in 0..chunks {
            store.job_chunk_add(&id, place, 10, "text").await.expect("rows");
        }
        let whole = WholeJob { rows: chunks * 10, chunks, defused: 0, notes: "[]".into() };
        let answer = |_: &super::super::JobRow| KeptAnswer { status: 200, headers: Vec::new(), body: String::new() };
        store.job_publish(&id, &whole, None::<&Once>, answer).await.expect("a job");
        id
    }

    async fn claim(store: &Store, lease_ms: i64) -> Option<ChunkClaim> {
        store.job_chunk_claim("worker", "1", lease_ms).await.expect("a database that answers")
    }

    #[tokio::test]
    async fn a_chunk_is_held_by_one_and_recorded_once() {
        let (_folder, store) = store().await;
        let id = job(&store, "me", 2).await;
        let (first, second) = (claim(&store, LEASE_MS).await.unwrap(), claim(&store, LEASE_MS).await.unwrap());
        assert_eq!((first.place, second.place, claim(&store, LEASE_MS).await), (0, 1, None));
        assert!(store.job_chunk_claim("worker", "2", LEASE_MS).await.unwrap().is_none());
        let counts = Counts { problems: 3, ..Counts::default() };
        assert_eq!(store.job_chunk_record(&second, b"second", &counts).await.unwrap(), Recorded::Kept);
        assert_eq!(store.job_chunk_record(&second, b"again", &counts).await.unwrap(), Recorded::TooLate);
        assert!(!store.job_chunk_renew(&second, LEASE_MS).await.unwrap());
        // What is done without a gap from the first: nothing yet.
        assert_eq!(store.job_chunks_ready(&id).await.unwrap(), (0, 0));
        assert_eq!(store.job_chunk_record(&first, b"first", &counts).await.unwrap(), Recorded::Last);
        assert_eq!(store.job_chunks_ready(&id).await.unwrap(), (2, 20));
        let job = store.job_find(&id).await.unwrap().unwrap();
        assert_eq!((job.state, job.rows_done, job.chunks_done, job.counts.problems), (JobState::Finished, 20, 2, 6));
        assert_eq!(store.job_answer_find(&id, 1).await.unwrap().unwrap(), b"second");
        assert_eq!(store.job_chunk_text(&first).await.unwrap(), None);
    }

    #[tokio::test]
    async fn whoever_comes_after_a_dead_worker_records_and_the_dead_do_not() {
        let (_folder, store) = store().await;
        let id = job(&store, "me", 1).await;
        let dead = claim(&store, OVER_MS).await.unwrap();
        let heir = claim(&store, LEASE_MS).await.unwrap();
        assert_eq!((dead.place, heir.place, dead.attempts, heir.attempts), (0, 0, 1, 2));
        assert!(!store.job_chunk_renew(&dead, LEASE_MS).await.unwrap());
        assert_eq!(store.job_chunk_record(&dead, b"dead", &Counts::default()).await.unwrap(), Recorded::TooLate);
        // Giving back what one does not hold gives nothing back.
        store.job_chunk_give_back(&dead, false).await.unwrap();
        assert_eq!(claim(&store, LEASE_MS).await, None);
        assert_eq!(store.job_chunk_record(&heir, b"heir", &Counts::default()).await.unwrap(), Recorded::Last);
        assert_eq!(store.job_answer_find(&id, 0).await.unwrap().unwrap(), b"heir");
    }

    #[tokio::test]
    async fn a_lease_that_ran_out_still_records_where_nobody_took_over() {
        let (_folder, store) = store().await;
        job(&store, "me", 1).await;
        let late = claim(&store, OVER_MS).await.unwrap();
        assert_eq!(store.job_chunk_record(&late, b"late", &Counts::default()).await.unwrap(), Recorded::Last);
    }

    #[tokio::test]
    async fn what_is_given_back_untried_does_not_count() {
        let (_folder, store) = store().await;
        job(&store, "me", 1).await;
        for (tried, attempts) in [(false, 1), (true, 1), (false, 2)] {
            let held = claim(&store, LEASE_MS).await.unwrap();
            assert_eq!(held.attempts, attempts);
            store.job_chunk_give_back(&held, tried).await.unwrap();
        }
    }

    #[tokio::test]
    async fn nothing_is_recorded_in_a_job_that_was_stopped() {
        let (_folder, store) = store().await;
        let id = job(&store, "me", 2).await;
        let held = claim(&store, LEASE_MS).await.unwrap();
        assert!(store.job_cancel(&id, "me").await.unwrap());
        assert!(!store.job_chunk_renew(&held, LEASE_MS).await.unwrap());
        assert_eq!(store.job_chunk_record(&held, b"text", &Counts::default()).await.unwrap(), Recorded::TooLate);
        assert_eq!(claim(&store, LEASE_MS).await, None);
        assert!(!store.job_cancel(&id, "me").await.unwrap());
    }

    #[tokio::test]
    async fn owners_take_turns_and_so_do_their_jobs() {
        let (_folder, store) = store().await;
        let (large, second) = (job(&store, "a", 9).await, job(&store, "a", 9).await);
        let other = job(&store, "b", 9).await;
        let mut served = Vec::new();
        for _ in 0..8 {
            served.push(claim(&store, LEASE_MS).await.unwrap().job);
            // The order is that of the clock, which counts milliseconds.
            tokio::time::sleep(std::time::Duration::from_millis(3)).await;
        }
        let count = |id: &String| served.iter().filter(|s| *s == id).count();
        assert_eq!((count(&large), count(&second), count(&other)), (2, 2, 4), "{served:?}");
    }

    #[tokio::test]
    async fn broken_uploads_and_jobs_thrown_away_leave_no_row() {
        let (_folder, store) = store().await;
        let broken = NewJob { owner: "me".into(), name: String::new(), version: "1".into(), shop: String::new(), head: String::new() };
        let broken = store.job_create(&broken).await.unwrap();
        for place in 0..40 {
            store.job_chunk_add(&broken, place, 10, "text").await.unwrap();
        }
        let (kept, gone) = (job(&store, "me", 1).await, job(&store, "me", 1).await);
        let held = claim(&store, LEASE_MS).await.unwrap();
        store.job_chunk_record(&held, b"answer", &Counts::default()).await.unwrap();
        assert!(store.job_delete(&gone, "me").await.unwrap());
        // An upload that something was added to lately stays.
        while store.job_sweep(60_000, i64::from(u32::MAX)).await.unwrap() {}
        store.job_chunk_add(&broken, 40, 10, "text").await.unwrap();
        while store.job_sweep(-1000, i64::from(u32::MAX)).await.unwrap() {}
        assert_eq!(store.job_chunk_add(&broken, 41, 10, "text").await, Err(StoreFault::Taken));
        for (table, rows) in [("jobs", 1), ("job_chunks", 1), ("job_texts", 0), ("job_answers", 1)] {
            let query = sqlx::query_scalar(sqlx::AssertSqlSafe(format!("select count(*) from {table}")));
            let count: i64 = query.fetch_one(&store.pool).await.unwrap();
            assert_eq!(count, rows, "{table}");
        }
        assert!(store.job_find(&kept).await.unwrap().is_some());
    }
}
