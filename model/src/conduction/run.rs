//! Resistance of a stitched run.

/// Which threads of the seam conduct, and how the passes lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joint {
    /// Only the top thread conducts, along its whole length.
    TopOnly,
    /// Top and bobbin thread are the same conductor and touch perfectly at every penetration.
    Both,
}

/// Resistance of a run and its parts, ohm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunResistance {
    /// All passes together.
    pub run_ohm: f64,
    /// Top thread of one pass.
    pub top_ohm: f64,
    /// Bobbin thread of one pass; infinite resistance is not stated, so this is `None` for a plain bobbin.
    pub bobbin_ohm: Option<f64>,
}

/// Resistance from end to end of `passes` equal passes in parallel.
///
/// - `top_thread_m`, `bobbin_thread_m`: thread of one pass, m, above 0 (bobbin may be 0 with [`Joint::TopOnly`]);
/// - `linear_resistance_ohm_per_m`: at 20 degrees Celsius, above 0;
/// - `temperature_coefficient_per_k`, `temperature_k`: linear about 293.15 K. The growth is held at a factor of 0.1
///   or more, which no conductor of the trade leaves between -60 and 200 degrees Celsius.
///
/// R = r L (1 + alpha (T - T20)); perfect joints at all penetrations put top and bobbin in parallel.
/// Source: Ohm's law; temperature rule as in IEC 60028:1925 (second-hand). Accuracy: exact for the stated joints; a
/// real joint has a contact resistance and the passes of a line sewn over itself also touch each other between
/// penetrations, which lowers the resistance.
///
/// Example: 255.44 mm of 100 ohm/m thread, 2 passes, 20 degrees Celsius: 12.772 ohm.
///
/// ```
/// use toile_model::conduction::{Joint, run_resistance};
/// let r = run_resistance(0.25544, 0.203, 100.0, 0.0, 293.15, Joint::TopOnly, 2);
/// assert!((r.run_ohm - 12.772).abs() < 1e-12);
/// ```
pub fn run_resistance(
    top_thread_m: f64,
    bobbin_thread_m: f64,
    linear_resistance_ohm_per_m: f64,
    temperature_coefficient_per_k: f64,
    temperature_k: f64,
    joint: Joint,
    passes: u32,
) -> RunResistance {
    let warm = (1.0 + temperature_coefficient_per_k * (temperature_k - 293.15)).max(0.1);
    let top_ohm = linear_resistance_ohm_per_m * top_thread_m * warm;
    let bobbin_ohm = (joint == Joint::Both).then_some(linear_resistance_ohm_per_m * bobbin_thread_m * warm);
    let pass = bobbin_ohm.map_or(top_ohm, |bobbin| top_ohm * bobbin / (top_ohm + bobbin));
    RunResistance { run_ohm: pass / f64::from(passes), top_ohm, bobbin_ohm }
}
