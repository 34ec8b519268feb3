//! The binary `toile`: reads the settings, then serves or answers a batch.

use std::io::{self, IsTerminal, Write};
use std::net::SocketAddr;
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use clap::Parser;
use toile::app::App;
use toile::batch::run_batch;
use toile::command;
use toile::config::{Backup, Cli, Command, Doors, Key, KeyAdd, Limits, LogFormat, Portal, Saved, Serve, Work, Working};
use toile::http::{self, document};
use toile::jobs;
use toile::rates::{rates_of, settings_text};
use toile::store::{DATABASE_FILE, Store};
use toile::webhook::{Sending, send_deliveries};
use toile_model::LIBRARY;
use toile_model::materials::Library;
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::watch;
use tracing_subscriber::EnvFilter;

/// Longest time that a worker which is told to stop may take for the rows in hand.
const LAST_ROWS: Duration = Duration::from_secs(10);

fn main() -> ExitCode {
    let cli = Cli::parse();
    let outcome = match cli.command {
        None => serve(&cli.serve),
        Some(Command::Serve(settings)) => serve(&settings),
        Some(Command::Work(settings)) => work(&settings),
        Some(Command::Batch(settings)) => match shop(settings.rates.as_deref()).and_then(|shop| library(&shop)) {
            Ok(library) => return run_batch(&settings, &library),
            Err(why) => Err(why),
        },
        Some(Command::Backup(settings)) => backup(&settings),
        Some(Command::Key(what)) => key(&what),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("toile: {why}");
            ExitCode::FAILURE
        }
    }
}

fn serve(settings: &Serve) -> Result<(), String> {
    start_log(&settings.log, settings.log_format)?;
    let shop = shop(settings.rates.as_deref())?;
    let library = library(&shop)?;
    runtime()?.block_on(async {
        survive_full_files();
        let store = open_store(&settings.saved).await?;
        let keys = store.key_any().await.map_err(|fault| fault.to_string())?;
        let everyone = settings.open_to_everyone;
        if !settings.listen.ip().is_loopback() && !keys && !everyone {
            return Err(format!(
                "--listen {} reaches beyond this machine, and there are no keys. Make one with `toile key add NAME --role admin`, \
                or let in whoever reaches the port with --open-to-everyone.",
                settings.listen
            ));
        }
        let listener = TcpListener::bind(settings.listen)
            .await
            .map_err(|error| format!("cannot listen at {}: {error}. Choose another with --listen ADDRESS:PORT.", settings.listen))?;
        let address = listener.local_addr().map_err(|error| error.to_string())?;
        announce(address, keys);
        let doors = Doors { loopback: address.ip().is_loopback(), everyone, origins: settings.allow_origin.clone() };
        let limits = Limits::from(settings);
        let portal = Portal::from(&settings.portal);
        let app = App::new(limits, library, store.clone()).with_shop(&shop).with_doors(doors).with_portal(portal);
        let (stop, stopped) = watch::channel(false);
        let sender = tokio::spawn(send(store.clone(), Sending::from(&settings.portal), stopped.clone()));
        let workers = tokio::spawn(jobs::work(store.clone(), work_settings(&settings.working, 2), stopped));
        let stopped = async {
            stop_signal().await;
            let _ = stop.send(true);
        };
        let outcome = http::serve(listener, app, stopped).await;
        if tokio::time::timeout(limits.stop, workers).await.is_err() {
            tracing::warn!("rows of a job were still being worked on; another worker takes them");
        }
        // What is still under way is tried again by the next start: its claim runs out.
        let _ = tokio::time::timeout(limits.stop, sender).await;
        store.close().await;
        outcome.map_err(|_| format!("answers were still under way after {} seconds and were cut off", settings.stop_s))
    })
}

/// Works off jobs until told to stop.
fn work(settings: &Work) -> Result<(), String> {
    start_log(&settings.log, settings.log_format)?;
    runtime()?.block_on(async {
        survive_full_files();
        let store = open_store(&settings.saved).await?;
        let (stop, stopped) = watch::channel(false);
        let settings = work_settings(&settings.working, 1);
        tracing::info!(workers = settings.workers, "working off jobs");
        let workers = tokio::spawn(jobs::work(store.clone(), settings, stopped));
        stop_signal().await;
        tracing::info!("stopping: the rows in hand are finished first");
        let _ = stop.send(true);
        let outcome = tokio::time::timeout(LAST_ROWS, workers).await;
        store.close().await;
        outcome.map(|_| ()).map_err(|_| "rows were still being worked on and were left to others".into())
    })
}

/// How to work; where nothing is said, with a worker for so many cores.
fn work_settings(working: &Working, cores_each: usize) -> jobs::Settings {
    let usual = || (std::thread::available_parallelism().map_or(1, usize::from) / cores_each).max(1);
    jobs::Settings {
        workers: working.workers.map_or_else(usual, |workers| workers as usize),
        lease: Duration::from_secs(u64::from(working.lease_s)),
        kept: Duration::from_secs(u64::from(working.keep_jobs_days) * 24 * 60 * 60),
        library: Arc::new(library),
    }
}

