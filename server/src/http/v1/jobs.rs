//! Jobs: spreadsheets that are worked off in the background.

use std::io;

use axum::Json;
use axum::body::{Body, Bytes};
use axum::extract::State;
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;

use super::sheets::{file_headers, given, leave, refusal, upload, wanted, written};
use crate::api::jobs::{JobAnswer, JobCounts, JobGone, JobList, JobStateName};
use crate::api::problem::{BodyProblems, FieldError, LookProblems, OnceProblems, Refusal};
use crate::api::sheet::Workbook;
use crate::app::App;
use crate::http::access::Caller;
use crate::http::extract::{Askable, Asked, Id, PageQuery};
use crate::http::once::{OnceHeader, OnceKey, kept_json};
use crate::usecase::batch::Form;
use crate::usecase::clock::time_text;
use crate::usecase::job::{self, JobFault, JobOrder, JobProgress, JobRow, JobState, LONGEST_NAME, MOST_XLSX_ROWS};
use crate::usecase::once::KeptAnswer;

/// How a job is sent.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct JobQuery {
    /// What to call it, for people.
    #[serde(default)]
    #[param(required = false, max_length = 200)]
    name: String,
    /// Name of the sheet of a workbook; without it, the first whose header is understood.
    #[serde(default)]
    #[param(required = false)]
    sheet: Option<String>,
}

impl Askable for JobQuery {
    const ALLOWED: &'static str = "name, a text of up to 200 characters, and sheet, the name of a sheet of the workbook";
}

/// Takes a spreadsheet of up to 5 million rows in and works it off in the background, on this machine and all that share its
/// database. It is the sheet that `POST /api/v1/batches` takes, CSV or a workbook, and its result is the same, byte for byte.
///
/// The job is there once the whole sheet is; an upload that breaks off leaves nothing. With an `Idempotency-Key` the same sheet
/// sent twice is one job. Ask for the job to see how it gets on.
#[utoipa::path(
    post, path = "/api/v1/jobs", operation_id = "job_create", tag = "jobs", summary = "Send a large spreadsheet",
    params(JobQuery, OnceHeader),
    request_body(
        content((String = "text/csv"), (Workbook = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"), (Workbook = "application/vnd.oasis.opendocument.spreadsheet")),
        description = "CSV: comma, semicolon or tab; decimal point or comma. Or a workbook. The header is one of the first 30 rows"
    ),
    responses((status = 200, description = "The job", body = JobAnswer), BodyProblems, OnceProblems)
)]
pub async fn job_create(
    State(app): State<App>,
    caller: Caller,
    key: OnceKey,
    Asked(query): Asked<JobQuery>,
    headers: HeaderMap,
    body: Body,
) -> Result<KeptAnswer, Refusal> {
    let sheet = query.sheet.clone().unwrap_or_default();
    let given = given(&headers, query.sheet)?;
    let name = sound_name(query.name)?;
    let leave = leave(&app, &caller).await?;
    let upload = upload(&app, body);
    // In a task of its own: where the client goes away, what came in so far is still thrown away in good order.
    let receiving = tokio::spawn(async move {
        let _leave = leave;
        let order = JobOrder { owner: caller.actor.clone(), name: name.clone(), given, shop: app.shop.to_string() };
        let received = job::job_receive(&app.store, order, app.library.clone(), upload).await?;
        let request = key.once(&caller, "job_create", &[name.as_bytes(), sheet.as_bytes(), &received.digest]);
        let tell = |job: &JobRow| kept_json(StatusCode::OK, &[], &answer(of_row(job.clone())));
        job::job_create::<Refusal>(&app.store, received, request, tell).await
    });
    receiving.await.map_err(|_| Refusal::Internal)?
}

fn sound_name(name: String) -> Result<String, Refusal> {
    if name.chars().count() <= LONGEST_NAME && !name.chars().any(char::is_control) {
        return Ok(name);
    }
    Err(Refusal::NotAllowed(vec![FieldError {
        pointer: "/name".into(),
        value: name.chars().take(100).collect::<String>().into(),
        message: "The name is too long, or holds control characters.".into(),
        allowed: format!("up to {LONGEST_NAME} characters"),
    }]))
}

