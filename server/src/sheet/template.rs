//! A sheet to fill in: every column that is understood, with what it means above its name and an example below.

use super::columns::COLUMNS;
use super::fault::SheetFault;
use super::record::Marks;
use super::workbook::XlsxTable;
use std::io::Write;

/// What the first row of a template says.
const TITLE: &str = "One row is one feature: a pad with its run, or, by the column feature, a light row, a laid wire or an electrode. Fill in rows below \
the example; columns that you do not need may be deleted, columns of your own may be added. Above each name stands what the column means.";
/// Layers on each side that a template has columns for; a sheet may have more.
const LAYERS: usize = 2;

struct Entry {
    name: String,
    help: String,
    example: &'static str,
}

fn entries() -> impl Iterator<Item = Entry> {
    COLUMNS.iter().flat_map(|column| {
        (0..column.layers().min(LAYERS)).map(|layer| Entry {
            name: column.name_of(layer),
            help: column.help(layer),
            example: if layer == 0 { column.example } else { "" },
        })
    })
}

/// The template as CSV, with a byte order mark so that spreadsheets open it right.
pub fn template_csv() -> Vec<u8> {
    let marks = Marks { delimiter: b',', newline: b'\n' };
    let mut out = "\u{feff}".as_bytes().to_vec();
    let mut row = |cells: &mut dyn Iterator<Item = String>| {
        for (k, cell) in cells.enumerate() {
            if k > 0 {
                out.push(marks.delimiter);
            }
            marks.write(&cell, &mut out);
        }
        out.extend_from_slice(b"\r\n");
    };
    row(&mut std::iter::once(TITLE.to_owned()));
    row(&mut entries().map(|e| e.help));
    row(&mut entries().map(|e| e.name));
    row(&mut entries().map(|e| e.example.to_owned()));
    out
}

/// The template as xlsx, with the help text as a note on each name too.
///
/// # Errors
/// [`SheetFault::Write`] where it cannot be written.
pub fn template_xlsx(output: impl Write + Send) -> Result<(), SheetFault> {
    let mut table = XlsxTable::new("Features")?;
    table.cell(0, 0, TITLE)?;
    for (k, entry) in entries().enumerate() {
        table.help(1, k as u16, &entry.help)?;
    }
    for (k, entry) in entries().enumerate() {
        table.header(2, k as u16, &entry.name, &entry.help)?;
    }
    for (k, entry) in entries().enumerate() {
        table.cell(3, k as u16, entry.example)?;
    }
    table.layout(entries().count() as u16, 24.0, 3)?;
    table.finish(output)
}
