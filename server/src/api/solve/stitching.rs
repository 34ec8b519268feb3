//! Stitches and thread of one feature.

use serde::{Deserialize, Serialize};
use toile_model::conduction::{MOST_STITCHES, Seam, StitchKind};
use toile_model::{Faults, Inspector};
use utoipa::ToSchema;

use crate::api::number::{
    PlainColumnWidthMm, PlainDensityMm, PlainFillHeightMm, PlainInterlaceFraction, PlainRowSpacingMm, PlainRunLengthMm,
    PlainStitchLengthMm, StitchedThicknessMm,
};
use crate::api::read::Readable;

/// Stitches and thread of one feature.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum StitchingQuestion {
    /// Forward along a line.
    Running {
        /// Length of the line.
        length_mm: PlainRunLengthMm,
        /// Nominal stitch length.
        stitch_length_mm: PlainStitchLengthMm,
        /// Thickness sewn.
        thickness_mm: StitchedThicknessMm,
        /// Depth of the interlacing point from the face.
        interlace_fraction: PlainInterlaceFraction,
        /// Times the line is sewn; 1 where nothing is given.
        #[schema(minimum = 1, maximum = 50)]
        passes: Option<u32>,
    },
    /// Forward, back and forward over each step.
    Back {
        /// Length of the line.
        length_mm: PlainRunLengthMm,
        /// Nominal stitch length.
        stitch_length_mm: PlainStitchLengthMm,
        /// Thickness sewn.
        thickness_mm: StitchedThicknessMm,
        /// Depth of the interlacing point from the face.
        interlace_fraction: PlainInterlaceFraction,
        /// Times the line is sewn; 1 where nothing is given.
        #[schema(minimum = 1, maximum = 50)]
        passes: Option<u32>,
    },
    /// A zigzag column.
    Satin {
        /// Length of the column.
        length_mm: PlainRunLengthMm,
        /// Width of the column.
        column_width_mm: PlainColumnWidthMm,
        /// Distance of penetrations on one side.
        density_mm: PlainDensityMm,
        /// Thickness sewn.
        thickness_mm: StitchedThicknessMm,
        /// Depth of the interlacing point from the face.
        interlace_fraction: PlainInterlaceFraction,
        /// Times the column is sewn; 1 where nothing is given.
        #[schema(minimum = 1, maximum = 50)]
        passes: Option<u32>,
        /// Not used by a satin column; taken so that one row of a table fits every kind.
        stitch_length_mm: Option<PlainStitchLengthMm>,
    },
    /// Rows to and fro.
    Fill {
        /// Length of a row.
        length_mm: PlainRunLengthMm,
        /// Height across the rows.
        height_mm: PlainFillHeightMm,
        /// Nominal distance between rows.
        row_spacing_mm: PlainRowSpacingMm,
        /// Nominal stitch length within a row.
        stitch_length_mm: PlainStitchLengthMm,
        /// Thickness sewn.
        thickness_mm: StitchedThicknessMm,
        /// Depth of the interlacing point from the face.
        interlace_fraction: PlainInterlaceFraction,
    },
}

impl StitchingQuestion {
    /// The feature, the thickness sewn and the depth of the interlacing point.
    pub fn to_model(self) -> (StitchKind, f64, f64) {
        match self {
            Self::Running { length_mm, stitch_length_mm, thickness_mm, interlace_fraction, passes } => (
                StitchKind::Running { length_m: length_mm.0, stitch_length_m: stitch_length_mm.0, passes: passes.unwrap_or(1) },
                thickness_mm.0,
                interlace_fraction.0,
            ),
            Self::Back { length_mm, stitch_length_mm, thickness_mm, interlace_fraction, passes } => (
                StitchKind::Back { length_m: length_mm.0, stitch_length_m: stitch_length_mm.0, passes: passes.unwrap_or(1) },
                thickness_mm.0,
                interlace_fraction.0,
            ),
            Self::Satin { length_mm, column_width_mm, density_mm, thickness_mm, interlace_fraction, passes, .. } => (
                StitchKind::Satin {
                    length_m: length_mm.0,
                    column_width_m: column_width_mm.0,
                    density_m: density_mm.0,
                    passes: passes.unwrap_or(1),
                },
                thickness_mm.0,
                interlace_fraction.0,
            ),
            Self::Fill { length_mm, height_mm, row_spacing_mm, stitch_length_mm, thickness_mm, interlace_fraction } => (
                StitchKind::Fill {
                    length_m: length_mm.0,
                    height_m: height_mm.0,
                    row_spacing_m: row_spacing_mm.0,
                    stitch_length_m: stitch_length_mm.0,
                },
                thickness_mm.0,
                interlace_fraction.0,
            ),
        }
    }
}

/// Stitches and thread of a feature.
#[derive(Debug, Serialize, ToSchema)]
pub struct StitchingAnswer {
    /// Stitches in all.
    pub stitches: f64,
    /// Length of one stitch as it comes out.
    pub stitch_length_actual_mm: f64,
    /// Top thread.
    pub top_thread_mm: f64,
    /// Bobbin thread.
    pub bobbin_thread_mm: f64,
    /// Top thread of elliptic stitches; a real stitch lies between.
    pub top_thread_elliptic_mm: f64,
    /// Bobbin thread of elliptic stitches.
    pub bobbin_thread_elliptic_mm: f64,
}

impl StitchingAnswer {
    /// Puts a seam on the wire.
    ///
    /// # Errors
    /// More stitches than any machine sews: a slip of the unit.
    pub fn new(seam: Seam) -> Result<Self, Faults> {
        let mut inspect = Inspector::new();
        if seam.stitches > MOST_STITCHES {
            let given = format!("{} stitches", seam.stitches);
            inspect.refuse("/length_mm".into(), given, "The feature takes too many stitches.", format!("at most {MOST_STITCHES} stitches"));
        }
        inspect.finish()?;
        Ok(Self {
            stitches: seam.stitches,
            stitch_length_actual_mm: seam.stitch_length_actual_m * 1e3,
            top_thread_mm: seam.top_thread_m * 1e3,
            bobbin_thread_mm: seam.bobbin_thread_m * 1e3,
            top_thread_elliptic_mm: seam.top_thread_elliptic_m * 1e3,
            bobbin_thread_elliptic_mm: seam.bobbin_thread_elliptic_m * 1e3,
        })
    }
}

impl Readable for StitchingQuestion {
    const SCHEMA: &'static str = "StitchingQuestion";
}
