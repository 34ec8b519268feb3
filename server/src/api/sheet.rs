//! How a spreadsheet was understood.

use serde::Serialize;
use utoipa::ToSchema;

/// An xlsx or ods workbook.
#[derive(ToSchema)]
#[schema(value_type = String, format = Binary)]
#[allow(dead_code, reason = "declared for the document; workbooks are read as bytes")]
pub struct Workbook(Vec<u8>);

/// How a spreadsheet was understood. Nothing has been computed.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetPreview {
    /// Kind of file: `csv`, `xlsx` or `ods`.
    pub form: &'static str,
    /// The sheet that was read; none for CSV.
    pub sheet: Option<String>,
    /// All sheets of the file; none for CSV.
    #[schema(min_items = 0)]
    pub sheets: Vec<String>,
    /// Encoding of the text: `UTF-8`, `UTF-16` or `Windows-1252`.
    pub encoding: &'static str,
    /// Character between cells: a comma, a semicolon or a tab.
    pub delimiter: char,
    /// Mark before decimals: `point`, `comma`, or `unsure` where nothing in the sheet tells.
    pub decimal_mark: &'static str,
    /// Row of the header, counted from 1.
    #[schema(minimum = 1)]
    pub header_row: u64,
    /// Every column, in order.
    #[schema(min_items = 0)]
    pub columns: Vec<SheetColumn>,
    /// The first rows, blank ones left out, with what is wrong with them.
    #[schema(min_items = 0)]
    pub rows: Vec<SheetRow>,
    /// What should be known of the sheet, in words.
    #[schema(min_items = 0)]
    pub notes: Vec<String>,
}

/// One column as it was understood.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetColumn {
    /// Header as written.
    pub header: String,
    /// `field` (read), `result` (of an earlier answer, written anew) or `own` (kept as it is).
    pub understood: &'static str,
    /// Name of the field or result.
    pub name: Option<String>,
    /// What the field means and what its cells may hold.
    pub meaning: Option<String>,
    /// Unit of bare numbers.
    pub unit: Option<&'static str>,
    /// The first cell that is not empty.
    pub example: Option<String>,
    /// What that cell is read as, in the field's own unit.
    pub read_as: Option<String>,
    /// Why that cell cannot be read.
    pub not_read: Option<String>,
    /// The field that the header of an `own` column comes near; it is not read as that.
    pub near: Option<String>,
}

/// One row as it stands.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetRow {
    /// Row of the spreadsheet, counted from 1.
    #[schema(minimum = 1)]
    pub row: u64,
    /// Its cells, long ones cut short.
    #[schema(min_items = 0)]
    pub cells: Vec<String>,
    /// What is wrong with it, as far as can be told without computing.
    #[schema(min_items = 0)]
    pub problems: Vec<SheetProblem>,
}

/// One thing wrong with a row.
#[derive(Debug, Serialize, ToSchema)]
pub struct SheetProblem {
    /// Header of the column as written.
    pub column: String,
    /// What the cell says.
    pub given: String,
    /// Why it is refused.
    pub message: String,
    /// What is allowed.
    pub allowed: String,
}
