//! Single parts of the physics.

use axum::Json;
use axum::extract::State;
use axum::response::IntoResponse;
use toile_model::conduction::stitching;
use toile_model::electrostatics::{capacitances, per_length, rows};
use toile_model::lights::{NotSettled, light_row};
use toile_model::produce;
use toile_model::touch::signal;

use crate::api::problem::{BodyProblems, Refusal};
use crate::api::production::ProductionAnswer;
use crate::api::solve::{
    CapacitanceAnswer, CapacitanceQuestion, ElectrodeAnswer, ElectrodeQuestion, FillAnswer, FillQuestion, HeatAnswer, HeatQuestion,
    LaidWireAnswer, LaidWireQuestion, LightRowAnswer, LightRowQuestion, LineAnswer, LineQuestion, ProductionQuestion, RowsAnswer,
    RowsQuestion, RunAnswer, RunQuestion, SettlingAnswer, SettlingQuestion, StitchingAnswer, StitchingQuestion, TouchAnswer, TouchQuestion,
};
use crate::app::App;
use crate::http::access::Caller;
use crate::http::extract::RangedJson;

/// Capacitances between any conductors in a layered stack.
#[utoipa::path(post, path = "/api/v1/solve/capacitance", operation_id = "capacitance_solve", tag = "parts",
    summary = "Capacitances between conductors", request_body = CapacitanceQuestion,
    responses((status = 200, description = "The Maxwell matrix with its error bound", body = CapacitanceAnswer), BodyProblems))]
pub async fn capacitance_solve(
    State(app): State<App>,
    caller: Caller,
    RangedJson(question): RangedJson<CapacitanceQuestion>,
) -> Result<Json<CapacitanceAnswer>, Refusal> {
    let answer = app.heavy(&caller.actor, move || {
        let (layers, conductors) = question.to_model()?;
        let matrix = capacitances(&layers.medium(), &conductors, question.aim()).map_err(|fault| question.faults(fault))?;
        Ok::<_, Refusal>(CapacitanceAnswer::new(&question, &matrix))
    });
    Ok(Json(answer.await??))
}

/// Capacitance per length of an endless strip or thread.
#[utoipa::path(post, path = "/api/v1/solve/line", operation_id = "line_solve", tag = "parts", summary = "Capacitance per length of a run",
    request_body = LineQuestion, responses((status = 200, description = "Capacitance per metre with its error bound", body = LineAnswer), BodyProblems))]
pub async fn line_solve(
    State(app): State<App>,
    caller: Caller,
    RangedJson(question): RangedJson<LineQuestion>,
) -> Result<Json<LineAnswer>, Refusal> {
    let (layers, section) = question.to_model()?;
    Ok(Json(app.heavy(&caller.actor, move || LineAnswer::new(&question, &per_length(&layers.medium(), section, question.aim()))).await?))
}

/// Capacitance per area of an endless field of parallel threads over ground.
#[utoipa::path(post, path = "/api/v1/solve/rows", operation_id = "rows_solve", tag = "parts", summary = "Capacitance of rows of thread",
    request_body = RowsQuestion, responses((status = 200, description = "Capacitance per square metre with its error bound", body = RowsAnswer), BodyProblems))]
pub async fn rows_solve(
    State(app): State<App>,
    caller: Caller,
    RangedJson(question): RangedJson<RowsQuestion>,
) -> Result<Json<RowsAnswer>, Refusal> {
    let [diameter_m, spacing_m, height_m] = question.to_model()?;
    Ok(Json(app.heavy(&caller.actor, move || RowsAnswer::new(&question, &rows(diameter_m, spacing_m, height_m, question.aim()))).await?))
}

/// Time and price of work that is already counted: minutes of machine and people, thread breaks, and money line by line,
/// for a sample and a series, each with its interval.
#[utoipa::path(post, path = "/api/v1/solve/production", operation_id = "production_solve", tag = "parts", summary = "Time and price",
    request_body = ProductionQuestion, responses((status = 200, description = "Minutes and money", body = ProductionAnswer<'static>), BodyProblems))]
pub async fn production_solve(
    State(app): State<App>,
    RangedJson(question): RangedJson<ProductionQuestion>,
) -> Result<impl IntoResponse, Refusal> {
    let (job, order, quantity) = question.to_model(&app.library)?;
    let production = produce(job, &order, quantity, &app.library.rates)?;
    Ok(Json(ProductionAnswer::new(&production, true)).into_response())
}

/// Stitches and thread of one feature.
#[utoipa::path(post, path = "/api/v1/solve/stitching", operation_id = "stitching_solve", tag = "parts", summary = "Stitches and thread of a feature",
    request_body = StitchingQuestion, responses((status = 200, description = "Stitches and thread", body = StitchingAnswer), BodyProblems))]
pub async fn stitching_solve(RangedJson(question): RangedJson<StitchingQuestion>) -> Result<Json<StitchingAnswer>, Refusal> {
    let (kind, thickness_m, interlace_fraction) = question.to_model();
    Ok(Json(StitchingAnswer::new(stitching(&kind, thickness_m, interlace_fraction))?))
}

/// Two threads joined by a contact at every stitch: exact, whole or with one stitch broken.
#[utoipa::path(post, path = "/api/v1/solve/run", operation_id = "run_solve", tag = "parts", summary = "Resistance of a run of two threads",
    request_body = RunQuestion, responses((status = 200, description = "Resistance, transfer length, single faults", body = RunAnswer), BodyProblems))]
