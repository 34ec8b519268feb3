//! What light rows and laid wires share on the wire: the kind of their supply, and how warm they may become.

use serde::Deserialize;
use toile_model as model;
use utoipa::ToSchema;

use crate::api::number::{MaxTemperatureC, PlainCover};

/// What a supply is.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SupplyKind {
    /// A battery.
    Battery,
    /// A listed power unit on the mains.
    Mains,
}

impl From<SupplyKind> for model::SupplyKind {
    fn from(wire: SupplyKind) -> Self {
        match wire {
            SupplyKind::Battery => Self::Battery,
            SupplyKind::Mains => Self::Mains,
        }
    }
}

/// How warm something that carries current may become, and what keeps its heat in.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Warmth {
    /// Highest temperature allowed; 43, that of skin in contact for 8 h and longer, where nothing is given.
    max_temperature_c: Option<MaxTemperatureC>,
    /// Sides of the cloth that give off heat; 1 where nothing is given, the other lying on a cushion or a body.
    #[schema(minimum = 1, maximum = 2)]
    free_sides: Option<u8>,
    /// Thermal resistance of what covers each free side; that of the overlay where nothing is given.
    cover_m2k_per_w: Option<PlainCover>,
}

impl From<Warmth> for model::WarmthChoice {
    fn from(wire: Warmth) -> Self {
        Self {
            max_temperature_k: wire.max_temperature_c.map(|n| n.0),
            free_sides: wire.free_sides,
            cover_m2k_per_w: wire.cover_m2k_per_w.map(|n| n.0),
        }
    }
}
