//! Stitch geometry: from nominal lengths to stitch counts and thread lengths.

/// How a feature is stitched, with its nominal measures in m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StitchKind {
    /// Forward along a line.
    Running {
        /// Length of the line.
        length_m: f64,
        /// Nominal stitch length.
        stitch_length_m: f64,
        /// Times the line is sewn.
        passes: u32,
    },
    /// Forward, back and forward again over each step: three stitches a step.
    Back {
        /// Length of the line.
        length_m: f64,
        /// Nominal stitch length.
        stitch_length_m: f64,
        /// Times the line is sewn.
        passes: u32,
    },
    /// A zigzag column.
    Satin {
        /// Length of the column.
        length_m: f64,
        /// Width of the column.
        column_width_m: f64,
        /// Nominal distance between penetrations on the same side.
        density_m: f64,
        /// Times the column is sewn.
        passes: u32,
    },
    /// Parallel rows to and fro, joined by one stitch of a row pitch at each turn.
    Fill {
        /// Length of a row.
        length_m: f64,
        /// Height across the rows; first and last row lie on the outline.
        height_m: f64,
        /// Nominal distance between rows.
        row_spacing_m: f64,
        /// Nominal stitch length within a row.
        stitch_length_m: f64,
    },
}

/// What a stitched feature takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seam {
    /// Stitches in all.
    pub stitches: f64,
    /// Length of one stitch as it comes out, m (within a row, for a fill).
    pub stitch_length_actual_m: f64,
    /// Top (needle) thread of rectangular stitches, m: the most that stitches of this span take.
    pub top_thread_m: f64,
    /// Bobbin thread of rectangular stitches, m.
    pub bobbin_thread_m: f64,
    /// Top thread of elliptic stitches, m: thread that rounds the holes takes less.
    pub top_thread_elliptic_m: f64,
    /// Bobbin thread of elliptic stitches, m.
    pub bobbin_thread_elliptic_m: f64,
}

/// Where the stitches of a feature lie on the cloth, before it is known how deep they go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layout {
    /// Stitches but for the turns of a fill.
    pub stitches: f64,
    /// What they span together, m.
    pub span_m: f64,
    /// Stitches that lead from one row of a fill to the next.
    pub turns: f64,
    /// What the turns span together, m.
    pub turns_span_m: f64,
}

/// Largest number of stitches that one feature may ask for; a piece beyond it is a slip of the unit.
pub const MOST_STITCHES: f64 = 1e8;

/// Thread and stitches of a feature.
///
/// Two shapes of a stitch, between which a real one lies. Rectangular: each stitch uses its span plus two legs into the
/// cloth, `2 f t` for the top thread and `2 (1 - f) t` for the bobbin, t the thickness sewn and f the depth of the
/// interlacing point from the face as a fraction of t. Elliptic: each span is half an ellipse with the semi-axes span/2
/// and `f t` (bobbin `(1 - f) t`). Thread thickness and stretch are ignored.
///
/// Inputs: lengths above 0 in m, `thickness_m` >= 0, `interlace_fraction` 0 to 1.
/// Source: lockstitch 301 with rectangular section, `2 + 2 T S` per unit seam for both threads (textile costing
/// text, as published, unattributed); real stitches are rectangular to elliptic (Chauhan and Ghosh, Indian J. Fibre &
/// Textile Res., abstract); counts by the definitions of the reference table G2.
/// Accuracy: exact for the stated shapes; against the table G2 within its twelve digits.
///
/// Example: 203 mm in stitches of 3.6 mm through 0.46 mm with f = 1 takes 57 stitches and 255.44 mm of top thread, or
/// 218.46 mm where it rounds the holes.
///
/// ```
/// use toile_model::conduction::{StitchKind, stitching};
/// let seam = stitching(&StitchKind::Running { length_m: 0.203, stitch_length_m: 0.0036, passes: 1 }, 0.00046, 1.0);
/// assert_eq!(seam.stitches, 57.0);
/// assert!((seam.top_thread_m - 0.25544).abs() < 1e-12);
/// assert!((seam.top_thread_elliptic_m - 0.21846).abs() < 1e-5);
/// ```
pub fn stitching(kind: &StitchKind, thickness_m: f64, interlace_fraction: f64) -> Seam {
    Layout::of(kind).seam(thickness_m, interlace_fraction)
}

impl Layout {
    /// Where the stitches of a feature lie.
    pub fn of(kind: &StitchKind) -> Self {
        let straight = |span_m, stitches| Self { stitches, span_m, turns: 0.0, turns_span_m: 0.0 };
        match *kind {
            StitchKind::Running { length_m, stitch_length_m, passes } => {
                straight(length_m * f64::from(passes), steps(length_m, stitch_length_m) * f64::from(passes))
            }
            StitchKind::Back { length_m, stitch_length_m, passes } => {
                let times = 3.0 * f64::from(passes);
                straight(length_m * times, steps(length_m, stitch_length_m) * times)
            }
            StitchKind::Satin { length_m, column_width_m, density_m, passes } => {
                let pairs = steps(length_m, density_m);
                let stitches = 2.0 * pairs * f64::from(passes);
                straight(stitches * column_width_m.hypot(length_m / pairs / 2.0), stitches)
            }
            StitchKind::Fill { length_m, height_m, row_spacing_m, stitch_length_m } => {
                let turns = steps(height_m, row_spacing_m);
                let rows = turns + 1.0;
                Self { stitches: rows * steps(length_m, stitch_length_m), span_m: rows * length_m, turns, turns_span_m: height_m }
            }
        }
    }

