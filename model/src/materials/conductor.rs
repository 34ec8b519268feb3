//! Wires and yarns from their definitions: gauge, counts, metal content.

/// Resistivity of standard annealed copper at 20 degrees Celsius, ohm m: 1/58 ohm mm2/m (IEC 60028:1925, second-hand).
pub const COPPER_RESISTIVITY: f64 = 1e-6 / 58.0;

/// Temperature coefficient of copper's resistance at 20 degrees Celsius, 1/K (IEC 60028:1925, second-hand).
pub const COPPER_TEMPERATURE_COEFFICIENT: f64 = 0.003_93;

/// Diameter of a solid wire of an American gauge, m.
///
/// `gauge` from -3 (0000) to 56. Source: d = 0.127 mm x 92^((36 - n)/39), ASTM B258-02 (second-hand); printed tables
/// round the diameter to four digits first.
///
/// Example: gauge 24 has 0.5106 mm.
///
/// ```
/// assert!((toile_model::materials::gauge_diameter_m(24) - 0.510_559_227e-3).abs() < 1e-12);
/// ```
pub fn gauge_diameter_m(gauge: i32) -> f64 {
    0.127e-3 * 92f64.powf(f64::from(36 - gauge) / 39.0)
}

/// Resistance per metre of a solid round wire, ohm/m.
///
/// Diameter in m, resistivity in ohm m at 20 degrees Celsius, coefficient in 1/K about 20 degrees Celsius,
/// temperature in K. The section is not taken to expand. Exact for that model.
///
/// Example: copper of gauge 24 at 20 degrees Celsius: 84.2 milliohm/m.
pub fn wire_ohm_per_m(diameter_m: f64, resistivity_ohm_m: f64, temperature_coefficient_per_k: f64, temperature_k: f64) -> f64 {
    let area = std::f64::consts::FRAC_PI_4 * diameter_m * diameter_m;
    resistivity_ohm_m / area * (1.0 + temperature_coefficient_per_k * (temperature_k - 293.15))
}

/// A yarn's fineness in the counts of the trade.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counts {
    /// Grams per 9000 m.
    pub denier: f64,
    /// Grams per 10 000 m.
    pub decitex: f64,
    /// Kilometres per kilogram.
    pub metric_count: f64,
    /// 840-yard hanks per pound.
    pub english_cotton_count: f64,
}

/// Counts of a yarn of `tex` grams per kilometre, above 0. Definitions of ISO 2947 (from memory); the English count
/// with 1 lb = 0.45359237 kg and 1 yd = 0.9144 m is 590.541/tex.
///
/// Example: 40 tex is 360 denier, Nm 25, Ne 14.8.
pub fn counts(tex: f64) -> Counts {
    Counts { denier: 9.0 * tex, decitex: 10.0 * tex, metric_count: 1000.0 / tex, english_cotton_count: 590.541 / tex }
}

/// Metal in a yarn, taken as lying along it without twist.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MetalInYarn {
    /// Section of the metal, m2.
    pub area_m2: f64,
    /// Lower bound of the resistance, ohm/m: twist, crimp and interrupted fibres add to it.
    pub ohm_per_m: f64,
}

/// Metal section and least resistance of a yarn by mass balance.
///
/// Linear density in kg/m, metal share of the mass 0 to 1, density of the metal in kg/m3, resistivity in ohm m; all
/// above 0. Exact for fibres along the axis.
///
/// Example: 250 tex of solid steel (7.4e-7 ohm m, 7950 kg/m3): 0.0314 mm2, 23.5 ohm/m.
pub fn metal_in_yarn(linear_density_kg_per_m: f64, metal_mass_fraction: f64, density_kg_m3: f64, resistivity_ohm_m: f64) -> MetalInYarn {
    let area_m2 = linear_density_kg_per_m * metal_mass_fraction / density_kg_m3;
    MetalInYarn { area_m2, ohm_per_m: resistivity_ohm_m / area_m2 }
}

/// Diameter of a round yarn whose fibres of total section `area_m2` fill the share `packing` of it, m.
///
/// Example: 0.0314 mm2 at packing 0.86: 0.216 mm.
pub fn yarn_diameter_m(area_m2: f64, packing: f64) -> f64 {
    (area_m2 / packing / std::f64::consts::FRAC_PI_4).sqrt()
}
