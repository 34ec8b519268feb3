//! Pictures of pieces.

use axum::extract::State;
use axum::http::header;
use axum::response::IntoResponse;

use crate::api::piece::Piece;
use crate::api::problem::{BodyProblems, Refusal};
use crate::app::App;
use crate::http::access::Caller;
use crate::http::extract::{Asked, JsonBody, PadQuery};
use crate::usecase::picture::charge_picture;

/// Draws where the charge gathers on one pad when it stands at 1 V: a map with a scale in pC/cm2.
#[utoipa::path(
    post, path = "/api/v1/pictures/charge", operation_id = "charge_draw", tag = "pieces", summary = "Draw the charge on a pad",
    params(PadQuery), request_body = Piece,
    responses((status = 200, description = "The map", body = String, content_type = "image/svg+xml"), BodyProblems)
)]
pub async fn charge_draw(
    State(app): State<App>,
    caller: Caller,
    Asked(query): Asked<PadQuery>,
    body: JsonBody<Piece>,
) -> Result<impl IntoResponse, Refusal> {
    let (wire, bytes) = body.into_parts();
    let piece = toile_model::Piece::from(wire);
    let library = app.library.clone();
    let drawn = app.heavy(&caller.actor, move || charge_picture(&piece, &library, query.pad)).await?;
    let svg = drawn.map_err(|faults| JsonBody::<Piece>::explain(&bytes, faults))?;
    Ok(([(header::CONTENT_TYPE, "image/svg+xml")], svg))
}
