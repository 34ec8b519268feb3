//! Cloth that got wet.
//!
//! `e^(1/3) = (1 - f) e_dry^(1/3) + f e_water^(1/3)`, f being the part of the layer's volume that is water.
//!
//! * gives: relative permittivity, without unit
//! * needs: dry permittivity 1 to 100, water fraction 0 to 0.95
//! * assumes: water spread evenly; that it conducts, too, is left out, and a note says so
//! * source: H. Looyenga, Physica 31 (1965) 401; water 80.1 at 20 degrees Celsius (handbook value), both from memory
//! * accuracy: mixing rules for fibres differ by 20 % and more among themselves; the answer is a direction, not a number
//!   to quote
//! * example: felt of 1.4 with a third of water: 10.4

/// Permittivity of water at 20 degrees Celsius relative to vacuum; from memory of handbook tables.
const WATER: f64 = 80.1;

/// Relative permittivity of a layer with a part of its volume filled with water.
///
/// ```
/// use toile_model::materials::wet_permittivity;
/// assert_eq!(wet_permittivity(1.4, 0.0), 1.4);
/// assert!((wet_permittivity(1.4, 1.0 / 3.0) - 10.4).abs() < 0.1);
/// ```
pub fn wet_permittivity(dry: f64, water_fraction: f64) -> f64 {
    if water_fraction == 0.0 {
        return dry;
    }
    ((1.0 - water_fraction) * dry.cbrt() + water_fraction * WATER.cbrt()).powi(3)
}
