//! A PostgreSQL server of its own for tests that need one, ended by its own handle.
//!
//! It is Debian's, runs in a spare folder on a free port of this machine, keeps its promises (`fsync` stays on), and trusts
//! whoever asks, since nobody else reaches it. Where the tests run as root it runs as Debian's user `postgres`, because it
//! refuses to run as root.

use std::fs::{self, File};
use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError, Weak};
use std::time::{Duration, Instant};

use tempfile::TempDir;

use crate::process::{free_port, spare_folder};
use crate::tree::read_text;

/// Longest wait for a start or an end. Both take about a second; a busy machine gets more.
const PATIENCE: Duration = Duration::from_secs(60);

/// Where Debian keeps the programs of PostgreSQL, by major version.
const PROGRAMS: &str = "/usr/lib/postgresql";

/// The one superuser of the server.
const USER: &str = "toile";

/// A running server.
pub struct Postgres {
    programs: PathBuf,
    /// Owner of the server's files where the tests run as root.
    servant: Option<(u32, u32)>,
    folder: TempDir,
    port: u16,
    running: Mutex<Option<Running>>,
    databases: AtomicU32,
}

/// The server's process. It was started by a thread of its own that lives as long: the server is told to stop when the thread
/// that started it ends, and so it does even where the tests are killed.
struct Running {
    child: Child,
    _keeper: Sender<()>,
}

/// An empty database of a server; dropped with its handle.
pub struct Database {
    server: Arc<Postgres>,
    name: String,
}

impl Postgres {
    /// The server that tests share which only need a database of their own. It ends with the last of them.
    pub fn shared() -> Arc<Self> {
        static SHARED: Mutex<Weak<Postgres>> = Mutex::new(Weak::new());
        let mut shared = SHARED.lock().unwrap_or_else(PoisonError::into_inner);
        shared.upgrade().unwrap_or_else(|| {
            let server = Self::start();
            *shared = Arc::downgrade(&server);
            server
        })
    }

