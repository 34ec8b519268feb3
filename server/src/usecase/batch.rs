//! Answering spreadsheets.

use std::io::{Read, Write};

use toile_model::LIBRARY;

use crate::sheet::{Limits, answer_csv};
pub use crate::sheet::{SheetFault, Summary};

/// Answers a CSV file row by row; `progress` is told the rows done.
///
/// # Errors
/// What keeps the file as a whole from being read or written. A bad row is no error: its problem stands in it.
pub fn batch_answer(input: impl Read, output: impl Write, progress: impl FnMut(u64)) -> Result<Summary, SheetFault> {
    answer_csv(input, output, &LIBRARY, &Limits::default(), progress)
}
