//! Workbooks in and out: xlsx (ECMA-376) and ods (ISO/IEC 26300) are turned into a text of commas, which goes the way
//! of every CSV, and an answered text is turned into xlsx.
//!
//! Memory is bounded whatever the file holds: at most [`Limits::most_kept_bytes`] of shared texts, a directory of
//! [`package`], one row of cells and one piece of XML at a time. A kept library that reads both kinds of file keeps all
//! cells of an ods, twice, and makes room for as many shared texts as the file says there are; hence own readers over
//! a kept reader of zip and of XML.

mod ods;
mod package;
mod table;
mod value;
mod write;
mod xlsx;

pub use write::{MOST_XLSX_ROWS, XlsxTable, write_xlsx};

use super::dialect::Dialect;
use super::fault::SheetFault;
use super::{Head, Limits, Mark};
use package::Package;
use std::fs::File;
use std::io::{BufWriter, Seek, Write};
use table::Table;
use xlsx::Xlsx;

/// The dialect of a workbook's text form.
pub(super) const TEXT_FORM: Dialect = Dialect { marks: value::MARKS, mark: Mark::Point };
/// Sheets that are tried for a header.
const MOST_TRIED: usize = 50;

/// Kind of a file with a sheet in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Text with delimiters.
    Csv,
    /// Office Open XML.
    Xlsx,
    /// OpenDocument.
    Ods,
}

impl Form {
    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Xlsx => "xlsx",
            Self::Ods => "ods",
        }
    }
}

enum Kind {
    Xlsx(Box<Xlsx>),
    Ods,
}

/// A workbook file.
pub(super) struct Book {
    package: Package,
    kind: Kind,
    /// Name, and whether it is hidden.
    sheets: Vec<(String, bool)>,
}

/// A sheet of a workbook as text.
pub(super) struct Chosen {
    pub(super) text: File,
    pub(super) sheet: String,
    pub(super) notes: Vec<String>,
}

impl Book {
    /// Finds out what the file is and which sheets it has.
    pub(super) fn open(file: File, limits: &Limits) -> Result<Self, SheetFault> {
        let mut package = Package::open(file, limits)?;
        if package.start_of("mimetype", 64).starts_with(b"application/vnd.oasis.opendocument.spreadsheet") {
            let sheets = ods::sheets(&mut package)?.into_iter().map(|name| (name, false)).collect();
            return Ok(Self { package, kind: Kind::Ods, sheets });
        }
        if package.has("[Content_Types].xml") {
            let xlsx = Box::new(Xlsx::open(&mut package, limits)?);
            let sheets = xlsx.sheets.iter().map(|(name, _, hidden)| (name.clone(), *hidden)).collect();
            return Ok(Self { package, kind: Kind::Xlsx(xlsx), sheets });
        }
        Err(SheetFault::NotText { found: "this is a zip archive that is neither xlsx nor ods. Unpack it first.".into() })
    }

    pub(super) const fn form(&self) -> Form {
        match self.kind {
            Kind::Xlsx(_) => Form::Xlsx,
            Kind::Ods => Form::Ods,
        }
    }

    /// The names of its sheets, in order.
    pub(super) fn names(&self) -> Vec<String> {
        self.sheets.iter().map(|(name, _)| name.clone()).collect()
    }

