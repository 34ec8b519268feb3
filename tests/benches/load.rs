//! The service under load, as ratios taken in one run. Run with `cargo bench -p toile-tests --bench load`; with `-- --short`
//! each measurement is cut to a smoke run.
//!
//! - estimates per second of the demo piece with 64 connections against a bare handler that only computes the same estimate;
//! - how long answers take at 70 % of that rate: p99 against p50;
//! - ten times the load that can be served: p99 of those let in against p99 of a service that is nearly idle, and memory;
//! - `-- --processes N`: estimates per second of N services side by side, for the table of sizes;
//! - `-- --workers N`: rows per second of a job over PostgreSQL with N worker processes of one thread each, every row another
//!   design, for the same table.
//!
//! Service, yardstick and load share the cores of one machine, so that rates are lower than with a machine for each; the
//! load asks for a bounded time over a bounded number of connections, on loopback.

use std::fmt::Write;
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use axum::routing::post;
use toile_model::{LIBRARY, Piece, estimate};
use toile_tests::{Postgres, Process, Worker};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

mod common;

use common::{Served, median, serve_yardstick};

const DEMO: &str = include_str!("../../web/demo.json");

/// Connections of a busy office.
const CONNECTIONS: usize = 64;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let value = |name: &str| arguments.iter().position(|a| a == name).and_then(|at| arguments.get(at + 1)).and_then(|v| v.parse().ok());
    if arguments.iter().any(|a| a == "--yardstick") {
        return yardstick();
    }
    let short = arguments.iter().any(|a| a == "--short");
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().expect("a runtime");
    let time = if short { Duration::from_millis(500) } else { Duration::from_secs(5) };
    if let Some(workers) = value("--workers") {
        return job_by(workers, if short { 10_000 } else { 400_000 });
    }
    if let Some(processes) = value("--processes") {
        return runtime.block_on(side_by_side(processes, time));
    }
    runtime.block_on(async {
        against_a_bare_handler(time, if short { 1 } else { 3 }).await;
        overloaded("the demo piece, warm", &demo, time).await;
        overloaded("another cover each time", &another_cover, time).await;
    });
}

/// A bare handler that computes the estimate of the demo piece and tells its chance, until its standard input closes.
fn yardstick() {
    let wire: toile::api::piece::Piece = serde_json::from_value(field()).expect("the demo is a piece");
    let piece = Arc::new(Piece::from(wire));
    let handler = move || {
        let piece = piece.clone();
        async move { estimate(&piece, &LIBRARY).expect("a good piece").chance.to_string() }
    };
    serve_yardstick(axum::Router::new().route("/api/v1/estimates", post(handler)));
}

/// A service that turns no connection of these loads away.
fn toile() -> Served {
    Served::toile(&["--connections", "2000"])
}

/// The demo piece, every capacitance solved.
fn field() -> serde_json::Value {
    let mut piece: serde_json::Value = serde_json::from_str(DEMO).expect("the demo");
    piece["method"] = "field".into();
    piece
}

fn request(piece: &serde_json::Value) -> Vec<u8> {
    let body = piece.to_string();
    let head = format!(
        "POST /api/v1/estimates HTTP/1.1\r\nhost: localhost\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n",
        body.len()
    );
    [head.as_bytes(), body.as_bytes()].concat()
}

/// The same request every time: after the first, everything is kept.
fn demo() -> Box<dyn Fn(u64) -> Vec<u8> + Send + Sync> {
    let request = request(&field());
    Box::new(move |_| request.clone())
}

/// A cover of another thickness every time: solved anew every time.
fn another_cover() -> Box<dyn Fn(u64) -> Vec<u8> + Send + Sync> {
    let piece = field();
    Box::new(move |k| {
        let mut piece = piece.clone();
        piece["stack"]["overlay"][0]["thickness_mm"]["value"] = (0.8 + (k % 100_000) as f64 * 1e-5).into();
        request(&piece)
    })
}

type Requests = Box<dyn Fn(u64) -> Vec<u8> + Send + Sync>;

struct Connection {
    stream: TcpStream,
    buffer: Vec<u8>,
}

impl Connection {
    async fn to(address: SocketAddr) -> Self {
        let stream = TcpStream::connect(address).await.expect("it listens");
        stream.set_nodelay(true).expect("a socket option");
        Self { stream, buffer: Vec::with_capacity(64 * 1024) }
    }