    /// Starts a server of its own, for a test that will stop it on the way.
    pub fn start() -> Arc<Self> {
        let folder = spare_folder();
        let servant = servant();
        if let Some((user, group)) = servant {
            chown(folder.path(), Some(user), Some(group)).expect("root may give a folder away");
        }
        fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o700)).expect("the folder is ours");
        let server =
            Self { programs: programs(), servant, folder, port: free_port(), running: Mutex::new(None), databases: AtomicU32::new(0) };
        // Only the making of empty tables goes without syncing; nothing is promised to anybody yet.
        let made = server
            .command("initdb")
            .arg("-D")
            .arg(server.data())
            .args(["-U", USER, "-A", "trust", "-E", "UTF8", "--no-locale", "--no-sync"])
            .output()
            .expect("setpriv runs");
        assert!(made.status.success(), "initdb: {}", String::from_utf8_lossy(&made.stderr));
        server.resume();
        Arc::new(server)
    }

    /// Starts it again, on the same port with the same databases.
    pub fn resume(&self) {
        let mut running = self.lock();
        assert!(running.is_none(), "it runs already");
        let log = File::options().create(true).append(true).open(self.log()).expect("room for a log");
        let mut command = self.command("postgres");
        command
            .arg("-D")
            .arg(self.data())
            .args(["-p", &self.port.to_string(), "-c", "listen_addresses=127.0.0.1", "-c", "unix_socket_directories="])
            .stdout(Stdio::null())
            .stderr(log);
        let (child_out, child_in) = channel();
        let (keeper, kept): (Sender<()>, Receiver<()>) = channel();
        std::thread::spawn(move || {
            let _ = child_out.send(command.spawn().expect("setpriv runs"));
            // Until the handle lets go.
            let _ = kept.recv();
        });
        let mut child = child_in.recv().expect("a started server");
        let until = Instant::now() + PATIENCE;
        while !self.asked("postgres", "select 1").is_ok_and(|answer| answer == "1") {
            let ended = child.try_wait().expect("a child can be asked about");
            assert!(ended.is_none() && Instant::now() < until, "PostgreSQL did not start: {}", read_text(&self.log()));
            std::thread::sleep(Duration::from_millis(50));
        }
        *running = Some(Running { child, _keeper: keeper });
    }

    /// Stops it; whoever is connected is cut off. The databases stay.
    pub fn stop(&self) {
        self.end("INT");
    }

    /// Ends it without any leave-taking, as a power cut does.
    pub fn crash(&self) {
        self.end("QUIT");
    }

    /// A fresh database.
    pub fn database(self: &Arc<Self>) -> Database {
        let name = format!("test_{}", self.databases.fetch_add(1, Ordering::Relaxed));
        self.ask("postgres", &format!("create database {name}"));
        Database { server: self.clone(), name }
    }

    fn end(&self, signal: &str) {
        let Some(mut running) = self.lock().take() else { return };
        let _ = Command::new("kill").arg(format!("-{signal}")).arg(running.child.id().to_string()).status();
        let until = Instant::now() + PATIENCE;
        while running.child.try_wait().expect("a child can be asked about").is_none() {
            if Instant::now() > until {
                let _ = running.child.kill();
                let _ = running.child.wait();
                return;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Option<Running>> {
        self.running.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn data(&self) -> PathBuf {
        self.folder.path().join("data")
    }

    fn log(&self) -> PathBuf {
        self.folder.path().join("log")
    }

    #[track_caller]
    fn ask(&self, database: &str, statement: &str) -> String {
        self.asked(database, statement).unwrap_or_else(|why| panic!("{statement}: {why}"))
    }

    fn asked(&self, database: &str, statement: &str) -> Result<String, String> {
        let answer = self
            .command("psql")
            .args(["-X", "-A", "-t", "-q", "-v", "ON_ERROR_STOP=1", "-h", "127.0.0.1", "-U", USER])
            .args(["-p", &self.port.to_string(), "-d", database, "-c", statement])
            .output()
            .expect("setpriv runs");
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).trim().to_owned();
        if answer.status.success() { Ok(text(&answer.stdout)) } else { Err(text(&answer.stderr)) }
    }

    /// One of its programs, as the user that it runs as.
    fn command(&self, program: &str) -> Command {
        let mut command = Command::new("setpriv");
        command.args(["--pdeathsig", "INT"]);
        if let Some((user, group)) = self.servant {
            command.arg(format!("--reuid={user}")).arg(format!("--regid={group}")).arg("--clear-groups");
        }
        command.arg(self.programs.join(program)).current_dir(self.folder.path()).stdin(Stdio::null());
        for (name, _) in std::env::vars_os().filter(|(name, _)| name.to_string_lossy().starts_with("PG")) {
            command.env_remove(name);
        }
        command
    }
}

impl Drop for Postgres {
    fn drop(&mut self) {
        self.end("INT");
    }
}

impl Database {
    /// Its address, as `--database` takes it.
    pub fn url(&self) -> String {
        format!("postgres://{USER}@127.0.0.1:{}/{}", self.server.port, self.name)
    }

    /// The server that it lies on.
    pub fn server(&self) -> &Postgres {
        &self.server
    }

    /// What a statement says: columns parted by `|`, rows by line ends.
    #[track_caller]
    pub fn ask(&self, statement: &str) -> String {
        self.server.ask(&self.name, statement)
    }
}

impl Drop for Database {
    fn drop(&mut self) {
        // A server that is stopped, or goes with this handle, keeps it for as long as it is there itself.
        let _ = self.server.asked("postgres", &format!("drop database {} with (force)", self.name));
    }
}

/// The newest programs on this machine.
fn programs() -> PathBuf {
    let installed = fs::read_dir(PROGRAMS).into_iter().flatten().filter_map(|entry| {
        let path = entry.ok()?.path();
        let version: u32 = path.file_name()?.to_str()?.parse().ok()?;
        path.join("bin/initdb").is_file().then(|| (version, path.join("bin")))
    });
    let newest = installed.max_by_key(|(version, _)| *version);
    newest.unwrap_or_else(|| panic!("no PostgreSQL in {PROGRAMS}; Debian's package is postgresql")).1
}

/// Debian's user for the server, by the owner of its home, where the tests run as root.
fn servant() -> Option<(u32, u32)> {
    let me = fs::metadata("/proc/self").expect("Linux").uid();
    let home = || fs::metadata(Path::new("/var/lib/postgresql")).expect("Debian's package makes the user and its home");
    (me == 0).then(home).map(|home| (home.uid(), home.gid()))
}
