//! Spreadsheets: the same table back, with answers.

use std::io;

use axum::Json;
use axum::body::Body;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::{IntoResponse, Response};

use super::sheets::{file_headers, given, leave, refusal, upload, wanted, written};
use crate::api::problem::{BodyProblems, BusyProblems, Refusal};
use crate::api::sheet::{SheetColumn, SheetPreview, SheetProblem, SheetRow, Workbook};
use crate::app::App;
use crate::http::access::Caller;
use crate::http::extract::{Asked, SheetQuery};
use crate::usecase::batch::{
    ColumnPreview, Form, Preview, SheetFault, Understood, batch_answer as answer, batch_preview as preview, template_csv,
    template_xlsx_bytes,
};

/// Answers a spreadsheet: one row is one feature, a pad with its run unless it says otherwise. The table comes back with the columns
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
    let given = given(&headers, asked.sheet)?;
    let form = wanted(&headers, given.workbook);
    let leave = leave(&app, &caller).await?;
    let upload = upload(&app, body);
    let library = app.library.clone();
    written(form, "answered", move |output| {
        let _leave = leave;
        answer(upload, &given, output, form, &library, |_| ()).map(|_| ())
    })
    .await
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
    let given = given(&headers, asked.sheet)?;
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
pub async fn batch_template_csv() -> Result<Response, Refusal> {
    saved(template_csv(), Form::Csv)
}

/// The template as xlsx: what each column means above its name and as a note on it, and an example row.
#[utoipa::path(
    get, path = "/api/v1/batches/template.xlsx", operation_id = "batch_template_xlsx", tag = "pieces", summary = "A spreadsheet to fill in, as xlsx",
    responses((status = 200, description = "The template", body = Workbook, content_type = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"), BusyProblems)
)]
pub async fn batch_template_xlsx(State(app): State<App>) -> Result<Response, Refusal> {
    let made = app.heavy("template", template_xlsx_bytes).await?;
    saved(made.map_err(|fault| refusal(&fault))?, Form::Xlsx)
}

fn saved(bytes: Vec<u8>, form: Form) -> Result<Response, Refusal> {
    Ok((file_headers(form, "toile-template")?, bytes).into_response())
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
