//! Quantities of rows of lights, their supply, and of what warms up.

use super::Quantity;

/// Lights in a row.
pub const LIGHTS: Quantity = Quantity::new("lights", "number of lights", "", 1.0, 1.0, 500.0);
/// Distance from one light to the next.
pub const PITCH: Quantity = Quantity::new("pitch_mm", "distance of the lights", "mm", 1e3, 1.0, 5000.0);
/// Voltage of a supply without load.
pub const SUPPLY_VOLTAGE: Quantity = Quantity::new("supply_v", "supply voltage", "V", 1.0, 0.1, 60.0);
/// Voltage of a supply that is nearly empty.
pub const EMPTY_SUPPLY_VOLTAGE: Quantity = Quantity::new("empty_supply_v", "voltage of the empty supply", "V", 1.0, 0.1, 60.0);
/// Resistance of a supply.
pub const SOURCE_RESISTANCE: Quantity = Quantity::new("source_ohm", "resistance of the supply", "ohm", 1.0, 0.0, 1e5);
/// Resistance of the feed from one light to the next.
pub const FEED_SEGMENT: Quantity = Quantity::new("feed_segment_ohm", "resistance of a segment of the feed", "ohm", 1.0, 0.0, 1e6);
/// Resistance of the return from one light to the next.
pub const RETURN_SEGMENT: Quantity = Quantity::new("return_segment_ohm", "resistance of a segment of the return", "ohm", 1.0, 0.0, 1e6);
/// Resistance of a lead to the last light, where a row is fed from both ends.
pub const FAR_LEAD: Quantity = Quantity::new("far_lead_ohm", "resistance of the lead to the last light", "ohm", 1.0, 0.0, 1e6);
/// Number of a broken segment.
pub const BROKEN_SEGMENT: Quantity = Quantity::new("broken_segment", "number of the broken segment", "", 1.0, 1.0, 499.0);
/// Resistor in series with each light.
pub const LIGHT_SERIES: Quantity = Quantity::new("series_ohm", "resistor of each light", "ohm", 1.0, 0.0, 1e6);
/// Contacts of a light to feed and return together.
pub const LIGHT_CONTACT: Quantity = Quantity::new("light_contact_ohm", "contacts of each light", "ohm", 1.0, 0.0, 1e4);
/// Saturation current of a light.
pub const SATURATION_CURRENT: Quantity = Quantity::new("saturation_current_a", "saturation current", "A", 1.0, 1e-60, 1e-3);
/// Emission coefficient of a light.
pub const EMISSION_COEFFICIENT: Quantity = Quantity::new("emission_coefficient", "emission coefficient", "", 1.0, 0.5, 20.0);
/// Thermal voltage.
pub const THERMAL_VOLTAGE: Quantity = Quantity::new("thermal_voltage_v", "thermal voltage", "V", 1.0, 0.015, 0.045);
/// A current, in a single-part question.
pub const CURRENT: Quantity = Quantity::new("current_ma", "current", "mA", 1e3, 1e-6, 1e5);
/// Lower current at which a light's forward voltage is known.
pub const LOW_CURRENT: Quantity = Quantity::new("low_current_ma", "lower test current of the light", "mA", 1e3, 1e-3, 1e4);
/// Forward voltage at the lower current.
pub const LOW_FORWARD: Quantity = Quantity::new("low_forward_v", "forward voltage at the lower current", "V", 1.0, 0.1, 60.0);
/// Higher current at which a light's forward voltage is known.
pub const HIGH_CURRENT: Quantity = Quantity::new("high_current_ma", "higher test current of the light", "mA", 1e3, 1e-3, 1e4);
/// Forward voltage at the higher current.
pub const HIGH_FORWARD: Quantity = Quantity::new("high_forward_v", "forward voltage at the higher current", "V", 1.0, 0.1, 60.0);
/// Forward voltage at a current, in a single-part question.
pub const FORWARD: Quantity = Quantity::new("forward_v", "forward voltage", "V", 1.0, 0.1, 60.0);
/// Least current at which a light counts as lit.
pub const LEAST_CURRENT: Quantity = Quantity::new("least_current_ma", "least current of a light", "mA", 1e3, 1e-3, 1e4);
/// Brightness of the dimmest light as a share of the brightest.
pub const LEAST_BRIGHTNESS: Quantity =
    Quantity::new("least_brightness_percent", "least brightness beside the brightest light", "%", 100.0, 1.0, 99.9);
/// Rated charge of a battery.
pub const CAPACITY: Quantity = Quantity::new("capacity_mah", "capacity of the battery", "mAh", 1.0 / 3.6, 0.1, 1e6);
/// Part of that charge that can be drawn.
pub const USABLE_SHARE: Quantity = Quantity::new("usable_share", "usable share of the capacity", "", 1.0, 0.01, 1.0);

/// Most that a supply may give.
pub const MAX_SUPPLY: Quantity = Quantity::new("max_supply_ma", "largest current of the supply", "mA", 1e3, 0.01, 1e5);
/// Most that a light bears.
pub const MOST_CURRENT: Quantity = Quantity::new("most_current_ma", "largest current of a light", "mA", 1e3, 1e-3, 1e4);
/// Time that a battery must last.
pub const NEEDED_LIFE: Quantity = Quantity::new("needed_life_h", "time that the battery must last", "h", 1.0 / 3600.0, 0.01, 1e5);
/// Voltage across one light with its resistor and contacts.
pub const LIGHT_VOLTAGE: Quantity = Quantity::new("supply_v", "voltage of a light with its resistor", "V", 1.0, 0.0, 100.0);
/// Length of the run to the last light.
pub const FAR_LENGTH: Quantity = Quantity::new("far_length_mm", "length to the last light", "mm", 1e3, 0.1, 100_000.0);
/// Times the return is sewn.
pub const RETURN_PASSES: Quantity = Quantity::new("return_passes", "number of passes of the return", "", 1.0, 1.0, 50.0);

/// Power per length.
pub const POWER_PER_LENGTH: Quantity = Quantity::new("power_w_per_m", "power per length", "W/m", 1.0, 0.0, 1e4);
/// Sides of a cloth that give off heat.
pub const FREE_SIDES: Quantity = Quantity::new("free_sides", "number of free sides", "", 1.0, 1.0, 2.0);
/// What covers a warm cloth.
pub const COVER: Quantity = Quantity::new("cover_m2k_per_w", "thermal resistance of the cover", "m2 K/W", 1.0, 0.0, 10.0);
/// Temperature of the surroundings.
pub const AMBIENT: Quantity = Quantity {
    field: "ambient_c",
    name: "temperature of the surroundings",
    unit: "degrees C",
    per_si: 1.0,
    offset: 273.15,
    low: -60.0,
    high: 200.0,
};
/// Temperature that something may reach.
pub const MAX_TEMPERATURE: Quantity = Quantity {
    field: "max_temperature_c",
    name: "highest temperature allowed",
    unit: "degrees C",
    per_si: 1.0,
    offset: 273.15,
    low: 0.0,
    high: 500.0,
};
