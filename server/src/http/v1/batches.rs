//! Spreadsheets: the same table back, with answers.

use std::io::{self, BufWriter, ErrorKind, Read, Write};
use std::time::{Duration, Instant};

use axum::body::{Body, Bytes};
use axum::extract::State;
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Response};
use tokio::sync::mpsc;
use tokio_stream::StreamExt;

use crate::api::problem::{BodyProblems, Refusal};
use crate::app::App;
use crate::http::access::Caller;
use crate::http::extract::expect_type;
use crate::spool::{SpoolReader, spool};
use crate::usecase::batch::{SheetFault, Summary, batch_answer as answer};

/// Answers a spreadsheet: one row is one pad with its run. The table comes back in its own dialect with the columns
/// verdict, chance, signal_pf, standing_pf, run_ohm, settling_percent, pad_pf, closed_form_pf, capacitance_error_percent,
/// stitches_per_piece, conductive_thread_m, machine_minutes, price_sample, price_each, price_each_low, price_each_high,
/// price_total, price_currency, main_reason and problem added: pad_pf is the pad alone, capacitance_error_percent the error
/// bound of it, and closed_form_pf what the formula for checking by hand says; minutes and prices are those of the quantity,
/// 1 where the sheet gives none.
#[utoipa::path(
    post, path = "/api/v1/batches", operation_id = "batch_answer", tag = "pieces", summary = "Answer a spreadsheet",
    request_body(content = String, content_type = "text/csv", description = "CSV: comma, semicolon or tab; decimal point or comma; a header row"),
    responses((status = 200, description = "The same table with result columns", body = String, content_type = "text/csv"), BodyProblems)
)]
pub async fn batch_answer(State(app): State<App>, caller: Caller, headers: HeaderMap, body: Body) -> Result<Response, Refusal> {
    expect_type(&headers, &["text/csv"])?;
    let leave = app.batches.enter(&caller.actor).await.map_err(|turned_away| Refusal::Shed {
        detail: "As many batches are running as this machine takes.".into(),
        retry_after: turned_away.retry_after,
    })?;
    let (writer, mut reader) = spool().map_err(|error| Refusal::Busy(format!("There is no room for the answer on disk: {error}.")))?;
    let (sender, receiver) = mpsc::channel(4);
    tokio::spawn(feed(body, sender, app.limits.sheet_bytes, app.limits.timeout));
    let library = app.library.clone();
    let work = tokio::task::spawn_blocking(move || {
        let _leave = leave;
        let mut output = BufWriter::with_capacity(256 * 1024, writer);
        let outcome = answer(Upload::new(receiver), &mut output, &library, |_| ());
        let (writer, rest) = output.into_parts();
        let rest = rest.unwrap_or_default();
        finish(writer, &rest, outcome)
    });
    // The status must be known before the first byte: either the first of the answer is there, or the file is refused.
    match reader.next().await {
        Some(Ok(first)) => Ok(streamed(first, reader)),
        None | Some(Err(_)) => match work.await.map_err(|_| Refusal::Internal)? {
            Ok(()) => Ok(streamed(Vec::new(), reader)),
            Err(fault) => Err(refusal(&fault)),
        },
    }
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
        SheetFault::Internal => Refusal::Internal,
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

fn streamed(first: Vec<u8>, reader: SpoolReader) -> Response {
    let first = tokio_stream::once(Ok(Bytes::from(first)));
    let rest = async_stream(reader);
    let headers = [(header::CONTENT_TYPE, "text/csv"), (header::CONTENT_DISPOSITION, "attachment; filename=\"answered.csv\"")];
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
