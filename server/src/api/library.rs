//! The library on the wire.

use serde::Serialize;
use toile_model::materials::Library;
use toile_model::units;
use utoipa::ToSchema;

use super::answer::KnownAnswer;

/// All threads of the library.
#[derive(Serialize, ToSchema)]
pub struct Threads {
    /// Date of the last change of any entry.
    revision: &'static str,
    /// The entries.
    threads: Vec<ThreadEntry>,
}

/// A conductive thread.
#[derive(Serialize, ToSchema)]
pub struct ThreadEntry {
    /// Short name for use in a piece.
    id: &'static str,
    /// Generic description.
    name: &'static str,
    /// Resistance per metre at 20 degrees Celsius.
    linear_resistance_ohm_per_m: KnownAnswer,
    /// Diameter as it lies in the seam.
    diameter_mm: KnownAnswer,
    /// Mass per length.
    linear_density_tex: KnownAnswer,
    /// Relative growth of resistance per kelvin.
    temperature_coefficient_per_k: KnownAnswer,
    /// Growth of resistance in one wash cycle.
    growth_per_wash_percent: KnownAnswer,
    /// Growth of resistance as a multiple of the stretch.
    stretch_factor: KnownAnswer,
}

/// All fabrics of the library.
#[derive(Serialize, ToSchema)]
pub struct Fabrics {
    /// Date of the last change of any entry.
    revision: &'static str,
    /// The entries.
    fabrics: Vec<FabricEntry>,
}

/// A fabric, filler or film.
#[derive(Serialize, ToSchema)]
pub struct FabricEntry {
    /// Short name for use in a piece.
    id: &'static str,
    /// Generic description.
    name: &'static str,
    /// What it is used for.
    #[serde(rename = "use")]
    used_for: &'static str,
    /// Thickness.
    thickness_mm: KnownAnswer,
    /// Permittivity relative to vacuum.
    relative_permittivity: KnownAnswer,
}

/// All controllers of the library.
#[derive(Serialize, ToSchema)]
pub struct Controllers {
    /// Date of the last change of any entry.
    revision: &'static str,
    /// The entries.
    controllers: Vec<ControllerEntry>,
}

/// A touch-sensing input, by its numbers.
#[derive(Serialize, ToSchema)]
pub struct ControllerEntry {
    /// Short name for use in a piece.
    id: &'static str,
    /// What kind of input it stands for.
    name: &'static str,
    /// Time given to a pad to charge.
    charge_time_us: KnownAnswer,
    /// Resistance between driver and terminal.
    series_resistance_ohm: KnownAnswer,
    /// Largest standing capacitance.
    max_standing_pf: KnownAnswer,
    /// Smallest change told from noise.
    needed_signal_pf: KnownAnswer,
    /// Largest run resistance allowed.
    max_run_ohm: KnownAnswer,
    /// Share of the final charge that must be reached.
    settled_percent: KnownAnswer,
}

/// All metals of the library.
#[derive(Serialize, ToSchema)]
pub struct Metals {
    /// Date of the last change of any entry.
    revision: &'static str,
    /// The entries.
    metals: Vec<MetalEntry>,
}

/// A metal that wires are drawn from.
#[derive(Serialize, ToSchema)]
pub struct MetalEntry {
    /// Short name for use in a piece.
    id: &'static str,
    /// Generic description.
    name: &'static str,
    /// Resistivity at 20 degrees Celsius.
    resistivity_ohm_mm2_per_m: KnownAnswer,
    /// Relative growth of resistance per kelvin.
    temperature_coefficient_per_k: KnownAnswer,
    /// Density.
    density_kg_per_m3: KnownAnswer,
}

impl From<&Library> for Threads {
    fn from(library: &Library) -> Self {
        let entry = |t: &toile_model::materials::Thread| ThreadEntry {
            id: t.id,
            name: t.name,
            linear_resistance_ohm_per_m: KnownAnswer::new(&t.linear_resistance_ohm_per_m, &units::LINEAR_RESISTANCE),
            diameter_mm: KnownAnswer::new(&t.diameter_m, &units::THREAD_DIAMETER),
            linear_density_tex: KnownAnswer::new(&t.linear_density_kg_per_m, &units::LINEAR_DENSITY),
            temperature_coefficient_per_k: KnownAnswer::new(&t.temperature_coefficient_per_k, &units::TEMPERATURE_COEFFICIENT),
            growth_per_wash_percent: KnownAnswer::new(&t.growth_per_wash, &units::GROWTH_PER_WASH),
            stretch_factor: KnownAnswer::new(&t.stretch_factor, &units::STRETCH_FACTOR),
        };
        Self { revision: library.revision, threads: library.threads.iter().map(entry).collect() }
    }
}

impl From<&Library> for Fabrics {
    fn from(library: &Library) -> Self {
        let entry = |f: &toile_model::materials::Fabric| FabricEntry {
            id: f.id,
            name: f.name,
            used_for: f.used_for,
            thickness_mm: KnownAnswer::new(&f.thickness_m, &units::LAYER_THICKNESS),
            relative_permittivity: KnownAnswer::new(&f.relative_permittivity, &units::RELATIVE_PERMITTIVITY),
        };
        Self { revision: library.revision, fabrics: library.fabrics.iter().map(entry).collect() }
    }
}

impl From<&Library> for Controllers {
    fn from(library: &Library) -> Self {
        let entry = |c: &toile_model::materials::Controller| ControllerEntry {
            id: c.id,
            name: c.name,
            charge_time_us: KnownAnswer::new(&c.charge_time_s, &units::CHARGE_TIME),
            series_resistance_ohm: KnownAnswer::new(&c.series_resistance_ohm, &units::SERIES_RESISTANCE),
            max_standing_pf: KnownAnswer::new(&c.max_standing_f, &units::MAX_STANDING),
            needed_signal_pf: KnownAnswer::new(&c.needed_signal_f, &units::NEEDED_SIGNAL),
            max_run_ohm: KnownAnswer::new(&c.max_run_ohm, &units::MAX_RUN),
            settled_percent: KnownAnswer::new(&c.settled_fraction, &units::SETTLED),
        };
        Self { revision: library.revision, controllers: library.controllers.iter().map(entry).collect() }
    }
}

impl From<&Library> for Metals {
    fn from(library: &Library) -> Self {
        let entry = |m: &toile_model::materials::Metal| MetalEntry {
            id: m.id,
            name: m.name,
            resistivity_ohm_mm2_per_m: KnownAnswer::new(&m.resistivity_ohm_m, &units::RESISTIVITY),
            temperature_coefficient_per_k: KnownAnswer::new(&m.temperature_coefficient_per_k, &units::TEMPERATURE_COEFFICIENT),
            density_kg_per_m3: KnownAnswer::new(&m.density_kg_per_m3, &units::DENSITY),
        };
        Self { revision: library.revision, metals: library.metals.iter().map(entry).collect() }
    }
}
