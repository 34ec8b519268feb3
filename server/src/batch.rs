//! The command `toile batch`: files, standard streams, a bar on a terminal, and a stop that can be taken up again.

use std::io::{self, BufReader, BufWriter};
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use toile_model::materials::Library;

use crate::config::Batch;
use crate::usecase::batch::{Given, SheetFault, Summary, batch_any};
use crate::usecase::batch_file::{FileBatch, FileFault, Told, batch_file, form_of};

/// Rows had problems: told apart from success and from a file that cannot be used.
const SOME_PROBLEMS: u8 = 3;
/// Stopped by Ctrl-C, as shells number it.
const STOPPED: u8 = 130;

/// Runs the command.
pub fn run_batch(settings: &Batch, library: &Library) -> ExitCode {
    let bar = bar();
    let outcome = if is_dash(&settings.input) || is_dash(&settings.output) {
        streams(settings, library)
    } else {
        let batch = FileBatch { input: &settings.input, output: &settings.output, sheet: settings.sheet.as_deref() };
        batch_file(&batch, library, &stop_flag(), |told| show(&bar, told))
    };
    bar.finish_and_clear();
    match outcome {
        Ok(summary) => {
            tell(&summary);
            if summary.problems == 0 { ExitCode::SUCCESS } else { ExitCode::from(SOME_PROBLEMS) }
        }
        Err(FileFault::Sheet(SheetFault::Stopped)) => {
            eprintln!("toile: stopped; the same command goes on from here.");
            ExitCode::from(STOPPED)
        }
        Err(why) => {
            eprintln!("toile: {why}");
            ExitCode::FAILURE
        }
    }
}

/// Answers from or to a standard stream, which cannot be taken up again.
fn streams(settings: &Batch, library: &Library) -> Result<Summary, FileFault> {
    let words = |path: &Path, error: &dyn std::fmt::Display| FileFault::Words(format!("cannot use {}: {error}", path.display()));
    let input: Box<dyn io::Read> = if is_dash(&settings.input) {
        Box::new(io::stdin())
    } else {
        Box::new(std::fs::File::open(&settings.input).map_err(|error| words(&settings.input, &error))?)
    };
    let input = BufReader::with_capacity(256 * 1024, input);
    let given = Given { workbook: true, sheet: settings.sheet.clone() };
    if is_dash(&settings.output) {
        return Ok(batch_any(input, &given, BufWriter::with_capacity(256 * 1024, io::stdout()), form_of(&settings.output), library)?);
    }
    // Beside its final place, so that a half-written answer never looks like a whole one.
    let folder = settings.output.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(|error| words(&settings.output, &error))?;
    let output = BufWriter::with_capacity(256 * 1024, file.as_file_mut());
    let summary = batch_any(input, &given, output, form_of(&settings.output), library)?;
    file.persist(&settings.output).map_err(|error| words(&settings.output, &error))?;
    Ok(summary)
}

/// A bar on standard error where that is a terminal; elsewhere it draws nothing.
fn bar() -> ProgressBar {
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr_with_hz(10));
    bar.set_style(ProgressStyle::with_template("{spinner} {msg}").unwrap_or_else(|_| ProgressStyle::default_spinner()));
    bar
}

fn show(bar: &ProgressBar, told: Told) {
    if let Some((read, all)) = told.bytes {
        if bar.length() != Some(all) {
            bar.set_length(all);
            let style = ProgressStyle::with_template("{wide_bar} {percent} %, {msg}, {eta} left");
            bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
            bar.reset_eta();
        }
        bar.set_position(read);
    }
    let taken_up = if told.taken_up > 0 { format!(", {} of them by an earlier run", told.taken_up) } else { String::new() };
    bar.set_message(format!("{} rows{taken_up}", told.rows));
    bar.tick();
}

/// Becomes true at Ctrl-C or when the process is asked to end; a second Ctrl-C ends it at once.
fn stop_flag() -> Arc<AtomicBool> {
    let flag = Arc::new(AtomicBool::new(false));
    let set = flag.clone();
    std::thread::spawn(move || {
        let Ok(runtime) = tokio::runtime::Builder::new_current_thread().enable_all().build() else { return };
        runtime.block_on(async {
            let Ok(mut terminate) = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) else { return };
            loop {
                tokio::select! {
                    pressed = tokio::signal::ctrl_c() => if pressed.is_err() { return },
                    _ = terminate.recv() => {}
                }
                if set.swap(true, Ordering::Relaxed) {
                    std::process::exit(STOPPED.into());
                }
            }
        });
    });
    flag
}

/// Tells what was done on standard error, so that the answer itself may go to standard output.
fn tell(s: &Summary) {
    eprintln!(
        "{} {}: {} comfortable, {} tight, {} measure first, {} out of reach, {} with a problem.",
        s.rows,
        if s.rows == 1 { "row" } else { "rows" },
        s.comfortable,
        s.tight,
        s.measure_first,
        s.out_of_reach,
        s.problems
    );
    for note in &s.notes {
        eprintln!("{note}");
    }
}

fn is_dash(path: &Path) -> bool {
    path == Path::new("-")
}
