//! The library: threads, fabrics, controllers.

use axum::Json;
use toile_model::LIBRARY;

use crate::api::library::{Controllers, Fabrics, Threads};

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
