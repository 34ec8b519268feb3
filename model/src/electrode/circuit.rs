//! The chain of an electrode: a resistance and two interfaces, each a resistance beside a capacitance.
//!
//! Gives the impedance in ohm at a frequency in Hz. Inputs: resistances in ohm, 0 or more; capacitances in F, 0 or
//! more; frequency 0 or more. Assumes linear elements, which holds for the microvolts of a reading electrode and not
//! for the milliamperes of a stimulating one (there it gives the larger voltage).
//! Source: any textbook on circuits. Accuracy: exact for the circuit; against a nodal solution in 40 digits
//! (`electrode_circuit.csv`) 1e-12. No errors: every input gives a finite answer.
//! Example: 100 kohm beside 15.9155 nF at 100 Hz, where both halves carry the same current: 50 - 50j kohm.

use std::f64::consts::TAU;

use nalgebra::Complex;

/// A resistance beside a capacitance: skin, or the surface of wetted metal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interface {
    /// Resistance, ohm.
    pub ohm: f64,
    /// Capacitance, F.
    pub farad: f64,
}

/// What lies between the amplifier or stimulator and the inside of the body.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circuit {
    /// Run and tissue, ohm.
    pub series_ohm: f64,
    /// Outer layer of the skin.
    pub skin: Interface,
    /// Surface of the thread that sweat or gel wets.
    pub metal: Interface,
}

impl Interface {
    /// Time in which a charge on it decays, s.
    pub fn time_s(&self) -> f64 {
        self.ohm * self.farad
    }

    /// Impedance, ohm.
    pub fn impedance(&self, frequency_hz: f64) -> Complex<f64> {
        let x = TAU * frequency_hz * self.time_s();
        let real = self.ohm / (1.0 + x * x);
        Complex::new(real, -real * x)
    }

    /// The same with all its impedance grown by a factor.
    fn times(&self, factor: f64) -> Self {
        Self { ohm: self.ohm * factor, farad: self.farad / factor }
    }
}

impl Circuit {
    /// Impedance, ohm.
    ///
    /// ```
    /// use toile_model::electrode::{Circuit, Interface};
    /// let skin = Interface { ohm: 1e5, farad: 1e-8 / (2.0 * std::f64::consts::PI) };
    /// let none = Interface { ohm: 0.0, farad: 0.0 };
    /// let z = Circuit { series_ohm: 200.0, skin, metal: none }.impedance(1000.0);
    /// assert!((z.re - 50_200.0).abs() < 1e-6 && (z.im + 50_000.0).abs() < 1e-6);
    /// ```
    pub fn impedance(&self, frequency_hz: f64) -> Complex<f64> {
        self.skin.impedance(frequency_hz) + self.metal.impedance(frequency_hz) + self.series_ohm
    }

    /// The electrode of the same kind whose impedance is larger by a factor above 0, at every frequency.
    pub fn times(&self, factor: f64) -> Self {
        Self { series_ohm: self.series_ohm * factor, skin: self.skin.times(factor), metal: self.metal.times(factor) }
    }
}
