//! What can be wrong with a whole sheet, and with one row of it, in plain words.

use std::fmt;

/// Why a sheet cannot be answered as a whole.
#[derive(Debug)]
#[non_exhaustive]
pub enum SheetFault {
    /// Nothing but white space.
    Empty,
    /// Not a text: what it looks like instead, and what to do.
    NotText {
        /// What was found.
        found: String,
    },
    /// No row holds column names.
    NoHeader {
        /// The first cells of the first row.
        found: Vec<String>,
    },
    /// No column was understood.
    NoKnownColumn {
        /// The headers as written.
        found: Vec<String>,
        /// For some of them, the field that comes near.
        guesses: Vec<(String, String)>,
    },
    /// Two columns were understood as the same field.
    SameField {
        /// The field.
        field: String,
        /// The headers as written.
        headers: [String; 2],
    },
    /// Columns without which no row can be answered.
    MissingColumns {
        /// What is missing, one phrase each.
        missing: Vec<String>,
        /// Columns that were not understood, with the field that comes near.
        guesses: Vec<(String, String)>,
    },
    /// A quoted cell that never closes.
    OpenQuote {
        /// Row in the spreadsheet, the header being row 1.
        row: u64,
    },
    /// A cell over the limit.
    CellTooLong {
        /// Row in the spreadsheet.
        row: u64,
        /// Column, from 1.
        column: usize,
        /// Its size.
        bytes: usize,
        /// The limit.
        allowed: usize,
    },
    /// A row over the limit.
    RowTooLong {
        /// Row in the spreadsheet.
        row: u64,
        /// The limit in bytes.
        allowed: usize,
    },
    /// A row with more cells than the limit.
    TooManyColumns {
        /// Row in the spreadsheet.
        row: u64,
        /// Cells of the row.
        found: usize,
        /// The limit.
        allowed: usize,
    },
    /// A workbook that cannot be read.
    Damaged {
        /// Why.
        why: &'static str,
    },
    /// A workbook that unpacks to more than the limit.
    UnpacksTooLarge {
        /// The limit in bytes.
        allowed: u64,
    },
    /// A cell or another piece of a workbook over the limit.
    PieceTooLong {
        /// The limit in bytes.
        allowed: usize,
    },
    /// No sheet of that name.
    NoSheet {
        /// The name asked for.
        name: String,
        /// The names there are; none for a CSV file.
        names: Vec<String>,
    },
    /// No sheet of the workbook can be used.
    NoUsableSheet {
        /// Each sheet that was looked at, with what it lacks.
        tried: Vec<(String, String)>,
    },
    /// More rows than the limit.
    TooManyRows {
        /// The limit.
        allowed: u64,
    },
    /// The sheet is not the one that was answered in part before.
    Changed,
    /// The one who asked wants no more.
    Stopped,
    /// The sheet could not be read on.
    Read(std::io::Error),
    /// The answer could not be written on.
    Write(std::io::Error),
    /// A fault of ours.
    Internal,
}

impl SheetFault {
    /// A word for programs; it does not change.
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Empty => "empty",
            Self::NotText { .. } => "not_text",
            Self::NoHeader { .. } => "no_header",
            Self::NoKnownColumn { .. } => "no_known_column",
            Self::SameField { .. } => "same_field",
            Self::MissingColumns { .. } => "missing_columns",
            Self::OpenQuote { .. } => "open_quote",
            Self::CellTooLong { .. } => "cell_too_long",
            Self::RowTooLong { .. } => "row_too_long",
            Self::TooManyColumns { .. } => "too_many_columns",
            Self::Damaged { .. } => "damaged",
            Self::UnpacksTooLarge { .. } => "unpacks_too_large",
            Self::PieceTooLong { .. } => "piece_too_long",
            Self::NoSheet { .. } => "no_sheet",
            Self::NoUsableSheet { .. } => "no_usable_sheet",
            Self::TooManyRows { .. } => "too_many_rows",
            Self::Changed => "changed",
            Self::Stopped => "stopped",
            Self::Read(_) => "read",
            Self::Write(_) => "write",
            Self::Internal => "internal",
        }
    }

    /// Whether a limit of size was passed, so that less of the same would do.
    pub const fn is_too_large(&self) -> bool {
        matches!(
            self,
            Self::CellTooLong { .. }
                | Self::RowTooLong { .. }
                | Self::TooManyColumns { .. }
                | Self::TooManyRows { .. }
                | Self::UnpacksTooLarge { .. }
                | Self::PieceTooLong { .. }
        )
    }

    pub(super) const fn damaged(why: &'static str) -> Self {
        Self::Damaged { why }
    }

    /// The same fault with its row counted from a later start.
    pub fn later(mut self, rows: u64) -> Self {
        match &mut self {
            Self::OpenQuote { row } | Self::CellTooLong { row, .. } | Self::RowTooLong { row, .. } | Self::TooManyColumns { row, .. } => {
                *row += rows
            }
            _ => {}
        }
        self
    }
}

