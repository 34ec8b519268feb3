//! Every error bound of the closed forms, in one place.
//!
//! Most are looked up in [`super::measured`], which `examples/closed_form_map.rs` writes: the worst, or the 99.5th
//! percentile, of many cases held against the field, by the two numbers that the error goes with, and a fifth on top. What
//! is not measured says so where it stands. Outside the measured range a bound grows with the distance from it, which
//! is judgement, and the answer is marked not valid.

use super::super::{Ground, Medium};
use super::measured;
use super::shape::{Kind, Shape};

/// How far a medium and a size reach, for telling what was measured.
#[derive(Debug, Clone, Copy)]
pub(super) struct Extremes {
    highest_permittivity: f64,
    /// Height over radius, 1 without ground.
    height_over_radius: f64,
    /// Sum of permittivity times thickness over radius.
    reach_over_radius: f64,
    overlay_over_radius: f64,
    grounded: bool,
}

impl Extremes {
    pub(super) fn of(medium: &Medium<'_>, radius_m: f64) -> Self {
        let layers = || medium.base.iter().chain(medium.overlay);
        let highest_permittivity = layers().fold(1.0, |highest: f64, layer| highest.max(layer.relative_permittivity));
        let height: f64 = medium.base.iter().map(|layer| layer.thickness_m).sum();
        let reach: f64 = layers().map(|layer| layer.thickness_m * layer.relative_permittivity).sum();
        let overlay: f64 = medium.overlay.iter().map(|layer| layer.thickness_m).sum();
        let grounded = medium.ground == Ground::Plane;
        Self {
            highest_permittivity,
            height_over_radius: if grounded { height / radius_m } else { 1.0 },
            reach_over_radius: reach / radius_m,
            overlay_over_radius: overlay / radius_m,
            grounded,
        }
    }

    pub(super) fn measured(&self) -> bool {
        let reach = if self.grounded { 1.0 } else { self.reach_over_radius };
        self.highest_permittivity <= 10.0 && (1e-4..=1e3).contains(&self.height_over_radius) && reach <= 1e3
    }

    /// Extra bound outside the measured range. Permittivities up to 100 were tried on 2000 cases:
    /// discs stay within 2.0 %, strips within 1.4 %.
    fn beyond(&self) -> f64 {
        let contrast = (self.highest_permittivity / 8.0).ln().max(0.0);
        let far = (self.height_over_radius / 1e3).ln().max(0.0);
        let reach = if self.grounded { 0.0 } else { (self.reach_over_radius / 1e3).ln().max(0.0) };
        0.005 * contrast + 0.02 * far + 0.02 * reach
    }
}

/// A pad, of whose capacitance `plate_share` is that of the plate. Discs, rectangles and rings are
/// measured; polygons are judgement on top of that.
pub(super) fn pad(shape: &Shape, extremes: &Extremes, plate_share: f64) -> f64 {
    let stretched = shape.ratio().ln();
    let (reach, grounded) = (extremes.reach_over_radius, extremes.grounded);
    let bound = match shape.kind {
        Kind::Round if grounded => measured::DISC_OVER_GROUND.at(plate_share, extremes.overlay_over_radius),
        Kind::Round => measured::DISC_WITHOUT_GROUND.at(reach, extremes.overlay_over_radius),
        Kind::Rectangle if grounded => measured::RECTANGLE_OVER_GROUND.at(plate_share, shape.ratio()),
        Kind::Rectangle => measured::RECTANGLE_WITHOUT_GROUND.at(reach, shape.ratio()),
        Kind::Ring if grounded => measured::RING_OVER_GROUND.at(plate_share, shape.hole),
        Kind::Ring => measured::RING_WITHOUT_GROUND.at(reach, shape.hole),
        Kind::Polygon => 0.075 + 0.03 * stretched + 0.05 * shape.hole + 0.03 * (shape.disc_count() - 1.0).min(5.0),
    };
    bound + extremes.beyond()
}

/// A strip, of whose capacitance `plate_share` is that of the plate.
pub(super) fn strip(extremes: &Extremes, plate_share: f64) -> f64 {
    measured::STRIP.at(plate_share, extremes.overlay_over_radius) + extremes.beyond()
}

/// A thread in one dielectric: what the two strips of the ratio leave is some 1e-6; with a margin.
const THREAD_IN_ONE_DIELECTRIC: f64 = 1e-5;

/// A thread that reaches through a change of permittivity. Of 1458 such cases the worst lay 38 % from the middle between the two
/// limits that enclose the value; the rest is judgement.
const THREAD_THROUGH_LAYERS: f64 = 0.5;

/// A thread; `boundary_m` is how far from its axis the nearest change of permittivity lies, but for the one in the plane of its axis.
pub(super) fn thread(radius_m: f64, height_m: f64, boundary_m: f64, one_dielectric: bool) -> f64 {
    if one_dielectric {
        THREAD_IN_ONE_DIELECTRIC
    } else if boundary_m < radius_m {
        THREAD_THROUGH_LAYERS
    } else {
        measured::THREAD.at(radius_m / boundary_m, radius_m / height_m)
    }
}

/// Rows over a plane, for `x` = radius/spacing. Nearer to the ground than was measured the value is only a value.
pub(super) fn rows(x: f64, height_over_radius: f64) -> f64 {
    if height_over_radius < 1.02 { 1.0 } else { measured::ROWS.at(x, height_over_radius) + 20.0 * (x - 0.5).max(0.0) }
}

