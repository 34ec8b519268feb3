//! Connections: how many at once, how slow they may be, and how they end.
//!
//! HTTP/1.1 only. This service speaks no TLS, without which browsers speak nothing else, and a proxy in front of it does
//! not need more. So there is one request at a time on a connection, and a bound on connections is one on requests.

use std::convert::Infallible;
use std::io;
use std::net::SocketAddr;
use std::pin::pin;
use std::sync::Arc;
use std::sync::atomic::Ordering::Relaxed;
use std::time::Duration;

use axum::Router;
use axum::extract::{ConnectInfo, Request};
use axum::response::IntoResponse;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, watch};
use tokio_io_timeout::TimeoutStream;

use super::router::router;
use crate::api::problem::Refusal;
use crate::app::App;
use crate::config::Limits;

/// Answers were still under way when a stop could wait no longer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CutOff;

/// Connections beyond the most that are still told so in words; any more are closed.
const TOLD: usize = 64;

/// Longest time that telling them may take.
const TELLING: Duration = Duration::from_secs(1);

/// Largest head of a request, and largest piece of a body or an answer held for one connection.
const BUFFER_BYTES: usize = 64 * 1024;

/// Rest after a connection could not be accepted for want of something that others have to give back first.
const REST: Duration = Duration::from_millis(50);

/// Serves until `stop`, then lets answers under way end.
///
/// # Errors
/// [`CutOff`] where they did not end in time.
pub async fn serve(listener: TcpListener, app: App, stop: impl Future<Output = ()>) -> Result<(), CutOff> {
    let limits = app.limits;
    let router = router(app.clone());
    let places = Arc::new(Semaphore::new(limits.connections));
    let told = Arc::new(Semaphore::new(TOLD));
    let (closing, _) = watch::channel(());
    let mut stop = pin!(async {
        stop.await;
        tracing::info!("stopping: answers under way are finished first");
        app.traffic.stopping.store(true, Relaxed);
        tokio::time::sleep(limits.stop_notice).await;
    });
    loop {
        let (stream, peer) = tokio::select! {
            () = &mut stop => break,
            accepted = listener.accept() => match accepted {
                Ok(accepted) => accepted,
                Err(error) => {
                    after_failure(&error).await;
                    continue;
                }
            },
        };
        // Answers are written whole: waiting for more would only delay them.
        let _ = stream.set_nodelay(true);
        match places.clone().try_acquire_owned() {
            Ok(place) => drop(tokio::spawn(converse(stream, peer, router.clone(), place, app.clone(), closing.subscribe()))),
            Err(_) => {
                app.traffic.refused.fetch_add(1, Relaxed);
                if let Ok(place) = told.clone().try_acquire_owned() {
                    tokio::spawn(tell_full(stream, place));
                }
            }
        }
    }
    drop(listener);
    let _ = closing.send(());
    tokio::time::timeout(limits.stop, closing.closed()).await.map_err(|_| CutOff)
}

/// A client that left before it was accepted is its own affair; a lack of descriptors or memory passes when others end.
async fn after_failure(error: &io::Error) {
    use io::ErrorKind::{ConnectionAborted, ConnectionRefused, ConnectionReset};
    if !matches!(error.kind(), ConnectionAborted | ConnectionRefused | ConnectionReset) {
        tracing::warn!(%error, "a connection could not be accepted");
        tokio::time::sleep(REST).await;
    }
}

/// One connection, from its first request to its last.
async fn converse(
    stream: TcpStream,
    peer: SocketAddr,
    router: Router,
    place: OwnedSemaphorePermit,
    app: App,
    mut closing: watch::Receiver<()>,
) {
    app.traffic.connections.fetch_add(1, Relaxed);
    let inner = TowerToHyperService::new(router);
    let service = service_fn(move |mut request: Request<Incoming>| {
        request.extensions_mut().insert(ConnectInfo(peer));
        inner.call(request)
    });
    let mut connection = pin!(protocol(&app.limits).serve_connection(patient(stream, app.limits.silence), service));
    let outcome = tokio::select! {
        outcome = connection.as_mut() => outcome,
        _ = closing.changed() => {
            connection.as_mut().graceful_shutdown();
            connection.await
        }
    };
    app.traffic.connections.fetch_sub(1, Relaxed);
    if let Err(error) = outcome {
        // A client that writes nonsense, leaves or falls silent is no fault of the service.
        tracing::debug!(target: "toile::connection", %error, "a connection ended early");
    }
    drop((place, closing));
}

/// Tells one who found no place that there is none.
async fn tell_full(stream: TcpStream, place: OwnedSemaphorePermit) {
    let service = service_fn(|_: Request<Incoming>| async {
        let refusal = Refusal::Shed {
            detail: "As many connections are open as this service takes; see --connections.".into(),
            retry_after: Duration::from_secs(1),
        };
        Ok::<_, Infallible>(refusal.into_response())
    });
    let mut builder = http1::Builder::new();
    builder.timer(TokioTimer::new()).header_read_timeout(TELLING).max_buf_size(BUFFER_BYTES).keep_alive(false);
    let _ = tokio::time::timeout(TELLING, builder.serve_connection(patient(stream, TELLING), service)).await;
    drop(place);
}

fn protocol(limits: &Limits) -> http1::Builder {
    let mut builder = http1::Builder::new();
    builder.timer(TokioTimer::new()).header_read_timeout(limits.silence).max_buf_size(BUFFER_BYTES);
    builder
}

/// The stream, given up when the client takes nothing of what is written for as long as `silence`.
fn patient(stream: TcpStream, silence: Duration) -> TokioIo<std::pin::Pin<Box<TimeoutStream<TcpStream>>>> {
    let mut stream = TimeoutStream::new(stream);
    stream.set_write_timeout(Some(silence));
    TokioIo::new(Box::pin(stream))
}
