//! One pad on the stitched plane, nobody near.
//!
//! Plate and fringe are told apart for the reader: the plate part is eps0 er A/h with the base
//! layers in series over the height of the equivalent plate, the fringe is all the rest.

use super::super::row_offset::RowOffset;
use super::super::{Accuracy, EPS0, Ground, Layer, Medium, Method, Note, Outline, PadCapacitance, Rows};
use super::admittance::{Admittances, Side, below};
use super::bound;
use super::disc::{capacitance, first_wavenumber, low_end_of_pad};
use super::shape::{Kind, Shape};

/// Capacitance of one pad to ground (or to infinity without ground).
///
/// * gives: farad, split into plate and fringe, with a bound and what is needed to repeat it
/// * `outline`: 1e-4 to 1 m; `rows`: threads instead of a solid plate
/// * assumes: thin flat conductor on the stitched plane, endless layers
/// * source: [`Method::source`]; accuracy: within 1.6 % for discs, 6 % for rectangles, 5 % to 9 % for rings, more for
///   other outlines and for rows (table in the module's front page)
/// * never fails: with nothing between pad and ground it assumes a thin gap and says so
/// * example: 24 mm round, 3 mm felt (1.4) on a sheet, 1 mm felt over it: 3.02 pF
pub fn pad_capacitance(medium: &Medium<'_>, outline: &Outline, rows: Option<Rows>) -> PadCapacitance {
    let shape = Shape::new(outline);
    let gap = [thin_gap(shape.disc_radius_m())];
    let contact = touches_ground(medium);
    let medium = &if contact { Medium { base: &gap, ..*medium } } else { *medium };
    let offset = RowOffset::new(medium, rows);
    let base = Side::base(medium, offset.below_m);
    let overlay = Side::overlay(medium, offset.above_m);

    let radius = shape.disc_radius_m();
    let k = first_wavenumber(radius);
    let down = below(medium.ground, &base, k);
    let up = overlay.seen_from_below(Admittances::air(), k);
    let disc_f = capacitance(&down, &up, low_end_of_pad(medium.ground, &base, &overlay, k), radius);
    let mutual = if shape.kind == Kind::Round {
        0.0
    } else {
        let k = shape.mutual_wavenumber();
        let z = below::<2>(medium.ground, &base, k).impedance_with(&overlay.seen_from_below(Admittances::air(), k));
        shape.mutual_elastance_per_f(z)
    };
    let (height, series_per_m) = match medium.ground {
        Ground::Plane => (base.thickness_m(), base.series_per_m()),
        Ground::None => (0.0, 0.0),
    };
    let plate_f = EPS0 * shape.area_m2 * series_per_m;
    // The exact value exceeds the plate part; for plates wider than 1e4 heights the sums' rounding
    // would not let it.
    let total_f = shape.capacitance(disc_f, mutual).max(plate_f);

    let extremes = bound::Extremes::of(medium, radius);
    PadCapacitance {
        total_f,
        plate_f,
        fringe_f: total_f - plate_f,
        method: if shape.kind == Kind::Round { Method::TwoChargeDisc } else { Method::DiscCluster },
        accuracy: Accuracy {
            relative_error: bound::pad(&shape, &extremes, plate_f / total_f) + bound::rows_on_pad(offset.spacing_m, shape.narrowest_m()),
            valid: !contact && extremes.measured() && !offset.notes.contains(Note::RowsClamped),
            notes: offset
                .notes
                .with_if(contact, Note::Contact)
                .with_if(!extremes.measured(), Note::OutsideMeasuredRange)
                .with_if(shape.kind == Kind::Polygon || shape.ratio() > 12.0, Note::ShapeNotMeasured),
        },
        area_m2: shape.area_m2,
        perimeter_m: shape.perimeter_m,
        effective_height_m: height,
        series_permittivity: series_per_m * height,
        permittivity_below: down.at(AT_ONE_OVER_RADIUS),
        permittivity_above: up.at(AT_ONE_OVER_RADIUS),
        disc_radius_m: radius,
        disc_count: shape.disc_count(),
        disc_f,
        free_radius_m: shape.free_radius_m,
        mutual_elastance_per_f: mutual,
        row_offset_m: offset.below_m,
    }
}

/// The node at which the wavenumber is 1/radius.
const AT_ONE_OVER_RADIUS: usize = 5;

/// Whether nothing at all lies between pad and ground.
pub(super) fn touches_ground(medium: &Medium<'_>) -> bool {
    medium.ground == Ground::Plane && !has_thickness(medium.base)
}

pub(super) fn has_thickness(layers: &[Layer]) -> bool {
    layers.iter().any(|layer| layer.thickness_m > 0.0)
}

/// The gap assumed where two conductors touch: a thousandth of the size, of air.
pub(super) fn thin_gap(size_m: f64) -> Layer {
    Layer { thickness_m: 1e-3 * size_m, relative_permittivity: 1.0 }
}