    /// Sends one request and reads its answer to the end: the status, and the seconds to come back after where it says so.
    async fn ask(&mut self, request: &[u8]) -> (u16, Option<u64>) {
        self.stream.write_all(request).await.expect("it takes the request");
        self.buffer.clear();
        loop {
            let count = self.stream.read_buf(&mut self.buffer).await.expect("it answers");
            assert!(count > 0, "the connection closed");
            let Some(head) = self.buffer.windows(4).position(|w| w == b"\r\n\r\n") else { continue };
            let text = std::str::from_utf8(&self.buffer[..head]).expect("a head of text");
            let header = |name: &str| text.lines().find_map(|l| l.strip_prefix(name)).and_then(|l| l.trim().parse::<u64>().ok());
            let length = header("content-length:").expect("a length") as usize;
            if self.buffer.len() >= head + 4 + length {
                let status = text.get(9..12).and_then(|s| s.parse().ok()).expect("a status");
                return (status, header("retry-after:"));
            }
        }
    }
}

/// What a load came to.
#[derive(Default)]
struct Outcome {
    /// Times of answers that were given, seconds, sorted.
    times: Vec<f64>,
    shed: usize,
    elapsed: f64,
}

impl Outcome {
    fn quantile(&self, part: f64) -> f64 {
        self.times.get(((self.times.len() as f64 * part) as usize).min(self.times.len().saturating_sub(1))).copied().unwrap_or(f64::NAN)
    }

    fn rate(&self) -> f64 {
        self.times.len() as f64 / self.elapsed
    }
}

/// Asks over `connections`, each with one request at a time.
///
/// Without a pace, the next is sent when the answer is there, and whoever is turned away comes back when he was told. With a pace
/// (requests a second over all connections), requests are due at even steps, and their time counts from when they were due. What is
/// answered within `ahead` of the start is not counted.
async fn load(
    address: SocketAddr,
    requests: &Arc<Requests>,
    connections: usize,
    pace: Option<f64>,
    ahead: Duration,
    time: Duration,
) -> Outcome {
    let started = Instant::now();
    static NUMBER: AtomicU64 = AtomicU64::new(0);
    let due = Arc::new(AtomicU64::new(0));
    let tasks: Vec<_> = (0..connections)
        .map(|_| {
            let (requests, due) = (requests.clone(), due.clone());
            tokio::spawn(async move {
                let mut connection = Connection::to(address).await;
                let mut outcome = Outcome::default();
                while started.elapsed() < ahead + time {
                    let mut from = Instant::now();
                    if let Some(pace) = pace {
                        from = started + Duration::from_secs_f64(due.fetch_add(1, Ordering::Relaxed) as f64 / pace);
                        tokio::time::sleep_until(from.into()).await;
                    }
                    let request = requests(NUMBER.fetch_add(1, Ordering::Relaxed));
                    if pace.is_none() {
                        from = Instant::now();
                    }
                    let (status, retry) = connection.ask(&request).await;
                    let counted = started.elapsed() >= ahead;
                    match status {
                        200 if counted => outcome.times.push(from.elapsed().as_secs_f64()),
                        200 => {}
                        503 => {
                            outcome.shed += usize::from(counted);
                            let rest = Duration::from_secs(retry.expect("a time to come back"));
                            tokio::time::sleep(rest.min((ahead + time).saturating_sub(started.elapsed()))).await;
                        }
                        other => panic!("status {other}"),
                    }
                }
                outcome
            })
        })
        .collect();
    let mut all = Outcome::default();
    for task in tasks {
        let one = task.await.expect("a connection");
        all.times.extend(one.times);
        all.shed += one.shed;
    }
    all.elapsed = (started.elapsed() - ahead).as_secs_f64();
    all.times.sort_by(f64::total_cmp);
    all
}