impl fmt::Display for SheetFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(f, "The sheet is empty. A header row and at least one column of the list are needed."),
            Self::NotText { found } => write!(f, "This is not a text with columns: {found}"),
            Self::NoHeader { found } => {
                write!(
                    f,
                    "The first rows of the sheet hold no column names; it begins with {}. Name the columns in a row above the pads.",
                    listed(found)
                )
            }
            Self::NoKnownColumn { found, guesses } => {
                write!(
                    f,
                    "None of the columns was understood. Found: {}.{} Columns such as diameter_mm, run_length_mm, base_1, thread and controller are needed.",
                    listed(found),
                    Guesses(guesses)
                )
            }
            Self::SameField { field, headers: [a, b] } => {
                write!(f, "Two columns mean the same: \"{a}\" and \"{b}\" are both understood as {field}. Keep one, or rename the other.")
            }
            Self::MissingColumns { missing, guesses } => {
                write!(f, "The sheet lacks {}.{}", missing.join("; "), Guesses(guesses))
            }
            Self::OpenQuote { row } => {
                write!(f, "A quoted cell that begins in row {row} never ends. Close the quote, or double it inside the cell.")
            }
            Self::CellTooLong { row, column, bytes, allowed } => {
                write!(f, "The cell in row {row}, column {column} holds {bytes} bytes; at most {allowed} are allowed.")
            }
            Self::RowTooLong { row, allowed } => write!(f, "Row {row} holds more than {allowed} bytes, which is the most allowed."),
            Self::TooManyColumns { row, found, allowed } => write!(f, "Row {row} has {found} columns; at most {allowed} are allowed."),
            Self::Damaged { why } => write!(f, "The workbook cannot be read: {why}."),
            Self::UnpacksTooLarge { allowed } => {
                write!(
                    f,
                    "The workbook unpacks to more than {} MiB, which is the most allowed. Split it, or save it as CSV.",
                    allowed / (1024 * 1024)
                )
            }
            Self::PieceTooLong { allowed } => write!(f, "The workbook has a cell of more than {allowed} bytes, which is the most allowed."),
            Self::NoSheet { name, names } if names.is_empty() => {
                write!(f, "A CSV file has no sheets to choose from; leave the name \"{}\" out.", clipped(name))
            }
            Self::NoSheet { name, names } => {
                write!(f, "The workbook has no sheet \"{}\". It has {}.", clipped(name), listed(names))
            }
            Self::NoUsableSheet { tried } => {
                write!(f, "No sheet of the workbook can be used.")?;
                for (name, why) in tried.iter().take(5) {
                    write!(f, " \"{}\": {why}", clipped(name))?;
                }
                Ok(())
            }
            Self::TooManyRows { allowed } => write!(f, "The sheet has more than {allowed} rows, which is the most allowed. Split it."),
            Self::Changed => write!(f, "The sheet has changed since it was answered in part."),
            Self::Stopped => write!(f, "The work was stopped."),
            Self::Read(_) => write!(f, "The sheet could not be read to its end."),
            Self::Write(_) => write!(f, "The answer could not be written to its end."),
            Self::Internal => write!(f, "The sheet could not be worked through because of a fault of ours, not of the sheet."),
        }
    }
}

impl std::error::Error for SheetFault {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Read(cause) | Self::Write(cause) => Some(cause),
            _ => None,
        }
    }
}

struct Guesses<'a>(&'a [(String, String)]);

impl fmt::Display for Guesses<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (header, guess) in self.0 {
            write!(f, " Perhaps \"{}\" is meant as {guess}.", clipped(header))?;
        }
        Ok(())
    }
}

fn listed(cells: &[String]) -> String {
    const MOST: usize = 8;
    let mut list: Vec<String> = cells.iter().take(MOST).map(|c| format!("\"{}\"", clipped(c))).collect();
    if cells.len() > MOST {
        list.push(format!("and {} more", cells.len() - MOST));
    }
    list.join(", ")
}

/// The start of a text, so that a message stays short whatever a cell holds.
pub(super) fn clipped(text: &str) -> String {
    const MOST: usize = 60;
    match text.char_indices().nth(MOST) {
        Some((end, _)) => format!("{} ...", &text[..end]),
        None => text.to_owned(),
    }
}

/// One thing wrong with a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowFault {
    /// Header of the column as the user wrote it; the field's name where the sheet has no such column.
    pub column: String,
    /// What the cell says; empty where it says nothing.
    pub given: String,
    /// Why it is refused.
    pub message: String,
    /// What is allowed.
    pub allowed: String,
}

impl fmt::Display for RowFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", clipped(&self.column), self.message)?;
        if !self.given.is_empty() {
            write!(f, " Given: {}.", clipped(&self.given))?;
        }
        if !self.allowed.is_empty() {
            write!(f, " Allowed: {}.", self.allowed)?;
        }
        Ok(())
    }
}
