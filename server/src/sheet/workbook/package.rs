//! The parts of a workbook file, which is a zip archive of XML, read piece by piece within bounds.
//!
//! A small archive can unpack to anything. Three things are therefore held down while it is read, whatever the archive
//! says of itself: the bytes that all parts unpack to, the bytes of one piece of XML (a tag, a text), and what is read
//! to find the parts. What the archive does say is checked first, so that most bombs are refused without unpacking.

use super::super::fault::SheetFault;
use super::super::{Limits, encoding::LOOK_AHEAD};
use quick_xml::Reader;
use quick_xml::escape::resolve_xml_entity;
use quick_xml::events::{BytesRef, BytesStart, Event};
use std::borrow::Cow;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use zip::ZipArchive;
use zip::read::ZipFile;

/// Bytes that may be read to find the parts: some ten thousand of them.
const MOST_DIRECTORY: u64 = 2 * 1024 * 1024;
/// Parts that a workbook may have; large ones have some hundreds.
const MOST_PARTS: usize = 10_000;

/// A file of which only so much may be read.
pub(super) struct Frugal {
    file: File,
    left: Arc<AtomicU64>,
}

impl Read for Frugal {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let left = self.left.load(Ordering::Relaxed);
        if left == 0 {
            return Err(io::Error::other("more was read than a workbook needs"));
        }
        let most = buffer.len().min(usize::try_from(left).unwrap_or(usize::MAX));
        let count = self.file.read(&mut buffer[..most])?;
        self.left.store(left - count as u64, Ordering::Relaxed);
        Ok(count)
    }
}

impl Seek for Frugal {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}

/// A workbook file.
pub(super) struct Package {
    zip: ZipArchive<Frugal>,
    unpacked: u64,
    most_unpacked: u64,
    most_piece: usize,
}

impl Package {
    /// Looks at the directory of the archive; nothing is unpacked yet.
    pub(super) fn open(file: File, limits: &Limits) -> Result<Self, SheetFault> {
        let left = Arc::new(AtomicU64::new(MOST_DIRECTORY));
        let mut zip = ZipArchive::new(Frugal { file, left: left.clone() })
            .map_err(|_| SheetFault::damaged("the archive that holds its parts cannot be read"))?;
        left.store(u64::MAX, Ordering::Relaxed);
        if zip.len() > MOST_PARTS {
            return Err(SheetFault::damaged("it has more parts than a workbook has"));
        }
        let allowed = limits.most_unpacked_bytes;
        let mut declared = 0_u64;
        for k in 0..zip.len() {
            let part = zip.by_index_raw(k).map_err(|_| SheetFault::damaged("one of its parts cannot be read"))?;
            if part.encrypted() {
                return Err(SheetFault::damaged("it is protected by a password; save it without one"));
            }
            declared = declared.saturating_add(part.size());
        }
        if declared > allowed {
            return Err(SheetFault::UnpacksTooLarge { allowed });
        }
        // A piece is at least a cell with every character written as an entity.
        let most_piece = limits.most_cell_bytes.saturating_mul(8).max(LOOK_AHEAD);
        Ok(Self { zip, unpacked: 0, most_unpacked: allowed, most_piece })
    }

    /// Whether there is a part of this name.
    pub(super) fn has(&self, name: &str) -> bool {
        self.zip.index_for_name(name).is_some()
    }

