//! Threads, fabrics, controllers, metals and the shop's rates: what is known of them, how well, and from where.
//!
//! The data stand in one file, `library.rs`. They are Rust tables rather than a parsed text so that a wrong
//! name or a missing source is found by the compiler and the model needs no parser.

mod conductor;
mod library;
mod metal;
mod rates;
mod skin;
mod wet;

use crate::uncertainty::Measured;
use crate::units::Quantity;

pub use conductor::{
    COPPER_RESISTIVITY, COPPER_TEMPERATURE_COEFFICIENT, Counts, MetalInYarn, counts, gauge_diameter_m, metal_in_yarn, wire_ohm_per_m,
    yarn_diameter_m,
};
pub use library::LIBRARY;
pub use metal::{ConductorClass, Metal, conductor_sections_mm2, largest_ohm_per_m};
pub use rates::{GivenRates, KnownPrice, PRICES, Price, RATES, Rate, Rates};
pub use skin::{BodySignal, COMMON_MODE, MOST_PRESSURE_PA, SKIN_NOISE, Skin, SkinContact, TISSUE};
pub use wet::wet_permittivity;

/// How far a value can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// Fixed by a standard.
    Standard,
    /// Found in print, with the place named.
    Published,
    /// Usual in the trade; no source to point to.
    CommonPractice,
    /// Remembered from handbooks and not looked up again; check before relying on it.
    FromMemory,
    /// Made up for the demo's shop; good for nothing else.
    Invented,
    /// Given by the person who asks, or by the shop's settings.
    Given,
}

impl Status {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Standard => "standard",
            Self::Published => "published",
            Self::CommonPractice => "common practice",
            Self::FromMemory => "from memory",
            Self::Invented => "invented",
            Self::Given => "given",
        }
    }
}

/// A value with its spread, where it comes from and how far it can be trusted. SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Value and spread.
    pub measured: Measured,
    /// Where it comes from, for a person to look up.
    pub source: &'static str,
    /// How far it can be trusted.
    pub status: Status,
}

impl Known {
    /// A value in the edge unit of `quantity`, with what is known of its origin.
    pub const fn new(quantity: &Quantity, edge: Measured, source: &'static str, status: Status) -> Self {
        Self { measured: edge.rescaled(quantity.offset, quantity.per_si), source, status }
    }
}

/// A conductive thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thread {
    /// Short name for use in data.
    pub id: &'static str,
    /// Generic description.
    pub name: &'static str,
    /// Resistance per metre of thread at 20 degrees Celsius.
    pub linear_resistance_ohm_per_m: Known,
    /// Diameter in m, as it lies in a seam.
    pub diameter_m: Known,
    /// Mass per length in kg/m.
    pub linear_density_kg_per_m: Known,
    /// Relative growth of resistance per kelvin, about 20 degrees Celsius.
    pub temperature_coefficient_per_k: Known,
    /// Relative growth of resistance in one wash cycle.
    pub growth_per_wash: Known,
    /// Growth of resistance as a multiple of the stretch.
    pub stretch_factor: Known,
}

/// A fabric, filler or film.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fabric {
    /// Short name for use in data.
    pub id: &'static str,
    /// Generic description.
    pub name: &'static str,
    /// What it is used for in a piece.
    pub used_for: &'static str,
    /// Thickness in m.
    pub thickness_m: Known,
    /// Permittivity relative to vacuum, below 1 MHz, at 20 to 65 % relative humidity.
    pub relative_permittivity: Known,
}

/// A touch-sensing input, by its numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Controller {
    /// Short name for use in data.
    pub id: &'static str,
    /// What kind of input it stands for.
    pub name: &'static str,
    /// Time given to a pad to charge, s.
    pub charge_time_s: Known,
    /// Resistance between driver and terminal, ohm.
    pub series_resistance_ohm: Known,
    /// Largest standing capacitance, F.
    pub max_standing_f: Known,
    /// Smallest change told from noise, F.
    pub needed_signal_f: Known,
    /// Largest run resistance allowed, ohm.
    pub max_run_ohm: Known,
    /// Share of the final charge that must be reached, 0 to 1.
    pub settled_fraction: Known,
}

/// All entries of one revision, and what the shop knows of itself.
#[derive(Debug, Clone)]
pub struct Library {
    /// Date of the last change of any entry.
    pub revision: &'static str,
    /// Conductive threads.
    pub threads: &'static [Thread],
    /// Fabrics, fillers and films.
    pub fabrics: &'static [Fabric],
    /// Touch-sensing inputs.
    pub controllers: &'static [Controller],
    /// Metals of wires.
    pub metals: &'static [Metal],
    /// Pace and prices of the shop.
    pub rates: Rates,
}

impl Library {
    /// The thread with this id.
    pub fn thread(&self, id: &str) -> Option<&Thread> {
        self.threads.iter().find(|t| t.id == id)
    }

    /// The fabric with this id.
    pub fn fabric(&self, id: &str) -> Option<&Fabric> {
        self.fabrics.iter().find(|f| f.id == id)
    }

    /// The metal with this id.
    pub fn metal(&self, id: &str) -> Option<&Metal> {
        self.metals.iter().find(|m| m.id == id)
    }

    /// The controller with this id.
    pub fn controller(&self, id: &str) -> Option<&Controller> {
        self.controllers.iter().find(|c| c.id == id)
    }
}