fn runtime() -> Result<tokio::runtime::Runtime, String> {
    tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|error| format!("the threads of the service could not be started: {error}"))
}

fn key(what: &Key) -> Result<(), String> {
    let saved = match what {
        Key::Add(KeyAdd { saved, .. }) | Key::List { saved } | Key::Revoke { saved, .. } => saved,
    };
    let made = saved.database.is_none() && !saved.data.join(DATABASE_FILE).is_file();
    runtime()?.block_on(async {
        let store = open_store(saved).await?;
        let outcome = command::key::key(what, &store).await;
        store.close().await;
        if made {
            let folder = saved.data.display();
            eprintln!(
                "There was no database in {folder}, so one was made. A service with other settings (--data, --database) does not see it."
            );
        }
        outcome
    })
}

/// Tells others what happens. Where nothing can be sent the service answers all the same, and what happens waits.
async fn send(store: Store, sending: Sending, stop: watch::Receiver<bool>) {
    if let Err(why) = send_deliveries(store, sending, stop).await {
        tracing::error!(why, "no webhook is told anything until the next start");
    }
}

/// The database that the settings name, ready for use.
async fn open_store(saved: &Saved) -> Result<Store, String> {
    match &saved.database {
        // The address may hold a password: it is not repeated.
        Some(address) => Store::open_url(address).await.map_err(|fault| format!("--database: {fault}")),
        None => Store::open_folder(&saved.data).await.map_err(|fault| format!("--data {}: {fault}", saved.data.display())),
    }
}

/// The shop's own settings, where it has a file of them.
fn shop(rates: Option<&Path>) -> Result<String, String> {
    rates.map_or_else(|| Ok(String::new()), settings_text)
}

/// The library with the rates of a shop that has some.
fn library(shop: &str) -> Result<Library, String> {
    let library = LIBRARY.clone();
    if shop.is_empty() {
        return Ok(library);
    }
    Ok(Library { rates: rates_of(shop, &library, document::as_json)?, ..library })
}

/// Tells the address on standard output, once the port is open.
fn announce(address: SocketAddr, keys: bool) {
    let mut out = io::stdout();
    let told = writeln!(out, "Toile answers at http://{address}/").and_then(|()| out.flush());
    // Nobody reads it: the service serves all the same.
    if let Err(error) = told {
        tracing::debug!(%error, "the address could not be printed");
    }
    if !address.ip().is_loopback() && !keys {
        tracing::warn!(%address, "listening beyond this machine, without keys: anyone who reaches the port may use it");
    }
}

fn start_log(filter: &str, form: Option<LogFormat>) -> Result<(), String> {
    let filter = EnvFilter::try_new(filter).map_err(|error| format!("--log {filter}: {error}"))?;
    // A log that cannot be written (its disk is full) must not bring the service down: told on the same standard error, that
    // would be a panic.
    let log = tracing_subscriber::fmt().with_env_filter(filter).with_writer(io::stderr).log_internal_errors(false);
    let usual = || if io::stderr().is_terminal() { LogFormat::Text } else { LogFormat::Json };
    match form.unwrap_or_else(usual) {
        LogFormat::Json => log.json().flatten_event(true).with_span_list(false).init(),
        LogFormat::Text => log.init(),
    }
    Ok(())
}

/// A file that may grow no further is an error for who writes it; left alone, the system would end the process.
fn survive_full_files() {
    let limit_reached = SignalKind::from_raw(25);
    if let Err(error) = signal(limit_reached) {
        tracing::debug!(%error, "a full file will end the service");
    }
}

async fn stop_signal() {
    let interrupt = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    let terminate = async {
        match signal(SignalKind::terminate()) {
            Ok(mut signal) => drop(signal.recv().await),
            Err(_) => std::future::pending().await,
        }
    };
    tokio::select! { () = interrupt => {}, () = terminate => {} }
}

/// Copies the embedded database; a shared one has better means of its own.
fn backup(settings: &Backup) -> Result<(), String> {
    if settings.saved.database.is_some() {
        return Err(
            "--database: a PostgreSQL database is backed up by its own means, such as pg_dump; this command copies the embedded one".into(),
        );
    }
    let data = &settings.saved.data;
    if !data.join(DATABASE_FILE).is_file() {
        return Err(format!("--data {}: there is no database ({DATABASE_FILE}) in this folder", data.display()));
    }
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(|error| error.to_string())?;
    runtime.block_on(async {
        let store = Store::open_folder(data).await.map_err(|fault| format!("--data {}: {fault}", data.display()))?;
        store.backup(&settings.file).await.map_err(|fault| format!("cannot write {}: {fault}", settings.file.display()))?;
        store.close().await;
        Ok(())
    })
}
