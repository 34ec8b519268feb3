//! Jobs on the wire.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Where a job stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum JobStateName {
    /// Its rows are being answered, or wait for a worker.
    Running,
    /// Every row is answered.
    Finished,
    /// It was stopped on request; rows answered before can be fetched with `partial=true`.
    Cancelled,
    /// It cannot be worked off; `why` says why.
    Failed,
}

/// What came of the rows that are done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct JobCounts {
    /// Rows with the verdict `comfortable`.
    pub comfortable: i64,
    /// Rows with the verdict `tight`.
    pub tight: i64,
    /// Rows with the verdict `measure first`.
    pub measure_first: i64,
    /// Rows with the verdict `out of reach`.
    pub out_of_reach: i64,
    /// Rows with a problem; it stands in the row.
    pub problems: i64,
    /// Rows without any text.
    pub blank: i64,
    /// Cells that a spreadsheet would have run as a formula, turned into text.
    pub defused: i64,
}

/// A job: a spreadsheet that is worked off in the background.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct JobAnswer {
    /// Id.
    pub id: String,
    /// What it was called when it was sent.
    pub name: String,
    /// Name of the key that sent it, or `this machine`.
    pub owner: String,
    /// Where it stands.
    pub state: JobStateName,
    /// Why it failed.
    pub why: Option<String>,
    /// Rows below the header, blank ones counted.
    pub rows: i64,
    /// Rows that are done.
    pub rows_done: i64,
    /// What came of them.
    pub counts: JobCounts,
    /// Rows a second: of the last minute while it runs, on the whole once it has ended. Told for a single job only.
    pub rows_per_second: Option<f64>,
    /// When the last row will be done at that speed (RFC 3339).
    pub estimated_end: Option<String>,
    /// When it was sent (RFC 3339).
    pub created: String,
    /// When work on it began.
    pub started: Option<String>,
    /// When it ended.
    pub ended: Option<String>,
    /// The version of the model that answers it: only workers of this version take its rows.
    pub model_version: String,
    /// How the sheet was understood, where that needs saying.
    pub notes: Vec<String>,
}

/// Jobs, newest first.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct JobList {
    /// The jobs.
    pub jobs: Vec<JobAnswer>,
    /// What to ask for with `before` to get those sent earlier; none where these are the last.
    pub next: Option<String>,
}

/// A job that is gone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct JobGone {
    /// Its id.
    pub deleted: String,
}
