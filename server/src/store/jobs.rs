//! Jobs: one row for each, with its counts.

use serde_json::json;
use sqlx::any::AnyRow;
use sqlx::{Any, Row, Transaction};

use super::{EventKind, KeptAnswer, Kind, Once, Store, StoreFault, new_id, now_ms};

/// Where a job stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum JobState {
    /// Its sheet is still coming in: nobody sees it.
    Uploading,
    /// Its rows are being answered, or wait for a worker.
    Running,
    /// Every row is answered.
    Finished,
    /// It was stopped on request.
    Cancelled,
    /// It cannot be worked off.
    Failed,
    /// It was thrown away, and its rows will be.
    Deleted,
}

impl JobState {
    pub(super) const ALL: [Self; 6] = [Self::Uploading, Self::Running, Self::Finished, Self::Cancelled, Self::Failed, Self::Deleted];

    /// As it is stored.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Uploading => "uploading",
            Self::Running => "running",
            Self::Finished => "finished",
            Self::Cancelled => "cancelled",
            Self::Failed => "failed",
            Self::Deleted => "deleted",
        }
    }

    fn from_name(name: &str) -> Result<Self, StoreFault> {
        Self::ALL.into_iter().find(|s| s.name() == name).ok_or_else(|| StoreFault::Internal(format!("no job is {name}")))
    }
}

/// What is known of a job before its rows are.
#[derive(Debug, Clone)]
pub struct NewJob {
    /// Who sends it.
    pub owner: String,
    /// What its owner calls it; may be empty.
    pub name: String,
    /// The version that answers it.
    pub version: String,
    /// The shop's settings it is answered by, as JSON; empty for none.
    pub shop: String,
    /// How the sheet is written, as JSON.
    pub head: String,
}

/// What is known of a job once its rows are all there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WholeJob {
    /// Rows below the header, blank ones counted.
    pub rows: i64,
    /// Chunks of rows.
    pub chunks: i64,
    /// Cells down to the header that a spreadsheet would have run.
    pub defused: i64,
    /// What its owner should know, as a JSON array of texts.
    pub notes: String,
}

/// What was done with some rows.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counts {
    /// Rows without any text.
    pub blank: i64,
    /// Rows with a problem.
    pub problems: i64,
    /// Rows with the verdict "comfortable".
    pub comfortable: i64,
    /// Rows with the verdict "tight".
    pub tight: i64,
    /// Rows with the verdict "measure first".
    pub measure_first: i64,
    /// Rows with the verdict "out of reach".
    pub out_of_reach: i64,
    /// Cells that a spreadsheet would have run.
    pub defused: i64,
}

/// A job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobRow {
    /// Grows with time.
    pub id: String,
    /// Who sent it.
    pub owner: String,
    /// Name of the key that sent it, or who sent it where there was none.
    pub owner_name: String,
    /// What its owner calls it.
    pub name: String,
    /// Where it stands.
    pub state: JobState,
    /// Why it failed.
    pub why: String,
    /// The version that answers it.
    pub version: String,
    /// The shop's settings, as JSON; empty for none.
    pub shop: String,
    /// How the sheet is written, as JSON.
    pub head: String,
    /// What its owner should know, as a JSON array of texts.
    pub notes: String,
    /// Rows below the header, blank ones counted.
    pub rows_all: i64,
    /// Rows that are done.
    pub rows_done: i64,
    /// Chunks of rows.
    pub chunks_all: i64,
    /// Chunks that are done.
    pub chunks_done: i64,
    /// What came of the rows that are done.
    pub counts: Counts,
    /// When its upload began.
    pub created_ms: i64,
    /// When the first worker took a chunk of it; 0 where none has.
    pub started_ms: i64,
    /// When it ended; 0 where it has not.
    pub ended_ms: i64,
}

const COLUMNS: &str = "id, owner, coalesce((select k.name from keys k where k.id = jobs.owner), owner) as owner_name, name, state, why, version, shop, head, notes, rows_all, rows_done, chunks_all, chunks_done, \
    blank, problems, comfortable, tight, measure_first, out_of_reach, defused, created_ms, started_ms, ended_ms";

impl JobRow {
    fn of(row: &AnyRow) -> Result<Self, StoreFault> {
        Ok(Self {
            id: row.try_get("id")?,
            owner: row.try_get("owner")?,
            owner_name: row.try_get("owner_name")?,
            name: row.try_get("name")?,
            state: JobState::from_name(row.try_get("state")?)?,
            why: row.try_get("why")?,
            version: row.try_get("version")?,
            shop: row.try_get("shop")?,
            head: row.try_get("head")?,
            notes: row.try_get("notes")?,
            rows_all: row.try_get("rows_all")?,
            rows_done: row.try_get("rows_done")?,
            chunks_all: row.try_get("chunks_all")?,
            chunks_done: row.try_get("chunks_done")?,
            counts: Counts {
                blank: row.try_get("blank")?,
                problems: row.try_get("problems")?,
                comfortable: row.try_get("comfortable")?,
                tight: row.try_get("tight")?,
                measure_first: row.try_get("measure_first")?,
                out_of_reach: row.try_get("out_of_reach")?,
                defused: row.try_get("defused")?,
            },
            created_ms: row.try_get("created_ms")?,
            started_ms: row.try_get("started_ms")?,
            ended_ms: row.try_get("ended_ms")?,
        })
    }
}

