//! A fingertip, a flat round disc on top of the overlay, over the middle of a pad.
//!
//! Four discs are computed among the layers with [`super::disc`]: the pad alone C_p, the finger
//! alone C_f (no pad), the finger with the pad's plane grounded all over C_1, the pad with the
//! finger's plane grounded all over C_2. Of the two mixed cases the smaller electrode sees the
//! other as a plane, so the coupling is a share of C_1 or of C_2, whichever is less:
//!
//! `C_pf = (f1^-8 + f2^-8)^(-1/8)`, `f1 = s_up C_1`, `f2 = s_down C_2`.
//!
//! `s_up` is the share of the pad's potential that a floating finger would take. With T the
//! electrical thickness of the overlay at k = 1.507/a, that is -ln(transfer)/k, it lies between
//! the value for a pad close to ground and that for a free pad,
//!
//! `s = g (1 - T/sqrt(a^2 + T^2)) + (1 - g) (2/pi) atan(a/T)`, `g = 1/(1 + 0.507 q^1.271)`,
//! `q = C_p/plate - 1`,
//!
//! and `s_down` is the same seen from the finger (k = 1.094/b, g = 1/(1 + 0.0171 q^3.525)), times
//! what the layers in series leave of its voltage at the pad plane.
//!
//! * gives: farad; needs: finger 1 to 50 mm; assumes flat round discs, finger not tilted
//! * source: own; exponents and constants fitted to a numerical reference (1200 cases) and
//!   checked on others (2500)
//! * never lower for a larger pad or finger, nor for a thinner overlay of one material
//! * accuracy: pad to finger median 0.6 %, 99 % within 11 % over ground and 18 % without; the bounds are in
//!   [`super::bound::touch`]
//! * example: 24 mm pad, 3 mm felt (1.4) on a sheet, 1 mm felt above, 9 mm fingertip: 1.13 pF

use super::super::row_offset::RowOffset;
use super::super::{EPS0, Ground, Medium, Method, Note, Outline, Rows, TouchCapacitances};
use super::admittance::{Admittances, Side, below};
use super::bound;
use super::disc::{DISC_NODES, capacitance, first_wavenumber, low_end, low_end_of_pad};
use super::pad::{has_thickness, thin_gap, touches_ground};
use super::shape::{Kind, Shape};
use std::f64::consts::{FRAC_2_PI, PI};

type Nodes = Admittances<DISC_NODES>;

