//! What an amplifier gets of a signal behind an electrode, and what two unlike electrodes make of hum.
//!
//! Gives fractions (pure numbers) and a phase in radians. Inputs: a [`Circuit`]; the amplifier's input resistance above
//! 0 ohm and input capacitance of 0 F or more, each from one input to the body's reference; frequencies above 0 Hz.
//! Assumes that both inputs of a pair are alike and that the lead's capacitance is counted with the input's.
//! Source: voltage divider, any textbook; hum by unlike electrodes after J. C. Huhta and J. G. Webster, IEEE Trans.
//! Biomed. Eng. 20 (1973) 91 (from memory); input resistance for dry electrodes after S. Maji and M. J. Burke, IEEE Trans.
//! Instrum. Meas. 69 (2020) 825 (read in the abstract). Accuracy: exact for the circuit; against a nodal solution in
//! 40 digits (`electrode_circuit.csv`) 1e-12, losses of a millionth included.
//! Example: 50 - 50j kohm at an input of 1 Mohm: W = 0.05 - 0.05j, loss 1 - 1/|1 + W| = 4.87 %, phase +2.73 degrees.

use std::f64::consts::TAU;

use nalgebra::Complex;

use super::{Circuit, Interface};

/// One input of a biopotential amplifier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Amplifier {
    /// Input resistance, ohm.
    pub input_ohm: f64,
    /// Input capacitance with that of the lead, F.
    pub input_f: f64,
}

/// What an amplifier gets of a signal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadOut {
    /// Part of the amplitude that is lost, 0 to 1.
    pub loss: f64,
    /// Turn of the phase, rad; positive: what is read runs ahead.
    pub phase_rad: f64,
}

/// Impedance of the electrode over that of the input; what is read is 1/(1 + W) of the signal.
fn over_input(circuit: &Circuit, amplifier: &Amplifier, frequency_hz: f64) -> Complex<f64> {
    let input = Complex::new(1.0 / amplifier.input_ohm, TAU * frequency_hz * amplifier.input_f);
    circuit.impedance(frequency_hz) * input
}

/// Loss and phase of a signal at one frequency.
///
/// ```
/// use toile_model::electrode::{Amplifier, Circuit, Interface, read_out};
/// let skin = Interface { ohm: 1e5, farad: 1e-8 / (2.0 * std::f64::consts::PI) };
/// let circuit = Circuit { series_ohm: 0.0, skin, metal: Interface { ohm: 0.0, farad: 0.0 } };
/// let r = read_out(&circuit, &Amplifier { input_ohm: 1e6, input_f: 0.0 }, 1000.0);
/// assert!((r.loss - 0.048_697).abs() < 1e-6 && (r.phase_rad - 0.047_583).abs() < 1e-6);
/// ```
pub fn read_out(circuit: &Circuit, amplifier: &Amplifier, frequency_hz: f64) -> ReadOut {
    let w = over_input(circuit, amplifier, frequency_hz);
    // 1 - 1/|1 + W| would lose the digits of a small loss.
    let over = (2.0 * w.re + w.norm_sqr()) / ((w + 1.0).norm() + 1.0);
    ReadOut { loss: over / (1.0 + over), phase_rad: -w.im.atan2(1.0 + w.re) }
}

/// Frequencies at which a band is looked at, both ends among them. Loss follows frequency smoothly over decades, so
/// that a dozen points a decade of an ordinary band miss nothing that matters beside the spread of skin.
const BAND_POINTS: u32 = 33;

/// Largest loss within a band, as a fraction.
pub fn worst_loss(circuit: &Circuit, amplifier: &Amplifier, low_hz: f64, high_hz: f64) -> f64 {
    let step = (high_hz / low_hz).ln() / f64::from(BAND_POINTS - 1);
    (0..BAND_POINTS).map(|k| read_out(circuit, amplifier, low_hz * (step * f64::from(k)).exp()).loss).fold(0.0, f64::max)
}

/// What two electrodes make of a voltage that both have against the amplifier's reference: the difference between their
/// dividers, as a fraction of that voltage.
pub fn conversion(first: &Circuit, second: &Circuit, amplifier: &Amplifier, frequency_hz: f64) -> f64 {
    let (a, b) = (over_input(first, amplifier, frequency_hz), over_input(second, amplifier, frequency_hz));
    // 1/(1 + a) - 1/(1 + b), without taking two nearly equal numbers from each other.
    ((b - a) / ((a + 1.0) * (b + 1.0))).norm()
}

/// Input resistance that the rule for dry electrodes asks for, ohm: the greater of 60 times the resistance of the skin and
/// 25 s over its capacitance.
///
/// ```
/// use toile_model::electrode::{Interface, needed_input_ohm};
/// assert_eq!(needed_input_ohm(&Interface { ohm: 1e6, farad: 1e-8 }), 2.5e9);
/// ```
pub fn needed_input_ohm(skin: &Interface) -> f64 {
    (60.0 * skin.ohm).max(25.0 / skin.farad)
}
