//! Noise of a pair of electrodes and its amplifier over a band.
//!
//! Gives volts r.m.s. between the two inputs. Inputs: a [`Circuit`] for each electrode; band in Hz, 0 or more, low below
//! high; temperature in K; the amplifier's noise voltage density between its inputs in V per root hertz and its noise
//! current density at each input in A per root hertz; further noise of the skin of each electrode in V r.m.s.
//! Assumes parts that know nothing of each other, and an input that draws no current: what the divider loses of
//! signal and noise alike is not counted twice.
//! Source: H. Nyquist, Phys. Rev. 32 (1928) 110, of the real part of the impedance: 4 k T Re Z; the band's integral in
//! closed form, own. Accuracy: against adaptive quadrature in 30 digits (`electrode_noise.csv`) 1e-12; kT/C and
//! 4 k T R B as limits. What skin adds is no formula: magnitudes of 1 to 20 uV r.m.s. were measured, considerably more than
//! the thermal noise, falling as the square root of the area (E. Huigen, A. Peper, C. A. Grimbergen, Med. Biol. Eng. Comput.
//! 40 (2002) 332, read in the abstract). Movement adds more than all of these and is not in here.
//! Example: 1 Mohm alone over 1 kHz at 300 K: 4.07 uV; a pair of them: 5.76 uV.

use std::f64::consts::TAU;

use super::{Circuit, Interface};

/// Boltzmann constant in J/K (exact in the SI).
const BOLTZMANN: f64 = 1.380_649e-23;

/// What the noise between two inputs is made of, V r.m.s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NoiseParts {
    /// Thermal noise of both electrodes.
    pub thermal_v: f64,
    /// The amplifier's own: voltage, and current through both electrodes.
    pub amplifier_v: f64,
    /// What the skin adds under both electrodes.
    pub skin_v: f64,
    /// All of them together.
    pub total_v: f64,
}

/// Noise of the amplifier and of skin, beside what the electrodes' impedance makes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NoiseSources {
    /// Between the inputs, V per root hertz.
    pub voltage_v_per_rthz: f64,
    /// At each input, A per root hertz.
    pub current_a_per_rthz: f64,
    /// Of the skin under each electrode, over the band, V r.m.s.
    pub skin_v: f64,
    /// Of skin and thread, K.
    pub temperature_k: f64,
}

/// Noise between two inputs with one electrode each, over a band.
///
/// ```
/// use toile_model::electrode::{Circuit, Interface, NoiseSources, noise_v};
/// let none = Interface { ohm: 0.0, farad: 0.0 };
/// let pair = [Circuit { series_ohm: 1e6, skin: none, metal: none }; 2];
/// let quiet = NoiseSources { voltage_v_per_rthz: 0.0, current_a_per_rthz: 0.0, skin_v: 0.0, temperature_k: 300.0 };
/// assert!((noise_v(&pair, 0.0, 1000.0, &quiet).thermal_v - 5.7563e-6).abs() < 1e-10);
/// ```
pub fn noise_v(pair: &[Circuit; 2], low_hz: f64, high_hz: f64, sources: &NoiseSources) -> NoiseParts {
    let band = Band { low_hz, high_hz };
    let thermal = 4.0 * BOLTZMANN * sources.temperature_k * pair.iter().map(|c| band.real_part(c)).sum::<f64>();
    let current = sources.current_a_per_rthz * sources.current_a_per_rthz * pair.iter().map(|c| band.square(c)).sum::<f64>();
    let amplifier = sources.voltage_v_per_rthz * sources.voltage_v_per_rthz * (high_hz - low_hz) + current;
    let skin = 2.0 * sources.skin_v * sources.skin_v;
    NoiseParts {
        thermal_v: thermal.sqrt(),
        amplifier_v: amplifier.sqrt(),
        skin_v: skin.sqrt(),
        total_v: (thermal + amplifier + skin).sqrt(),
    }
}

#[derive(Clone, Copy)]
struct Band {
    low_hz: f64,
    high_hz: f64,
}

impl Band {
    /// Integral of 1/(1 + (2 pi f t)^2) over the band, Hz.
    fn behind(&self, time_s: f64) -> f64 {
        let width = self.high_hz - self.low_hz;
        let (low, high) = (TAU * self.low_hz * time_s, TAU * self.high_hz * time_s);
        // The difference of two arc tangents as one: no digits are lost where both are nearly equal.
        let straight = 1.0 + low * high;
        let tangent = TAU * width * time_s / straight;
        if tangent < 1e-8 { width / straight } else { tangent.atan() / (TAU * time_s) }
    }

    /// Integral of the real part of the impedance over the band, ohm Hz.
    fn real_part(&self, c: &Circuit) -> f64 {
        let interface = |i: &Interface| i.ohm * self.behind(i.time_s());
        c.series_ohm * (self.high_hz - self.low_hz) + interface(&c.skin) + interface(&c.metal)
    }

    /// Integral of the squared magnitude of the impedance over the band, ohm2 Hz.
    ///
    /// By partial fractions: the product of the two interfaces parts into each of them, weighted by its own time
    /// over the sum of both.
    fn square(&self, c: &Circuit) -> f64 {
        let times = c.skin.time_s() + c.metal.time_s();
        let part = |i: &Interface, other: &Interface| {
            let weight = if times > 0.0 { i.time_s() / times } else { 0.5 };
            (i.ohm * i.ohm + 2.0 * c.series_ohm * i.ohm + 2.0 * i.ohm * other.ohm * weight) * self.behind(i.time_s())
        };
        c.series_ohm * c.series_ohm * (self.high_hz - self.low_hz) + part(&c.skin, &c.metal) + part(&c.metal, &c.skin)
    }
}
