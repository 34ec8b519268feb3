//! Spreadsheets: the same table back, with answers.

use std::io::{self, BufWriter, ErrorKind, Read, Write};
use std::time::{Duration, Instant};

use axum::Json;
use axum::body::{Body, Bytes};
use axum::extract::State;
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Response};
use tokio::sync::mpsc;
use tokio_stream::StreamExt;

use crate::api::problem::{BodyProblems, BusyProblems, FieldError, Refusal};
use crate::api::sheet::{SheetColumn, SheetPreview, SheetProblem, SheetRow, Workbook};
use crate::app::App;
use crate::http::access::Caller;
use crate::http::extract::{Asked, SheetQuery, expect_type};
use crate::spool::{SpoolReader, spool};
use crate::usecase::batch::{
    ColumnPreview, Form, Given, Preview, SheetFault, Summary, Understood, batch_answer as answer, batch_preview as preview, template_csv,
    template_xlsx_bytes,
};

/// Media type of xlsx.
const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
/// Media type of ods.
const ODS: &str = "application/vnd.oasis.opendocument.spreadsheet";

/// Answers a spreadsheet: one row is one pad with its run. The table comes back with the columns
/// verdict, chance, signal_pf, standing_pf, run_ohm, settling_percent, pad_pf, closed_form_pf, capacitance_error_percent,
/// stitches_per_piece, conductive_thread_m, machine_minutes, price_sample, price_each, price_each_low, price_each_high,
/// price_total, price_currency, main_reason and problem added: pad_pf is the pad alone, capacitance_error_percent the error
/// bound of it, and closed_form_pf what the formula for checking by hand says; minutes and prices are those of the quantity,
/// 1 where the sheet gives none. CSV comes back as CSV in its own dialect, a workbook as xlsx, unless the Accept header asks
/// for the other.
#[utoipa::path(
    post, path = "/api/v1/batches", operation_id = "batch_answer", tag = "pieces", summary = "Answer a spreadsheet", params(SheetQuery),
    request_body(
        content((String = "text/csv"), (Workbook = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"), (Workbook = "application/vnd.oasis.opendocument.spreadsheet")),
        description = "CSV: comma, semicolon or tab; decimal point or comma. Or a workbook. The header is one of the first 30 rows"
    ),
    responses(
        (status = 200, description = "The same table with result columns", content(
            (String = "text/csv"), (Workbook = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
        )),
        BodyProblems
    )
)]
pub async fn batch_answer(
    State(app): State<App>,
    caller: Caller,
    headers: HeaderMap,
    Asked(asked): Asked<SheetQuery>,
    body: Body,
) -> Result<Response, Refusal> {
    let given = given(&headers, asked)?;
    let form = wanted(&headers, given.workbook);
    let leave = leave(&app, &caller).await?;
    let (writer, mut reader) = spool().map_err(|error| Refusal::Busy(format!("There is no room for the answer on disk: {error}.")))?;
    let upload = upload(&app, body);
    let library = app.library.clone();
    let work = tokio::task::spawn_blocking(move || {
        let _leave = leave;
        let mut output = BufWriter::with_capacity(256 * 1024, writer);
        let outcome = answer(upload, &given, &mut output, form, &library, |_| ());
        let (writer, rest) = output.into_parts();
        let rest = rest.unwrap_or_default();
        finish(writer, &rest, outcome)
    });
    // The status must be known before the first byte: either the first of the answer is there, or the file is refused.
    match reader.next().await {
        Some(Ok(first)) => Ok(streamed(first, reader, form)),
        None | Some(Err(_)) => match work.await.map_err(|_| Refusal::Internal)? {
            Ok(()) => Ok(streamed(Vec::new(), reader, form)),
            Err(fault) => Err(refusal(&fault)),
        },
    }
}

/// Tells how a spreadsheet is understood, without computing anything: which sheet and header, what each column means, an
/// example of each as it is read, and the first rows with what is wrong with them.
#[utoipa::path(
    post, path = "/api/v1/batches/preview", operation_id = "batch_preview", tag = "pieces", summary = "Preview a spreadsheet", params(SheetQuery),
    request_body(
        content((String = "text/csv"), (Workbook = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"), (Workbook = "application/vnd.oasis.opendocument.spreadsheet")),
        description = "As for answering it; of CSV, the beginning is enough"
    ),
    responses((status = 200, description = "How the sheet is understood", body = SheetPreview), BodyProblems)
)]
pub async fn batch_preview(
    State(app): State<App>,
    caller: Caller,
    headers: HeaderMap,
    Asked(asked): Asked<SheetQuery>,
    body: Body,
) -> Result<Json<SheetPreview>, Refusal> {
    let given = given(&headers, asked)?;
    let leave = leave(&app, &caller).await?;
    let mut upload = upload(&app, body);
    let library = app.library.clone();
    let work = tokio::task::spawn_blocking(move || -> Result<Preview, SheetFault> {
        let _leave = leave;
        let preview = preview(&mut upload, &given, &library)?;
        // A client that still sends would take an answer before its end for a broken connection.
        io::copy(&mut upload, &mut io::sink()).map_err(SheetFault::Read)?;
        Ok(preview)
    });
    work.await.map_err(|_| Refusal::Internal)?.map(|preview| Json(shown(preview))).map_err(|fault: SheetFault| refusal(&fault))
}

/// The template as CSV: what each column means above its name, and an example row.
#[utoipa::path(
    get, path = "/api/v1/batches/template.csv", operation_id = "batch_template_csv", tag = "pieces", summary = "A spreadsheet to fill in, as CSV",
    responses((status = 200, description = "The template", body = String, content_type = "text/csv"))
)]
pub async fn batch_template_csv() -> Response {
    saved(template_csv(), "text/csv", "toile-template.csv")
}

