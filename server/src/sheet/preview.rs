//! How a sheet was understood, before anything is computed.

use super::cell;
use super::columns::Takes;
use super::encoding::Encoding;
use super::fault::{RowFault, SheetFault};
use super::header::{Input, Slot, Understood};
use super::open::Opened;
use super::row::word;
use super::unit::Unit;
use super::workbook::Form;
use super::worker::Plan;
use super::{Dialect, Limits};
use std::io::Read;
use toile_model::Measured;
use toile_model::materials::Library;
use toile_model::uncertainty::Spread;
use toile_model::units::{Quantity, significant};

/// Rows that are looked at for an example of each column.
const LOOKED_AT: u64 = 200;
/// Rows that are shown.
const SHOWN: usize = 10;

/// A sheet as it was understood.
#[derive(Debug)]
pub struct Preview {
    /// Kind of file.
    pub form: Form,
    /// The sheet that was read, where the file has several.
    pub sheet: Option<String>,
    /// All sheets of the file; none for CSV.
    pub sheets: Vec<String>,
    /// Encoding as known from the beginning of the file.
    pub encoding: Encoding,
    /// Delimiter and decimal mark.
    pub dialect: Dialect,
    /// Row of the header, counted from 1.
    pub header_row: u64,
    /// Every column, in order.
    pub columns: Vec<ColumnPreview>,
    /// The first rows.
    pub rows: Vec<RowPreview>,
    /// What the owner should know, in words.
    pub notes: Vec<String>,
}

/// A column as it was understood.
#[derive(Debug)]
pub struct ColumnPreview {
    /// Header as written.
    pub header: String,
    /// What it was understood as.
    pub understood: Understood,
    /// What a field means, and what its cells may hold.
    pub meaning: Option<String>,
    /// The first cell that is not empty.
    pub example: Option<String>,
    /// What that cell was read as, with its unit, or why it was not.
    pub read_as: Option<Result<String, String>>,
}

/// A row as it stands, with what is wrong with it.
#[derive(Debug)]
pub struct RowPreview {
    /// Row of the spreadsheet, counted from 1.
    pub row: u64,
    /// Its cells, long ones cut short.
    pub cells: Vec<String>,
    /// What is wrong with it, as far as can be told without working it out.
    pub problems: Vec<RowFault>,
}

/// Reads the first rows of an opened sheet and tells how it was understood.
///
/// # Errors
/// [`SheetFault`] where the sheet cannot be used as a whole.
pub fn preview<R: Read>(opened: Opened<R>, library: &Library, limits: &Limits) -> Result<Preview, SheetFault> {
    let Opened { head, mut rows, form, sheet, sheets, mut notes } = opened;
    let plan = head.plan(library, limits)?;
    let mut text = String::new();
    rows.take(LOOKED_AT, &mut text).map_err(|fault| fault.later(head.rows()))?;
    let mut examples: Vec<Option<String>> = vec![None; plan.header.slots().len()];
    let mut shown = Vec::new();
    plan.look(&text, |row, cells, problems| {
        for (example, cell) in examples.iter_mut().zip(cells) {
            if example.is_none() && !cell.trim().is_empty() {
                *example = Some(short(cell.trim()));
            }
        }
        if shown.len() < SHOWN {
            shown.push(RowPreview { row: head.rows() + row, cells: cells.iter().map(|c| short(c)).collect(), problems });
        }
    });
    notes.extend(plan.notes());
    let columns = plan
        .columns_read()
        .iter()
        .zip(plan.header.slots())
        .zip(examples)
        .map(|((reading, slot), example)| {
            let input = if let Slot::Input(input) = slot { Some(input) } else { None };
            ColumnPreview {
                header: short(&reading.header),
                understood: reading.understood.clone(),
                meaning: input.map(|input| input.column.meaning()),
                read_as: input.zip(example.as_deref()).map(|(input, example)| read_as(&plan, input, example)),
                example,
            }
        })
        .collect();
    let (encoding, dialect, header_row) = (rows.encoding(), head.dialect, head.rows());
    Ok(Preview { form, sheet, sheets, encoding, dialect, header_row, columns, rows: shown, notes })
}

/// A cell cut to what fits into a preview.
fn short(cell: &str) -> String {
    const MOST: usize = 120;
    match cell.char_indices().nth(MOST) {
        Some((end, _)) => format!("{} ...", &cell[..end]),
        None => cell.to_owned(),
    }
}

/// What an example is read as, in words.
fn read_as(plan: &Plan<'_>, input: &Input, example: &str) -> Result<String, String> {
    let mark = plan.head.dialect.mark;
    let unit = |quantity: &'static Quantity| input.unit.unwrap_or(Unit::own(quantity));
    match input.column.takes {
        Takes::Name => Ok(example.to_owned()),
        Takes::Code(_) => Ok(example.to_uppercase()),
        Takes::Word(words) => word(words, example).map(|w| w.word.to_owned()),
        Takes::Entry(shelf, _) => super::row::entry(plan.library, shelf, example).map(str::to_owned),
        Takes::Number(quantity, _) => cell::measured(example, mark, quantity, unit(quantity)).map(|m| measured_words(m, quantity)),
        Takes::Plain(quantity, _) => {
            cell::plain(example, mark, quantity, unit(quantity)).map(|v| measured_words(Measured::exact(v), quantity))
        }
        Takes::Count(quantity, _) => cell::count(example, mark, quantity).map(|n| n.to_string()),
    }
    .map_err(|fault| format!("{} Allowed: {}.", fault.message, fault.allowed))
}

/// A value with its spread in the field's own unit.
fn measured_words(measured: Measured, quantity: &Quantity) -> String {
    let edge = |si: f64| significant(quantity.from_si(si), 6);
    let gap = if quantity.unit.is_empty() { "" } else { " " };
    let value = match measured.spread {
        Spread::Exact => edge(measured.value).to_string(),
        Spread::Uniform => {
            let (low, high) = measured.named_limits();
            format!("{} to {}", edge(low), edge(high))
        }
        Spread::Normal => {
            let (_, high) = measured.named_limits();
            format!("{} ± {}", edge(measured.value), significant(quantity.from_si(high) - quantity.from_si(measured.value), 6))
        }
    };
    format!("{value}{gap}{}", quantity.unit)
}
