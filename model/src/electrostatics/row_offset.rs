//! What rows of thread do to the layers: the plate that stands for them lies at another height.
//!
//! Both tiers use it. The formulas stand with [`super::rows_plate`]; a plate moved away from its neighbours is the same as
//! layers thickened next to the plane, and eaten up where it moves towards them.

use super::{Ground, Layer, Medium, Note, Notes, Rows};
use std::f64::consts::PI;

/// Height of the solid plate that stands for `rows` with axes at `height_m`.
pub(super) fn plate_height(rows: Rows, height_m: f64) -> f64 {
    let p = rows.row_spacing_m;
    let x = radius_over_spacing(rows);
    let h = height_m.max(x * p);
    let turns = 2.0 * PI * h / p;
    // Beyond this, sinh would only overflow: arcosh of it differs from the logarithm by 1e-17.
    let term = if turns > 20.0 { turns - (2.0 * PI * x).ln() } else { (turns.sinh() / (2.0 * PI * x)).acosh() };
    p * (term / (2.0 * PI) - dipole(x))
}

/// Offset of the plate far from any ground.
fn far_offset(rows: Rows) -> f64 {
    let x = radius_over_spacing(rows);
    rows.row_spacing_m * (-(2.0 * PI * x).ln() / (2.0 * PI) - dipole(x))
}

fn radius_over_spacing(rows: Rows) -> f64 {
    (0.5 * rows.thread_diameter_m / rows.row_spacing_m).min(0.5)
}

fn dipole(x: f64) -> f64 {
    let x2 = x * x;
    0.5 * PI * x2 / (1.0 + 2.704 * x2 - 2.727 * x2 * x2)
}

/// How the layers next to a stitched plate must be thickened (or thinned) to make it solid.
#[derive(Debug, Clone, Copy)]
pub(super) struct RowOffset {
    pub(super) below_m: f64,
    pub(super) above_m: f64,
    pub(super) spacing_m: f64,
    pub(super) notes: Notes,
}

impl RowOffset {
    pub(super) fn new(medium: &Medium<'_>, rows: Option<Rows>) -> Self {
        let Some(rows) = rows else {
            return Self { below_m: 0.0, above_m: 0.0, spacing_m: 0.0, notes: Notes::NONE };
        };
        let far = far_offset(rows);
        let radius = 0.5 * rows.thread_diameter_m;
        let height: f64 = medium.base.iter().map(|layer| layer.thickness_m).sum();
        let grounded = medium.ground == Ground::Plane;
        let clamped = radius > 0.5 * rows.row_spacing_m || (grounded && height < radius);
        Self {
            below_m: if grounded { plate_height(rows, height) - height } else { far },
            above_m: far,
            spacing_m: rows.row_spacing_m,
            notes: Notes::NONE.with(Note::RowsAsPlate).with_if(clamped, Note::RowsClamped),
        }
    }
}

/// Layer `i` of those on one side of the plane, counted upwards, with the plane moved by `offset_m` away from them: the
/// layer next to the plane grows by that, or the nearest layers are eaten up.
pub(super) fn moved_layer(layers: &[Layer], i: usize, offset_m: f64, plane_is_last: bool) -> Layer {
    let layer = layers[i];
    if offset_m == 0.0 {
        return layer;
    }
    let nearer = if plane_is_last { &layers[i + 1..] } else { &layers[..i] };
    let thickness_m = if offset_m > 0.0 {
        layer.thickness_m + if nearer.is_empty() { offset_m } else { 0.0 }
    } else {
        let above: f64 = nearer.iter().map(|layer| layer.thickness_m).sum();
        let eaten = (-offset_m - above).max(0.0);
        (layer.thickness_m - eaten).max(0.0)
    };
    Layer { thickness_m, ..layer }
}

/// The offset held so that at most 95 % of the layers are eaten up and something always insulates.
pub(super) fn held_offset(layers: &[Layer], offset_m: f64) -> f64 {
    let total: f64 = layers.iter().map(|layer| layer.thickness_m).sum();
    offset_m.max(-0.95 * total)
}