/// The template as xlsx: what each column means above its name and as a note on it, and an example row.
#[utoipa::path(
    get, path = "/api/v1/batches/template.xlsx", operation_id = "batch_template_xlsx", tag = "pieces", summary = "A spreadsheet to fill in, as xlsx",
    responses((status = 200, description = "The template", body = Workbook, content_type = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"), BusyProblems)
)]
pub async fn batch_template_xlsx(State(app): State<App>) -> Result<Response, Refusal> {
    let made = app.heavy("template", template_xlsx_bytes).await?;
    Ok(saved(made.map_err(|fault| refusal(&fault))?, XLSX, "toile-template.xlsx"))
}

fn saved(bytes: Vec<u8>, media_type: &'static str, name: &str) -> Response {
    let disposition = format!("attachment; filename=\"{name}\"");
    ([(header::CONTENT_TYPE, media_type.to_owned()), (header::CONTENT_DISPOSITION, disposition)], bytes).into_response()
}

/// What is sent: text or a workbook, and the sheet asked for.
fn given(headers: &HeaderMap, asked: SheetQuery) -> Result<Given, Refusal> {
    expect_type(headers, &["text/csv", XLSX, ODS])?;
    Ok(Given { workbook: expect_type(headers, &["text/csv"]).is_err(), sheet: asked.sheet })
}

/// What comes back: what the Accept header names, else the kind that was sent.
fn wanted(headers: &HeaderMap, workbook: bool) -> Form {
    let accepted = || headers.get_all(header::ACCEPT).iter().filter_map(|v| v.to_str().ok()).flat_map(|v| v.split(','));
    let named = |wanted: &str| accepted().any(|a| a.split(';').next().unwrap_or_default().trim().eq_ignore_ascii_case(wanted));
    match (named(XLSX), named("text/csv")) {
        (true, false) => Form::Xlsx,
        (false, true) => Form::Csv,
        _ if workbook => Form::Xlsx,
        _ => Form::Csv,
    }
}

async fn leave(app: &App, caller: &Caller) -> Result<impl Send + 'static + use<>, Refusal> {
    app.batches.enter(&caller.actor).await.map_err(|turned_away| Refusal::Shed {
        detail: "As many batches are running as this machine takes.".into(),
        retry_after: turned_away.retry_after,
    })
}

fn upload(app: &App, body: Body) -> Upload {
    let (sender, receiver) = mpsc::channel(4);
    tokio::spawn(feed(body, sender, app.limits.sheet_bytes, app.limits.timeout));
    Upload::new(receiver)
}

fn shown(preview: Preview) -> SheetPreview {
    SheetPreview {
        form: preview.form.name(),
        sheet: preview.sheet,
        sheets: preview.sheets,
        encoding: preview.encoding.name(),
        delimiter: preview.dialect.delimiter(),
        decimal_mark: preview.dialect.decimal_word(),
        header_row: preview.header_row,
        columns: preview.columns.into_iter().map(shown_column).collect(),
        rows: preview
            .rows
            .into_iter()
            .map(|row| SheetRow {
                row: row.row,
                cells: row.cells,
                problems: row
                    .problems
                    .into_iter()
                    .map(|f| SheetProblem { column: f.column, given: f.given, message: f.message, allowed: f.allowed })
                    .collect(),
            })
            .collect(),
        notes: preview.notes,
    }
}

fn shown_column(column: ColumnPreview) -> SheetColumn {
    let (understood, name, unit, near) = match column.understood {
        Understood::Field { name, unit } => ("field", Some(name), Some(unit).filter(|u| !u.is_empty()), None),
        Understood::Result(name) => ("result", Some(name.to_owned()), None, None),
        Understood::Own { guess } => ("own", None, None, guess),
    };
    let (read_as, not_read) = match column.read_as {
        Some(Ok(read)) => (Some(read), None),
        Some(Err(why)) => (None, Some(why)),
        None => (None, None),
    };
    SheetColumn { header: column.header, understood, name, meaning: column.meaning, unit, example: column.example, read_as, not_read, near }
}

