//! A receiver of webhooks that does as it is told: takes, refuses, stalls, lies.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::{Arc, Condvar, Mutex};
use std::time::{Duration, Instant};

/// One request as it came.
#[derive(Debug, Clone)]
pub struct Heard {
    /// Method and path.
    pub line: String,
    /// Headers, their names in small letters.
    pub headers: BTreeMap<String, String>,
    /// Body.
    pub body: String,
}

impl Heard {
    /// A header's value; empty where there is none.
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", String::as_str)
    }
}

#[derive(Default)]
struct Told {
    heard: Mutex<Vec<Heard>>,
    more: Condvar,
}

/// A receiver on a port of its own for as long as the process lives.
pub struct Receiver {
    address: SocketAddr,
    told: Arc<Told>,
}

/// Longest wait for a request.
const PATIENCE: Duration = Duration::from_secs(40);

impl Receiver {
    /// Starts one on a free port. What it makes of each request, counted from 0, is written to the stream by `answer`.
    pub fn start(answer: impl Fn(usize, &mut TcpStream) + Send + Sync + 'static) -> Self {
        Self::start_at(TcpListener::bind("127.0.0.1:0").expect("a free port"), answer)
    }

    /// Starts one that listens already.
    pub fn start_at(listener: TcpListener, answer: impl Fn(usize, &mut TcpStream) + Send + Sync + 'static) -> Self {
        let address = listener.local_addr().expect("the address just bound");
        let (told, answer) = (Arc::new(Told::default()), Arc::new(answer));
        let noted = told.clone();
        // Neither thread is joined: they end with the process.
        std::thread::spawn(move || {
            for stream in listener.incoming().map_while(Result::ok) {
                let (noted, answer) = (noted.clone(), answer.clone());
                std::thread::spawn(move || {
                    let mut stream = stream;
                    let Some(heard) = read_request(&stream) else { return };
                    let mut all = noted.heard.lock().expect("no thread panics with it");
                    let turn = all.len();
                    all.push(heard);
                    noted.more.notify_all();
                    drop(all);
                    answer(turn, &mut stream);
                });
            }
        });
        Self { address, told }
    }

    /// One that takes everything.
    pub fn taking() -> Self {
        Self::start(|_, stream| reply(stream, "204 No Content"))
    }

    /// Where it listens.
    pub const fn address(&self) -> SocketAddr {
        self.address
    }

    /// An address to send to.
    pub fn url(&self) -> String {
        format!("http://{}/told", self.address)
    }

    /// All that it heard so far.
    pub fn heard(&self) -> Vec<Heard> {
        self.told.heard.lock().expect("no thread panics with it").clone()
    }

    /// Waits until it heard this many requests.
    #[track_caller]
    pub fn wait_for(&self, many: usize) -> Vec<Heard> {
        let until = Instant::now() + PATIENCE;
        let mut heard = self.told.heard.lock().expect("no thread panics with it");
        while heard.len() < many {
            let left = until.saturating_duration_since(Instant::now());
            assert!(!left.is_zero(), "{} of {many} requests came", heard.len());
            heard = self.told.more.wait_timeout(heard, left).expect("no thread panics with it").0;
        }
        heard.clone()
    }
}

/// Writes an answer without a body.
pub fn reply(stream: &mut TcpStream, status: &str) {
    let _ = stream.write_all(format!("HTTP/1.1 {status}\r\ncontent-length: 0\r\nconnection: close\r\n\r\n").as_bytes());
}

/// Says nothing until the other side hangs up.
pub fn stall(stream: &mut TcpStream) {
    let _ = stream.set_read_timeout(Some(PATIENCE));
    let _ = stream.read(&mut [0; 16]);
}

fn read_request(stream: &TcpStream) -> Option<Heard> {
    stream.set_read_timeout(Some(PATIENCE)).ok()?;
    let mut reader = BufReader::new(stream);
    let mut line = String::new();
    reader.read_line(&mut line).ok()?;
    let mut headers = BTreeMap::new();
    loop {
        let mut header = String::new();
        reader.read_line(&mut header).ok()?;
        let Some((name, value)) = header.trim_end().split_once(':') else { break };
        headers.insert(name.to_ascii_lowercase(), value.trim().to_owned());
    }
    let length = headers.get("content-length").and_then(|v| v.parse().ok()).unwrap_or(0);
    let mut body = vec![0; length];
    reader.read_exact(&mut body).ok()?;
    let line = line.trim_end().trim_end_matches(" HTTP/1.1").to_owned();
    (!line.is_empty()).then_some(Heard { line, headers, body: String::from_utf8(body).ok()? })
}
