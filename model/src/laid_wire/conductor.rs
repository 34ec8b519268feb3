//! Section and mass of a wire. m2, kg/m.

use crate::materials::gauge_diameter_m;

/// How the section of a round wire is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Section {
    /// Diameter of the metal, m, above 0.
    Diameter(f64),
    /// American gauge, -3 (0000) to 56.
    Gauge(i32),
    /// Area of the metal, m2, above 0.
    Area(f64),
}

impl Section {
    /// Area of the metal, m2. Source: circle; the gauge rule of ASTM B258-02 (second-hand). Exact.
    ///
    /// Example: gauge 24 has 0.2047 mm2.
    ///
    /// ```
    /// use toile_model::laid_wire::Section;
    /// assert!((Section::Gauge(24).area_m2() * 1e6 - 0.204_730_308).abs() < 1e-9);
    /// ```
    pub fn area_m2(self) -> f64 {
        match self {
            Self::Area(area) => area,
            Self::Diameter(_) | Self::Gauge(_) => std::f64::consts::FRAC_PI_4 * self.diameter_m().powi(2),
        }
    }

    /// Diameter of a solid wire of this section, m; a strand of the same section is some 15 % thicker.
    pub fn diameter_m(self) -> f64 {
        match self {
            Self::Diameter(d) => d,
            Self::Gauge(gauge) => gauge_diameter_m(gauge),
            Self::Area(area) => (area / std::f64::consts::FRAC_PI_4).sqrt(),
        }
    }
}

/// Mass per length of the metal, kg/m: area in m2 times density in kg/m3. Exact.
///
/// Example: 0.5 mm2 of copper: 4.4 g/m.
pub fn wire_kg_per_m(area_m2: f64, density_kg_per_m3: f64) -> f64 {
    area_m2 * density_kg_per_m3
}

/// Mass per length of what covers a wire up to `outer_diameter_m`, kg/m; nothing where it covers nothing.
///
/// Between 900 (polyethylene) and 2200 kg/m3 (fluoropolymers), usual coverings being near 1300 (PVC); from memory.
///
/// Example: 0.5 mm2 under PVC of 1.5 mm outside at 1300 kg/m3: 1.6 g/m.
pub fn insulation_kg_per_m(area_m2: f64, outer_diameter_m: f64, density_kg_per_m3: f64) -> f64 {
    (std::f64::consts::FRAC_PI_4 * outer_diameter_m.powi(2) - area_m2).max(0.0) * density_kg_per_m3
}
