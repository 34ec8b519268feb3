//! Addresses: whatever path and query are asked for, the answer is a success or a problem after RFC 9457 that is the asker's.

use std::path::Path;

use axum::Router;
use axum::body::{Body, Bytes, to_bytes};
use axum::http::{HeaderMap, Method, Request, StatusCode, Uri, header};
use clap::Parser;
use serde_json::Value;
use toile::api::examples::EXAMPLES;
use toile::app::App;
use toile::config::{Cli, Limits};
use toile::http::router;
use toile::store::Store;
use toile_model::LIBRARY;
use tokio::runtime::Runtime;
use tower::ServiceExt;

/// What is posted where an address begins so: nothing else is, because what was kept would change the answers to come.
const POSTED: [(&str, &str); 3] =
    [("/api/v1/estimates", "estimate_create"), ("/api/v1/pictures/", "charge_draw"), ("/api/v1/batches", "batch_answer")];

/// What is kept before the first address is asked for: name in an address, where it is made, and by which example.
const KEPT: [(&str, &str, &str); 3] = [
    ("{quote}", "/api/v1/quotes", "quote_create"),
    ("{job}", "/api/v1/jobs", "job_create"),
    ("{webhook}", "/api/v1/webhooks", "webhook_create"),
];

/// Most bytes of an answer; the templates and the reference are the largest.
const MOST_BYTES: usize = 64 * 1024 * 1024;

/// The whole service but for its port, with a quote, a job and a webhook in it.
pub struct Addresses {
    runtime: Runtime,
    router: Router,
    /// Ids by the names that stand for them, so that an address is the same in every run.
    ids: Vec<(&'static str, String)>,
}

impl Addresses {
    /// A service with a new database in this folder.
    pub fn in_folder(folder: &Path) -> Self {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
        let limits = Limits::from(&Cli::try_parse_from(["toile"]).expect("no argument is needed").serve);
        let store = runtime.block_on(Store::open_folder(folder)).expect("a database of its own");
        let router = {
            // Some parts of the service start tasks when it is made.
            let _inside = runtime.enter();
            router(App::new(limits, LIBRARY.clone(), store))
        };
        let mut addresses = Self { runtime, router, ids: Vec::new() };
        for (name, address, example) in KEPT {
            let (status, _, body) = addresses.ask(Method::POST, address.parse().expect("an address"), Some(example));
            assert!(status.is_success(), "{}", String::from_utf8_lossy(&body));
            let kept: Value = serde_json::from_slice(&body).expect("what was kept");
            // A webhook is told beside its secret.
            let id = kept["id"].as_str().or(kept["webhook"]["id"].as_str());
            addresses.ids.push((name, id.expect("an id").to_owned()));
        }
        addresses
    }

    /// Any bytes as an address to be asked for; to be posted to where they begin with `POST `.
    pub fn hold(&self, data: &[u8]) {
        let (method, rest) = data.strip_prefix(b"POST ").map_or((Method::GET, data), |rest| (Method::POST, rest));
        let Ok(uri) = Uri::try_from(self.with_ids(rest)) else { return };
        let posted = POSTED.iter().find(|(start, _)| uri.path().starts_with(start)).map(|(_, example)| *example);
        if method == Method::POST && posted.is_none() {
            return;
        }
        let (status, headers, body) = self.ask(method, uri, posted);
        let header = |name: header::HeaderName| headers.get(name).map_or("", |value| value.to_str().expect("plain text"));
        let shown = || String::from_utf8_lossy(&body[..body.len().min(2000)]).into_owned();
        assert_eq!(header(header::X_CONTENT_TYPE_OPTIONS), "nosniff");
        assert!(!status.is_server_error() && !status.is_informational(), "{status}: {}", shown());
        if status.is_client_error() {
            assert_eq!(header(header::CONTENT_TYPE), "application/problem+json", "{status}: {}", shown());
            hold_problem(status, &body);
        } else if header(header::CONTENT_TYPE).starts_with("application/json") {
            assert!(serde_json::from_slice::<Value>(&body).is_ok(), "{}", shown());
        }
    }

    fn with_ids(&self, address: &[u8]) -> Vec<u8> {
        let mut address = address.to_vec();
        for (name, id) in &self.ids {
            if let Some(at) = address.windows(name.len()).position(|part| part == name.as_bytes()) {
                drop(address.splice(at..at + name.len(), id.bytes()));
            }
        }
        address
    }

    fn ask(&self, method: Method, uri: Uri, example: Option<&str>) -> (StatusCode, HeaderMap, Bytes) {
        let example = EXAMPLES.iter().find(|(id, ..)| method == Method::POST && Some(*id) == example);
        let (media_type, body) = example.map_or(("", ""), |(_, media_type, body)| (*media_type, *body));
        let request = Request::builder().method(method).uri(uri).header(header::CONTENT_TYPE, media_type);
        let request = request.body(Body::from(body)).expect("a request");
        self.runtime.block_on(async {
            let (head, body) = self.router.clone().oneshot(request).await.unwrap_or_else(|never| match never {}).into_parts();
            (head.status, head.headers, to_bytes(body, MOST_BYTES).await.expect("the answer arrives whole"))
        })
    }
}

/// A problem has all its members, and the status that it came with.
fn hold_problem(status: StatusCode, body: &[u8]) {
    let problem: Value = serde_json::from_slice(body).expect("a problem is JSON");
    let text = |of: &Value, name: &str| assert!(of[name].as_str().is_some_and(|text| !text.is_empty()), "{name} in {problem}");
    assert_eq!(problem["status"], status.as_u16(), "{problem}");
    ["type", "title", "detail"].into_iter().for_each(|name| text(&problem, name));
    for error in problem["errors"].as_array().expect("errors") {
        ["message", "allowed"].into_iter().for_each(|name| text(error, name));
        assert!(error["pointer"].is_string(), "{problem}");
    }
}
