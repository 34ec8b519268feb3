//! Estimates of whole pieces.

use std::time::Instant;

use axum::extract::State;
use axum::http::{HeaderName, header};
use axum::response::IntoResponse;
use toile_model::Faults;

use crate::api::answer::EstimateAnswer;
use crate::api::piece::Piece;
use crate::api::problem::{BodyProblems, Refusal};
use crate::app::{App, NotDone};
use crate::http::access::Caller;
use crate::http::extract::{Asked, EstimateQuery, JsonBody};
use crate::usecase::estimate::{Prepared, Wanted, completion_is_quick, estimate_complete, estimate_create as compute, estimate_is_quick};

/// Estimates a piece: verdict, checks, changes, cautions, and the working when asked for.
#[utoipa::path(
    post, path = "/api/v1/estimates", operation_id = "estimate_create", tag = "pieces", summary = "Estimate a piece",
    params(EstimateQuery), request_body = Piece,
    responses((status = 200, description = "The estimate", body = EstimateAnswer<'static>), BodyProblems)
)]
pub async fn estimate_create(
    State(app): State<App>,
    caller: Caller,
    Asked(query): Asked<EstimateQuery>,
    body: JsonBody<Piece>,
) -> Result<impl IntoResponse, Refusal> {
    let started = Instant::now();
    let (wire, bytes) = body.into_parts();
    let wanted = Wanted { working: query.working, approach: query.approach, runs: query.runs };
    let text = estimate_text(&app, &caller.actor, wire.into(), wanted, query.inputs).await?;
    let text = text.map_err(|faults| JsonBody::<Piece>::explain(&bytes, faults))?;
    let timing = format!("compute;dur={:.3}", started.elapsed().as_secs_f64() * 1e3);
    Ok(([(header::CONTENT_TYPE, "application/json".to_owned()), (HeaderName::from_static("server-timing"), timing)], text))
}

/// The estimate of a piece as it is answered, or the faults of the piece. What takes long runs beside the async threads.
pub(super) async fn estimate_text(
    app: &App,
    by: &str,
    piece: toile_model::Piece,
    wanted: Wanted,
    with_inputs: bool,
) -> Result<Result<Vec<u8>, Faults>, NotDone> {
    let library = app.library.clone();
    if estimate_is_quick(&piece) {
        let (piece, estimate) = match compute(piece, &library) {
            Ok(computed) => computed,
            Err(faults) => return Ok(Err(faults)),
        };
        let quick = completion_is_quick(&piece, &estimate, wanted);
        let complete = move || estimate_complete(piece, estimate, &library, wanted).map(|prepared| answer(&prepared, with_inputs));
        if quick { Ok(complete()) } else { app.heavy(by, complete).await }
    } else {
        let all = move || {
            let (piece, estimate) = compute(piece, &library)?;
            estimate_complete(piece, estimate, &library, wanted).map(|prepared| answer(&prepared, with_inputs))
        };
        app.heavy(by, all).await
    }
}

fn answer(prepared: &Prepared, with_inputs: bool) -> Vec<u8> {
    let Prepared { piece, estimate, changes, working, approach, runs } = prepared;
    let answer = EstimateAnswer::new(piece, estimate, changes, with_inputs, working.as_deref(), approach.as_deref(), runs.as_deref());
    // Room for an ordinary answer, so that it is not moved again and again while it grows.
    let mut text = Vec::with_capacity(16 * 1024);
    serde_json::to_writer(&mut text, &answer).expect("an answer is plain data");
    text
}
