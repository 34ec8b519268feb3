//! What warmth, washing and stretch make of a thread's resistance.
//!
//! Gives the linear resistance of a thread in use, ohm/m, from that of new thread at 20 degrees Celsius at rest.
//! Inputs: resistance above 0; temperature -60 to 200 degrees Celsius (in K); growth per wash cycle 0 or more (0.02 for
//! 2 %); wash cycles 0 or more; stretch as a fraction of the length (0.1 for 10 %); stretch factor, the growth of the
//! resistance as a multiple of the stretch.
//! Assumptions: the three act independently; every wash takes the same share (coated thread loses metal wash after wash,
//! so that the growth compounds); stretch acts in proportion.
//! Source: temperature rule as in IEC 60028:1925 (second-hand); compounding and proportion are own, for want of a
//! published law: that coated thread grows wash after wash and 316L steel does not was read (B.S. report no. 127,
//! materials engineering, digitalcommons.calpoly.edu/matesp/127; Gaubert, Gidik, Bodart, Koncar 2020, Sensors 20 1739),
//! by how much was not.
//! Accuracy: exact for the stated law; the growth per cycle itself is known to its order of magnitude.
//! Errors: none; the warm factor is held at 0.1 or more, which no conductor of the trade leaves in this range.

/// A thread as it comes from the spool.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NewThread {
    /// At 20 degrees Celsius and at rest, ohm/m.
    pub linear_resistance_ohm_per_m: f64,
    /// Relative growth of resistance per kelvin.
    pub temperature_coefficient_per_k: f64,
    /// Relative growth of resistance in one wash cycle.
    pub growth_per_wash: f64,
    /// Growth of resistance as a multiple of the stretch.
    pub stretch_factor: f64,
}

/// What a thread is used in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Use {
    /// Temperature, K.
    pub temperature_k: f64,
    /// Wash cycles behind it.
    pub washes: f64,
    /// Stretch as a fraction of the length at rest.
    pub stretch: f64,
}

impl Use {
    /// New, at rest, at 20 degrees Celsius.
    pub const NEW: Self = Self { temperature_k: 293.15, washes: 0.0, stretch: 0.0 };
}

/// Linear resistance in use, ohm/m: `r (1 + alpha (T - T20)) (1 + growth)^washes (1 + factor stretch)`.
///
/// Example: 100 ohm/m that grows by 2 % a wash resists 181.136 ohm/m after 30 washes.
///
/// ```
/// use toile_model::conduction::{NewThread, Use, in_use};
/// let thread = NewThread { linear_resistance_ohm_per_m: 100.0, temperature_coefficient_per_k: 0.0, growth_per_wash: 0.02, stretch_factor: 2.0 };
/// let washed = in_use(&thread, &Use { washes: 30.0, ..Use::NEW });
/// assert!((washed - 181.136_158_410).abs() < 1e-8);
/// ```
pub fn in_use(thread: &NewThread, state: &Use) -> f64 {
    let warm = (1.0 + thread.temperature_coefficient_per_k * (state.temperature_k - 293.15)).max(0.1);
    let washed = (state.washes * thread.growth_per_wash.max(-0.99).ln_1p()).exp();
    let stretched = (1.0 + thread.stretch_factor * state.stretch).max(0.1);
    thread.linear_resistance_ohm_per_m * warm * washed * stretched
}
