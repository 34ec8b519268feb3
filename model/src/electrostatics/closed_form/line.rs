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
/// * source and accuracy: strip within 0.8 %; thread exact in one dielectric, else see its bound
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
            let total = as_strip.max(plate);
            (total, plate, bound::strip(&extremes, plate / total), true)
        }
        CrossSection::Thread { diameter_m } => {
            let radius = 0.5 * diameter_m;
            let scale = wire::over_strip(radius, height);
            reaches = height <= radius;
            let boundary = nearest_boundary_m(medium);
            let bound = if reaches { 1.0 } else { bound::thread(radius, height, boundary, uniform(medium)) };
            (as_strip * scale, 0.0, bound, !reaches && (boundary >= radius || uniform(medium)))
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

/// How far from the stitched plane the nearest change of permittivity lies, the plane itself and ground apart.
fn nearest_boundary_m(medium: &Medium<'_>) -> f64 {
    let change = |pile: &mut dyn Iterator<Item = &Layer>, end: Option<f64>| {
        let (mut depth, mut last) = (0.0, None);
        for layer in pile.filter(|layer| layer.thickness_m > 0.0) {
            if last.is_some_and(|e| e != layer.relative_permittivity) {
                return depth;
            }
            depth += layer.thickness_m;
            last = Some(layer.relative_permittivity);
        }
        if last.zip(end).is_some_and(|(e, end)| e != end) { depth } else { f64::INFINITY }
    };
    let under = if medium.ground == Ground::None { Some(1.0) } else { None };
    change(&mut medium.base.iter().rev(), under).min(change(&mut medium.overlay.iter(), Some(1.0)))
}

/// Whether all layers have one permittivity.
fn uniform(medium: &Medium<'_>) -> bool {
    let mut all = medium.base.iter().chain(medium.overlay).map(|layer| layer.relative_permittivity);
    let first = all.next().unwrap_or(1.0);
    all.all(|e| e == first) && (first == 1.0 || !medium.overlay.is_empty())
}