pub async fn run_solve(
    State(app): State<App>,
    caller: Caller,
    RangedJson(question): RangedJson<RunQuestion>,
) -> Result<Json<RunAnswer>, Refusal> {
    let (passes, broken) = question.to_model()?;
    Ok(Json(app.heavy(&caller.actor, move || RunAnswer::new(&question, &passes, broken)).await?))
}

/// A serpentine row fill between two terminals: every stitch solved for, or as a sheet where it is too large.
#[utoipa::path(post, path = "/api/v1/solve/fill", operation_id = "fill_solve", tag = "parts", summary = "Resistance of a row fill",
    request_body = FillQuestion, responses((status = 200, description = "Resistance with its error bound", body = FillAnswer), BodyProblems))]
pub async fn fill_solve(
    State(app): State<App>,
    caller: Caller,
    RangedJson(question): RangedJson<FillQuestion>,
) -> Result<Json<FillAnswer>, Refusal> {
    let fill = question.to_model()?;
    Ok(Json(app.heavy(&caller.actor, move || FillAnswer::new(&question, &fill)).await?))
}

/// Charging a load through a source and a distributed line: exact.
#[utoipa::path(post, path = "/api/v1/solve/settling", operation_id = "settling_solve", tag = "parts", summary = "Settling of a distributed line",
    request_body = SettlingQuestion, responses((status = 200, description = "Times, voltage and charge at the sample", body = SettlingAnswer), BodyProblems))]
pub async fn settling_solve(
    State(app): State<App>,
    caller: Caller,
    RangedJson(question): RangedJson<SettlingQuestion>,
) -> Result<Json<SettlingAnswer>, Refusal> {
    Ok(Json(app.heavy(&caller.actor, move || question.into()).await?))
}

/// What a touch adds, from capacitances that are already known.
#[utoipa::path(post, path = "/api/v1/solve/touch", operation_id = "touch_solve", tag = "parts", summary = "Signal of a touch",
    request_body = TouchQuestion, responses((status = 200, description = "Signal and way back", body = TouchAnswer), BodyProblems))]
pub async fn touch_solve(RangedJson(question): RangedJson<TouchQuestion>) -> Result<Json<TouchAnswer>, Refusal> {
    let ([pad_finger_f, touched_f, untouched_f, finger_ground_f], way) = question.to_model();
    Ok(Json(signal(pad_finger_f, touched_f, untouched_f, finger_ground_f, &way).into()))
}

/// An electrode on skin: impedance from 0.05 Hz to 100 kHz, what an amplifier gets, noise, what a pulse does. For talking with
/// those who are licensed to use it on people; it permits nothing.
#[utoipa::path(post, path = "/api/v1/solve/electrode", operation_id = "electrode_solve", tag = "parts", summary = "An electrode on skin",
    request_body = ElectrodeQuestion, responses((status = 200, description = "Impedance, read-out, noise and pulses", body = ElectrodeAnswer), BodyProblems))]
pub async fn electrode_solve(RangedJson(question): RangedJson<ElectrodeQuestion>) -> Result<Json<ElectrodeAnswer>, Refusal> {
    question.check()?;
    Ok(Json(question.answer()))
}

/// Lights in parallel along a feed and a return run: what each one gets, with any segment broken.
#[utoipa::path(post, path = "/api/v1/solve/light_row", operation_id = "light_row_solve", tag = "parts", summary = "A row of lights",
    request_body = LightRowQuestion, responses((status = 200, description = "Voltages and currents of every light", body = LightRowAnswer), BodyProblems))]
pub async fn light_row_solve(RangedJson(question): RangedJson<LightRowQuestion>) -> Result<Json<LightRowAnswer>, Refusal> {
    let (light, broken) = question.to_model()?;
    let row = question.row(light, &broken);
    let lit = light_row(&row).map_err(|NotSettled| LightRowAnswer::not_found())?;
    Ok(Json(LightRowAnswer::new(&question, &row, lit)))
}

/// How warm a thread becomes, between two bounds. For a caution; it promises nothing.
#[utoipa::path(post, path = "/api/v1/solve/heat", operation_id = "heat_solve", tag = "parts", summary = "Warmth of a thread",
    request_body = HeatQuestion, responses((status = 200, description = "Bounds on the temperature, and what bears how much", body = HeatAnswer), BodyProblems))]
pub async fn heat_solve(RangedJson(question): RangedJson<HeatQuestion>) -> Result<Json<HeatAnswer>, Refusal> {
    Ok(Json(HeatAnswer::of(&question.to_model()?)))
}

/// A wire, a tube or a roving laid on cloth: length, resistance, the zigzag that holds it, bends, mass, and what current does.
#[utoipa::path(post, path = "/api/v1/solve/laid_wire", operation_id = "laid_wire_solve", tag = "parts", summary = "A laid wire",
    request_body = LaidWireQuestion, responses((status = 200, description = "The wire as laid", body = LaidWireAnswer), BodyProblems))]
pub async fn laid_wire_solve(RangedJson(question): RangedJson<LaidWireQuestion>) -> Result<Json<LaidWireAnswer>, Refusal> {
    let model = question.to_model()?;
    Ok(Json(LaidWireAnswer::new(&question, &model)))
}
