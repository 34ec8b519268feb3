//! A service inside the test process, and how to ask it.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::OnceLock;
use std::time::Duration;

use clap::Parser;
use reqwest::blocking::{Client, RequestBuilder};
use reqwest::header::{AUTHORIZATION, HeaderMap, HeaderValue};
use serde_json::Value;
use toile::app::App;
use toile::config::{Cli, Doors, Limits, Portal};
use toile::http::serve;
use toile::store::Store;
use toile::webhook::{Sending, send_deliveries};

use crate::answer::Answer;

/// A router that answers on a port of its own for as long as the process lives.
pub struct Service {
    address: SocketAddr,
    client: Client,
}

/// The service that all tests share which only ask. It has the limits that the binary starts with.
pub fn service() -> &'static Service {
    static SERVICE: OnceLock<Service> = OnceLock::new();
    SERVICE.get_or_init(|| Service::start(limits()))
}

/// The limits that the binary starts with.
pub fn limits() -> Limits {
    Limits::from(&Cli::try_parse_from(["toile"]).expect("no argument is needed").serve)
}

impl Service {
    /// Starts a service with these limits on a free port of this machine.
    pub fn start(limits: Limits) -> Self {
        Self::start_with(limits, Doors { loopback: true, everyone: false, origins: Vec::new() })
    }

    /// Starts a service with these limits and doors on a free port of this machine, whatever the doors say of where it is.
    pub fn start_with(limits: Limits, doors: Doors) -> Self {
        Self::start_as(limits, doors, Portal::default(), None)
    }

    /// Starts a service with a portal beside it, which tells webhooks what happens where it is said how.
    pub fn start_beside(limits: Limits, portal: Portal, sending: Option<Sending>) -> Self {
        Self::start_as(limits, Doors { loopback: true, everyone: false, origins: Vec::new() }, portal, sending)
    }

    fn start_as(limits: Limits, doors: Doors, portal: Portal, sending: Option<Sending>) -> Self {
        let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a free port");
        listener.set_nonblocking(true).expect("a listener for async use");
        let address = listener.local_addr().expect("the address just bound");
        // The thread is never joined: it ends with the process, and so does the port.
        std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().expect("threads");
            runtime.block_on(async move {
                let listener = tokio::net::TcpListener::from_std(listener).expect("a listener that was just bound");
                let folder = crate::process::spare_folder();
                let store = Store::open_folder(folder.path()).await.expect("a database of its own");
                if let Some(sending) = sending {
                    let (kept, stop) = tokio::sync::watch::channel(false);
                    // It sends until the process ends: nobody tells it to stop, and the one who could is kept for as long.
                    std::mem::forget(kept);
                    tokio::spawn(send_deliveries(store.clone(), sending, stop));
                }
                let app = App::new(limits, toile_model::LIBRARY.clone(), store).with_doors(doors).with_portal(portal);
                serve(listener, app, std::future::pending()).await.expect("a service that does not end");
            });
        });
        Self::at(address)
    }

    /// A service that already answers at this address.
    pub fn at(address: SocketAddr) -> Self {
        Self::with_headers(address, HeaderMap::new())
    }

    /// The same service, asked with this key from now on.
    pub fn keyed(&self, key: &str) -> Self {
        let value = HeaderValue::from_str(&format!("Bearer {key}")).expect("a key is plain text");
        Self::with_headers(self.address, HeaderMap::from_iter([(AUTHORIZATION, value)]))
    }

    fn with_headers(address: SocketAddr, headers: HeaderMap) -> Self {
        // No redirect is followed and no proxy asked: what is looked at is what this service itself says.
        let client = Client::builder()
            .redirect(reqwest::redirect::Policy::none())
            .no_proxy()
            .default_headers(headers)
            .timeout(Duration::from_secs(120))
            .build()
            .expect("a plain client");
        Self { address, client }
    }

    /// Where it answers.
    pub const fn address(&self) -> SocketAddr {
        self.address
    }

    /// The full address of a path.
    pub fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.address)
    }

    /// A request to be filled in further and sent with [`Service::send`].
    pub fn request(&self, method: &str, path: &str) -> RequestBuilder {
        self.client.request(method.parse().expect("a method"), self.url(path))
    }

    /// Sends a request and takes the answer in.
    #[track_caller]
    pub fn send(&self, request: RequestBuilder) -> Answer {
        Answer::of(request.send().unwrap_or_else(|error| panic!("no answer: {error:?}")))
    }

    /// GET.
    #[track_caller]
    pub fn get(&self, path: &str) -> Answer {
        self.send(self.request("GET", path))
    }

    /// POST of a JSON value.
    #[track_caller]
    pub fn post(&self, path: &str, body: &Value) -> Answer {
        self.post_bytes(path, "application/json", body.to_string())
    }

    /// POST of any bytes.
    #[track_caller]
    pub fn post_bytes(&self, path: &str, media_type: &str, body: impl Into<reqwest::blocking::Body>) -> Answer {
        self.send(self.request("POST", path).header("content-type", media_type).body(body))
    }

    /// The estimate of a piece that must be a good one.
    #[track_caller]
    pub fn estimate(&self, piece: &Value) -> Value {
        self.post("/api/v1/estimates", piece).ok()
    }

    /// A sheet with its answers.
    #[track_caller]
    pub fn batch(&self, sheet: impl Into<reqwest::blocking::Body>) -> Answer {
        self.post_bytes("/api/v1/batches", "text/csv", sheet)
    }
}

/// Sends bytes as they are and takes everything that comes back: head in small letters, and body.
///
/// The request must ask for `Connection: close`.
pub fn raw_exchange(address: SocketAddr, request: &str) -> (String, Vec<u8>) {
    let mut stream = TcpStream::connect(address).expect("the service answers");
    stream.set_read_timeout(Some(Duration::from_secs(60))).expect("a timeout that is not zero");
    stream.write_all(request.as_bytes()).expect("the request is taken");
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).expect("the answer ends");
    let end = bytes.windows(4).position(|w| w == b"\r\n\r\n").expect("a head");
    let head = String::from_utf8_lossy(&bytes[..end]).to_lowercase();
    (head, bytes.split_off(end + 4))
}