/// Jobs, newest first.
#[utoipa::path(
    get, path = "/api/v1/jobs", operation_id = "job_list", tag = "jobs", summary = "List the jobs", params(PageQuery),
    responses((status = 200, description = "Jobs", body = JobList), LookProblems)
)]
pub async fn job_list(State(app): State<App>, _: Caller, Asked(page): Asked<PageQuery>) -> Result<Json<JobList>, Refusal> {
    let found = job::job_list(&app.store, page.before.as_deref(), page.most + 1).await?;
    let (found, next) = page.cut(found, |job| &job.id);
    Ok(Json(JobList { jobs: found.into_iter().map(|job| answer(of_row(job))).collect(), next }))
}

/// How a job gets on: rows done, what came of them, how fast it goes and when it will end.
#[utoipa::path(
    get, path = "/api/v1/jobs/{id}", operation_id = "job_find", tag = "jobs", summary = "Look at a job",
    params(("id" = String, Path, description = "Id of the job")),
    responses((status = 200, description = "The job", body = JobAnswer), LookProblems)
)]
pub async fn job_find(State(app): State<App>, _: Caller, Id(id): Id) -> Result<Json<JobAnswer>, Refusal> {
    Ok(Json(answer(job::job_find(&app.store, &id).await?)))
}

/// Stops a job. Rows that are answered stay and can be fetched with `partial=true`.
#[utoipa::path(
    post, path = "/api/v1/jobs/{id}/cancel", operation_id = "job_cancel", tag = "jobs", summary = "Stop a job",
    params(("id" = String, Path, description = "Id of the job")),
    responses((status = 200, description = "The job as it is now", body = JobAnswer), LookProblems, OnceProblems)
)]
pub async fn job_cancel(State(app): State<App>, caller: Caller, Id(id): Id) -> Result<Json<JobAnswer>, Refusal> {
    Ok(Json(answer(job::job_cancel(&app.store, &id, &caller.actor).await?)))
}

/// Deletes a job with all its rows, whether it runs or not.
#[utoipa::path(
    delete, path = "/api/v1/jobs/{id}", operation_id = "job_delete", tag = "jobs", summary = "Delete a job",
    params(("id" = String, Path, description = "Id of the job")),
    responses((status = 200, description = "It is gone", body = JobGone), LookProblems)
)]
pub async fn job_delete(State(app): State<App>, caller: Caller, Id(id): Id) -> Result<Json<JobGone>, Refusal> {
    job::job_delete(&app.store, &id, &caller.actor).await?;
    Ok(Json(JobGone { deleted: id }))
}

/// How a result is fetched.
#[derive(Debug, Clone, Copy, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct ResultQuery {
    /// Whether the rows that are done so far will do, from the first without a gap.
    #[serde(default)]
    #[param(required = false)]
    partial: bool,
}

impl Askable for ResultQuery {
    const ALLOWED: &'static str = "partial, true or false";
}

/// Rows in the answer.
const ROWS: HeaderName = HeaderName::from_static("toile-rows");

/// Whether these are all rows of the job.
const COMPLETE: HeaderName = HeaderName::from_static("toile-complete");

/// The result of a job: the sheet with its result columns, rows in the order of the sheet. The header `Toile-Rows` tells how
/// many rows come, `Toile-Complete` whether these are all. CSV comes back as CSV in its own dialect, a workbook as xlsx, unless
/// the Accept header asks for the other; xlsx holds 1,048,576 rows, and what is longer is refused in it.
#[utoipa::path(
    get, path = "/api/v1/jobs/{id}/result", operation_id = "job_result", tag = "jobs", summary = "Fetch the result of a job",
    params(("id" = String, Path, description = "Id of the job"), ResultQuery),
    responses(
        (status = 200, description = "The sheet with result columns", content(
            (String = "text/csv"), (Workbook = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
        )),
        LookProblems, OnceProblems
    )
)]
pub async fn job_result(
    State(app): State<App>,
    caller: Caller,
    Id(id): Id,
    Asked(query): Asked<ResultQuery>,
    headers: HeaderMap,
) -> Result<Response, Refusal> {
    let result = job::job_answer(&app.store, &id, query.partial).await?;
    let form = wanted(&headers, result.is_of_workbook());
    let result = result.fit_for(form)?;
    let told =
        [(ROWS, HeaderValue::from(result.rows)), (COMPLETE, HeaderValue::from_static(if result.complete { "true" } else { "false" }))];
    let name = if result.complete { "answered" } else { "answered-in-part" };
    let file = match form {
        Form::Csv => (file_headers(form, name)?, Body::from_stream(streamed(result))).into_response(),
        Form::Xlsx | Form::Ods => {
            let leave = leave(&app, &caller).await?;
            let write = move |output: &mut _| {
                let _leave = leave;
                result.write_xlsx(output)
            };
            written(form, name, write).await?
        }
    };
    Ok((told, file).into_response())
}