/// Pad, fingertip and ground.
///
/// * `finger_diameter_m`: of the flat contact, in metres; centred over the pad, on the overlay
/// * gives and accuracy: see the fields; capacitances in farad
/// * without overlay the finger would touch the pad: a thin gap is assumed, marked not valid
/// * never fails
/// * example: see the module
pub fn touch_capacitances(medium: &Medium<'_>, outline: &Outline, rows: Option<Rows>, finger_diameter_m: f64) -> TouchCapacitances {
    let shape = Shape::new(outline);
    let b = 0.5 * finger_diameter_m;
    let gap = [thin_gap(shape.disc_radius_m().min(b))];
    let contact = !has_thickness(medium.overlay);
    let grounded_pad = touches_ground(medium);
    let medium =
        &Medium { base: if grounded_pad { &gap } else { medium.base }, overlay: if contact { &gap } else { medium.overlay }, ..*medium };
    let offset = RowOffset::new(medium, rows);
    let base = Side::base(medium, offset.below_m);
    let overlay = Side::overlay(medium, offset.above_m);
    let thickness = overlay.thickness_m();
    let a = coupling_radius_m(&shape, finger_diameter_m + thickness);

    // The pad alone, and under the finger's plane.
    let radius = shape.disc_radius_m();
    let k = first_wavenumber(radius);
    let down = below(medium.ground, &base, k);
    let [open, closed] = overlay.both_from_below([Nodes::air(), Nodes::ground()], k);
    let disc_f = capacitance(&down, &open, low_end_of_pad(medium.ground, &base, &overlay, k), radius);
    let (alone, under_plane) = if shape.kind == Kind::Round {
        (disc_f, capacitance(&down, &closed, 0.0, a))
    } else {
        let k = shape.mutual_wavenumber();
        let z = below::<2>(medium.ground, &base, k).impedance_with(&overlay.seen_from_below(Admittances::air(), k));
        let k = first_wavenumber(a);
        let down = below(medium.ground, &base, k);
        let closed = overlay.seen_from_below(Nodes::ground(), k);
        (shape.capacitance(disc_f, shape.mutual_elastance_per_f(z)), capacitance(&down, &closed, 0.0, a))
    };
    // The finger alone, and over the pad's plane.
    let k = first_wavenumber(b);
    let [no_pad, on_pad] = overlay.both_from_above([below(medium.ground, &base, k), Nodes::ground()], k);
    let from_top = |k| overlay.seen_from_above(below(medium.ground, &base, k), k).impedance_with(&Admittances::air());
    let free_finger = capacitance(&no_pad, &Nodes::air(), low_end(medium.ground, from_top, k), b);
    let over_plane = capacitance(&on_pad, &Nodes::air(), 0.0, b);

    let (series_base, series_overlay) = match medium.ground {
        Ground::Plane => (base.series_per_m(), overlay.series_per_m()),
        Ground::None => (0.0, 1.0),
    };
    let share_up = {
        let k = 1.507 / a;
        let t = -overlay.log_transfer_up(k) / k;
        let plate = EPS0 * shape.area_m2 * series_base;
        let near = nearness(alone, plate, 0.507, 1.271);
        floating_share(a, t, near)
    };
    let share_down = {
        let k = 1.094 / b;
        let at_pad = below::<1>(medium.ground, &base, k).at(0);
        let in_series = series_overlay / (series_overlay + series_base);
        let t = (-(overlay.log_transfer_down(at_pad, k) - in_series.ln()) / k).max(1e-6 * b);
        let plate = EPS0 * PI * b * b * series_overlay * series_base / (series_overlay + series_base);
        let near = nearness(free_finger, plate, 0.0171, 3.525);
        in_series * floating_share(b, t, near)
    };

    let (f1, f2) = (share_up * over_plane, share_down * under_plane);
    let (low, high) = (f1.min(f2), f1.max(f2));
    let pad_finger = low / (1.0 + (low / high).powi(8)).powf(0.125);

    // Each remaining capacitance is known one way if the finger is the smaller, another way if it
    // is the larger; the two ways meet where both are the same size.
    let small_finger = 1.0 / (1.0 + (b / a).min(10.0).powi(18));
    let blend = |small: f64, large: f64| small_finger * small + (1.0 - small_finger) * large;
    let left = |share: f64| (1.0 - share).max(1e-9);
    let finger_ground =
        blend(pad_finger * left(share_up) / share_up, (free_finger - left(share_down) * pad_finger).max(0.03 * free_finger));
    let pad_ground = blend(
        (alone - left(share_up) * pad_finger).max(0.03 * alone),
        pad_finger * left(share_down) / share_down + (alone - capacitance_share(alone, &shape, a)).max(0.0),
    );

    let extremes = bound::Extremes::of(medium, a);
    let grounded = medium.ground == Ground::Plane;
    let bounds = bound::touch(grounded, share_up, b / a, pad_finger, pad_ground, finger_ground).over(&shape, finger_diameter_m);
    let round = shape.kind == Kind::Round;
    let rows_error = bound::rows_on_pad(offset.spacing_m, shape.narrowest_m());
    let plate = EPS0 * shape.area_m2 * series_base;
    let untouched = bound::pad(&shape, &bound::Extremes::of(medium, radius), plate / alone) + rows_error;
    let measured = extremes.measured() && thickness <= 4.0 * a.max(b);
    TouchCapacitances {
        pad_finger_f: pad_finger,
        pad_ground_touched_f: pad_ground,
        pad_ground_untouched_f: alone,
        finger_ground_f: finger_ground,
        pad_finger_error: bounds.pad_finger + rows_error,
        pad_ground_touched_error: bounds.pad_ground + rows_error,
        pad_ground_untouched_error: untouched,
        finger_ground_error: bounds.finger_ground + rows_error,
        maxwell_error: bounds.maxwell + rows_error,
        valid: !contact && !grounded_pad && measured && !offset.notes.contains(Note::RowsClamped),
        notes: offset
            .notes
            .with_if(contact || grounded_pad, Note::Contact)
            .with_if(!round, Note::FingerOverShape)
            .with_if(!measured, Note::OutsideMeasuredRange),
        method: Method::FingerOverPad,
        finger_over_plane_f: over_plane,
        pad_under_plane_f: under_plane,
        share_up,
        share_down,
        coupling_radius_m: a,
    }
}

/// 1 for an electrode close to ground, falling to 0 for a free one.
fn nearness(alone_f: f64, plate_f: f64, scale: f64, power: f64) -> f64 {
    if plate_f <= 0.0 {
        return 0.0;
    }
    let q = (alone_f / plate_f - 1.0).max(0.0);
    1.0 / (1.0 + scale * q.powf(power))
}

/// Share of the potential of a disc of radius `r` that a floating disc at distance `t` takes.
fn floating_share(r: f64, t: f64, near: f64) -> f64 {
    let slant = r.hypot(t);
    // 1 - t/slant without cancellation.
    let dipole = r * r / (slant * (slant + t));
    let free = FRAC_2_PI * (r / t).atan();
    near * dipole + (1.0 - near) * free
}

/// Radius of the disc that stands for the part of the pad within reach of the finger.
fn coupling_radius_m(shape: &Shape, reach_m: f64) -> f64 {
    if shape.kind == Kind::Round {
        return shape.free_radius_m;
    }
    let within = |size: f64| size / (1.0 + (size / reach_m).powi(4)).powf(0.25);
    let part = within(shape.short_m) * within(shape.long_m) / (shape.short_m * shape.long_m);
    (shape.area_m2 * part / PI).sqrt()
}

/// The part of the pad's own capacitance that lies under the coupling disc.
fn capacitance_share(alone_f: f64, shape: &Shape, a: f64) -> f64 {
    if shape.kind == Kind::Round { alone_f } else { alone_f * PI * a * a / shape.area_m2 }
}