/// Writes what is left in the buffer and closes the spool with the outcome.
fn finish(mut writer: crate::spool::SpoolWriter, rest: &[u8], outcome: Result<Summary, SheetFault>) -> Result<(), SheetFault> {
    let outcome = match outcome {
        // A fault before anything was written out must not be hidden behind a header row.
        Ok(_) => writer.write_all(rest).map_err(SheetFault::Write),
        Err(fault) => Err(fault),
    };
    writer.finish(outcome.as_ref().copied().map_err(ToString::to_string));
    outcome
}

/// A sheet that cannot be used, as it is told.
pub(super) fn refusal(fault: &SheetFault) -> Refusal {
    let detail = fault.to_string();
    match fault {
        SheetFault::Read(error) if error.kind() == ErrorKind::FileTooLarge => Refusal::TooLarge(error.to_string()),
        SheetFault::Read(error) => Refusal::Unreadable(error.to_string()),
        SheetFault::Write(_) => Refusal::Busy(detail),
        SheetFault::NoSheet { name, .. } => Refusal::NotAllowed(vec![FieldError {
            pointer: String::new(),
            value: name.as_str().into(),
            message: detail,
            allowed: "the name of a sheet of the workbook, or no `sheet` at all".into(),
        }]),
        SheetFault::Internal | SheetFault::Changed | SheetFault::Stopped => Refusal::Internal,
        _ if fault.is_too_large() => Refusal::TooLarge(detail),
        _ => Refusal::UnusableSheet { detail },
    }
}

fn too_large() -> io::Error {
    io::Error::new(ErrorKind::FileTooLarge, "The spreadsheet is larger than this service allows; see --sheet-mib.")
}

fn cut_short() -> io::Error {
    io::Error::new(ErrorKind::UnexpectedEof, "The upload stopped before its end.")
}

fn streamed(first: Vec<u8>, reader: SpoolReader, form: Form) -> Response {
    let first = tokio_stream::once(Ok(Bytes::from(first)));
    let rest = async_stream(reader);
    let (media_type, disposition) = match form {
        Form::Csv => ("text/csv", "attachment; filename=\"answered.csv\""),
        Form::Xlsx | Form::Ods => (XLSX, "attachment; filename=\"answered.xlsx\""),
    };
    let headers = [(header::CONTENT_TYPE, media_type), (header::CONTENT_DISPOSITION, disposition)];
    (headers, Body::from_stream(first.chain(rest))).into_response()
}

fn async_stream(mut reader: SpoolReader) -> impl tokio_stream::Stream<Item = Result<Bytes, io::Error>> {
    let (sender, receiver) = mpsc::channel(1);
    tokio::spawn(async move {
        while let Some(chunk) = reader.next().await {
            let failed = chunk.is_err();
            // A client that has gone away needs no more; neither does one that was told of a fault.
            if sender.send(chunk.map(Bytes::from).map_err(io::Error::other)).await.is_err() || failed {
                return;
            }
        }
    });
    tokio_stream::wrappers::ReceiverStream::new(receiver)
}

/// Slowest that an upload may be on the whole, bytes a second of waiting for it. A line of a modem from the last century keeps up.
const SLOWEST: u64 = 1024;

/// Passes the body on as it arrives, up to a size, and not past a silence of `patience` or a pace that would hold a place for
/// ever. Time spent on answering does not count against the client.
pub(super) async fn feed(body: Body, sender: mpsc::Sender<io::Result<Bytes>>, most: u64, patience: Duration) {
    let mut stream = body.into_data_stream();
    let mut total = 0;
    let mut waited = Duration::ZERO;
    loop {
        let left = (patience + Duration::from_secs(total / SLOWEST)).saturating_sub(waited);
        let asked = Instant::now();
        let next = tokio::time::timeout(patience.min(left), stream.next()).await;
        waited += asked.elapsed();
        let next = match next {
            Ok(None) => return,
            Ok(Some(Ok(bytes))) => {
                total += bytes.len() as u64;
                if total > most { Err(too_large()) } else { Ok(bytes) }
            }
            Ok(Some(Err(_))) | Err(_) => Err(cut_short()),
        };
        let failed = next.is_err();
        if sender.send(next).await.is_err() || failed {
            return;
        }
    }
}

/// The body for a reader that waits.
pub(super) struct Upload {
    receiver: mpsc::Receiver<io::Result<Bytes>>,
    bytes: Bytes,
}

impl Upload {
    pub(super) const fn new(receiver: mpsc::Receiver<io::Result<Bytes>>) -> Self {
        Self { receiver, bytes: Bytes::new() }
    }
}

impl Read for Upload {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while self.bytes.is_empty() {
            match self.receiver.blocking_recv() {
                None => return Ok(0),
                Some(next) => self.bytes = next?,
            }
        }
        let count = buffer.len().min(self.bytes.len());
        buffer[..count].copy_from_slice(&self.bytes.split_to(count));
        Ok(count)
    }
}
