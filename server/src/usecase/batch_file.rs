//! Answering a file into a file, so that a run that was stopped is taken up by the next one.
//!
//! The answer grows in a part file beside its place, with a record of how far it is: which program and settings made
//! it, the head of the sheet, a digest of the rows answered and one of the bytes written. A later run goes on from the
//! record only if all of it holds; what it then writes is, byte for byte, what a run without a stop would have
//! written. Any other part file is started anew.

use std::fs::{File, OpenOptions};
use std::io::{self, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use toile_model::materials::Library;

use super::batch::as_xlsx;
use crate::sheet::{Form, Head, Limits, Opened, Reached, SheetFault, Summary, answer_rows, open};

/// Time between two records: what a kill costs at most.
const BETWEEN_RECORDS: Duration = Duration::from_secs(1);

/// What is to be answered, and where to.
#[derive(Debug)]
pub struct FileBatch<'a> {
    /// The spreadsheet.
    pub input: &'a Path,
    /// The answer: xlsx where its name ends so, else text.
    pub output: &'a Path,
    /// Sheet of a workbook.
    pub sheet: Option<&'a str>,
}

/// How far a run is.
#[derive(Debug, Clone, Copy)]
pub struct Told {
    /// Rows answered, those of earlier runs too.
    pub rows: u64,
    /// Bytes of the input that were read, and all of them; `None` where the input is a workbook.
    pub bytes: Option<(u64, u64)>,
    /// Rows that an earlier run had answered.
    pub taken_up: u64,
}

/// The form that a file name asks for.
pub fn form_of(path: &Path) -> Form {
    if path.extension().is_some_and(|e| e.eq_ignore_ascii_case("xlsx")) { Form::Xlsx } else { Form::Csv }
}

/// Answers a file. Where `stop` becomes true, the record is written and [`SheetFault::Stopped`] comes back.
///
/// # Errors
/// In words, beside what a sheet can have: files that cannot be read or written.
pub fn batch_file(
    batch: &FileBatch<'_>,
    library: &Library,
    stop: &AtomicBool,
    mut progress: impl FnMut(Told),
) -> Result<Summary, FileFault> {
    let limits = Limits::default();
    let settings = settings(batch, library);
    let cannot_write = |error: io::Error| FileFault::Words(format!("cannot write {}: {error}", batch.output.display()));
    let names = PartNames::beside(batch.output);
    let part = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&names.part).map_err(cannot_write)?;
    if part.try_lock().is_err() {
        return Err(FileFault::Words(format!("another run is writing {}", batch.output.display())));
    }
    let mut take_up = true;
    loop {
        let read = Arc::new(AtomicU64::new(0));
        let file = File::open(batch.input).inspect_err(|_| names.give_up(&part));
        let file = file.map_err(|error| FileFault::Words(format!("cannot read {}: {error}", batch.input.display())))?;
        let size = file.metadata().ok().filter(|m| m.is_file()).map(|m| m.len());
        let opened = open(Counted { input: BufReader::with_capacity(256 * 1024, file), read: read.clone() }, batch.sheet, &limits);
        let Opened { head, mut rows, form, notes, .. } = opened.inspect_err(|_| names.give_up(&part))?;
        let plan = head.plan(library, &limits)?;
        let (mut out, reached) = match names.taken_up(&part, &settings, &head).filter(|_| take_up) {
            Some((out, reached)) => (out, reached),
            None => {
                let mut out = PartFile::new(part.try_clone().map_err(cannot_write)?, 0, Sha256::new()).map_err(cannot_write)?;
                let mut begin = Vec::new();
                let tally = plan.begin(&mut begin);
                out.write_all(&begin).map_err(cannot_write)?;
                (out, Reached::begun(tally))
            }
        };
        let taken_up = reached.tally.rows;
        let mut last = Instant::now();
        let answered = answer_rows(&plan, &mut rows, &mut out, reached, |out, reached| {
            let stopped = stop.load(Ordering::Relaxed);
            if stopped || last.elapsed() >= BETWEEN_RECORDS {
                out.flush().map_err(SheetFault::Write)?;
                names.write(&Record {
                    settings: settings.clone(),
                    head: head.clone(),
                    reached: reached.clone(),
                    written: out.written,
                    digest: hex(&out.digest),
                })?;
                last = Instant::now();
            }
            let bytes = size.filter(|_| form == Form::Csv).map(|size| (read.load(Ordering::Relaxed).min(size), size));
            progress(Told { rows: reached.tally.rows, bytes, taken_up });
            if stopped { Err(SheetFault::Stopped) } else { Ok(()) }
        });
        let tally = match answered {
            Err(SheetFault::Changed) if take_up => {
                // The rows are others than those answered before, so nothing of them can be used.
                take_up = false;
                continue;
            }
            // What is wrong with the input will be wrong in the next run too.
            Err(fault) if !matches!(fault, SheetFault::Stopped | SheetFault::Write(_) | SheetFault::Read(_)) => {
                names.give_up(&part);
                return Err(fault.into());
            }
            tally => tally?,
        };
        out.flush().map_err(cannot_write)?;
        let mut summary = Summary::of(&plan, &tally, &rows);
        summary.notes.splice(0..0, notes);
        if form_of(batch.output) == Form::Xlsx {
            let mut file = tempfile::NamedTempFile::new_in(names.folder()).map_err(cannot_write)?;
            as_xlsx(part.try_clone().map_err(cannot_write)?, &head, BufWriter::with_capacity(256 * 1024, file.as_file_mut()))?;
            file.persist(batch.output).map_err(|error| cannot_write(error.error))?;
            names.give_up(&part);
        } else {
            std::fs::rename(&names.part, batch.output).map_err(cannot_write)?;
            let _ = std::fs::remove_file(&names.record);
        }
        return Ok(summary);
    }
}

