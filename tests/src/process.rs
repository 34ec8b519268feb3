//! The real binary: built once, run on a free port, ended by its own handle.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use tempfile::TempDir;

use crate::service::Service;
use crate::tree::{read_text, root};

/// The path of the binary, built on first use in the profile of this test run.
///
/// The whole workspace is named, so that the features of its dependencies are those of the test build and next to
/// nothing is built twice.
pub fn binary() -> &'static Path {
    static BINARY: OnceLock<PathBuf> = OnceLock::new();
    BINARY.get_or_init(|| {
        let mut cargo = Command::new(env!("CARGO"));
        cargo.current_dir(root()).args(["build", "--offline", "--workspace", "--bin", "toile", "--message-format=json"]);
        if !cfg!(debug_assertions) {
            cargo.arg("--release");
        }
        let built = cargo.stderr(Stdio::piped()).output().expect("cargo runs");
        assert!(built.status.success(), "{}", String::from_utf8_lossy(&built.stderr));
        let messages = String::from_utf8(built.stdout).expect("cargo writes UTF-8");
        messages
            .lines()
            .filter_map(|line| serde_json::from_str::<serde_json::Value>(line).ok())
            .filter(|message| message["target"]["name"] == "toile")
            .find_map(|message| message["executable"].as_str().map(PathBuf::from))
            .expect("cargo tells where the binary lies")
    })
}

/// A folder of its own, removed when it goes out of scope.
pub fn spare_folder() -> TempDir {
    tempfile::tempdir().expect("room for a folder")
}

/// A port that was free a moment ago.
pub fn free_port() -> u16 {
    let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a free port");
    listener.local_addr().expect("the address just bound").port()
}