impl Store {
    /// The database's time, which is the same for all machines that share it.
    pub(super) async fn clock(&self, transaction: &mut Transaction<'static, Any>) -> Result<i64, StoreFault> {
        match self.kind {
            Kind::Sqlite => Ok(now_ms()),
            Kind::Postgres => {
                let now = sqlx::query_scalar("select cast(extract(epoch from clock_timestamp()) * 1000 as bigint)");
                Ok(now.fetch_one(&mut **transaction).await?)
            }
        }
    }

    /// Begins an upload; the job stays out of sight until [`Store::job_publish`].
    ///
    /// # Errors
    /// Why the database does not take it.
    pub async fn job_create(&self, job: &NewJob) -> Result<String, StoreFault> {
        let id = new_id();
        let mut transaction = self.begin().await?;
        let now = self.clock(&mut transaction).await?;
        sqlx::query(
            "insert into jobs (id, owner, name, state, why, version, shop, head, notes, rows_all, rows_done, chunks_all, chunks_done, \
             blank, problems, comfortable, tight, measure_first, out_of_reach, defused, created_ms, touched_ms, started_ms, ended_ms, \
             claimed_ms) values ($1, $2, $3, 'uploading', '', $4, $5, $6, '[]', 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, $7, $7, 0, 0, 0)",
        )
        .bind(&id)
        .bind(&job.owner)
        .bind(&job.name)
        .bind(&job.version)
        .bind(&job.shop)
        .bind(&job.head)
        .bind(now)
        .execute(&mut *transaction)
        .await?;
        transaction.commit().await?;
        Ok(id)
    }

    /// Makes an upload that is whole a job that workers take; the answer that tells so is kept with it where the request is to be
    /// done once.
    ///
    /// # Errors
    /// Why the database does not take it; [`StoreFault::Taken`] where the upload was given up meanwhile, or the request was done.
    pub async fn job_publish(
        &self,
        id: &str,
        whole: &WholeJob,
        once: Option<&Once>,
        answer: impl FnOnce(&JobRow) -> KeptAnswer,
    ) -> Result<KeptAnswer, StoreFault> {
        let mut transaction = self.begin().await?;
        if let Some(once) = once {
            Self::once_claim(&mut transaction, once).await?;
        }
        let published = sqlx::query(
            "update jobs set state = 'running', rows_all = $2, chunks_all = $3, defused = $4, notes = $5 \
             where id = $1 and state = 'uploading'",
        )
        .bind(id)
        .bind(whole.rows)
        .bind(whole.chunks)
        .bind(whole.defused)
        .bind(&whole.notes)
        .execute(&mut *transaction)
        .await?;
        if published.rows_affected() == 0 {
            return Err(StoreFault::Taken);
        }
        if whole.chunks == 0 {
            self.job_end(&mut transaction, id, JobState::Finished, "").await?;
        }
        let row = sqlx::query(sqlx::AssertSqlSafe(format!("select {COLUMNS} from jobs where id = $1")));
        let job = JobRow::of(&row.bind(id).fetch_one(&mut *transaction).await?)?;
        Self::audit_note(&mut transaction, &job.owner, "job_create", id, &format!("{} rows", whole.rows)).await?;
        let answer = answer(&job);
        if let Some(once) = once {
            Self::once_keep(&mut transaction, once, &answer).await?;
        }
        transaction.commit().await?;
        Ok(answer)
    }

