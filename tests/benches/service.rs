//! The service against plain yardsticks, as ratios taken in one run. Run with `cargo bench -p toile-tests`; with
//! `-- --short` each measurement is cut to a smoke run.
//!
//! - requests per second of `estimates` against a bare handler that echoes a body: one of the size of the request, one
//!   of the size of the answer; service, yardstick and load each a process of their own on loopback;
//! - batch rows per second by closed form against reading and writing the same file with the `csv` crate, and by the field,
//!   with the most memory held;
//! - start to first answer, and memory at rest.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use axum::body::Bytes;
use axum::routing::post;
use toile_tests::{binary, spare_folder};

mod common;

use common::{Served, median, memory_mib, serve_yardstick};

const DEMO: &str = include_str!("../../web/demo.json");

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if arguments.iter().any(|a| a == "--yardstick") {
        return serve_yardstick(axum::Router::new().route("/echo", post(|body: Bytes| async move { body })));
    }
    let short = arguments.iter().any(|a| a == "--short");
    let toile = binary();
    requests(if short { Duration::from_millis(300) } else { Duration::from_secs(3) }, if short { 1 } else { 5 });
    batch(toile, if short { 20_000 } else { 1_000_000 }, if short { 1 } else { 3 });
    batch_by_the_field(toile, if short { 2_000 } else { 100_000 });
    start(if short { 2 } else { 10 });
    at_rest();
}

fn request(path: &str, body: &[u8]) -> Vec<u8> {
    let head =
        format!("POST {path} HTTP/1.1\r\nhost: localhost\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n", body.len());
    [head.as_bytes(), body].concat()
}

/// Sends one request and reads its answer to the end; the size of the answer's body.
fn ask(stream: &mut TcpStream, request: &[u8], buffer: &mut Vec<u8>) -> usize {
    stream.write_all(request).expect("it takes the request");
    buffer.clear();
    let mut chunk = [0; 65_536];
    loop {
        let count = stream.read(&mut chunk).expect("it answers");
        assert!(count > 0, "the connection closed");
        buffer.extend_from_slice(&chunk[..count]);
        let Some(head) = buffer.windows(4).position(|w| w == b"\r\n\r\n") else { continue };
        let text = std::str::from_utf8(&buffer[..head]).expect("a head of text");
        assert!(text.starts_with("HTTP/1.1 200"), "{text}");
        let length = text.lines().find_map(|l| l.strip_prefix("content-length: ")).and_then(|l| l.parse::<usize>().ok()).expect("a length");
        if buffer.len() >= head + 4 + length {
            return length;
        }
    }
}

/// Answers per second over 16 connections, each with one request at a time.
fn rate(address: SocketAddr, request: &[u8], time: Duration) -> f64 {
    let started = Instant::now();
    let total: usize = std::thread::scope(|scope| {
        let connections: Vec<_> = (0..16)
            .map(|_| {
                scope.spawn(|| {
                    let mut stream = TcpStream::connect(address).expect("it listens");
                    stream.set_nodelay(true).expect("a socket option");
                    let (mut buffer, mut count) = (Vec::new(), 0);
                    while started.elapsed() < time {
                        ask(&mut stream, request, &mut buffer);
                        count += 1;
                    }
                    count
                })
            })
            .collect();
        connections.into_iter().map(|c| c.join().expect("a connection")).sum()
    });
    total as f64 / started.elapsed().as_secs_f64()
}

fn requests(time: Duration, rounds: usize) {
    let service = Served::toile(&[]);
    let echo = Served::yardstick();
    let compact = serde_json::from_str::<serde_json::Value>(DEMO).expect("the demo").to_string();
    let estimate = request("/api/v1/estimates", compact.as_bytes());
    let mut stream = TcpStream::connect(service.address).expect("it listens");
    let answer = ask(&mut stream, &estimate, &mut Vec::new());
    let same_request = request("/echo", compact.as_bytes());
    let same_answer = request("/echo", &vec![b' '; answer]);
    let mut rates: [Vec<f64>; 3] = Default::default();
    for _ in 0..rounds {
        rates[0].push(rate(service.address, &estimate, time));
        rates[1].push(rate(echo.address, &same_request, time));
        rates[2].push(rate(echo.address, &same_answer, time));
    }
    let [estimates, small, large] = rates.each_ref().map(|r| median(r));
    let ratio = |k: usize| median(&rates[0].iter().zip(&rates[k]).map(|(a, b)| a / b).collect::<Vec<_>>());
    println!("requests: request {} bytes, answer {answer} bytes", compact.len());
    println!("  estimates                         {estimates:>9.0} /s");
    println!("  echo of a body like the request   {small:>9.0} /s   ratio {:.2}", ratio(1));
    println!("  echo of a body like the answer    {large:>9.0} /s   ratio {:.2}", ratio(2));
    println!("  memory after that load            {:>9.1} MiB", service.memory_mib("VmRSS:"));
}