/// Why a file was not answered.
#[derive(Debug)]
pub enum FileFault {
    /// What is wrong with the sheet, or that the work was stopped.
    Sheet(SheetFault),
    /// What is wrong with the files.
    Words(String),
}

impl From<SheetFault> for FileFault {
    fn from(fault: SheetFault) -> Self {
        Self::Sheet(fault)
    }
}

impl std::fmt::Display for FileFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Sheet(fault) => fault.fmt(f),
            Self::Words(words) => words.fmt(f),
        }
    }
}

/// Everything beside the sheet that decides what is written: the program, the library with the shop's rates, the sheet.
fn settings(batch: &FileBatch<'_>, library: &Library) -> String {
    let mut digest = Sha256::new();
    digest.update(env!("CARGO_PKG_VERSION"));
    // Two builds of one version may answer differently.
    if let Ok(program) = std::env::current_exe().and_then(std::fs::metadata) {
        digest.update(format!("{} {:?}", program.len(), program.modified().ok()));
    }
    digest.update(format!("{library:?} {:?}", batch.sheet));
    hex(&digest)
}

fn hex(digest: &Sha256) -> String {
    digest.clone().finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// How far a part file is, and of what.
#[derive(Serialize, Deserialize)]
struct Record {
    settings: String,
    head: Head,
    reached: Reached,
    written: u64,
    digest: String,
}

/// A part file and its record.
struct PartNames {
    part: PathBuf,
    record: PathBuf,
}

impl PartNames {
    fn beside(output: &Path) -> Self {
        let with = |end: &str| {
            let mut name = output.as_os_str().to_owned();
            name.push(end);
            PathBuf::from(name)
        };
        Self { part: with(".part"), record: with(".part.json") }
    }

    fn folder(&self) -> &Path {
        self.part.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
    }

    /// The part file as an earlier run left it, if it is one of the same sheet by the same program and is whole.
    fn taken_up(&self, part: &File, settings: &str, head: &Head) -> Option<(PartFile, Reached)> {
        let record: Record = serde_json::from_slice(&std::fs::read(&self.record).ok()?).ok()?;
        if record.settings != settings || record.head != *head {
            return None;
        }
        let mut written = part.try_clone().ok()?;
        written.rewind().ok()?;
        let (mut digest, mut left) = (Sha256::new(), record.written);
        let mut buffer = vec![0; 256 * 1024];
        while left > 0 {
            let most = buffer.len().min(usize::try_from(left).unwrap_or(usize::MAX));
            let count = written.read(&mut buffer[..most]).ok().filter(|count| *count > 0)?;
            digest.update(&buffer[..count]);
            left -= count as u64;
        }
        if hex(&digest) != record.digest {
            return None;
        }
        Some((PartFile::new(written, record.written, digest).ok()?, record.reached))
    }

    /// Puts a record in the place of the one before, whole or not at all.
    fn write(&self, record: &Record) -> Result<(), SheetFault> {
        let bytes = serde_json::to_vec(record).map_err(|_| SheetFault::Internal)?;
        let file = tempfile::NamedTempFile::new_in(self.folder()).map_err(SheetFault::Write)?;
        std::fs::write(file.path(), bytes).map_err(SheetFault::Write)?;
        file.persist(&self.record).map_err(|error| SheetFault::Write(error.error))?;
        Ok(())
    }

    /// Removes both files; what cannot be removed is not used again, because its record does not hold.
    fn give_up(&self, part: &File) {
        let _ = part.set_len(0);
        let _ = std::fs::remove_file(&self.record);
        let _ = std::fs::remove_file(&self.part);
    }
}

/// The part file while it is written, with the digest of what it holds.
struct PartFile {
    out: BufWriter<File>,
    written: u64,
    digest: Sha256,
}

impl PartFile {
    fn new(mut file: File, written: u64, digest: Sha256) -> io::Result<Self> {
        file.set_len(written)?;
        file.seek(SeekFrom::Start(written))?;
        Ok(Self { out: BufWriter::with_capacity(256 * 1024, file), written, digest })
    }
}

impl Write for PartFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let count = self.out.write(bytes)?;
        self.digest.update(&bytes[..count]);
        self.written += count as u64;
        Ok(count)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

struct Counted<R> {
    input: R,
    read: Arc<AtomicU64>,
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.input.read(buffer)?;
        self.read.fetch_add(count as u64, Ordering::Relaxed);
        Ok(count)
    }
}