    /// Jobs of this owner that are not at their end.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn job_count_open(&self, owner: &str) -> Result<i64, StoreFault> {
        let count = sqlx::query_scalar("select count(*) from jobs where owner = $1 and state in ('uploading', 'running')");
        Ok(count.bind(owner).fetch_one(&self.pool).await?)
    }

    /// A job that is whole.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn job_find(&self, id: &str) -> Result<Option<JobRow>, StoreFault> {
        let text = format!("select {COLUMNS} from jobs where id = $1 and state not in ('uploading', 'deleted')");
        let row = sqlx::query(sqlx::AssertSqlSafe(text)).bind(id).fetch_optional(&self.pool).await?;
        row.as_ref().map(JobRow::of).transpose()
    }

    /// Jobs that were sent before another one, newest first; from the newest where none is given.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn job_list(&self, before: Option<&str>, most: u32) -> Result<Vec<JobRow>, StoreFault> {
        let text = format!(
            "select {COLUMNS} from jobs where ($1 = '' or id < $1) and state not in ('uploading', 'deleted') order by id desc limit $2"
        );
        let query = sqlx::query(sqlx::AssertSqlSafe(text)).bind(before.unwrap_or_default()).bind(i64::from(most));
        query.fetch_all(&self.pool).await?.iter().map(JobRow::of).collect()
    }

    /// Stops a job that runs; whether it ran.
    ///
    /// # Errors
    /// Why the database does not take it.
    pub async fn job_cancel(&self, id: &str, actor: &str) -> Result<bool, StoreFault> {
        let mut transaction = self.begin().await?;
        let stopped = self.job_end(&mut transaction, id, JobState::Cancelled, "").await?;
        if stopped {
            Self::audit_note(&mut transaction, actor, "job_cancel", id, "").await?;
        }
        transaction.commit().await?;
        Ok(stopped)
    }

    /// Ends a job that cannot be worked off.
    ///
    /// # Errors
    /// Why the database does not take it.
    pub async fn job_fail(&self, id: &str, why: &str) -> Result<(), StoreFault> {
        let mut transaction = self.begin().await?;
        self.job_end(&mut transaction, id, JobState::Failed, why).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Ends a job that runs; whether it ran. This is the one place where a job ends, and so the one where that is told.
    pub(super) async fn job_end(
        &self,
        transaction: &mut Transaction<'static, Any>,
        id: &str,
        state: JobState,
        why: &str,
    ) -> Result<bool, StoreFault> {
        let now = self.clock(transaction).await?;
        let ended = sqlx::query("update jobs set state = $2, why = $3, ended_ms = $4 where id = $1 and state = 'running'")
            .bind(id)
            .bind(state.name())
            .bind(why)
            .bind(now)
            .execute(&mut **transaction)
            .await?;
        if ended.rows_affected() == 0 {
            return Ok(false);
        }
        let kind = match state {
            JobState::Finished => Some(EventKind::JobFinished),
            JobState::Failed => Some(EventKind::JobFailed),
            JobState::Cancelled => Some(EventKind::JobCancelled),
            JobState::Uploading | JobState::Running | JobState::Deleted => None,
        };
        if let Some(kind) = kind {
            Self::event_note(transaction, kind, id, &json!({"id": id, "state": state.name()})).await?;
        }
        Ok(true)
    }

    /// Throws an upload away that will not become whole.
    ///
    /// # Errors
    /// Why the database does not take it.
    pub async fn job_abandon(&self, id: &str) -> Result<(), StoreFault> {
        let mut transaction = self.begin().await?;
        sqlx::query("update jobs set state = 'deleted' where id = $1 and state = 'uploading'").bind(id).execute(&mut *transaction).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Throws a job away; whether there was one. Its rows go by and by, with [`Store::job_sweep`].
    ///
    /// # Errors
    /// Why the database does not take it.
    pub async fn job_delete(&self, id: &str, actor: &str) -> Result<bool, StoreFault> {
        let mut transaction = self.begin().await?;
        let deleted = sqlx::query("update jobs set state = 'deleted' where id = $1 and state not in ('uploading', 'deleted')")
            .bind(id)
            .execute(&mut *transaction)
            .await?
            .rows_affected()
            > 0;
        if deleted {
            Self::audit_note(&mut transaction, actor, "job_delete", id, "").await?;
        }
        transaction.commit().await?;
        Ok(deleted)
    }

    /// Gives up uploads that nothing was added to for so long, and jobs that ended so long ago, and removes a part of what was
    /// thrown away; whether there is more to remove.
    ///
    /// # Errors
    /// Why the database does not take it.
    pub async fn job_sweep(&self, silence_ms: i64, kept_ms: i64) -> Result<bool, StoreFault> {
        /// Chunks removed at a time: others wait for an SQLite file meanwhile.
        const AT_A_TIME: i64 = 16;
        let mut transaction = self.begin().await?;
        let now = self.clock(&mut transaction).await?;
        sqlx::query(
            "update jobs set state = 'deleted' where (state = 'uploading' and touched_ms < $1) \
             or (state in ('finished', 'cancelled', 'failed') and ended_ms < $2)",
        )
        .bind(now - silence_ms)
        .bind(now - kept_ms)
        .execute(&mut *transaction)
        .await?;
        let gone: Option<String> =
            sqlx::query_scalar("select id from jobs where state = 'deleted' order by id limit 1").fetch_optional(&mut *transaction).await?;
        transaction.commit().await?;
        let Some(id) = gone else { return Ok(false) };
        let mut transaction = self.begin().await?;
        let last: Option<i64> = sqlx::query_scalar("select place from job_chunks where job_id = $1 order by place limit 1 offset $2")
            .bind(&id)
            .bind(AT_A_TIME)
            .fetch_optional(&mut *transaction)
            .await?;
        let end = last.unwrap_or(i64::MAX);
        for statement in [
            "delete from job_texts where job_id = $1 and place < $2",
            "delete from job_answers where job_id = $1 and place < $2",
            "delete from job_chunks where job_id = $1 and place < $2",
        ] {
            sqlx::query(statement).bind(&id).bind(end).execute(&mut *transaction).await?;
        }
        if last.is_none() {
            sqlx::query("delete from jobs where id = $1").bind(&id).execute(&mut *transaction).await?;
        }
        transaction.commit().await?;
        Ok(true)
    }
}
