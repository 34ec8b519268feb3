//! Every error bound of the closed forms, in one place.
//!
//! Each was set above the worst of the cases described on the module's front page, or above their
//! 99th percentile where said so, and then checked on cases drawn anew. Outside that range a bound
//! grows with the distance from it, which is judgement, and the answer is marked not valid.

use super::super::{Ground, Medium};
use super::shape::{Kind, Shape};

/// How far a medium and a size reach, for telling what was measured.
#[derive(Debug, Clone, Copy)]
pub(super) struct Extremes {
    highest_permittivity: f64,
    /// Height over radius, 1 without ground.
    height_over_radius: f64,
    /// Sum of permittivity times thickness over radius without ground, 1 with it.
    reach_over_radius: f64,
}

impl Extremes {
    pub(super) fn of(medium: &Medium<'_>, radius_m: f64) -> Self {
        let layers = || medium.base.iter().chain(medium.overlay);
        let highest_permittivity = layers().fold(1.0, |highest: f64, layer| highest.max(layer.relative_permittivity));
        let height: f64 = medium.base.iter().map(|layer| layer.thickness_m).sum();
        let reach: f64 = layers().map(|layer| layer.thickness_m * layer.relative_permittivity).sum();
        let (height_over_radius, reach_over_radius) = match medium.ground {
            Ground::Plane => (height / radius_m, 1.0),
            Ground::None => (1.0, reach / radius_m),
        };
        Self { highest_permittivity, height_over_radius, reach_over_radius }
    }

    pub(super) fn measured(&self) -> bool {
        self.highest_permittivity <= 10.0 && (1e-4..=1e3).contains(&self.height_over_radius) && self.reach_over_radius <= 1e3
    }

    /// Extra bound outside the measured range. Permittivities up to 100 were tried on 2000 cases:
    /// discs stay within 2.0 %, strips within 1.4 %.
    fn beyond(&self) -> f64 {
        let contrast = (self.highest_permittivity / 8.0).ln().max(0.0);
        let far = (self.height_over_radius / 1e3).ln().max(0.0);
        let reach = (self.reach_over_radius / 1e3).ln().max(0.0);
        0.005 * contrast + 0.02 * far + 0.02 * reach
    }
}

/// A pad. Discs: worst of 4000 cases 1.1 %. Rectangles: worst by ratio 1, 1.5, 2.5, 4, 8 of 2500
/// cases 2.5, 2.4, 3.3, 4.0, 5.6 %. Rings: worst of 400 cases 5.0 % (hole under a third of the
/// diameter) to 7.6 % (over two thirds). Polygons: judgement on top of that.
pub(super) fn pad(shape: &Shape, extremes: &Extremes) -> f64 {
    let stretched = shape.ratio().ln();
    let outline = match shape.kind {
        Kind::Round => 0.0,
        Kind::Rectangle => 0.015 + 0.017 * stretched,
        Kind::Ring => 0.038 + 0.04 * shape.hole,
        Kind::Polygon => 0.06 + 0.03 * stretched + 0.05 * shape.hole + 0.03 * (shape.disc_count() - 1.0).min(5.0),
    };
    0.015 + outline + extremes.beyond()
}

/// A strip. Worst of 1000 cases 0.5 %.
pub(super) fn strip(extremes: &Extremes) -> f64 {
    0.006 + extremes.beyond()
}

/// A thread: the transfer to layers was not compared with a reference, so its bound is judgement;
/// with one permittivity everywhere it is the error of the strips' ratio.
pub(super) fn thread(medium: &Medium<'_>, radius_m: f64, height_m: f64) -> f64 {
    let layers = || medium.base.iter().chain(medium.overlay);
    let below = medium.base.last().map_or(1.0, |layer| layer.relative_permittivity);
    let above = medium.overlay.first().map_or(1.0, |layer| layer.relative_permittivity);
    let contrast = (below - above).abs() / (below + above);
    // Layer boundaries near the thread, other than the one it lies in.
    let low = layers().fold(below, |low, layer| low.min(layer.relative_permittivity));
    let high = layers().fold(below, |high, layer| high.max(layer.relative_permittivity));
    let thinnest = layers().fold(height_m, |thin, layer| thin.min(layer.thickness_m));
    let near = |thickness: f64| (radius_m / thickness).min(1.0);
    let overlay: f64 = medium.overlay.iter().map(|layer| layer.thickness_m).sum();
    let top = if overlay > 0.0 { (1.0 - 1.0 / high) * near(overlay) } else { 0.0 };
    0.006 + 0.3 * contrast * near(height_m) + 0.2 * (1.0 - low / high) * near(thinnest) + 0.2 * top
}

/// Rows over a plane, against multipole collocation for `x` = radius/spacing 0.02 to 0.48.
pub(super) fn rows(x: f64, height_over_radius: f64) -> f64 {
    let near = (height_over_radius - 1.0).max(0.02);
    let overlapping = (x - 0.48).max(0.0) * 20.0;
    (6e-4 + 6.2e-3 * near.powf(-1.6)).min(1.0) + overlapping + 2e-3 * (x - 0.45).max(0.0) / 0.03
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

/// `lateral` is the smaller of the two shares, without what the layers take; `finger_over_pad` the
/// ratio of radii; the capacitances are those found. Set on 3200 cases at the 99th percentile or
/// above; pad to finger holds in all but one of them.
pub(super) fn touch(lateral: f64, finger_over_pad: f64, pad_finger_f: f64, pad_ground_f: f64, finger_ground_f: f64) -> TouchBounds {
    let r4 = finger_over_pad.powi(4);
    let (large_finger, small_finger) = (r4 / (1.0 + r4), 1.0 / (1.0 + r4));
    let pad_finger = 0.075 + 0.28 * (1.0 - lateral);
    let r = pad_finger_f / pad_ground_f;
    let pad_ground = 0.03 + large_finger * (0.12 + 0.4 * r / (r + 0.3) + 0.45 * r / (r + 10.0));
    let r = pad_finger_f / finger_ground_f;
    let finger_ground = 0.1 + small_finger * (0.4 + r / (r + 5.0));
    TouchBounds { pad_finger, pad_ground, finger_ground, maxwell: pad_finger + 0.02 }
}

/// How far field lines spread sideways, in overlay thicknesses, when a touch goes off centre.
pub(super) const OVERLAP_SPREAD: f64 = 0.5;

/// What an off-centre touch adds (judgement, see the offset cases in the tests).
pub(super) fn off_centre(off_m: f64, reach_m: f64) -> f64 {
    0.5 * (off_m / reach_m).min(2.0)
}

/// What neighbours add to the bound of the diagonal; `coupled` is the largest coupling over the
/// geometric mean of its diagonals. Judgement above the worst of 14 pairs.
pub(super) fn coupled_diagonal(coupled: f64) -> f64 {
    0.1 * coupled + 1.2 * coupled * coupled
}

/// Bound of a neighbour's coefficient over itself, for a pair `gap_over_size` apart, `size` being
/// the smaller of the two. Judgement above the worst of 14 pairs.
pub(super) fn neighbour(gap_over_size: f64) -> f64 {
    0.2 + 0.04 / gap_over_size.max(0.04)
}
