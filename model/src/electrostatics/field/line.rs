//! An endless run on the stitched plane, per metre, solved.

use super::super::{CrossSection, Ground, Medium, Note, Notes};
use super::kept::{Kept, Key};
use super::layers::Layers;
use super::strip::strip;
use super::thread::thread;
use super::{FieldFault, WIDEST_M};

/// Where the ground is taken to be when there is none, under the base: as in the closed form.
const DISTANT_GROUND_M: f64 = 0.3;

/// Capacitance per metre of an endless run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineSolved {
    /// In F/m.
    pub per_m_f: f64,
    /// Bound of its relative error.
    pub relative_error: f64,
    /// False where the answer stands for another question (no ground) or is only enclosed between two limits (a thread that
    /// reaches through several layers).
    pub valid: bool,
    /// Cautions.
    pub notes: Notes,
}

/// Capacitance per metre of an endless straight strip or round thread, alone.
///
/// * gives: F/m; refines until the relative error is within `relative_tolerance` (1e-10 is in reach), or as far as it goes
/// * a thread's axis lies on the stitched plane
/// * without ground an endless line has no capacitance to infinity: the value is then for a plane 0.3 m under the
///   base, not valid and so noted
/// * a thread that reaches through a layer next to it is enclosed between two limits, which may be wide: not valid and noted
/// * source: the modules `strip` and `thread`
///
/// # Errors
/// [`FieldFault::Contact`] where nothing lies between line and ground, [`FieldFault::TooWide`] over [`WIDEST_M`].
///
/// ```
/// use toile_model::electrostatics::{CrossSection, Ground, Layer, Medium, field};
/// let felt = [Layer { thickness_m: 3e-3, relative_permittivity: 1.4 }];
/// let medium = Medium { ground: Ground::Plane, base: &felt, overlay: &[] };
/// let line = field::line(&medium, CrossSection::Strip { width_m: 1e-3 }, 1e-6)?;
/// assert!((line.per_m_f - 21.69e-12).abs() < 1e-14);
/// # Ok::<(), field::FieldFault>(())
/// ```
pub fn line(medium: &Medium<'_>, cross_section: CrossSection, relative_tolerance: f64) -> Result<LineSolved, FieldFault> {
    let (kind, extent_m) = match cross_section {
        CrossSection::Strip { width_m } => (0, width_m),
        CrossSection::Thread { diameter_m } => (1, diameter_m),
    };
    let mut key: Key = Layers::new(medium, None).fingerprint().into_iter().collect();
    key.extend([kind, extent_m.to_bits(), relative_tolerance.to_bits()]);
    LINES.get(key, || solve(medium, cross_section, relative_tolerance))
}

/// Lines kept, a hundred bytes each: the runs of a piece are mostly of one thread.
static LINES: Kept<Result<LineSolved, FieldFault>, 256> = Kept::new();

fn solve(medium: &Medium<'_>, cross_section: CrossSection, relative_tolerance: f64) -> Result<LineSolved, FieldFault> {
    let layers = Layers::new(medium, None).over_ground(DISTANT_GROUND_M);
    let (extent_m, needed_m) = match cross_section {
        CrossSection::Strip { width_m } => (width_m, 0.0),
        CrossSection::Thread { diameter_m } => (diameter_m, 0.5 * diameter_m),
    };
    if extent_m > WIDEST_M {
        return Err(FieldFault::TooWide { conductor: 0, extent_m });
    }
    if layers.base_m() <= needed_m {
        return Err(FieldFault::Contact);
    }
    let (found, whole) = match cross_section {
        CrossSection::Strip { width_m } => (strip(&layers, width_m, relative_tolerance), true),
        CrossSection::Thread { diameter_m } => thread(&layers, diameter_m, relative_tolerance),
    };
    let grounded = medium.ground == Ground::Plane;
    Ok(LineSolved {
        per_m_f: found.value,
        relative_error: found.relative_error,
        valid: grounded && whole,
        notes: Notes::NONE.with_if(!grounded, Note::LineWithoutGround).with_if(!whole, Note::ThreadThroughLayers),
    })
}
