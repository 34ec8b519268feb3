//! Quotes as lines of a spreadsheet.

use super::QuoteRow;
use crate::sheet::csv_line;
use crate::usecase::clock::time_text;

/// What stands in the columns, in their order.
pub const QUOTE_COLUMNS: [&str; 18] = [
    "number",
    "revision",
    "state",
    "customer_reference",
    "title",
    "verdict",
    "chance",
    "quantity",
    "unit_price",
    "total",
    "currency",
    "valid_until",
    "created_at",
    "changed_at",
    "sent_at",
    "decided_at",
    "model_version",
    "library_revision",
];

/// The line above all others.
pub fn quote_head() -> Vec<u8> {
    csv_line(QUOTE_COLUMNS)
}

/// One line for each quote.
pub fn quote_lines(rows: &[QuoteRow]) -> Vec<u8> {
    rows.iter().flat_map(line).collect()
}

fn line(row: &QuoteRow) -> Vec<u8> {
    let or_nothing = |text: &Option<String>| text.clone().unwrap_or_default();
    let at = |ms: Option<i64>| ms.map(time_text).unwrap_or_default();
    let cells: [String; QUOTE_COLUMNS.len()] = [
        row.number.clone(),
        row.revision.to_string(),
        row.state.clone(),
        row.said.customer_reference.clone(),
        row.said.title.clone(),
        row.said.verdict.clone(),
        row.said.chance.to_string(),
        row.said.quantity.to_string(),
        or_nothing(&row.said.unit_price),
        or_nothing(&row.said.total),
        or_nothing(&row.said.currency),
        row.said.valid_until.clone(),
        at(Some(row.created_ms)),
        at(Some(row.changed_ms)),
        at(row.sent_ms),
        at(row.decided_ms),
        row.said.model_version.clone(),
        row.said.library_revision.clone(),
    ];
    csv_line(cells.iter().map(String::as_str))
}
