//! What a pulsed current does at an electrode: current density, charge, voltage, energy.
//!
//! **This computes numbers and permits nothing.** Whether current may be passed into a person is for licensed
//! practitioners under the medical law of the place, with equipment made and tested for it.
//!
//! Gives current densities in A/m2, charges in C, voltages in V, energies in J. Inputs: peak current above 0 A, width of a
//! phase above 0 s, pulses per second above 0, one or two phases; areas in m2; the [`Circuit`] of the electrode.
//! Assumes rectangular phases of equal height and width, from an electrode at rest; current spread evenly over the skin
//! that touches, which it is not: at a lifted edge or over a dry spot it can be several times as dense.
//! Source: I r.m.s. = I sqrt(phases x width x rate), any textbook; step response of the chain in closed form.
//! The attention limit of 2 mA/cm2 r.m.s.: IEC 60601-2-10:2012, 201.7.9.2 (read in a reprint); it calls for the
//! operator's attention and is no limit of safety. Accuracy: voltage and energy against a matrix exponential in 40
//! digits (`electrode_pulse.csv`) 1e-12; real skin lets more through at high current and so shows less voltage.
//! Example: 20 mA, 200 us, two phases, 50 per second, on 10 cm2: 2.83 mA r.m.s., 0.283 mA/cm2, 4 uC a phase, 0.4 uC/cm2.

use super::{Areas, Circuit, Interface};

/// Current density that calls for the operator's attention, r.m.s., A/m2: 2 mA/cm2.
pub const CURRENT_DENSITY_A_PER_M2: f64 = 20.0;

/// A train of rectangular pulses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pulses {
    /// Height of each phase, A.
    pub current_a: f64,
    /// Width of one phase, s.
    pub width_s: f64,
    /// Pulses per second.
    pub rate_hz: f64,
    /// One phase, or two of opposite sign.
    pub phases: u32,
}

impl Pulses {
    /// Share of the time in which current flows; more than 1 is no train of pulses.
    pub fn duty(&self) -> f64 {
        f64::from(self.phases) * self.width_s * self.rate_hz
    }
}

/// What pulses do at an electrode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stimulation {
    /// Current, A r.m.s.
    pub rms_a: f64,
    /// Current density over the touching skin, A/m2 r.m.s.
    pub density_a_per_m2: f64,
    /// Charge of one phase, C.
    pub charge_c: f64,
    /// Charge of one phase over the touching skin, C/m2.
    pub skin_charge_c_per_m2: f64,
    /// Charge of one phase over the wetted thread, C/m2.
    pub metal_charge_c_per_m2: f64,
    /// Current that does not balance: 0 for two phases, the mean current for one, A.
    pub unbalanced_a: f64,
    /// Voltage across the electrode at the end of the first phase, V.
    pub end_v: f64,
    /// Energy that the first phase leaves in electrode and tissue, J.
    pub energy_j: f64,
}

/// Numbers of a train of pulses at an electrode.
///
/// ```
/// use toile_model::electrode::{Areas, Circuit, Interface, Pulses, stimulation};
/// let none = Interface { ohm: 0.0, farad: 0.0 };
/// let circuit = Circuit { series_ohm: 500.0, skin: none, metal: none };
/// let pulses = Pulses { current_a: 0.02, width_s: 200e-6, rate_hz: 50.0, phases: 2 };
/// let s = stimulation(&circuit, &Areas::new(10e-4, 1.0, 1.0), &pulses);
/// assert!((s.density_a_per_m2 - 2.828_427).abs() < 1e-6 && (s.end_v - 10.0).abs() < 1e-12);
/// assert!((s.skin_charge_c_per_m2 - 4e-3).abs() < 1e-15);
/// ```
pub fn stimulation(circuit: &Circuit, areas: &Areas, pulses: &Pulses) -> Stimulation {
    let (i, w) = (pulses.current_a, pulses.width_s);
    let rms_a = i * pulses.duty().sqrt();
    let charge_c = i * w;
    let parts = [circuit.skin, circuit.metal].map(|interface| charged(&interface, w));
    Stimulation {
        rms_a,
        density_a_per_m2: rms_a / areas.touching_m2,
        charge_c,
        skin_charge_c_per_m2: charge_c / areas.touching_m2,
        metal_charge_c_per_m2: charge_c / areas.wetted_m2,
        unbalanced_a: if pulses.phases == 1 { charge_c * pulses.rate_hz } else { 0.0 },
        end_v: i * (circuit.series_ohm + parts[0].0 + parts[1].0),
        energy_j: i * i * (circuit.series_ohm * w + parts[0].1 + parts[1].1),
    }
}

/// Voltage across an interface after a current of 1 A has flowed for a time, and the integral of that voltage: ohm and
/// ohm s.
fn charged(interface: &Interface, width_s: f64) -> (f64, f64) {
    let (r, t) = (interface.ohm, interface.time_s());
    let x = width_s / t;
    if x.is_infinite() || x.is_nan() {
        return (r, r * width_s);
    }
    let reached = -(-x).exp_m1();
    // width - t reached, which loses its digits to each other while the capacitance has hardly begun to charge.
    let lag =
        if x < 1e-2 { width_s * x * (0.5 - x / 6.0 * (1.0 - x / 4.0 * (1.0 - x / 5.0 * (1.0 - x / 6.0)))) } else { width_s - t * reached };
    (r * reached, r * lag)
}