/// Looks again and again, for up to a minute, until there is something to see.
#[track_caller]
pub fn wait_for<T>(mut look: impl FnMut() -> Option<T>) -> T {
    let until = Instant::now() + Duration::from_secs(60);
    loop {
        if let Some(found) = look() {
            return found;
        }
        assert!(Instant::now() < until, "it did not come");
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// A command of the binary with no setting taken from this machine's environment.
fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(binary());
    for (name, _) in std::env::vars_os().filter(|(name, _)| name.to_string_lossy().starts_with("TOILE_")) {
        command.env_remove(name);
    }
    command.args(arguments).stdin(Stdio::null());
    command
}

/// Runs the binary to its end.
pub fn run(arguments: &[&str], environment: &[(&str, &str)]) -> Output {
    command(arguments).envs(environment.iter().copied()).output().expect("the binary runs")
}

/// `toile batch` on these bytes through standard input and output.
pub fn batch_command(sheet: &[u8]) -> Output {
    let mut child = command(&["batch", "-", "-o", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the binary runs");
    let mut input = child.stdin.take().expect("a piped standard input");
    let sheet = sheet.to_vec();
    // A pipe holds little: writing and reading must go on at the same time.
    let writer = std::thread::spawn(move || {
        use std::io::Write;
        // A command that refuses the sheet stops reading it; what it says then is what the test looks at.
        let _ = input.write_all(&sheet);
    });
    let output = child.wait_with_output().expect("the binary ends");
    writer.join().expect("a writer that does not panic");
    output
}

/// A running service.
pub struct Process {
    child: Child,
    service: Service,
    /// The line that told the address.
    pub announcement: String,
    data: TempDir,
}

/// Longest wait for a start or an end. Both take well under a second; a busy machine gets more.
const PATIENCE: Duration = Duration::from_secs(30);

impl Process {
    /// Starts `toile` with these arguments and settings and waits until it tells its address.
    ///
    /// A data folder of its own is added; the address must come from the arguments or the settings.
    pub fn start(arguments: &[&str], environment: &[(&str, &str)]) -> Self {
        let data = spare_folder();
        let log = data.path().join("log");
        let mut child = command(arguments)
            .env("TOILE_DATA", data.path())
            .envs(environment.iter().copied())
            .stdout(Stdio::piped())
            // A file, because nobody reads a pipe while the test goes on, and a full one would stop the service.
            .stderr(File::create(&log).expect("room for a log"))
            .spawn()
            .expect("the binary runs");
        let mut line = String::new();
        let told = BufReader::new(child.stdout.take().expect("a piped standard output")).read_line(&mut line);
        let address = line.split_once("http://").and_then(|(_, rest)| rest.trim_end().trim_end_matches('/').parse().ok());
        let (Ok(_), Some(address)) = (told, address) else {
            let _ = child.kill();
            let _ = child.wait();
            panic!("the service did not tell its address, but {line:?}; its log: {}", read_text(&log));
        };
        Self { child, service: Service::at(address), announcement: line.trim_end().to_owned(), data }
    }

    /// Starts it on a free port of this machine.
    pub fn on_free_port() -> Self {
        Self::start(&["serve", "--listen", "127.0.0.1:0"], &[])
    }

    /// How to ask it.
    pub const fn service(&self) -> &Service {
        &self.service
    }

    /// The folder that its data lies in.
    pub fn data(&self) -> &Path {
        self.data.path()
    }

    /// What it has logged so far.
    pub fn log(&self) -> String {
        read_text(&self.data.path().join("log"))
    }

    /// Asks it to stop, as a service manager does.
    pub fn ask_to_stop(&self) {
        let told = Command::new("kill").arg("-TERM").arg(self.child.id().to_string()).status().expect("kill runs");
        assert!(told.success(), "the process is there to be told");
    }

    /// Ends it at once, as a crash or a power cut would.
    pub fn kill(mut self) {
        self.child.kill().expect("the process is there to be killed");
        self.child.wait().expect("a child can be waited for");
    }

    /// Lets the files that it writes grow no further than this, from now on: to it, that is a full disk.
    pub fn limit_files(&self, bytes: Option<u64>) {
        let most = bytes.map_or_else(|| "unlimited".to_owned(), |bytes| bytes.to_string());
        // Only the soft limit: the hard one could not be taken back.
        let limit = format!("--fsize={most}:");
        let set = Command::new("prlimit").arg("--pid").arg(self.child.id().to_string()).arg(limit).status().expect("prlimit runs");
        assert!(set.success(), "the process is there to be limited");
    }

    /// Waits for its end: the exit code, `None` where a signal ended it.
    #[track_caller]
    pub fn wait(&mut self) -> Option<i32> {
        let until = Instant::now() + PATIENCE;
        loop {
            if let Some(status) = self.child.try_wait().expect("a child can be asked about") {
                return status.code();
            }
            assert!(Instant::now() < until, "the service has not stopped after {PATIENCE:?}");
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

/// A running `toile work`.
pub struct Worker {
    child: Child,
    folder: TempDir,
}

impl Worker {
    /// Starts it with these arguments and settings.
    pub fn start(arguments: &[&str], environment: &[(&str, &str)]) -> Self {
        let folder = spare_folder();
        let log = File::create(folder.path().join("log")).expect("room for a log");
        let mut command = command(&["work"]);
        let child = command.args(arguments).envs(environment.iter().copied()).stdout(Stdio::null()).stderr(log).spawn();
        Self { child: child.expect("the binary runs"), folder }
    }

    /// What it has logged so far.
    pub fn log(&self) -> String {
        read_text(&self.folder.path().join("log"))
    }

    /// Ends it without any leave-taking.
    pub fn kill(&mut self) {
        self.child.kill().expect("a child of ours");
        self.child.wait().expect("a child of ours");
    }

    /// Asks it to stop, as a service manager does, and waits for its end: the exit code, `None` where a signal ended it.
    pub fn stop(mut self) -> Option<i32> {
        let told = Command::new("kill").arg("-TERM").arg(self.child.id().to_string()).status().expect("kill runs");
        assert!(told.success(), "the process is there to be told");
        let until = Instant::now() + PATIENCE;
        loop {
            if let Some(status) = self.child.try_wait().expect("a child can be asked about") {
                return status.code();
            }
            assert!(Instant::now() < until, "the worker has not stopped after {PATIENCE:?}; its log: {}", self.log());
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        // Already gone is as good as killed.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        // Already gone is as good as killed.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
