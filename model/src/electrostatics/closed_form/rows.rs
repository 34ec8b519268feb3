//! Parallel round threads as a plate.
//!
//! Far from the threads (more than half a spacing) a field of parallel threads at one potential
//! cannot be told from a solid plate; only its height differs from that of the axes. With p the
//! spacing, r the radius, h the height of the axes and x = r/p, the plate's height is
//!
//! `h' = p/(2 pi) arcosh( p sinh(2 pi h/p) / (2 pi r) ) - d`, `d = p (pi x^2/2) / (1 + 2.704 x^2 - 2.727 x^4)`.
//!
//! The first term is Maxwell's row of thin wires and its image (Treatise, 1873, art. 203-205),
//! with arcosh in place of ln(2 ..) so that a single wire comes out exactly when p grows. The
//! second is the dipole that each wire takes on in a field that comes from one side only; its
//! damping is own, fitted to a numerical reference. High up, h' - h settles at
//! `p/(2 pi) ln(p/(2 pi r)) - d`, which is good to 0.05 % of C for h >= p.
//!
//! * gives: F/m2, and the offset h' - h in metres (negative for dense rows)
//! * needs: thread thinner than the spacing (x <= 0.48 measured), axes at least 1.2 radii up
//! * assumes: bare round threads, one dielectric, endless rows
//! * accuracy: [`super::bound::rows`], against multipole collocation (x 0.02 to 0.48, h/r 1.05 to
//!   30): 0.3 % from h = 2 r, 1.6 % at 1.5 r, 8 % at 1.2 r
//! * example: 0.2 mm thread every 0.4 mm, axes 1 mm up: offset -0.0626 mm, 9.446 nF/m2.

use super::super::row_offset::plate_height;
use super::super::{Accuracy, EPS0, Method, Note, Notes, Rows, RowsPlate};
use super::bound;

/// Capacitance of an endless field of parallel threads over ground, in air.
/// `thread_diameter_m` and `row_spacing_m` in metres, `height_m` from the ground to the axes.
pub fn rows_plate(thread_diameter_m: f64, row_spacing_m: f64, height_m: f64) -> RowsPlate {
    let rows = Rows { thread_diameter_m, row_spacing_m };
    let height = plate_height(rows, height_m);
    let (x, h_over_r) = (0.5 * thread_diameter_m / row_spacing_m, 2.0 * height_m / thread_diameter_m);
    let clamped = x > 0.5 || h_over_r < 1.0;
    RowsPlate {
        capacitance_per_m2_f: EPS0 / height,
        offset_m: height - height_m,
        accuracy: Accuracy {
            relative_error: bound::rows(x, h_over_r),
            valid: x <= 0.48 && h_over_r >= 1.2,
            notes: Notes::NONE.with_if(clamped, Note::RowsClamped).with_if(x > 0.48 || h_over_r < 1.2, Note::OutsideMeasuredRange),
        },
        method: Method::RowGrating,
    }
}
