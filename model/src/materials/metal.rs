//! Metals of wires, and the largest resistances that IEC 60228 allows conductors for cables.
//!
//! Values at 20 degrees Celsius. An alloy's resistivity differs from maker to maker by some per cent; a wire's datasheet
//! comes first.

use super::Status::{self, FromMemory, Published};
use super::{COPPER_RESISTIVITY, COPPER_TEMPERATURE_COEFFICIENT, Known};
use crate::uncertainty::Measured;

/// A metal that wires are drawn from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Metal {
    /// Short name for use in data.
    pub id: &'static str,
    /// Generic description.
    pub name: &'static str,
    /// Ohm m at 20 degrees Celsius.
    pub resistivity_ohm_m: Known,
    /// Relative growth of resistance per kelvin, about 20 degrees Celsius.
    pub temperature_coefficient_per_k: Known,
    /// kg/m3.
    pub density_kg_per_m3: Known,
}

const fn metal(
    id: &'static str,
    name: &'static str,
    resistivity: (f64, f64),
    coefficient: (f64, f64),
    density: f64,
    (source, status): (&'static str, Status),
) -> Metal {
    const fn between((low, high): (f64, f64), source: &'static str, status: Status) -> Known {
        Known { measured: Measured::uniform(low, high), source, status }
    }
    Metal {
        id,
        name,
        resistivity_ohm_m: between(resistivity, source, status),
        temperature_coefficient_per_k: between(coefficient, source, status),
        density_kg_per_m3: Known {
            measured: Measured::exact(density),
            source: "density as handbooks list it, from memory",
            status: FromMemory,
        },
    }
}

const HANDBOOK: (&str, Status) = ("range of handbooks for drawn wire, from memory", FromMemory);

const COPPER: (&str, Status) =
    ("annealed copper, 1/58 ohm mm2/m and 0.00393 /K, IEC 60028:1925 (second-hand); drawn wire up to 2 % more", Published);

/// The metals that a laid wire may name.
pub(super) static METALS: [Metal; 9] = [
    metal(
        "copper",
        "copper, annealed",
        (COPPER_RESISTIVITY, 1.02 * COPPER_RESISTIVITY),
        (0.003_85, COPPER_TEMPERATURE_COEFFICIENT),
        8890.0,
        COPPER,
    ),
    metal(
        "tinned-copper",
        "copper, tinned",
        (1.01 * COPPER_RESISTIVITY, 1.05 * COPPER_RESISTIVITY),
        (0.003_8, COPPER_TEMPERATURE_COEFFICIENT),
        8890.0,
        ("copper with 1 to 5 % for the tin, as IEC 60228 allows coated conductors 2 to 3 % more than plain ones (second-hand)", Published),
    ),
    metal("silver", "silver", (1.59e-8, 1.65e-8), (0.0037, 0.0041), 10_490.0, HANDBOOK),
    metal("aluminium", "aluminium", (2.75e-8, 2.87e-8), (0.0039, 0.0043), 2700.0, HANDBOOK),
    metal("bronze", "tin bronze, 4 to 8 % tin", (9.5e-8, 1.6e-7), (0.0005, 0.0010), 8800.0, HANDBOOK),
    metal("stainless-steel", "stainless steel, austenitic", (7.2e-7, 7.6e-7), (0.0009, 0.0011), 7950.0, HANDBOOK),
    metal("copper-nickel", "copper with 44 % nickel", (4.8e-7, 5.0e-7), (-0.000_08, 0.000_08), 8900.0, HANDBOOK),
    metal("nickel-chromium", "nickel with 20 % chromium", (1.06e-6, 1.12e-6), (0.000_05, 0.000_15), 8400.0, HANDBOOK),
    metal("iron-chromium-aluminium", "iron with chromium and aluminium", (1.35e-6, 1.47e-6), (0.0, 0.000_1), 7150.0, HANDBOOK),
];

/// Classes of conductors after IEC 60228.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ConductorClass {
    /// Classes 1 and 2: solid and stranded.
    SolidOrStranded,
    /// Class 5: flexible, of many fine wires.
    Flexible,
}

/// Nominal section in mm2; largest resistance in ohm/km of plain solid or stranded, plain flexible, coated solid or
/// stranded, coated flexible.
const LARGEST: [(f64, [f64; 4]); 8] = [
    (0.5, [36.0, 39.0, 36.7, 40.1]),
    (0.75, [24.5, 26.0, 24.8, 26.7]),
    (1.0, [18.1, 19.5, 18.2, 20.0]),
    (1.5, [12.1, 13.3, 12.2, 13.7]),
    (2.5, [7.41, 7.98, 7.56, 8.21]),
    (4.0, [4.61, 4.95, 4.70, 5.09]),
    (6.0, [3.08, 3.30, 3.11, 3.39]),
    (10.0, [1.83, 1.91, 1.84, 1.95]),
];

/// Nominal sections that [`largest_ohm_per_m`] knows, mm2.
pub fn conductor_sections_mm2() -> impl Iterator<Item = f64> {
    LARGEST.iter().map(|(section, _)| *section)
}

/// Largest resistance per metre that IEC 60228:2004 allows a copper conductor of a nominal section at 20 degrees
/// Celsius, ohm/m, and how far the number can be trusted; `None` for a section that is not in the tables, 0.5 to 10 mm2.
///
/// Source: tables 1 to 3 of the standard as public pages have them (second-hand, pages agree); coated flexible conductors
/// of 0.5 and 0.75 mm2 from memory.
///
/// Example: 1 mm2 flexible, plain: 19.5 milliohm/m.
///
/// ```
/// use toile_model::materials::{ConductorClass, Status, largest_ohm_per_m};
/// assert_eq!(largest_ohm_per_m(1.0, ConductorClass::Flexible, false), Some((0.0195, Status::Published)));
/// ```
pub fn largest_ohm_per_m(section_mm2: f64, class: ConductorClass, coated: bool) -> Option<(f64, Status)> {
    let (section, row) = LARGEST.iter().find(|(section, _)| (section_mm2 / section - 1.0).abs() < 1e-9)?;
    let flexible = class == ConductorClass::Flexible;
    let remembered = flexible && coated && *section < 0.9;
    let status = if remembered { FromMemory } else { Published };
    Some((row[2 * usize::from(coated) + usize::from(flexible)] / 1000.0, status))
}
