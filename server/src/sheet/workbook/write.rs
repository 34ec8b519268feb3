//! An answered text as an xlsx file, row by row in constant memory, the same bytes for the same text.

use super::super::encoding::Text;
use super::super::fault::SheetFault;
use super::super::header::Header;
use super::super::pipeline::Rows;
use super::super::record::Cell;
use super::super::{Head, Limits, RESULT_COLUMNS};
use super::value::{Value, written_moment};
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, Note, Workbook, Worksheet};
use std::io::{Read, Write};

/// Rows that xlsx allows (ECMA-376 leaves it to programs; all of them stop here).
pub const MOST_XLSX_ROWS: u64 = 1_048_576;
/// Characters that a cell of xlsx allows, likewise.
const MOST_CHARACTERS: usize = 32_767;

/// A table on its way into an xlsx file.
pub struct XlsxTable {
    workbook: Workbook,
    bold: Format,
    wrapped: Format,
}

impl XlsxTable {
    /// An empty file.
    ///
    /// # Errors
    /// [`SheetFault::Internal`] never happens with these settings.
    pub fn new(sheet: &str) -> Result<Self, SheetFault> {
        let mut workbook = Workbook::new();
        // A file of the same table has the same bytes whenever it is made.
        let always = ExcelDateTime::from_ymd(2000, 1, 1).map_err(|_| SheetFault::Internal)?;
        workbook.set_properties(&DocProperties::new().set_creation_datetime(&always));
        let worksheet = workbook.add_worksheet_with_constant_memory().map_err(fault)?;
        worksheet.set_name(sheet).map_err(|_| SheetFault::Internal)?;
        let wrapped = Format::new().set_text_wrap().set_align(rust_xlsxwriter::FormatAlign::Top);
        Ok(Self { workbook, bold: Format::new().set_bold(), wrapped })
    }

    fn worksheet(&mut self) -> Result<&mut Worksheet, SheetFault> {
        self.workbook.worksheet_from_index(0).map_err(|_| SheetFault::Internal)
    }

    /// Writes a header cell with a note beside it.
    ///
    /// # Errors
    /// [`SheetFault::Write`] where the disk is full.
    pub fn header(&mut self, row: u32, column: u16, name: &str, note: &str) -> Result<(), SheetFault> {
        let bold = self.bold.clone();
        let worksheet = self.worksheet()?;
        worksheet.write_string_with_format(row, column, name, &bold).map_err(fault)?;
        worksheet.insert_note(row, column, &Note::new(note).add_author_prefix(false)).map_err(fault)?;
        Ok(())
    }

    /// Writes a text over several lines.
    ///
    /// # Errors
    /// [`SheetFault::Write`] where the disk is full.
    pub fn help(&mut self, row: u32, column: u16, text: &str) -> Result<(), SheetFault> {
        let wrapped = self.wrapped.clone();
        self.worksheet()?.write_string_with_format(row, column, text, &wrapped).map_err(fault)?;
        Ok(())
    }

    /// Writes a cell as a CSV file has it: a number where it is one.
    ///
    /// # Errors
    /// [`SheetFault::Write`] where the disk is full.
    pub fn cell(&mut self, row: u32, column: u16, text: &str) -> Result<(), SheetFault> {
        self.value(row, column, &Value::of_csv(text, false), false)
    }

    /// Makes columns wide enough to be read, and keeps the rows down to the header in sight.
    ///
    /// # Errors
    /// [`SheetFault::Internal`] never happens for rows and columns within range.
    pub fn layout(&mut self, columns: u16, width: f64, frozen_rows: u32) -> Result<(), SheetFault> {
        let worksheet = self.worksheet()?;
        for column in 0..columns {
            worksheet.set_column_width(column, width).map_err(fault)?;
        }
        worksheet.set_freeze_panes(frozen_rows, 0).map_err(fault)?;
        Ok(())
    }

    fn value(&mut self, row: u32, column: u16, value: &Value, bold: bool) -> Result<(), SheetFault> {
        let format = self.bold.clone();
        let worksheet = self.worksheet()?;
        let written = match value {
            Value::Empty => return Ok(()),
            Value::Number(number) => worksheet.write_number(row, column, *number),
            Value::Truth(truth) => worksheet.write_boolean(row, column, *truth),
            Value::Moment(text) => match written_moment(text) {
                Some(moment) => {
                    let shown = match text.len() {
                        8 => "hh:mm:ss",
                        10 => "yyyy-mm-dd",
                        _ => "yyyy-mm-dd hh:mm:ss",
                    };
                    worksheet.write_datetime_with_format(row, column, &moment, &Format::new().set_num_format(shown))
                }
                None => worksheet.write_string(row, column, text),
            },
            Value::Text(text) if bold => worksheet.write_string_with_format(row, column, &*fitted(text), &format),
            Value::Text(text) => worksheet.write_string(row, column, &*fitted(text)),
        };
        written.map(|_| ()).map_err(fault)
    }