async fn against_a_bare_handler(time: Duration, rounds: usize) {
    let (service, bare) = (toile(), Served::yardstick());
    let requests = Arc::new(demo());
    let brief = Duration::from_millis(200);
    let (mut ours, mut theirs, mut ratios, mut waits) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for _ in 0..rounds {
        let served = load(service.address, &requests, CONNECTIONS, None, brief, time).await;
        assert_eq!(served.shed, 0, "{CONNECTIONS} connections are no flood");
        let computed = load(bare.address, &requests, CONNECTIONS, None, brief, time).await;
        ratios.push(served.rate() / computed.rate());
        let paced = load(service.address, &requests, CONNECTIONS, Some(0.7 * served.rate()), brief, time).await;
        waits.push((paced.quantile(0.5), paced.quantile(0.99)));
        ours.push(served.rate());
        theirs.push(computed.rate());
    }
    println!("estimates of the demo piece, field, warm, {CONNECTIONS} connections:");
    println!("  service                           {:>9.0} /s", median(&ours));
    println!("  bare handler, same estimate       {:>9.0} /s   ratio {:.2}", median(&theirs), median(&ratios));
    let [p50, p99] = [|w: &(f64, f64)| w.0, |w: &(f64, f64)| w.1].map(|f| median(&waits.iter().map(f).collect::<Vec<_>>()));
    let ratio = median(&waits.iter().map(|(p50, p99)| p99 / p50).collect::<Vec<_>>());
    println!("  at 70 % of that rate: p50 {:.2} ms, p99 {:.2} ms   ratio {ratio:.1}", p50 * 1e3, p99 * 1e3);
}

async fn overloaded(what: &str, requests: &dyn Fn() -> Requests, time: Duration) {
    let service = toile();
    let requests = Arc::new(requests());
    let brief = Duration::from_millis(200);
    let full = load(service.address, &requests, CONNECTIONS, None, brief, time).await;
    let idle = load(service.address, &requests, 4, Some(0.1 * full.rate()), brief, time).await;
    let rest = service.memory_mib("VmRSS:");
    // The first seconds are those in which a burst would still be taken for one.
    let flood = load(service.address, &requests, 10 * CONNECTIONS, None, Duration::from_secs(5), time).await;
    println!("{what}, {} connections, ten times as many as keep it busy:", 10 * CONNECTIONS);
    println!("  nearly idle: p50 {:.2} ms, p99 {:.2} ms", idle.quantile(0.5) * 1e3, idle.quantile(0.99) * 1e3);
    println!(
        "  flooded: {:.0} /s answered, {:.0} /s turned away, p50 {:.2} ms, p99 {:.2} ms   ratio of p99 {:.1}",
        flood.rate(),
        flood.shed as f64 / flood.elapsed,
        flood.quantile(0.5) * 1e3,
        flood.quantile(0.99) * 1e3,
        flood.quantile(0.99) / idle.quantile(0.99)
    );
    println!("  memory: {rest:.0} MiB before, {:.0} MiB at most", service.memory_mib("VmHWM:"));
}

async fn side_by_side(processes: usize, time: Duration) {
    let services: Vec<Served> = (0..processes).map(|_| toile()).collect();
    let requests = Arc::new(demo());
    let loads: Vec<_> = services
        .iter()
        .map(|service| {
            let (address, requests) = (service.address, requests.clone());
            tokio::spawn(
                async move { load(address, &requests, CONNECTIONS / processes, None, Duration::from_millis(200), time).await.rate() },
            )
        })
        .collect();
    let mut rate = 0.0;
    for load in loads {
        rate += load.await.expect("a load");
    }
    println!("{processes} processes: {rate:.0} estimates of the demo piece a second");
}

/// A job worked off by `workers` processes, timed from when it is taken in to when it is done.
fn job_by(workers: usize, rows: usize) {
    let database = Postgres::shared().database();
    let front = Process::start(&["serve", "--listen", "127.0.0.1:0", "--workers", "0", "--database", &database.url()], &[]);
    let mut sheet = "diameter_mm,base_1,base_1_thickness_mm,overlay_1,row_spacing_mm,thread,run_length_mm,passes,controller\n".to_owned();
    for k in 0..rows {
        let diameter = 12.0 + k as f64 * 20.0 / rows as f64;
        writeln!(sheet, "{diameter:.5},wool-felt,3,wool-felt,0.8,silver-polyamide-40-tex,180,2,patient-input")
            .expect("a text takes any text");
    }
    let job = front.service().post_bytes("/api/v1/jobs", "text/csv", sheet).ok();
    let look = format!("/api/v1/jobs/{}", job["id"].as_str().expect("an id"));
    let started = Instant::now();
    let _workers: Vec<Worker> = (0..workers).map(|_| Worker::start(&["--workers", "1", "--database", &database.url()], &[])).collect();
    while front.service().get(&look).ok()["state"] == "running" {
        assert!(started.elapsed() < Duration::from_secs(600), "the job does not end");
        std::thread::sleep(Duration::from_millis(100));
    }
    let done = &front.service().get(&look).ok()["counts"];
    assert_eq!(done["problems"], 0, "{done}");
    println!("{workers} workers: {:.0} rows of a job a second", rows as f64 / started.elapsed().as_secs_f64());
}
