//! Answering spreadsheets.

use std::io::{Read, Write};

use toile_model::materials::Library;

use crate::sheet::{COLUMNS, Limits, answer_csv};
pub use crate::sheet::{SheetFault, Summary};

/// Every column that is understood, as text for the API's document.
pub fn batch_columns() -> String {
    let mut text = String::from("Columns that are understood; case, spaces, punctuation and a unit in brackets do not matter:\n\n");
    for column in &COLUMNS {
        let what = match (column.quantity(), column.words()) {
            (Some(quantity), _) => format!("{}, {}", quantity.name, quantity.allowed()),
            (None, words) if !words.is_empty() => format!("one of {}", words.join(", ")),
            (None, _) => "a name, of the library where there is one".to_owned(),
        };
        let names: Vec<String> = (0..column.layers().max(1)).map(|layer| column.name_of(layer)).collect();
        let also = if column.synonyms.is_empty() { String::new() } else { format!(" Also: {}.", column.synonyms.join(", ")) };
        text.push_str(&format!("- `{}`: {what}, for example {}.{also}\n", names.join("`, `"), column.example));
    }
    text
}

/// Answers a CSV file row by row; `progress` is told the rows done.
///
/// # Errors
/// What keeps the file as a whole from being read or written. A bad row is no error: its problem stands in it.
pub fn batch_answer(input: impl Read, output: impl Write, library: &Library, progress: impl FnMut(u64)) -> Result<Summary, SheetFault> {
    answer_csv(input, output, library, &Limits::default(), progress)
}
