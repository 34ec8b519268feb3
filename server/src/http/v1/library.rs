//! The library: threads, fabrics, controllers, metals, and the shop's rates.

use axum::Json;
use axum::extract::State;
use toile_model::LIBRARY;

use crate::api::library::{Controllers, Fabrics, Metals, Threads};
use crate::api::rates::RatesAnswer;
use crate::app::App;

/// Every thread of the library with source and status.
#[utoipa::path(get, path = "/api/v1/threads", operation_id = "thread_list", tag = "library", summary = "List the threads",
    responses((status = 200, description = "All threads", body = Threads)))]
pub async fn thread_list() -> Json<Threads> {
    Json(Threads::from(&LIBRARY))
}

/// Every fabric, filler and film of the library with source and status.
#[utoipa::path(get, path = "/api/v1/fabrics", operation_id = "fabric_list", tag = "library", summary = "List the fabrics",
    responses((status = 200, description = "All fabrics", body = Fabrics)))]
pub async fn fabric_list() -> Json<Fabrics> {
    Json(Fabrics::from(&LIBRARY))
}

/// Every controller of the library: kinds of touch-sensing inputs, by their numbers.
#[utoipa::path(get, path = "/api/v1/controllers", operation_id = "controller_list", tag = "library", summary = "List the controllers",
    responses((status = 200, description = "All controllers", body = Controllers)))]
pub async fn controller_list() -> Json<Controllers> {
    Json(Controllers::from(&LIBRARY))
}

/// Every metal of the library that wires are drawn from, with source and status.
#[utoipa::path(get, path = "/api/v1/metals", operation_id = "metal_list", tag = "library", summary = "List the metals",
    responses((status = 200, description = "All metals", body = Metals)))]
pub async fn metal_list() -> Json<Metals> {
    Json(Metals::from(&LIBRARY))
}

/// The shop's rates: times, speeds and prices, each with source and status. A piece may give its own.
#[utoipa::path(get, path = "/api/v1/rates", operation_id = "rate_list", tag = "library", summary = "List the shop's rates",
    responses((status = 200, description = "All rates that hold here", body = RatesAnswer)))]
pub async fn rate_list(State(app): State<App>) -> Json<RatesAnswer> {
    Json(RatesAnswer::new(&app.library.rates))
}
