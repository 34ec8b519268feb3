//! Estimates of whole pieces.

use std::time::Instant;

use axum::extract::State;
use axum::http::{HeaderName, header};
use axum::response::IntoResponse;

use crate::api::answer::EstimateAnswer;
use crate::api::piece::Piece;
use crate::api::problem::{BodyProblems, Refusal};
use crate::http::extract::{Asked, EstimateQuery, JsonBody};
use crate::app::App;
use crate::usecase::estimate::{Prepared, Wanted, completion_is_quick, estimate_complete, estimate_create as compute, estimate_is_quick};

/// Estimates a piece: verdict, checks, changes, cautions, and the working when asked for.
#[utoipa::path(
    post, path = "/api/v1/estimates", operation_id = "estimate_create", tag = "pieces", summary = "Estimate a piece",
    params(EstimateQuery), request_body = Piece,
    responses((status = 200, description = "The estimate", body = EstimateAnswer<'static>), BodyProblems)
)]
pub async fn estimate_create(
    State(app): State<App>,
    Asked(query): Asked<EstimateQuery>,
    body: JsonBody<Piece>,
) -> Result<impl IntoResponse, Refusal> {
    let started = Instant::now();
    let (wire, bytes) = body.into_parts();
    let piece = toile_model::Piece::from(wire);
    let wanted = Wanted { working: query.working, approach: query.approach, runs: query.runs };
    let text = if estimate_is_quick(&piece) {
        let (piece, estimate) = compute(piece, &app.library).map_err(|faults| JsonBody::<Piece>::explain(&bytes, faults))?;
        let quick = completion_is_quick(&piece, &estimate, wanted);
        let library = app.library.clone();
        let complete = move || estimate_complete(piece, estimate, &library, wanted).map(|prepared| answer(&prepared, query.inputs));
        if quick { complete() } else { app.heavy(complete).await? }
    } else {
        let library = app.library.clone();
        let all = move || {
            let (piece, estimate) = compute(piece, &library)?;
            estimate_complete(piece, estimate, &library, wanted).map(|prepared| answer(&prepared, query.inputs))
        };
        app.heavy(all).await?
    };
    let text = text.map_err(|faults| JsonBody::<Piece>::explain(&bytes, faults))?;
    let timing = format!("compute;dur={:.3}", started.elapsed().as_secs_f64() * 1e3);
    Ok(([(header::CONTENT_TYPE, "application/json".to_owned()), (HeaderName::from_static("server-timing"), timing)], text))
}

fn answer(prepared: &Prepared, with_inputs: bool) -> Vec<u8> {
    let Prepared { piece, estimate, changes, working, approach, runs } = prepared;
    let answer = EstimateAnswer::new(piece, estimate, changes, with_inputs, working.as_deref(), approach.as_deref(), runs.as_deref());
    // Room for an ordinary answer, so that it is not moved again and again while it grows.
    let mut text = Vec::with_capacity(16 * 1024);
    serde_json::to_writer(&mut text, &answer).expect("an answer is plain data");
    text
}