    /// The sheet of a name, or the first one whose header is understood, as text.
    pub(super) fn choose(&mut self, named: Option<&str>, limits: &Limits) -> Result<Chosen, SheetFault> {
        let k = match named {
            Some(name) => self.named(name)?,
            None => self.first_understood(limits)?,
        };
        let mut notes = Vec::new();
        let others: Vec<String> =
            self.sheets.iter().enumerate().filter(|(n, _)| *n != k).map(|(_, (name, _))| quoted(name)).take(8).collect();
        if !others.is_empty() {
            let more = self.sheets.len() - 1 - others.len();
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            let why = if named.is_some() { "as asked" } else { "the first whose header is understood" };
            notes.push(format!("The sheet {} was read, {why}; not read: {}{more}.", quoted(&self.sheets[k].0), others.join(", ")));
        }
        let mut text = tempfile::tempfile().map_err(SheetFault::Write)?;
        let mut out = BufWriter::with_capacity(256 * 1024, &mut text);
        let (filled, unworked) = self.text(k, &mut out, limits)?;
        out.flush().map_err(SheetFault::Write)?;
        drop(out);
        text.rewind().map_err(SheetFault::Write)?;
        if filled > 0 {
            notes.push(format!("{filled} cells under merged ones were read as if each held the value of the merged cell above."));
        }
        if unworked > 0 {
            notes.push(format!(
                "{unworked} cells hold a formula without a stored value and were read as its text. Let a spreadsheet work them out and save the file again."
            ));
        }
        Ok(Chosen { text, sheet: self.sheets[k].0.clone(), notes })
    }

    fn named(&self, name: &str) -> Result<usize, SheetFault> {
        let place = |same: &dyn Fn(&str) -> bool| self.sheets.iter().position(|(n, _)| same(n));
        let found = place(&|n| n == name).or_else(|| place(&|n| n.trim().to_lowercase() == name.trim().to_lowercase()));
        found.ok_or_else(|| SheetFault::NoSheet { name: name.into(), names: self.names() })
    }

    fn first_understood(&mut self, limits: &Limits) -> Result<usize, SheetFault> {
        let mut faults = Vec::new();
        let shown: Vec<usize> = (0..self.sheets.len()).filter(|k| !self.sheets[*k].1).take(MOST_TRIED).collect();
        for k in shown {
            let mut top = Vec::new();
            self.top(k, &mut top, limits)?;
            match Head::read_with(&top[..], Some(TEXT_FORM), limits) {
                Ok(_) => return Ok(k),
                Err(fault) => faults.push((k, fault)),
            }
        }
        match faults.pop() {
            None => Err(SheetFault::Empty),
            Some((_, fault)) if faults.is_empty() => Err(fault),
            Some(last) => {
                faults.push(last);
                let tried = faults.into_iter().map(|(k, fault)| (self.sheets[k].0.clone(), fault.to_string())).collect();
                Err(SheetFault::NoUsableSheet { tried })
            }
        }
    }

    /// The first rows of a sheet as text, as far as its header can be.
    fn top(&mut self, k: usize, out: &mut dyn Write, limits: &Limits) -> Result<(), SheetFault> {
        let mut table = Table::new(out, false, limits);
        match &self.kind {
            Kind::Ods => ods::rows(&mut self.package, &self.sheets[k].0, &mut table, limits),
            Kind::Xlsx(xlsx) => xlsx.rows(&mut self.package, &xlsx.sheets[k].1, &[], &mut table, limits).map(drop),
        }
    }

    /// A sheet as text; how many cells took a merged value, and how many formulas have none.
    fn text(&mut self, k: usize, out: &mut BufWriter<&mut File>, limits: &Limits) -> Result<(u64, u64), SheetFault> {
        let mut table = Table::new(out, true, limits);
        let xlsx = match &self.kind {
            Kind::Ods => {
                ods::rows(&mut self.package, &self.sheets[k].0, &mut table, limits)?;
                return Ok((table.filled, table.unworked));
            }
            Kind::Xlsx(xlsx) => xlsx,
        };
        let merged = xlsx.rows(&mut self.package, &xlsx.sheets[k].1, &[], &mut table, limits)?;
        if !merged.iter().any(|m| m.last_row > m.row) {
            return Ok((table.filled, table.unworked));
        }
        // Merged cells are listed behind all rows, so a sheet that has some is read again.
        out.rewind().and_then(|()| out.get_mut().set_len(0)).map_err(SheetFault::Write)?;
        let mut table = Table::new(out, true, limits);
        xlsx.rows(&mut self.package, &xlsx.sheets[k].1, &merged, &mut table, limits)?;
        Ok((table.filled, table.unworked))
    }
}

fn quoted(name: &str) -> String {
    format!("\"{}\"", super::fault::clipped(name))
}
