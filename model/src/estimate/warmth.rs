//! How warm a feature that carries current may become, and what keeps its heat in: what light rows and laid wires share.
//!
//! Temperatures in K, thermal resistance in m2 K/W. What is worked out are bounds ([`crate::heat`]); they are held against
//! the limit with their upper end, for a caution and never as a promise.

use super::piece::Inspector;
use super::{LayerChoice, Piece};
use crate::heat::{HeatPath, LONG_CONTACT, Rise, Surroundings, temperature_rise};
use crate::materials::{Known, Library};
use crate::uncertainty::Measured;
use crate::units;

/// What keeps the heat in, and what temperature is allowed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WarmthChoice {
    /// Highest temperature allowed, K; that of skin in contact for 8 h and longer where nothing is given.
    pub max_temperature_k: Option<Measured>,
    /// Sides of the cloth that give off heat, 1 or 2; 1 where nothing is given: the other lies on a cushion or a body.
    pub free_sides: Option<u8>,
    /// Resistance of what covers each free side, m2 K/W; that of the overlay where nothing is given.
    pub cover_m2k_per_w: Option<f64>,
}

/// Heat conducted by a cover, W/(m K): the poorly conducting end of what cloth conducts, as for the upper bound of
/// [`temperature_rise`].
const COVER_CONDUCTIVITY: f64 = 0.035;

/// The limit of skin, assumed where a piece names none.
pub(super) static SKIN_LIMIT: Known =
    Known { measured: Measured::exact(LONG_CONTACT.temperature_k), source: LONG_CONTACT.source, status: LONG_CONTACT.status };

impl WarmthChoice {
    pub(super) fn check(&self, inspect: &mut Inspector, at: impl Fn(&str) -> String) {
        inspect.optional(&units::MAX_TEMPERATURE, self.max_temperature_k.as_ref(), || at("/warmth/max_temperature_c"));
        if let Some(sides) = self.free_sides {
            inspect.number(&units::FREE_SIDES, f64::from(sides), || at("/warmth/free_sides"));
        }
        if let Some(cover) = self.cover_m2k_per_w {
            inspect.number(&units::COVER, cover, || at("/warmth/cover_m2k_per_w"));
        }
    }

    /// What a warm thread of this piece lies in: cloth of `sewn_m`, in rows where `row_spacing_m` says so.
    pub(super) fn surroundings(&self, piece: &Piece, library: &Library, sewn_m: f64, row_spacing_m: Option<f64>) -> Surroundings {
        Surroundings::Cloth {
            thickness_m: sewn_m.max(LEAST_CLOTH_M),
            row_spacing_m,
            free_sides: self.free_sides.unwrap_or(1),
            cover_m2k_per_w: self.cover_m2k_per_w.unwrap_or_else(|| overlay_m2k_per_w(&piece.stack.overlay, library)),
        }
    }
}

/// Cloth thinner than this spreads no heat to speak of.
const LEAST_CLOTH_M: f64 = 1e-5;

/// What the overlay keeps in, taken as lying close.
fn overlay_m2k_per_w(overlay: &[LayerChoice], library: &Library) -> f64 {
    let thickness = |layer: &LayerChoice| {
        let entry = layer.library.as_deref().and_then(|id| library.fabric(id));
        layer.thickness_m.or(entry.map(|e| e.thickness_m.measured)).map_or(0.0, |t| t.value)
    };
    overlay.iter().map(thickness).sum::<f64>() / COVER_CONDUCTIVITY
}

/// Bounds on the rise of a thread that turns `power_w_per_m` into heat, K.
pub(super) fn rise(power_w_per_m: f64, diameter_m: f64, ambient_k: f64, surroundings: Surroundings) -> Rise {
    // Air is described from 213 to 473 K.
    temperature_rise(&HeatPath {
        power_w_per_m: power_w_per_m.max(0.0),
        diameter_m,
        ambient_k: ambient_k.clamp(213.0, 473.0),
        surroundings,
    })
}
