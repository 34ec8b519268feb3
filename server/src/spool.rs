//! Output that may be made faster than it is fetched: written to an unnamed file, read back as a stream.
//!
//! Many clients send a whole body before they read the first byte of the answer. If the answer waited in memory it
//! would grow with the file; if it waited for the client, both would wait for ever. On disk it does neither.

use std::fs::File;
use std::io::{self, Write};
use std::os::unix::fs::FileExt;
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::Notify;

/// The two ends of a spool.
pub fn spool() -> io::Result<(SpoolWriter, SpoolReader)> {
    let shared = Arc::new(Shared { file: tempfile::tempfile()?, state: Mutex::new(State::default()), changed: Notify::new() });
    Ok((SpoolWriter { shared: shared.clone() }, SpoolReader { shared, position: 0 }))
}

#[derive(Default)]
struct State {
    written: u64,
    finished: Option<Result<(), String>>,
}

struct Shared {
    file: File,
    state: Mutex<State>,
    changed: Notify,
}

impl Shared {
    fn with<T>(&self, change: impl FnOnce(&mut State) -> T) -> T {
        // A panic while the lock was held leaves plain counters that are still right.
        change(&mut self.state.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// The writing end.
pub struct SpoolWriter {
    shared: Arc<Shared>,
}

impl SpoolWriter {
    /// Tells the reader that this is all, or that the rest cannot be made.
    pub fn finish(self, outcome: Result<(), String>) {
        self.shared.with(|state| state.finished = Some(outcome));
    }
}

impl Drop for SpoolWriter {
    fn drop(&mut self) {
        // Also reached when the maker of the output panicked: the reader must not wait for ever.
        self.shared.with(|state| state.finished.get_or_insert_with(|| Err("the answer was cut off".into())).is_ok());
        self.shared.changed.notify_one();
    }
}

impl Write for SpoolWriter {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let at = self.shared.with(|state| state.written);
        let count = self.shared.file.write_at(bytes, at)?;
        self.shared.with(|state| state.written += count as u64);
        self.shared.changed.notify_one();
        Ok(count)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// The reading end.
pub struct SpoolReader {
    shared: Arc<Shared>,
    position: u64,
}

/// Bytes read back at a time.
const CHUNK: u64 = 64 * 1024;

impl SpoolReader {
    /// The next bytes; `None` at the end.
    ///
    /// # Errors
    /// What the writer finished with, or a fault of the disk.
    pub async fn next(&mut self) -> Option<Result<Vec<u8>, String>> {
        loop {
            let (written, finished) = self.shared.with(|state| (state.written, state.finished.clone()));
            let waiting = written - self.position;
            if waiting == 0 {
                match finished {
                    Some(Ok(())) => return None,
                    Some(Err(why)) => return Some(Err(why)),
                    None => self.shared.changed.notified().await,
                }
                continue;
            }
            let (shared, position) = (self.shared.clone(), self.position);
            let read = tokio::task::spawn_blocking(move || {
                let mut bytes = vec![0; waiting.min(CHUNK) as usize];
                shared.file.read_exact_at(&mut bytes, position).map(|()| bytes)
            });
            return Some(match read.await {
                Ok(Ok(bytes)) => {
                    self.position += bytes.len() as u64;
                    Ok(bytes)
                }
                Ok(Err(error)) => Err(error.to_string()),
                Err(error) => Err(error.to_string()),
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn all_that_is_written_comes_out_in_order() {
        let (mut writer, mut reader) = spool().unwrap();
        let maker = std::thread::spawn(move || {
            for k in 0..20_000u32 {
                writer.write_all(&k.to_le_bytes()).unwrap();
            }
            writer.finish(Ok(()));
        });
        let mut all = Vec::new();
        while let Some(bytes) = reader.next().await {
            all.extend(bytes.unwrap());
        }
        maker.join().unwrap();
        let expected: Vec<u8> = (0..20_000u32).flat_map(u32::to_le_bytes).collect();
        assert_eq!(all, expected);
    }

    #[tokio::test]
    async fn a_dropped_writer_ends_in_an_error() {
        let (mut writer, mut reader) = spool().unwrap();
        writer.write_all(b"half").unwrap();
        drop(writer);
        assert_eq!(reader.next().await, Some(Ok(b"half".to_vec())));
        assert_eq!(reader.next().await, Some(Err("the answer was cut off".into())));
    }
}
