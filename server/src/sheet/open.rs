//! A sheet out of whatever file it comes in, read down to its header.

use super::encoding::Encoding;
use super::fault::SheetFault;
use super::workbook::{Book, Form, TEXT_FORM};
use super::{Head, Limits, Rows};
use std::fs::File;
use std::io::{Chain, Cursor, ErrorKind, Read, Seek, Write};

/// What the text of a sheet is read from.
pub enum Source<R> {
    /// The file itself.
    Plain(Chain<Cursor<Vec<u8>>, R>),
    /// The text form of a sheet in a workbook, on disk.
    Text(File),
}

impl<R: Read> Read for Source<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        match self {
            Self::Plain(input) => input.read(buffer),
            Self::Text(file) => file.read(buffer),
        }
    }
}

/// A sheet, ready to be answered.
pub struct Opened<R> {
    /// All that a row needs to be answered.
    pub head: Head,
    /// The rows below the header.
    pub rows: Rows<Source<R>>,
    /// Kind of file.
    pub form: Form,
    /// The sheet that was read, where the file has several.
    pub sheet: Option<String>,
    /// All sheets of the file.
    pub sheets: Vec<String>,
    /// What the owner should know of the file, in words.
    pub notes: Vec<String>,
}

/// Opens a CSV file, an xlsx or an ods workbook, told apart by their first bytes. Of a workbook, the sheet of a name, or
/// the first one whose header is understood.
///
/// # Errors
/// [`SheetFault`] where there is no sheet that can be used.
pub fn open<R: Read>(mut input: R, sheet: Option<&str>, limits: &Limits) -> Result<Opened<R>, SheetFault> {
    let mut start = Vec::new();
    (&mut input).take(4).read_to_end(&mut start).map_err(SheetFault::Read)?;
    if start != b"PK\x03\x04" {
        return plain(start, input, sheet, limits);
    }
    let mut book = Book::open(on_disk(start, input)?, limits)?;
    let chosen = book.choose(sheet, limits)?;
    let (head, rows) = Head::read_with(Source::Text(chosen.text), Some(TEXT_FORM), limits)?;
    debug_assert_eq!(rows.encoding(), Encoding::Utf8);
    Ok(Opened { head, rows, form: book.form(), sheet: Some(chosen.sheet), sheets: book.names(), notes: chosen.notes })
}

/// Opens a CSV file and nothing else.
///
/// # Errors
/// As for [`open`].
pub fn open_text<R: Read>(input: R, sheet: Option<&str>, limits: &Limits) -> Result<Opened<R>, SheetFault> {
    plain(Vec::new(), input, sheet, limits)
}

fn plain<R: Read>(start: Vec<u8>, input: R, sheet: Option<&str>, limits: &Limits) -> Result<Opened<R>, SheetFault> {
    let (head, rows) = Head::read(Source::Plain(Cursor::new(start).chain(input)), limits)?;
    match sheet {
        Some(name) => Err(SheetFault::NoSheet { name: name.into(), names: Vec::new() }),
        None => Ok(Opened { head, rows, form: Form::Csv, sheet: None, sheets: Vec::new(), notes: Vec::new() }),
    }
}

/// A workbook is read from its end, so it is put on disk first.
fn on_disk(start: Vec<u8>, mut input: impl Read) -> Result<File, SheetFault> {
    let mut file = tempfile::tempfile().map_err(SheetFault::Write)?;
    file.write_all(&start).map_err(SheetFault::Write)?;
    let mut buffer = vec![0; 256 * 1024];
    loop {
        match input.read(&mut buffer) {
            Ok(0) => break,
            Ok(count) => file.write_all(&buffer[..count]).map_err(SheetFault::Write)?,
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => return Err(SheetFault::Read(error)),
        }
    }
    file.rewind().map_err(SheetFault::Read)?;
    Ok(file)
}