/// A spreadsheet of `rows` pads, of which `distinct` differ.
fn sheet(path: &Path, rows: usize, distinct: usize, method: &str) {
    let mut out = csv::Writer::from_path(path).expect("a file");
    out.write_record([
        "patch",
        "customer",
        "ground",
        "base",
        "base thickness (mm)",
        "overlay",
        "overlay thickness (mm)",
        "diameter (mm)",
        "row spacing (mm)",
        "fill stitch length (mm)",
        "thread",
        "run length (mm)",
        "passes",
        "controller",
        "touch case",
        "method",
    ])
    .expect("a row");
    for k in 0..rows {
        let d = k % distinct;
        out.write_record([
            &format!("patch {k}"),
            "Bellweather Library",
            "sheet",
            "wool-felt",
            &format!("{:.1}", 2.0 + (d % 20) as f64 / 10.0),
            "wool-felt",
            "1.2",
            &format!("{:.4}", 12.0 + d as f64 * 30.0 / distinct as f64),
            "0.8",
            "3",
            "silver-polyamide-40-tex",
            &format!("{}", 100 + d % 200),
            "2",
            "patient-input",
            "battery",
            method,
        ])
        .expect("a row");
    }
    out.flush().expect("a file");
}

/// Seconds that `toile batch` takes, and the most memory it holds, MiB.
fn answer(toile: &Path, input: &Path, output: &Path) -> (f64, f64) {
    let started = Instant::now();
    let mut child = Command::new(toile).arg("batch").arg(input).arg("-o").arg(output).stderr(Stdio::null()).spawn().expect("it runs");
    let mut most_mib = 0.0f64;
    loop {
        if let Some(status) = child.try_wait().expect("a child can be asked about") {
            assert!(status.success());
            return (started.elapsed().as_secs_f64(), most_mib);
        }
        most_mib = most_mib.max(memory_mib(child.id(), "VmHWM:").unwrap_or(0.0));
        std::thread::sleep(Duration::from_millis(2));
    }
}

fn batch(toile: &Path, rows: usize, rounds: usize) {
    let folder = spare_folder();
    let (input, output) = (folder.path().join("in.csv"), folder.path().join("out.csv"));
    println!("batch by closed form, {rows} rows:");
    for (what, distinct) in [("200 designs over and over", 200), ("5000 designs over and over", 5000), ("every row another", rows)] {
        sheet(&input, rows, distinct, "closed_form");
        let (mut answered, mut copied, mut most_mib) = (Vec::new(), Vec::new(), 0.0f64);
        for _ in 0..rounds {
            let (seconds, mib) = answer(toile, &input, &output);
            answered.push(seconds);
            most_mib = most_mib.max(mib);
            let started = Instant::now();
            copy(&input, &output);
            copied.push(started.elapsed().as_secs_f64());
        }
        let ratio = median(&answered.iter().zip(&copied).map(|(a, b)| a / b).collect::<Vec<_>>());
        let rate = |times: &[f64]| rows as f64 / median(times);
        println!(
            "  {what:<28} {:>9.0} rows/s; csv crate alone {:>9.0} rows/s; ratio of times {ratio:.2}; {most_mib:.0} MiB at most",
            rate(&answered),
            rate(&copied)
        );
    }
}

fn batch_by_the_field(toile: &Path, rows: usize) {
    let folder = spare_folder();
    let (input, output) = (folder.path().join("in.csv"), folder.path().join("out.csv"));
    sheet(&input, rows, rows, "field");
    let (seconds, most_mib) = answer(toile, &input, &output);
    println!("batch by the field, {rows} rows, every round pad another, 20 stacks: {seconds:.1} s; {most_mib:.0} MiB at most");
}

/// Reads a file and writes it again with the `csv` crate, the yardstick of a batch.
fn copy(input: &Path, output: &Path) {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_path(input).expect("a file");
    let mut writer = csv::WriterBuilder::new().from_path(output).expect("a file");
    let mut record = csv::ByteRecord::new();
    while reader.read_byte_record(&mut record).expect("a row") {
        writer.write_byte_record(&record).expect("a row");
    }
    writer.flush().expect("a file");
}

fn start(rounds: usize) {
    let estimate = request("/api/v1/estimates", DEMO.as_bytes());
    let times: Vec<f64> = (0..rounds)
        .map(|_| {
            let started = Instant::now();
            let service = Served::toile(&[]);
            let mut stream = TcpStream::connect(service.address).expect("it listens");
            ask(&mut stream, &estimate, &mut Vec::new());
            started.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    println!("start to first answer: {:.1} ms (median of {rounds})", median(&times));
}

fn at_rest() {
    let service = Served::toile(&[]);
    std::thread::sleep(Duration::from_millis(300));
    println!("memory at rest: {:.1} MiB resident", service.memory_mib("VmRSS:"));
}
