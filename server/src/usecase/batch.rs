//! Answering spreadsheets.

use std::fs::File;
use std::io::{self, BufReader, BufWriter, Read, Seek, Write};

use toile_model::materials::Library;

use crate::sheet::{COLUMNS, Head, Limits, Opened, answer_text, open, open_text};
pub use crate::sheet::{ColumnPreview, Form, Preview, RowFault, RowPreview, SheetFault, Summary, Understood, template_csv, template_xlsx};

/// Every column that is understood, as text for the API's document.
pub fn batch_columns() -> String {
    let mut text = String::from("Columns that are understood; case, spaces, punctuation and a unit in brackets do not matter:\n\n");
    for column in &COLUMNS {
        let names: Vec<String> = (0..column.layers().max(1)).map(|layer| column.name_of(layer)).collect();
        let also = if column.synonyms.is_empty() { String::new() } else { format!(" Also: {}.", column.synonyms.join(", ")) };
        text.push_str(&format!("- `{}`: {}, for example {}.{also}\n", names.join("`, `"), column.meaning(), column.example));
    }
    text
}

/// What a sheet comes in, and which of its sheets is meant.
#[derive(Debug, Clone, Default)]
pub struct Given {
    /// Whether a workbook is taken; otherwise text only.
    pub workbook: bool,
    /// The sheet of a workbook; the first whose header is understood where none is named.
    pub sheet: Option<String>,
}

/// Opens a sheet of a kind that is taken.
///
/// # Errors
/// What keeps the file as a whole from being used.
pub fn batch_open<R: Read>(input: R, given: &Given, limits: &Limits) -> Result<Opened<R>, SheetFault> {
    let sheet = given.sheet.as_deref();
    if !given.workbook {
        return open_text(input, sheet, limits);
    }
    let opened = open(input, sheet, limits)?;
    if opened.form == Form::Csv {
        return Err(SheetFault::NotText { found: "it is no xlsx and no ods workbook, as its media type says.".into() });
    }
    Ok(opened)
}

/// Answers a sheet row by row, as text or as xlsx; `progress` is told the rows done.
///
/// # Errors
/// What keeps the file as a whole from being read or written. A bad row is no error: its problem stands in it.
pub fn batch_answer(
    input: impl Read,
    given: &Given,
    output: impl Write + Send,
    form: Form,
    library: &Library,
    progress: impl FnMut(u64),
) -> Result<Summary, SheetFault> {
    let limits = Limits::default();
    answer_opened(batch_open(input, given, &limits)?, output, form, library, &limits, progress)
}

/// As [`batch_answer`], for files of any kind.
///
/// # Errors
/// As for [`batch_answer`].
pub fn batch_any(input: impl Read, given: &Given, output: impl Write + Send, form: Form, library: &Library) -> Result<Summary, SheetFault> {
    let limits = Limits::default();
    answer_opened(open(input, given.sheet.as_deref(), &limits)?, output, form, library, &limits, |_| ())
}

fn answer_opened<R: Read>(
    opened: Opened<R>,
    output: impl Write + Send,
    form: Form,
    library: &Library,
    limits: &Limits,
    progress: impl FnMut(u64),
) -> Result<Summary, SheetFault> {
    let Opened { head, rows, notes, .. } = opened;
    let mut summary = match form {
        Form::Csv => answer_text(&head, rows, output, library, limits, progress)?,
        Form::Xlsx | Form::Ods => {
            let mut text = BufWriter::with_capacity(256 * 1024, tempfile::tempfile().map_err(SheetFault::Write)?);
            let summary = answer_text(&head, rows, &mut text, library, limits, progress)?;
            let text = text.into_inner().map_err(|error| SheetFault::Write(error.into_error()))?;
            as_xlsx(text, &head, output)?;
            summary
        }
    };
    summary.notes.splice(0..0, notes);
    Ok(summary)
}

/// Writes an answered text as xlsx.
///
/// # Errors
/// As for [`crate::sheet::write_xlsx`].
pub fn as_xlsx(mut text: File, head: &Head, output: impl Write + Send) -> Result<(), SheetFault> {
    text.rewind().map_err(SheetFault::Read)?;
    crate::sheet::write_xlsx(BufReader::with_capacity(256 * 1024, text), head, output)
}

/// Tells how a sheet is understood; nothing is computed.
///
/// # Errors
/// What keeps the file as a whole from being used.
pub fn batch_preview(input: impl Read, given: &Given, library: &Library) -> Result<Preview, SheetFault> {
    let limits = Limits::default();
    let opened = batch_open(input, given, &limits)?;
    crate::sheet::preview(opened, library, &limits)
}

/// The template of a sheet as xlsx.
///
/// # Errors
/// Where it cannot be written.
pub fn template_xlsx_bytes() -> Result<Vec<u8>, SheetFault> {
    let mut bytes = io::Cursor::new(Vec::new());
    template_xlsx(&mut bytes)?;
    Ok(bytes.into_inner())
}