    /// A part as XML, if it is there.
    pub(super) fn part(&mut self, name: &str) -> Result<Option<Part<'_>>, SheetFault> {
        let Some(index) = self.zip.index_for_name(name) else { return Ok(None) };
        // A sheet may be read twice and a first time for its header, but not over and over.
        let left = self.most_unpacked.min((3 * self.most_unpacked).saturating_sub(self.unpacked));
        let file = self.zip.by_index(index).map_err(|_| SheetFault::damaged("one of its parts cannot be read"))?;
        let bounded = Bounded {
            input: BufReader::with_capacity(64 * 1024, file),
            piece: 0,
            most_piece: self.most_piece,
            spent: &mut self.unpacked,
            left,
            stopped: None,
        };
        let mut reader = Reader::from_reader(bounded);
        let settings = reader.config_mut();
        settings.check_end_names = false;
        settings.expand_empty_elements = true;
        Ok(Some(Part { reader, allowed: self.most_unpacked }))
    }

    /// The first bytes of a part.
    pub(super) fn start_of(&mut self, name: &str, most: u64) -> Vec<u8> {
        let mut start = Vec::new();
        if let Some(index) = self.zip.index_for_name(name)
            && let Ok(part) = self.zip.by_index(index)
            && part.take(most).read_to_end(&mut start).is_err()
        {
            start.clear();
        }
        start
    }
}

/// Which bound stopped the reading.
#[derive(Clone, Copy)]
enum Bound {
    Piece,
    Whole,
}

struct Bounded<'a> {
    input: BufReader<ZipFile<'a, Frugal>>,
    /// Bytes since the last piece.
    piece: usize,
    most_piece: usize,
    spent: &'a mut u64,
    left: u64,
    stopped: Option<Bound>,
}

impl Read for Bounded<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let available = self.fill_buf()?;
        let count = available.len().min(buffer.len());
        buffer[..count].copy_from_slice(&available[..count]);
        self.consume(count);
        Ok(count)
    }
}

impl BufRead for Bounded<'_> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        self.stopped = if self.piece > self.most_piece {
            Some(Bound::Piece)
        } else if self.left == 0 {
            Some(Bound::Whole)
        } else {
            return self.input.fill_buf();
        };
        Err(io::Error::other("a bound was reached"))
    }

    fn consume(&mut self, count: usize) {
        self.piece += count;
        self.left = self.left.saturating_sub(count as u64);
        *self.spent = self.spent.saturating_add(count as u64);
        self.input.consume(count);
    }
}

/// One part, read as XML.
pub(super) struct Part<'a> {
    reader: Reader<Bounded<'a>>,
    allowed: u64,
}

impl Part<'_> {
    /// The next piece of the part, in `buffer`.
    pub(super) fn next<'b>(&mut self, buffer: &'b mut Vec<u8>) -> Result<Event<'b>, SheetFault> {
        buffer.clear();
        self.reader.get_mut().piece = 0;
        self.reader.read_event_into(buffer).map_err(|error| {
            let bounded = self.reader.get_ref();
            match (bounded.stopped, error) {
                (Some(Bound::Piece), _) => SheetFault::PieceTooLong { allowed: bounded.most_piece },
                (Some(Bound::Whole), _) => SheetFault::UnpacksTooLarge { allowed: self.allowed },
                (None, quick_xml::Error::Io(_)) => SheetFault::damaged("one of its parts cannot be unpacked"),
                (None, _) => SheetFault::damaged("one of its parts is no XML"),
            }
        })
    }
}

/// The value of an attribute, by its name with or without a prefix.
pub(super) fn attribute<'a>(tag: &'a BytesStart<'_>, name: &str) -> Option<Cow<'a, str>> {
    let mut attributes = tag.attributes();
    let found = attributes.with_checks(false).filter_map(Result::ok).find(|a| a.key.as_ref() == name)?;
    let Cow::Borrowed(raw) = found.value else { return None };
    quick_xml::escape::unescape(raw).ok()
}

/// Puts what `&amp;`, `&#181;` and the like stand for behind a text.
pub(super) fn push_entity(entity: &BytesRef<'_>, text: &mut String) -> Result<(), SheetFault> {
    if let Some(known) = resolve_xml_entity(entity.as_ref()) {
        text.push_str(known);
        return Ok(());
    }
    match entity.resolve_char_ref() {
        Ok(Some(c)) => {
            text.push(c);
            Ok(())
        }
        _ => Err(SheetFault::damaged("it names a character that XML does not know")),
    }
}
