//! What the benchmarks of the service share: processes that serve, and figures of them.

use std::io::{BufRead, BufReader, Read};
use std::net::SocketAddr;
use std::process::{Child, Command, Stdio};

use toile_tests::{binary, spare_folder};

/// A process that serves at an address it printed, with data of its own; ended with its handle.
pub struct Served {
    child: Child,
    /// Where it answers.
    pub address: SocketAddr,
    _data: tempfile::TempDir,
}

impl Served {
    /// The service, with these arguments beside.
    pub fn toile(arguments: &[&str]) -> Self {
        Self::start(Command::new(binary()).args(["serve", "--listen", "127.0.0.1:0"]).args(arguments))
    }

    /// The yardstick of this benchmark.
    pub fn yardstick() -> Self {
        Self::start(Command::new(std::env::current_exe().expect("a path")).arg("--yardstick"))
    }

    fn start(command: &mut Command) -> Self {
        let data = spare_folder();
        command.env("TOILE_DATA", data.path()).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut child = command.spawn().expect("it starts");
        let mut line = String::new();
        BufReader::new(child.stdout.as_mut().expect("a pipe")).read_line(&mut line).expect("it prints its address");
        let address = line.trim().trim_end_matches('/').rsplit('/').next().and_then(|a| a.parse().ok()).expect("an address");
        Self { child, address, _data: data }
    }

    /// A line of the process table, MiB.
    pub fn memory_mib(&self, line: &str) -> f64 {
        memory_mib(self.child.id(), line).expect("such a line")
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Serves a yardstick until standard input closes, then ends the process.
pub fn serve_yardstick(app: axum::Router) {
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    runtime.block_on(async {
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.expect("a port");
        println!("at http://{}/", listener.local_addr().expect("an address"));
        let closed = tokio::task::spawn_blocking(|| std::io::stdin().read_to_end(&mut Vec::new()));
        tokio::select! { outcome = async { axum::serve(listener, app).await } => outcome.expect("it serves"), _ = closed => {} }
    });
    std::process::exit(0);
}

/// A line of the process table, MiB; nothing where the process has just ended.
pub fn memory_mib(process: u32, line: &str) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|l| l.starts_with(line))?;
    line.split_whitespace().nth(1).and_then(|k| k.parse::<f64>().ok()).map(|kib| kib / 1024.0)
}

/// The one in the middle.
pub fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[sorted.len() / 2]
}
