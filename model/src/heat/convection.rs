//! Natural convection: Nusselt numbers of a horizontal thread and of the two faces of a level cloth. Pure numbers.
//!
//! Inputs: Rayleigh number (buoyancy over friction and conduction, by the size named), Prandtl number of the fluid.
//! Accuracy: correlations of measurements, which scatter by some 10 % to 20 % about them.

/// Nusselt number by the diameter of a long horizontal cylinder at an even temperature.
///
/// Source: Churchill & Chu 1975, Int. J. Heat Mass Transfer 18, 1049, doi 10.1016/0017-9310(75)90222-7, for Rayleigh
/// numbers by the diameter from 1e-5 to 1e12. Below that it goes to 0.36, what a very thin wire keeps.
///
/// Example: Pr 0.69 and Ra 1.8147e9: 139.13.
///
/// ```
/// assert!((toile_model::heat::nusselt_cylinder(0.69 * 2.63e9, 0.69) - 139.134_939_7).abs() < 1e-6);
/// ```
pub fn nusselt_cylinder(rayleigh: f64, prandtl: f64) -> f64 {
    let fluid = (1.0 + (0.559 / prandtl).powf(9.0 / 16.0)).powf(8.0 / 27.0);
    (0.60 + 0.387 * rayleigh.powf(1.0 / 6.0) / fluid).powi(2)
}

/// Nusselt number of a level warm face looking up, by area over circumference.
///
/// Source: McAdams, Heat Transmission (1954), 0.54 Ra^(1/4) up to Ra = 1e7 and 0.15 Ra^(1/3) above; held to 1 at least,
/// where conduction through still air is all.
///
/// Example: Ra 1e5: 9.6.
pub fn nusselt_face_up(rayleigh: f64) -> f64 {
    let laminar = 0.54 * rayleigh.powf(0.25);
    let turbulent = 0.15 * rayleigh.cbrt();
    // Where the two meet one takes over from the other; the larger is the one in force on either side to 3 %.
    if rayleigh <= 1e7 { laminar } else { turbulent.max(0.54 * 1e7f64.powf(0.25)) }.max(1.0)
}

/// Nusselt number of a level warm face looking down, by area over circumference.
///
/// Source: McAdams, Heat Transmission (1954), 0.27 Ra^(1/4) up to Ra = 1e10; held to 0.5 at least, as warm air stays
/// under the face.
///
/// Example: Ra 1e5: 4.8.
pub fn nusselt_face_down(rayleigh: f64) -> f64 {
    (0.27 * rayleigh.powf(0.25)).max(0.5)
}
