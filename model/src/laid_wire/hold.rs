//! The zigzag that holds a laid wire, and its time.

use crate::conduction::{StitchKind, stitching};

/// What holds a wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hold {
    /// Stitches.
    pub stitches: f64,
    /// Width of the zigzag, m.
    pub width_m: f64,
    /// Top thread, m.
    pub top_thread_m: f64,
    /// Bobbin thread, m.
    pub bobbin_thread_m: f64,
    /// Time of sewing alone, s.
    pub sewing_s: f64,
}

/// Stitches, thread and time of the zigzag over a wire.
///
/// - `length_m`, `outer_diameter_m`: of the wire, above 0; `clearance_m`: from the wire's side to the needle, 0 or more;
/// - `advance_m`: distance of penetrations on one side, above 0; `thickness_m`: of the cloth, 0 or more;
/// - `interlace_fraction`: depth of the interlacing point from the face, 0 to 1; `stitches_per_s`: above 0.
///
/// Source: satin column of reference table G2 ([`stitching`]); on its way across the wire each stitch rises over it,
/// taken as a tent of the wire's height, own geometry. Accuracy: exact for that shape; thread stretches and the wire
/// gives, some 10 %.
///
/// Example: 1 m of a wire of 1 mm, needle 0.5 mm beside it, 4 mm advance: 500 stitches, at 8 a second 62.5 s.
///
/// ```
/// let hold = toile_model::laid_wire::held(1.0, 1e-3, 0.5e-3, 4e-3, 1e-3, 0.5, 8.0);
/// assert_eq!((hold.stitches, hold.sewing_s), (500.0, 62.5));
/// ```
pub fn held(
    length_m: f64,
    outer_diameter_m: f64,
    clearance_m: f64,
    advance_m: f64,
    thickness_m: f64,
    interlace_fraction: f64,
    stitches_per_s: f64,
) -> Hold {
    let width_m = outer_diameter_m + 2.0 * clearance_m;
    let kind = StitchKind::Satin { length_m, column_width_m: width_m, density_m: advance_m, passes: 1 };
    let seam = stitching(&kind, thickness_m, interlace_fraction);
    let flat = seam.stitch_length_actual_m;
    let tent = 2.0 * (flat / 2.0).hypot(outer_diameter_m);
    Hold {
        stitches: seam.stitches,
        width_m,
        top_thread_m: seam.top_thread_m + seam.stitches * (tent - flat),
        bobbin_thread_m: seam.bobbin_thread_m,
        sewing_s: seam.stitches / stitches_per_s,
    }
}
