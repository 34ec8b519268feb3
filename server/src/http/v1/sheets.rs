//! What batches and jobs share: spreadsheets as bodies, coming in and going out.

use std::io::{self, BufWriter, ErrorKind, Read, Write};
use std::time::{Duration, Instant};

use axum::body::{Body, Bytes};
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::{IntoResponse, Response};
use tokio::sync::mpsc;
use tokio_stream::StreamExt;
use tokio_stream::wrappers::ReceiverStream;

use crate::api::problem::{FieldError, Refusal};
use crate::app::App;
use crate::http::access::Caller;
use crate::http::extract::expect_type;
use crate::spool::{SpoolReader, SpoolWriter, spool};
use crate::usecase::batch::{Form, Given, SheetFault};

/// Media type of xlsx.
pub(super) const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
/// Media type of ods.
const ODS: &str = "application/vnd.oasis.opendocument.spreadsheet";

/// What is sent: text or a workbook, and the sheet asked for.
pub(super) fn given(headers: &HeaderMap, sheet: Option<String>) -> Result<Given, Refusal> {
    expect_type(headers, &["text/csv", XLSX, ODS])?;
    Ok(Given { workbook: expect_type(headers, &["text/csv"]).is_err(), sheet })
}

/// What comes back: what the Accept header names, else the kind that was sent.
pub(super) fn wanted(headers: &HeaderMap, workbook: bool) -> Form {
    let accepted = || headers.get_all(header::ACCEPT).iter().filter_map(|v| v.to_str().ok()).flat_map(|v| v.split(','));
    let named = |wanted: &str| accepted().any(|a| a.split(';').next().unwrap_or_default().trim().eq_ignore_ascii_case(wanted));
    match (named(XLSX), named("text/csv")) {
        (true, false) => Form::Xlsx,
        (false, true) => Form::Csv,
        _ if workbook => Form::Xlsx,
        _ => Form::Csv,
    }
}

/// Leave to take a sheet in or to write one out.
pub(super) async fn leave(app: &App, caller: &Caller) -> Result<impl Send + 'static + use<>, Refusal> {
    app.batches.enter(&caller.actor).await.map_err(|turned_away| Refusal::Shed {
        detail: "As many sheets are being worked on as this machine takes.".into(),
        retry_after: turned_away.retry_after,
    })
}

/// The body for a reader that waits, as it comes.
pub(super) fn upload(app: &App, body: Body) -> Upload {
    let (sender, receiver) = mpsc::channel(4);
    tokio::spawn(feed(body, sender, app.limits.sheet_bytes, app.limits.timeout));
    Upload::new(receiver)
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

/// Answers with a file that `make` writes on a thread of its own, once the first bytes of it are there: until then it may still be
/// refused.
pub(super) async fn written(
    form: Form,
    name: &str,
    make: impl FnOnce(&mut BufWriter<SpoolWriter>) -> Result<(), SheetFault> + Send + 'static,
) -> Result<Response, Refusal> {
    let (writer, mut reader) = spool().map_err(|error| Refusal::Busy(format!("There is no room for the answer on disk: {error}.")))?;
    let work = tokio::task::spawn_blocking(move || {
        let mut output = BufWriter::with_capacity(256 * 1024, writer);
        let outcome = make(&mut output);
        let (writer, rest) = output.into_parts();
        finish(writer, &rest.unwrap_or_default(), outcome)
    });
    let first = match reader.next().await {
        Some(Ok(first)) => first,
        None | Some(Err(_)) => match work.await.map_err(|_| Refusal::Internal)? {
            Ok(()) => Vec::new(),
            Err(fault) => return Err(refusal(&fault)),
        },
    };
    let body = Body::from_stream(tokio_stream::once(Ok(Bytes::from(first))).chain(async_stream(reader)));
    Ok((file_headers(form, name)?, body).into_response())
}

/// Writes what is left in the buffer and closes the spool with the outcome.
fn finish(mut writer: SpoolWriter, rest: &[u8], outcome: Result<(), SheetFault>) -> Result<(), SheetFault> {
    // A fault before anything was written out must not be hidden behind a header row.
    let outcome = outcome.and_then(|()| writer.write_all(rest).map_err(SheetFault::Write));
    writer.finish(outcome.as_ref().copied().map_err(ToString::to_string));
    outcome
}

/// The headers of a file of this form and of this name, which is told without its ending.
pub(super) fn file_headers(form: Form, name: &str) -> Result<HeaderMap, Refusal> {
    let (media_type, ending) = match form {
        Form::Csv => ("text/csv", "csv"),
        Form::Xlsx | Form::Ods => (XLSX, "xlsx"),
    };
    let disposition = format!("attachment; filename=\"{name}.{ending}\"");
    let disposition = HeaderValue::try_from(disposition).map_err(|_| Refusal::Internal)?;
    Ok(HeaderMap::from_iter([(header::CONTENT_TYPE, HeaderValue::from_static(media_type)), (header::CONTENT_DISPOSITION, disposition)]))
}

fn async_stream(mut reader: SpoolReader) -> ReceiverStream<Result<Bytes, io::Error>> {
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
    ReceiverStream::new(receiver)
}

fn too_large() -> io::Error {
    io::Error::new(ErrorKind::FileTooLarge, "The spreadsheet is larger than this service allows; see --sheet-mib.")
}

fn cut_short() -> io::Error {
    io::Error::new(ErrorKind::UnexpectedEof, "The upload stopped before its end.")
}

/// Slowest that an upload may be on the whole, bytes a second of waiting for it. A line of a modem from the last century keeps up.
const SLOWEST: u64 = 1024;

/// Passes the body on as it arrives, up to a size, and not past a silence of `patience` or a pace that would hold a place for
/// ever. Time spent on answering does not count against the client.
async fn feed(body: Body, sender: mpsc::Sender<io::Result<Bytes>>, most: u64, patience: Duration) {
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
    const fn new(receiver: mpsc::Receiver<io::Result<Bytes>>) -> Self {
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
