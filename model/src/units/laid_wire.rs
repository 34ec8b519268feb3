//! Quantities of laid wires, tubes and rovings.

use super::Quantity;

/// Diameter of a wire's metal.
pub const METAL_DIAMETER: Quantity = Quantity::new("diameter_mm", "diameter of the metal", "mm", 1e3, 0.005, 20.0);
/// Gauge of a wire.
pub const GAUGE: Quantity = Quantity::new("gauge", "gauge", "", 1.0, -3.0, 56.0);
/// Section of a wire's metal.
pub const SECTION: Quantity = Quantity::new("area_mm2", "section of the metal", "mm2", 1e6, 1e-5, 100.0);
/// Resistance of a wire per length.
pub const WIRE_RESISTANCE: Quantity =
    Quantity::new("linear_resistance_ohm_per_m", "linear resistance of the wire", "ohm/m", 1.0, 1e-5, 1e6);
/// Outer diameter of what is laid.
pub const OUTSIDE: Quantity = Quantity::new("outer_diameter_mm", "outer diameter", "mm", 1e3, 0.01, 30.0);
/// Mass per length of what is laid.
pub const LINEAR_MASS: Quantity = Quantity::new("linear_mass_g_per_m", "mass per length", "g/m", 1e3, 0.001, 10_000.0);
/// Width of a meander.
pub const MEANDER_WIDTH: Quantity = Quantity::new("width_mm", "width of the meander", "mm", 1e3, 1.0, 10_000.0);
/// Height of a meander.
pub const MEANDER_HEIGHT: Quantity = Quantity::new("height_mm", "height of the meander", "mm", 1e3, 0.0, 10_000.0);
/// Distance of a meander's rows.
pub const MEANDER_SPACING: Quantity = Quantity::new("spacing_mm", "spacing of the meander", "mm", 1e3, 0.5, 1000.0);
/// Radius of the sharpest bend that a wire bears.
pub const BEND_RADIUS: Quantity = Quantity::new("min_bend_radius_mm", "smallest bend radius", "mm", 1e3, 0.0, 1000.0);
/// From the side of a wire to the needle.
pub const NEEDLE_CLEARANCE: Quantity = Quantity::new("clearance_mm", "distance from wire to needle", "mm", 1e3, 0.0, 10.0);
/// Distance of penetrations on one side of the zigzag.
pub const ADVANCE: Quantity = Quantity::new("advance_mm", "advance of the zigzag", "mm", 1e3, 0.2, 50.0);
/// Pace of the zigzag.
pub const PACE: Quantity = Quantity::new("stitches_per_minute", "pace of the zigzag", "1/min", 60.0, 10.0, 3000.0);
/// Width of the zigzag.
pub const ZIGZAG_WIDTH: Quantity = Quantity::new("zigzag_width_mm", "width of the zigzag", "mm", 1e3, 0.1, 100.0);
/// Current through a wire.
pub const WIRE_CURRENT: Quantity = Quantity::new("current_ma", "current", "mA", 1e3, 0.001, 1e5);
/// Largest resistance that a wire may have.
pub const MAX_RESISTANCE: Quantity = Quantity::new("max_resistance_ohm", "largest resistance", "ohm", 1.0, 1e-4, 1e8);
/// Resistivity of a metal at 20 degrees Celsius. 1 ohm mm2/m = 1e-6 ohm m.
pub const RESISTIVITY: Quantity = Quantity::new("resistivity_ohm_mm2_per_m", "resistivity", "ohm mm2/m", 1e6, 1e-3, 100.0);
/// Density of a metal.
pub const DENSITY: Quantity = Quantity::new("density_kg_per_m3", "density", "kg/m3", 1.0, 100.0, 30_000.0);
/// Power that a wire must give.
pub const NEEDED_POWER: Quantity = Quantity::new("needed_power_w", "needed heating power", "W", 1.0, 1e-6, 1e5);
/// Resistivity of a wire's metal, which the metal's name stands for.
pub const METAL_RESISTIVITY: Quantity = Quantity::new("metal", "resistivity of the metal", "ohm mm2/m", 1e6, 1e-3, 100.0);
/// Growth of a metal's resistance per kelvin, which the metal's name stands for.
pub const METAL_COEFFICIENT: Quantity = Quantity::new("metal", "temperature coefficient of the metal", "1/K", 1.0, -0.01, 0.02);
