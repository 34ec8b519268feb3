//! The way of a laid wire over the cloth: its length and its sharpest bend. m.
//!
//! A meander fills a rectangle with rows to and fro, joined by half circles: rows along the width, n = 1 + height over
//! spacing rounded down, radius of the turns half the spacing, turns inside the width. Its length is
//! n w + (n - 1) s (pi/2 - 1): exact for that drawing. A path of straight pieces is as long as drawn; its corners are
//! taken to be rounded as widely as the pieces beside them allow, which makes the wire a little shorter than drawn.
//!
//! Source: own geometry. Example: 100 mm by 40 mm in rows of 10 mm: 5 rows, 522.8 mm, bends of 5 mm.

use crate::geometry::Point;

/// Largest number of points of a path.
pub const MOST_POINTS: usize = 5000;

/// The way of a laid wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Course<'a> {
    /// Straight, or gently curved.
    Straight {
        /// m, above 0.
        length_m: f64,
    },
    /// From point to point.
    Path(&'a [Point]),
    /// Rows to and fro over a rectangle.
    Meander {
        /// Along the rows, m, turns included.
        width_m: f64,
        /// Across the rows, m, from the first to the last at the most.
        height_m: f64,
        /// From row to row, m.
        spacing_m: f64,
    },
}

/// A wire as laid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laid {
    /// Length of the wire, m.
    pub length_m: f64,
    /// Radius of the sharpest bend, m; `None` where nothing bends.
    pub bend_radius_m: Option<f64>,
    /// Area that the wire serves, m2, each row half a spacing to either side; `None` for a path.
    pub area_m2: Option<f64>,
    /// Rows of a meander, 1 otherwise.
    pub rows: f64,
}

/// Why a course cannot be laid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CourseFault {
    /// Fewer than two points, or no way between them.
    NoLength,
    /// More points than [`MOST_POINTS`].
    TooManyPoints,
    /// A meander whose turns do not fit into its width.
    TurnsTooWide,
}

impl Course<'_> {
    /// Length and sharpest bend.
    ///
    /// # Errors
    /// [`CourseFault`].
    ///
    /// ```
    /// use toile_model::laid_wire::Course;
    /// let laid = Course::Meander { width_m: 0.1, height_m: 0.04, spacing_m: 0.01 }.laid().unwrap();
    /// assert!((laid.length_m - 0.522_831_853).abs() < 1e-9 && laid.bend_radius_m == Some(0.005));
    /// ```
    pub fn laid(&self) -> Result<Laid, CourseFault> {
        match *self {
            Self::Straight { length_m } => Ok(Laid { length_m, bend_radius_m: None, area_m2: None, rows: 1.0 }),
            Self::Path(points) => path(points),
            Self::Meander { width_m, height_m, spacing_m } => meander(width_m, height_m, spacing_m),
        }
    }
}

/// Length of a meander of so many rows, m; smooth in its measures, where the number of rows jumps.
///
/// Example: 5 rows of 100 mm, 10 mm apart: 522.8 mm.
pub fn meander_length_m(rows: f64, width_m: f64, spacing_m: f64) -> f64 {
    rows * width_m + (rows - 1.0) * spacing_m * (std::f64::consts::FRAC_PI_2 - 1.0)
}

fn meander(width_m: f64, height_m: f64, spacing_m: f64) -> Result<Laid, CourseFault> {
    // A quotient that floating point left a hair below a whole number counts as that number, as on paper.
    let turns = (height_m / spacing_m * (1.0 + 1e-12)).floor();
    let rows = turns + 1.0;
    if turns > 0.0 && width_m < spacing_m {
        return Err(CourseFault::TurnsTooWide);
    }
    Ok(Laid {
        length_m: meander_length_m(rows, width_m, spacing_m),
        bend_radius_m: (turns > 0.0).then_some(spacing_m / 2.0),
        area_m2: Some(width_m * rows * spacing_m),
        rows,
    })
}

fn path(points: &[Point]) -> Result<Laid, CourseFault> {
    if points.len() > MOST_POINTS {
        return Err(CourseFault::TooManyPoints);
    }
    let step = |a: Point, b: Point| [b[0] - a[0], b[1] - a[1]];
    // A point given twice in a row is one point.
    let steps: Vec<Point> = points.windows(2).map(|w| step(w[0], w[1])).filter(|s| s[0].hypot(s[1]) > 1e-9).collect();
    let length_m: f64 = steps.iter().map(|s| s[0].hypot(s[1])).sum();
    if steps.is_empty() || !length_m.is_finite() {
        return Err(CourseFault::NoLength);
    }
    let bend = |a: &Point, b: &Point| {
        let (la, lb) = (a[0].hypot(a[1]), b[0].hypot(b[1]));
        let turn = (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1]).abs();
        // An arc that leaves half of each piece to the corner at its other end.
        (turn > 1e-9).then(|| la.min(lb) / 2.0 / (turn / 2.0).tan())
    };
    let bend_radius_m = steps.windows(2).filter_map(|w| bend(&w[0], &w[1])).reduce(f64::min).map(|r| r.max(0.0));
    Ok(Laid { length_m, bend_radius_m, area_m2: None, rows: 1.0 })
}
