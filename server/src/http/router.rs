//! The table of contents: every address and what it goes through.

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request};
use axum::http::StatusCode;
use axum::middleware::{from_fn, from_fn_with_state, map_response};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::request_id::{MakeRequestUuid, PropagateRequestIdLayer, SetRequestIdLayer};
use utoipa::OpenApi;
use utoipa::openapi::OpenApi as Document;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use utoipa_swagger_ui::{Config, SwaggerUi};

use super::{access, document, metrics, middleware, origin, page, service, v1};
use crate::api::problem::Refusal;
use crate::app::App;

/// The API's routes and the document that describes them, made from the same lines.
pub fn routes() -> (Router<App>, Document) {
    OpenApiRouter::with_openapi(document::Heading::openapi())
        // Whole pieces
        .routes(routes!(v1::estimates::estimate_create))
        .routes(routes!(v1::batches::batch_answer))
        .routes(routes!(v1::batches::batch_preview))
        .routes(routes!(v1::batches::batch_template_csv))
        .routes(routes!(v1::batches::batch_template_xlsx))
        .routes(routes!(v1::pictures::charge_draw))
        // Jobs
        .routes(routes!(v1::jobs::job_create, v1::jobs::job_list))
        .routes(routes!(v1::jobs::job_find, v1::jobs::job_delete))
        .routes(routes!(v1::jobs::job_cancel))
        .routes(routes!(v1::jobs::job_result))
        // Quotes
        .routes(routes!(v1::quotes::quote_list, v1::quotes::quote_create))
        .routes(routes!(v1::quotes::quote_export))
        .routes(routes!(v1::quotes::quote_find, v1::quotes::quote_change))
        .routes(routes!(v1::quotes::quote_revise))
        .routes(routes!(v1::quotes::quote_turn))
        .routes(routes!(v1::quotes::quote_rerun))
        .routes(routes!(v1::quotes::quote_print))
        // Library
        .routes(routes!(v1::library::thread_list))
        .routes(routes!(v1::library::fabric_list))
        .routes(routes!(v1::library::controller_list))
        .routes(routes!(v1::library::metal_list))
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
        // Keys
        .routes(routes!(v1::keys::key_create, v1::keys::key_list))
        .routes(routes!(v1::keys::key_revoke))
        .routes(routes!(v1::audit::audit_list))
        // Webhooks
        .routes(routes!(v1::webhooks::webhook_create, v1::webhooks::webhook_list))
        .routes(routes!(v1::webhooks::webhook_find, v1::webhooks::webhook_change, v1::webhooks::webhook_delete))
        .routes(routes!(v1::webhooks::webhook_rotate))
        .routes(routes!(v1::webhooks::webhook_ping))
        .routes(routes!(v1::webhooks::delivery_list))
        .routes(routes!(v1::webhooks::delivery_resend))
        // Service
        .routes(routes!(service::health_live))
        .routes(routes!(service::health_ready))
        .routes(routes!(service::metrics_read))
        .routes(routes!(service::document_read))
        .split_for_parts()
}

/// The whole service: API, reference, page.
pub fn router(app: App) -> Router {
    metrics::recorder();
    let reference = SwaggerUi::new("/reference").config(Config::from("/api/v1/openapi.json").use_base_layout().try_it_out_enabled(true));
    let (api, _) = routes();
    api.merge(Router::<App>::from(reference).layer(map_response(nothing_in_the_reference)))
        .route("/", get(page::page_file))
        .route(page::EMBED, get(page::embed_page))
        .fallback(page::page_file)
        .method_not_allowed_fallback(wrong_method)
        .layer(from_fn_with_state(app.clone(), access::identify))
        // Around who asks: the question that a browser sends ahead carries no key.
        .layer(tower::util::option_layer(origin::others(&app.doors)))
        .layer(DefaultBodyLimit::max(app.limits.body_bytes))
        .layer(from_fn_with_state(app.clone(), middleware::bounded_bodies))
        .layer(from_fn_with_state(app.clone(), middleware::observe))
        .layer(CatchPanicLayer::custom(middleware::panicked))
        .layer(CompressionLayer::new())
        .layer(PropagateRequestIdLayer::new(middleware::REQUEST_ID))
        .layer(SetRequestIdLayer::new(middleware::REQUEST_ID, MakeRequestUuid))
        .layer(from_fn(middleware::sound_request_id))
        .layer(from_fn_with_state(app.clone(), middleware::secure))
        .with_state(app)
}

/// The reference is a library's, which says no without a word.
async fn nothing_in_the_reference(response: Response) -> Response {
    match response.status() {
        StatusCode::BAD_REQUEST | StatusCode::NOT_FOUND => {
            Refusal::NotFound("The reference has no such file; it begins at /reference/.".into()).into_response()
        }
        _ => response,
    }
}

async fn wrong_method(request: Request) -> Refusal {
    let method: String = request.method().as_str().chars().take(20).collect();
    Refusal::MethodNotAllowed(format!("{method} is not taken at {}; the Allow header says what is.", request.uri().path()))
}
