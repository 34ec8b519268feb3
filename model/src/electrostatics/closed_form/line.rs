//! An endless run on the stitched plane, per metre.

use super::super::{Accuracy, CrossSection, EPS0, Ground, Layer, LineCapacitance, Medium, Method, Note, Notes};
use super::admittance::{Admittances, Side};
use super::pad::{thin_gap, touches_ground};
use super::{bound, strip, wire};

/// Where the ground is taken to be when there is none.
const DISTANT_GROUND_M: f64 = 0.3;

/// Capacitance per metre of an endless strip or thread.
///
/// * gives: F/m, with a bound
/// * `cross_section`: width or diameter in metres, 1e-5 to 1; a thread's axis lies on the plane
/// * assumes: endless, straight, alone. Without ground an endless line has no capacitance to
///   infinity: the value is then for a plane 0.3 m under the base, marked not valid
/// * source and accuracy: strip 0.6 %; thread exact in one dielectric, else see its bound
/// * never fails
/// * example: 1 mm strip on 3 mm of felt (1.4) over a sheet: 21.7 pF/m
pub fn line_capacitance(medium: &Medium<'_>, cross_section: CrossSection) -> LineCapacitance {
    let (width, method) = match cross_section {
        CrossSection::Strip { width_m } => (width_m, Method::TwoChargeStrip),
        CrossSection::Thread { diameter_m } => (wire::equivalent_width_m(0.5 * diameter_m), Method::WireOverPlane),
    };
    let gap = [thin_gap(width)];
    let contact = touches_ground(medium);
    let medium = &if contact { Medium { base: &gap, ..*medium } } else { *medium };
    let base = Side::base(medium, 0.0);
    let overlay = Side::overlay(medium, 0.0);
    let air_gap = match medium.ground {
        Ground::Plane => 0.0,
        Ground::None => DISTANT_GROUND_M,
    };
    let height = base.thickness_m() + air_gap;
    let per_series = if base.is_empty() { 0.0 } else { 1.0 / base.series_per_m() } + air_gap;

    let k = strip::first_wavenumber(width);
    let mut far = Admittances::ground();
    if air_gap > 0.0 {
        far.through(Layer { thickness_m: air_gap, relative_permittivity: 1.0 }, k);
    }
    let down = base.seen_from_above(far, k);
    let up = overlay.seen_from_below(Admittances::air(), k);
    let as_strip = strip::capacitance_per_m(&down, &up);
    let mut bare = Admittances::ground();
    bare.through(Layer { thickness_m: height, relative_permittivity: 1.0 }, k);
    let in_air = strip::capacitance_per_m(&bare, &Admittances::air());

    let extremes = bound::Extremes::of(medium, 0.5 * width);
    // A thread whose axis lies no higher than its radius meets the ground: its value is held at the limit.
    let mut reaches = false;
    let (per_m_f, plate_per_m_f, relative_error, sound) = match cross_section {
        CrossSection::Strip { width_m } => {
            let plate = EPS0 * width_m / per_series;
            (as_strip.max(plate), plate, bound::strip(&extremes), true)
        }
        CrossSection::Thread { diameter_m } => {
            let radius = 0.5 * diameter_m;
            let scale = wire::over_strip(radius, height);
            reaches = height <= radius;
            let bound = if reaches { 1.0 } else { bound::thread(medium, radius, height) };
            (as_strip * scale, 0.0, bound, !reaches && (height >= 1.2 * radius || uniform(medium)))
        }
    };
    let no_ground = medium.ground == Ground::None;
    let thread = method == Method::WireOverPlane;
    LineCapacitance {
        per_m_f,
        plate_per_m_f,
        method,
        accuracy: Accuracy {
            relative_error,
            valid: !contact && !no_ground && extremes.measured() && sound,
            notes: Notes::NONE
                .with_if(contact, Note::Contact)
                .with_if(reaches, Note::RowsClamped)
                .with_if(no_ground, Note::LineWithoutGround)
                .with_if(thread && !uniform(medium), Note::ThreadInLayers)
                .with_if(!extremes.measured() || !sound, Note::OutsideMeasuredRange),
        },
        height_m: height,
        series_permittivity: height / per_series,
        effective_permittivity: as_strip / in_air,
    }
}

/// Whether all layers have one permittivity.
fn uniform(medium: &Medium<'_>) -> bool {
    let mut all = medium.base.iter().chain(medium.overlay).map(|layer| layer.relative_permittivity);
    let first = all.next().unwrap_or(1.0);
    all.all(|e| e == first) && (first == 1.0 || !medium.overlay.is_empty())
}
