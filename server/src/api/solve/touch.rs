//! What a touch adds, from capacitances that are already known.

use serde::{Deserialize, Serialize};
use toile_model::touch::{Signal, WayBack};
use utoipa::ToSchema;

use super::pf;
use crate::api::number::{CapacitancePf, PlainBodyToEarthPf, PlainBodyToSupplyPf, PlainSupplyToEarthPf};
use crate::api::read::Readable;

/// What a touch adds, from given capacitances.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TouchQuestion {
    /// Capacitances between pad, finger and ground.
    pub maxwell_pf: TouchCoefficients,
    /// Person to earth.
    pub body_to_earth_pf: PlainBodyToEarthPf,
    /// Supply to earth; null for an earthed supply.
    pub supply_to_earth_pf: Option<PlainSupplyToEarthPf>,
    /// Person to supply.
    pub body_to_supply_pf: PlainBodyToSupplyPf,
}

/// Capacitances between pad, finger and ground, each as a positive number (the negative of the matrix element).
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TouchCoefficients {
    /// Pad to finger.
    pub pad_finger: CapacitancePf,
    /// Pad to ground with the finger in place.
    pub pad_ground_touched: CapacitancePf,
    /// Pad to ground without the finger.
    pub pad_ground_untouched: CapacitancePf,
    /// Finger to ground.
    pub finger_ground: CapacitancePf,
}

impl TouchQuestion {
    /// The four capacitances, in the order of the fields, F, and the way back to circuit ground.
    pub fn to_model(self) -> ([f64; 4], WayBack) {
        let c = self.maxwell_pf;
        let way = WayBack {
            body_to_earth_f: self.body_to_earth_pf.0,
            supply_to_earth_f: self.supply_to_earth_pf.map(|n| n.0),
            body_to_supply_f: self.body_to_supply_pf.0,
        };
        ([c.pad_finger.0, c.pad_ground_touched.0, c.pad_ground_untouched.0, c.finger_ground.0], way)
    }
}

/// What a touch adds.
#[derive(Debug, Serialize, ToSchema)]
pub struct TouchAnswer {
    /// Change of the pad's capacitance.
    pub signal_pf: f64,
    /// Way back from the finger to circuit ground.
    pub return_pf: f64,
}

impl From<Signal> for TouchAnswer {
    fn from(signal: Signal) -> Self {
        Self { signal_pf: pf(signal.signal_f), return_pf: pf(signal.return_f) }
    }
}

impl Readable for TouchQuestion {
    const SCHEMA: &'static str = "TouchQuestion";
}