    /// Writes the file.
    ///
    /// # Errors
    /// [`SheetFault::Write`] where it cannot be written.
    pub fn finish(mut self, output: impl Write + Send) -> Result<(), SheetFault> {
        let mut outlet = Outlet { output, failed: None };
        let done = self.workbook.save_to_writer(&mut outlet);
        // Why this fails is remembered too.
        let _ = outlet.flush();
        match (outlet.failed, done) {
            (Some(error), _) => Err(SheetFault::Write(error)),
            (None, done) => done.map_err(fault),
        }
    }
}

/// Remembers why writing failed; the writer of the archive may go on after it.
struct Outlet<W> {
    output: W,
    failed: Option<std::io::Error>,
}

impl<W: Write> Write for Outlet<W> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.output.write(bytes).inspect_err(|error| self.failed = Some(std::io::Error::new(error.kind(), error.to_string())))
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.output.flush().inspect_err(|error| self.failed = Some(std::io::Error::new(error.kind(), error.to_string())))
    }
}

fn fault(error: rust_xlsxwriter::XlsxError) -> SheetFault {
    match error {
        rust_xlsxwriter::XlsxError::IoError(error) => SheetFault::Write(error),
        other => SheetFault::Write(std::io::Error::other(other.to_string())),
    }
}

/// A text that a cell of xlsx can hold.
fn fitted(text: &str) -> std::borrow::Cow<'_, str> {
    // As the format counts, in units of UTF-16.
    if text.len() <= MOST_CHARACTERS || text.encode_utf16().count() <= MOST_CHARACTERS {
        return text.into();
    }
    const TOLD: &str = " ... (cut here: a cell of xlsx holds 32,767 characters)";
    let mut left = MOST_CHARACTERS - TOLD.len();
    let end = text.char_indices().find_map(|(at, c)| {
        let Some(rest) = left.checked_sub(c.len_utf16()) else { return Some(at) };
        left = rest;
        None
    });
    format!("{}{TOLD}", &text[..end.unwrap_or(text.len())]).into()
}

/// Turns an answered text, as it is written for a sheet with this head, into an xlsx file.
///
/// # Errors
/// [`SheetFault::TooManyRows`] beyond what xlsx allows, [`SheetFault::Read`] and [`SheetFault::Write`].
pub fn write_xlsx(answered: impl Read, head: &Head, output: impl Write + Send) -> Result<(), SheetFault> {
    let marks = head.dialect.marks;
    // An answered row is longer than the row it answers.
    let usual = Limits::default();
    let limits = Limits { most_row_bytes: 4 * usual.most_row_bytes, ..usual };
    let mut text = Text::new(answered)?;
    let mut pending = String::new();
    let more = text.fill(&mut pending, 1)?;
    let mut rows = Rows::new(text, pending, marks, more, &limits);
    let mut table = XlsxTable::new("Answers")?;
    let header_row = head.rows() - 1;
    let (mut row, mut stretch, mut cells) = (0_u64, String::new(), Vec::<Cell>::new());
    let mut results = Vec::new();
    while rows.take(256, &mut stretch)? > 0 {
        let mut at = 0;
        while at < stretch.len() {
            if row == MOST_XLSX_ROWS {
                return Err(SheetFault::TooManyRows { allowed: MOST_XLSX_ROWS });
            }
            let record = marks.record(&stretch, at, &mut cells);
            for (column, cell) in cells.iter().enumerate() {
                let value = cell.value(&stretch);
                if row == header_row {
                    results.push(Header::is_result(&value));
                    table.value(row as u32, column as u16, &Value::Text(value.into_owned()).or_empty(), true)?;
                    continue;
                }
                let result = row > header_row && results.get(column) == Some(&true);
                let comma = head.dialect.writes_comma();
                let value = match cell.raw(&stretch).starts_with('"') {
                    true if head.workbook => Value::Text(value.into_owned()),
                    false if head.workbook => Value::of_bare(&value),
                    // A result is a number as soon as it reads as one; an owner's cell only if nothing is lost by it.
                    _ if result => match Value::of_bare(&if comma { value.replace(',', ".") } else { value.to_string() }) {
                        Value::Text(_) => Value::Text(value.into_owned()),
                        number => number,
                    },
                    _ => Value::of_csv(&value, comma),
                };
                table.value(row as u32, column as u16, &value, false)?;
            }
            row += 1;
            at = record.next;
        }
    }
    table.layout(
        cells.len().max(results.len()).min(RESULT_COLUMNS.len() + limits.most_columns) as u16,
        14.0,
        head.rows().min(100) as u32,
    )?;
    table.finish(output)
}

impl Value {
    fn or_empty(self) -> Self {
        match self {
            Self::Text(text) if text.is_empty() => Self::Empty,
            other => other,
        }
    }
}
