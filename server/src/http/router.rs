//! The table of contents: every address and what it goes through.

use std::sync::Arc;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request};
use axum::middleware::{from_fn, from_fn_with_state};
use axum::routing::get;
use toile_model::LIBRARY;
use toile_model::materials::Library;
use tokio::sync::Semaphore;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::request_id::{MakeRequestUuid, PropagateRequestIdLayer, SetRequestIdLayer};
use utoipa::OpenApi;
use utoipa::openapi::OpenApi as Document;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use utoipa_swagger_ui::{Config, SwaggerUi};

use super::{document, middleware, page, service, v1};
use crate::api::problem::Refusal;
use crate::config::Limits;

/// What handlers share.
#[derive(Clone)]
pub struct App {
    /// Sizes and times.
    pub limits: Limits,
    /// Threads, fabrics, controllers, and the shop's rates.
    pub library: Arc<Library>,
    /// Leave to compute something that takes longer than a request should hold an async thread.
    heavy: Arc<Semaphore>,
    /// Leave to run a batch.
    pub batches: Arc<Semaphore>,
}

impl App {
    /// State for a service with these limits and the built-in library.
    pub fn new(limits: Limits) -> Self {
        Self::with_library(limits, LIBRARY.clone())
    }

    /// State for a service with these limits and a shop's own rates in its library.
    pub fn with_library(limits: Limits, library: Library) -> Self {
        let cores = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
        let leave = || Arc::new(Semaphore::new(cores));
        Self { limits, library: Arc::new(library), heavy: leave(), batches: leave() }
    }

    /// Runs work that would hold an async thread for too long elsewhere, no more of it at once than there are cores.
    ///
    /// # Errors
    /// [`Refusal::Internal`] when the work panicked.
    pub async fn heavy<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> Result<T, Refusal> {
        let _leave = self.heavy.acquire().await.map_err(|_| Refusal::Internal)?;
        tokio::task::spawn_blocking(work).await.map_err(|_| Refusal::Internal)
    }
}

/// The API's routes and the document that describes them, made from the same lines.
pub fn routes() -> (Router<App>, Document) {
    OpenApiRouter::with_openapi(document::Heading::openapi())
        // Whole pieces
        .routes(routes!(v1::estimates::estimate_create))
        .routes(routes!(v1::batches::batch_answer))
        .routes(routes!(v1::pictures::charge_draw))
        // Library
        .routes(routes!(v1::library::thread_list))
        .routes(routes!(v1::library::fabric_list))
        .routes(routes!(v1::library::controller_list))
        .routes(routes!(v1::library::rate_list))
        // Single parts
        .routes(routes!(v1::solve::capacitance_solve))
        .routes(routes!(v1::solve::line_solve))
        .routes(routes!(v1::solve::rows_solve))
        .routes(routes!(v1::solve::production_solve))
        .routes(routes!(v1::solve::stitching_solve))
        .routes(routes!(v1::solve::run_solve))
        .routes(routes!(v1::solve::fill_solve))
        .routes(routes!(v1::solve::settling_solve))
        .routes(routes!(v1::solve::touch_solve))
        .routes(routes!(v1::solve::electrode_solve))
        .routes(routes!(v1::solve::light_row_solve))
        .routes(routes!(v1::solve::heat_solve))
        .routes(routes!(v1::solve::laid_wire_solve))
        // Service
        .routes(routes!(service::health_live))
        .routes(routes!(service::health_ready))
        .routes(routes!(service::metrics_read))
        .routes(routes!(service::document_read))
        .split_for_parts()
}

/// The whole service: API, reference, page.
pub fn router(app: App) -> Router {
    service::recorder();
    let reference = SwaggerUi::new("/reference").config(Config::from("/api/v1/openapi.json").use_base_layout().try_it_out_enabled(true));
    let (api, _) = routes();
    api.merge(Router::<App>::from(reference))
        .route("/", get(page::page_file))
        .fallback(page::page_file)
        .method_not_allowed_fallback(wrong_method)
        .layer(DefaultBodyLimit::max(app.limits.body_bytes))
        .layer(from_fn_with_state(app.clone(), middleware::observe))
        .layer(CatchPanicLayer::custom(middleware::panicked))
        .layer(CompressionLayer::new())
        .layer(PropagateRequestIdLayer::new(middleware::REQUEST_ID))
        .layer(SetRequestIdLayer::new(middleware::REQUEST_ID, MakeRequestUuid))
        .layer(from_fn(middleware::sound_request_id))
        .layer(from_fn(middleware::secure))
        .with_state(app)
}

async fn wrong_method(request: Request) -> Refusal {
    let method: String = request.method().as_str().chars().take(20).collect();
    Refusal::MethodNotAllowed(format!("{method} is not taken at {}; the Allow header says what is.", request.uri().path()))
}
