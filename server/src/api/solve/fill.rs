//! A serpentine row fill between two terminals.

use serde::{Deserialize, Serialize};
use toile_model::conduction::{FillTerminals, RowFill, fill_sheet, sheet_resistance};
use toile_model::{Faults, Inspector};
use utoipa::ToSchema;

use crate::api::number::{PlainContactOhm, PlainFillThreadOhmPerM, PlainRowSpacingMm, PlainStitchLengthMm};
use crate::api::read::Readable;

/// Rows of thread sewn to and fro, joined by turns and by contacts between facing penetrations.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FillQuestion {
    /// Rows.
    #[schema(minimum = 1, maximum = 10_000)]
    pub rows: u32,
    /// Stitches of one row.
    #[schema(minimum = 1, maximum = 10_000)]
    pub stitches_per_row: u32,
    /// Length of one stitch.
    pub stitch_length_mm: PlainStitchLengthMm,
    /// Distance between rows.
    pub row_spacing_mm: PlainRowSpacingMm,
    /// Thread per metre of row.
    pub thread_ohm_per_m: PlainFillThreadOhmPerM,
    /// Contact between facing penetrations of neighbouring rows; left out where rows do not touch.
    pub contact_ohm: Option<PlainContactOhm>,
    /// Where current enters and leaves.
    pub terminals: Terminals,
}

/// Where current enters and leaves a fill.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Terminals {
    /// First and last penetration of the thread.
    Ends,
    /// Ideal bars over all ends of the rows.
    LeftRightBars,
    /// Ideal bars along the first and the last row.
    FirstLastRow,
}

impl From<Terminals> for FillTerminals {
    fn from(terminals: Terminals) -> Self {
        match terminals {
            Terminals::Ends => Self::Ends,
            Terminals::LeftRightBars => Self::Bars,
            Terminals::FirstLastRow => Self::Rows,
        }
    }
}

/// A contact of nothing would be a conductance without end; this part of a stitch is as good.
const LEAST_CONTACT: f64 = 1e-12;

impl FillQuestion {
    /// The fill.
    ///
    /// # Errors
    /// One row between its own first and last.
    pub fn to_model(self) -> Result<RowFill, Faults> {
        let mut inspect = Inspector::new();
        if self.rows < 2 && matches!(self.terminals, Terminals::FirstLastRow) {
            inspect.refuse("/rows".into(), self.rows.to_string(), "Nothing lies between the first and the last row.", "2 to 10000");
        }
        inspect.finish()?;
        let ohm_per_m = self.thread_ohm_per_m.0;
        let stitch_ohm = ohm_per_m * self.stitch_length_mm.0;
        Ok(RowFill {
            rows: self.rows,
            stitches_per_row: self.stitches_per_row,
            stitch_ohm,
            turn_ohm: ohm_per_m * self.row_spacing_mm.0,
            contact_ohm: self.contact_ohm.map_or(f64::INFINITY, |c| c.0.max(LEAST_CONTACT * stitch_ohm)),
        })
    }
}

/// Resistance of a fill.
#[derive(Debug, Serialize, ToSchema)]
pub struct FillAnswer {
    /// From terminal to terminal.
    pub resistance_ohm: f64,
    /// `network`: every stitch solved for; `sheet`: too large for that, taken as an anisotropic sheet.
    pub method: &'static str,
    /// Bound on the relative error against the network of every stitch.
    pub relative_error: f64,
    /// Along the thread alone, as if rows did not touch.
    pub thread_only_ohm: f64,
    /// Sheet resistance along the rows.
    pub sheet_along_ohm: f64,
    /// Sheet resistance across the rows; null where rows do not touch.
    pub sheet_across_ohm: Option<f64>,
}

/// What rounding leaves of a network, against tables solved with more digits.
const NETWORK_ERROR: f64 = 1e-11;

impl FillAnswer {
    /// Works out a fill.
    pub fn new(question: &FillQuestion, fill: &RowFill) -> Self {
        let terminals = question.terminals.into();
        let (resistance_ohm, method, relative_error) = match fill.resistance_ohm(terminals) {
            Some(ohm) => (ohm, "network", NETWORK_ERROR),
            None => {
                let sheet = sheet_resistance(fill, terminals);
                (sheet.ohm, "sheet", sheet.relative_error)
            }
        };
        let sheet = fill_sheet(fill, question.stitch_length_mm.0, question.row_spacing_mm.0);
        Self {
            resistance_ohm,
            method,
            relative_error,
            thread_only_ohm: fill.thread_ohm(),
            sheet_along_ohm: sheet.along_ohm_sq,
            sheet_across_ohm: question.contact_ohm.map(|_| sheet.across_ohm_sq),
        }
    }
}

impl Readable for FillQuestion {
    const SCHEMA: &'static str = "FillQuestion";
}