    /// Where the stitches of rows lie that fill any outline, sewn to and fro.
    ///
    /// `rows` from one side of the outline to the other, each with the ends of its chords along it; `row_pitch_m` their
    /// distance. Between two rows that are whole, the turn leads straight from the end of one to the near end of the
    /// next; where a hole splits a row its parts are sewn one after the other, and each turn counts as one pitch. A row
    /// without length is only turned through. For a rectangle it is [`StitchKind::Fill`], to the last digit but rounding.
    pub fn of_rows(rows: &[Vec<[f64; 2]>], row_pitch_m: f64, stitch_length_m: f64) -> Self {
        let mut layout = Self { stitches: 0.0, span_m: 0.0, turns: 0.0, turns_span_m: 0.0 };
        let mut before: Option<[f64; 2]> = None;
        for (k, row) in rows.iter().enumerate() {
            for [low, high] in row {
                let chord = (high - low).max(0.0);
                if chord > 0.0 {
                    layout.stitches += steps(chord, stitch_length_m);
                    layout.span_m += chord;
                }
            }
            let whole = match row[..] {
                [only] => Some(only),
                _ => None,
            };
            if k > 0 {
                let end = usize::from(k % 2 == 1);
                let aside = before.zip(whole).map_or(0.0, |(a, b)| a[end] - b[end]);
                let turn = row_pitch_m.hypot(aside);
                layout.turns += steps(turn, stitch_length_m.max(row_pitch_m));
                layout.turns_span_m += turn;
            }
            if row.len() > 1 {
                layout.turns += (row.len() - 1) as f64;
                layout.turns_span_m += (row.len() - 1) as f64 * row_pitch_m;
            }
            before = whole;
        }
        layout
    }

    /// Thread of stitches that lie so; see [`stitching`].
    pub fn seam(&self, thickness_m: f64, interlace_fraction: f64) -> Seam {
        let all = self.stitches + self.turns;
        let each = |span: f64, number: f64| if number > 0.0 { span / number } else { 0.0 };
        let (stitch_m, turn_m) = (each(self.span_m, self.stitches), each(self.turns_span_m, self.turns));
        let (top_depth_m, bobbin_depth_m) = (interlace_fraction * thickness_m, (1.0 - interlace_fraction) * thickness_m);
        let rectangular = |depth_m: f64| self.span_m + self.turns_span_m + all * 2.0 * depth_m;
        let elliptic = |depth_m: f64| self.stitches * half_ellipse(stitch_m, depth_m) + self.turns * half_ellipse(turn_m, depth_m);
        Seam {
            stitches: all,
            stitch_length_actual_m: stitch_m,
            top_thread_m: rectangular(top_depth_m),
            bobbin_thread_m: rectangular(bobbin_depth_m),
            top_thread_elliptic_m: elliptic(top_depth_m),
            bobbin_thread_elliptic_m: elliptic(bobbin_depth_m),
        }
    }
}

/// Half the circumference of an ellipse with the axis `span` along the cloth and the semi-axis `depth` into it.
///
/// By arithmetic and geometric means of the semi-axes a and b: half of the circumference is
/// pi (a^2 - sum 2^(n-1) c_n^2)/M, M the common mean, c_0^2 = a^2 - b^2, then c_n half the difference of the step
/// before. Source: Adlaj, An eloquent formula for the perimeter of an ellipse, Notices of the AMS 59 (2012) 1094 (from
/// memory). The means meet to the last digit in at most ten steps.
fn half_ellipse(span: f64, depth: f64) -> f64 {
    // Not only for speed: with an axis of 0 the means never meet.
    if depth <= 0.0 || span <= 0.0 {
        return span.max(2.0 * depth);
    }
    let (mut a, mut b) = (span / 2.0, depth);
    let mut sum = (a * a + b * b) / 2.0;
    let mut weight = 1.0;
    // The difference is about squared by each step: below this, the next step changes no digit.
    while (a - b).abs() > 1e-9 * a {
        let half_difference = (a - b) / 2.0;
        sum -= weight * half_difference * half_difference;
        weight *= 2.0;
        (a, b) = ((a + b) / 2.0, (a * b).sqrt());
    }
    std::f64::consts::PI * sum / ((a + b) / 2.0)
}

/// Steps of at most `nominal` that make up `length`. A quotient that floating point left a hair above a whole
/// number counts as that number, as it would on paper.
pub fn steps(length: f64, nominal: f64) -> f64 {
    let quotient = length / nominal;
    (quotient * (1.0 - 1e-12)).ceil().max(1.0)
}