/// One part is fetched ahead of the client: memory does not grow with the sheet, and a slow client holds no connection to the
/// database.
fn streamed(mut result: job::JobAnswer) -> ReceiverStream<Result<Bytes, io::Error>> {
    let (sender, receiver) = mpsc::channel(1);
    tokio::spawn(async move {
        loop {
            let part = match result.next().await {
                Ok(None) => return,
                Ok(Some(part)) => Ok(Bytes::from(part)),
                Err(fault) => {
                    tracing::warn!(job = result.job.id, why = %fault, "a result was cut off");
                    Err(io::Error::other(fault))
                }
            };
            let failed = part.is_err();
            // A client that has gone away needs no more; neither does one that was told of a fault.
            if sender.send(part).await.is_err() || failed {
                return;
            }
        }
    });
    ReceiverStream::new(receiver)
}

impl From<JobFault> for Refusal {
    fn from(fault: JobFault) -> Self {
        match fault {
            JobFault::Sheet(fault) => refusal(&fault),
            JobFault::Store(fault) => fault.into(),
            JobFault::TooLongForXlsx { rows } => Self::Conflict(format!(
                "The result has {rows} rows; a workbook holds {MOST_XLSX_ROWS}. Ask for text/csv in the Accept header."
            )),
            JobFault::Missing => Self::NotFound("There is no such job.".into()),
            JobFault::TooMany(most) => {
                Self::Conflict(format!("{most} jobs of yours are under way, as many as may be. Wait for one to end, or stop one."))
            }
            JobFault::Unfinished { state: JobState::Running, ready } => Self::Conflict(format!(
                "The job is not finished: {ready} rows are done from the first without a gap. Fetch those with partial=true, or wait."
            )),
            JobFault::Unfinished { state, ready } => Self::Conflict(format!(
                "The job is {}, and has no whole result. {ready} rows are done from the first without a gap; fetch those with partial=true.",
                state.name()
            )),
            JobFault::Ended(state) => Self::Conflict(format!("The job does not run: it is {}.", state.name())),
        }
    }
}

fn of_row(job: JobRow) -> JobProgress {
    JobProgress { job, rows_per_second: None, estimated_end_ms: None }
}

fn answer(progress: JobProgress) -> JobAnswer {
    let JobProgress { job, rows_per_second, estimated_end_ms } = progress;
    let when = |ms: i64| (ms > 0).then(|| time_text(ms));
    JobAnswer {
        state: match job.state {
            JobState::Uploading | JobState::Running => JobStateName::Running,
            JobState::Finished => JobStateName::Finished,
            JobState::Cancelled | JobState::Deleted => JobStateName::Cancelled,
            JobState::Failed => JobStateName::Failed,
        },
        id: job.id,
        name: job.name,
        owner: job.owner_name,
        why: Some(job.why).filter(|why| !why.is_empty()),
        rows: job.rows_all,
        rows_done: job.rows_done,
        counts: JobCounts {
            comfortable: job.counts.comfortable,
            tight: job.counts.tight,
            measure_first: job.counts.measure_first,
            out_of_reach: job.counts.out_of_reach,
            problems: job.counts.problems,
            blank: job.counts.blank,
            defused: job.counts.defused,
        },
        rows_per_second: rows_per_second.map(|speed| (speed * 10.0).round() / 10.0),
        estimated_end: estimated_end_ms.and_then(when),
        created: time_text(job.created_ms),
        started: when(job.started_ms),
        ended: when(job.ended_ms),
        model_version: job.version,
        notes: serde_json::from_str(&job.notes).unwrap_or_default(),
    }
}
