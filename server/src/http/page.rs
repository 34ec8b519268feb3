//! The page, from the binary alone.

use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use rust_embed::{EmbeddedFile, RustEmbed};

use crate::api::problem::Refusal;
use crate::app::App;

#[derive(RustEmbed)]
#[folder = "../web"]
#[exclude = "pictures/*"]
struct Web;

/// Where the form for showing within another page lives.
pub const EMBED: &str = "/embed";

/// The form for showing within another page: the page itself, told so and dressed slimmer. Which pages may show it stands in the
/// security policy, and once more in the page, which answers messages of those only.
pub async fn embed_page(State(app): State<App>) -> Response {
    let page = Web::get("index.html").map(|file| String::from_utf8_lossy(&file.data).into_owned()).unwrap_or_default();
    let told = format!(
        "  <meta name=\"toile-embed-origins\" content=\"{}\">\n  <meta name=\"robots\" content=\"noindex\">\n  \
         <link rel=\"stylesheet\" href=\"/embed.css\">\n</head>",
        app.portal.embed_origins.join(" ")
    );
    let headers = [(header::CONTENT_TYPE, "text/html; charset=utf-8"), (header::CACHE_CONTROL, "no-cache")];
    (headers, page.replacen("</head>", &told, 1)).into_response()
}

/// Serves a file of the page, or says that nothing is there.
pub async fn page_file(request: Request) -> Response {
    let path = request.uri().path();
    let name = if path == "/" { "index.html" } else { path.trim_start_matches('/') };
    match Web::get(name) {
        Some(file) => file_answer(name, &file, request.headers()),
        None => {
            let shown: String = path.chars().take(200).collect();
            Refusal::NotFound(format!("Nothing lives at {shown}; the page is at /, the API under /api/v1, its reference at /reference."))
                .into_response()
        }
    }
}

fn file_answer(name: &str, file: &EmbeddedFile, asked: &HeaderMap) -> Response {
    let hash = file.metadata.sha256_hash();
    let tag = hash[..8].iter().fold(String::from("\""), |tag, byte| tag + &format!("{byte:02x}")) + "\"";
    let mut headers = HeaderMap::new();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(media_type(name)));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-cache"));
    let fresh = asked.get(header::IF_NONE_MATCH).is_some_and(|v| names(v.to_str().unwrap_or_default(), &tag));
    if let Ok(tag) = HeaderValue::from_str(&tag) {
        headers.insert(header::ETAG, tag);
    }
    if fresh { (StatusCode::NOT_MODIFIED, headers).into_response() } else { (headers, file.data.to_vec()).into_response() }
}

fn media_type(name: &str) -> &'static str {
    match name.rsplit_once('.').map(|(_, ending)| ending) {
        Some("html") => "text/html; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("json") => "application/json",
        Some("svg") => "image/svg+xml",
        _ => "application/octet-stream",
    }
}

/// Whether the tags that a cache holds name this one: any of a list, weak or not, or `*` (RFC 9110, 13.1.2).
fn names(held: &str, tag: &str) -> bool {
    held.split(',').map(str::trim).any(|one| one == "*" || one.trim_start_matches("W/") == tag)
}