/// What rows add to a pad's bound: finite fields of 10 to 31 threads over a plane came out within
/// 3.1 % (10 threads) to 1.0 % (31 threads), mostly because the edge of such a plate is no line.
pub(super) fn rows_on_pad(spacing_m: f64, narrowest_m: f64) -> f64 {
    if spacing_m == 0.0 { 0.0 } else { 0.01 + 0.35 * (spacing_m / narrowest_m).min(2.0) }
}

/// Bounds for pad and finger.
#[derive(Debug, Clone, Copy)]
pub(super) struct TouchBounds {
    pub(super) pad_finger: f64,
    pub(super) pad_ground: f64,
    pub(super) finger_ground: f64,
    pub(super) maxwell: f64,
}

/// `share_taken` is the share of the pad's potential that a floating finger takes; `finger_over_pad` the ratio of radii; the
/// capacitances are those found.
pub(super) fn touch(
    grounded: bool,
    share_taken: f64,
    finger_over_pad: f64,
    pad_finger_f: f64,
    pad_ground_f: f64,
    finger_ground_f: f64,
) -> TouchBounds {
    let maps = if grounded {
        [
            &measured::PAD_FINGER_OVER_GROUND,
            &measured::PAD_GROUND_OVER_GROUND,
            &measured::FINGER_GROUND_OVER_GROUND,
            &measured::TOUCH_DIAGONALS_OVER_GROUND,
        ]
    } else {
        [
            &measured::PAD_FINGER_WITHOUT_GROUND,
            &measured::PAD_GROUND_WITHOUT_GROUND,
            &measured::FINGER_GROUND_WITHOUT_GROUND,
            &measured::TOUCH_DIAGONALS_WITHOUT_GROUND,
        ]
    };
    let numbers = [share_taken, pad_finger_f / pad_ground_f, pad_finger_f / finger_ground_f, share_taken];
    let [pad_finger, pad_ground, finger_ground, diagonals] = std::array::from_fn(|i| maps[i].at(numbers[i], finger_over_pad));
    TouchBounds { pad_finger, pad_ground, finger_ground, maxwell: pad_finger.max(diagonals) }
}

impl TouchBounds {
    /// The same for a pad that is not round. Rectangles and rings are measured; a finger over the hole of a ring meets next to
    /// nothing there. Polygons are taken for rectangles, or for rings where they have holes, with some judgement on top.
    pub(super) fn over(self, shape: &Shape, finger_m: f64) -> Self {
        let on_rectangle = || {
            [&measured::FINGER_OVER_RECTANGLE, &measured::GROUND_AROUND_RECTANGLE].map(|m| m.at(finger_m / shape.short_m, shape.ratio()))
        };
        let hole_m = shape.hole * shape.short_m;
        let on_ring = || [&measured::FINGER_OVER_RING, &measured::GROUND_AROUND_RING].map(|m| m.at(finger_m / hole_m, shape.hole));
        let [between, around] = match shape.kind {
            Kind::Round => return self,
            Kind::Rectangle => on_rectangle(),
            Kind::Ring => on_ring(),
            Kind::Polygon if shape.hole > 0.0 => on_ring().map(|bound| bound + 0.1),
            Kind::Polygon => on_rectangle().map(|bound| bound + 0.1),
        };
        Self {
            pad_finger: self.pad_finger.max(between),
            pad_ground: self.pad_ground.max(around),
            finger_ground: self.finger_ground.max(around),
            maxwell: self.maxwell.max(between),
        }
    }
}

/// How far field lines spread sideways, in overlay thicknesses, when a touch goes off centre.
pub(super) const OVERLAP_SPREAD: f64 = 0.5;

/// An off-centre touch; `reach_m` is both radii and the overlay.
pub(super) fn off_centre(grounded: bool, off_m: f64, reach_m: f64, finger_over_pad: f64) -> f64 {
    let map = if grounded { &measured::FINGER_OFF_OVER_GROUND } else { &measured::FINGER_OFF_WITHOUT_GROUND };
    map.at(off_m / reach_m, finger_over_pad)
}

/// What neighbours add to the bound of the diagonal; `coupled` is the largest coupling over the geometric mean of its
/// diagonals, `gap_over_size` that of the nearest pair, `size` being the smaller of the two. Measured on pairs of rectangles.
pub(super) fn coupled_diagonal(grounded: bool, coupled: f64, gap_over_size: f64) -> f64 {
    let map = if grounded { &measured::COUPLED_OVER_GROUND } else { &measured::COUPLED_WITHOUT_GROUND };
    map.at(coupled, gap_over_size)
}

/// Bound of a neighbour's coefficient over itself. Measured on pairs of rectangles. Over 1 the closed form knows no more than
/// that the coefficient is small: a near ground hides neighbours from each other, which charges at their centres cannot know.
pub(super) fn neighbour(medium: &Medium<'_>, gap_m: f64, size_m: f64) -> f64 {
    let gap = gap_m.max(0.0);
    match medium.ground {
        Ground::Plane => {
            let height: f64 = medium.base.iter().map(|layer| layer.thickness_m).sum();
            measured::NEIGHBOURS_OVER_GROUND.at(gap / height.max(f64::MIN_POSITIVE), gap / size_m)
        }
        Ground::None => {
            let reach: f64 = medium.base.iter().chain(medium.overlay).map(|layer| layer.thickness_m * layer.relative_permittivity).sum();
            measured::NEIGHBOURS_WITHOUT_GROUND.at(reach / size_m, gap / size_m)
        }
    }
}
