//! Electrodes stitched on cloth that lie on skin: what they read, what they add of their own, what they pass into skin.
//!
//! One electrode is a chain: run, skin, wetted metal and the tissue below, each interface a resistance beside a
//! capacitance ([`Circuit`]). From it follow the impedance at any frequency, what an amplifier loses of a signal and by
//! how much it turns its phase ([`read_out()`]), what two unlike electrodes make of the hum that both pick up
//! ([`conversion`]), the noise ([`noise_v`]) and, for an electrode that stimulates, current density, charge and voltage
//! of a pulse ([`stimulation()`]). Plain numbers in SI; no spreads, no library, no verdict.
//!
//! **A model of orders of magnitude.** Skin differs by a factor of a hundred between people, sites and minutes, has no
//! single capacitance (its reactance falls more slowly than that of a capacitor) and answers strong currents with a
//! lower resistance. What is exact here is the circuit; the numbers that go into it come with wide spreads.
//! Nothing here says that an electrode may be put on a person.

mod circuit;
mod contact;
mod fit;
mod noise;
mod read_out;
mod stimulation;
mod texture;

pub use circuit::{Circuit, Interface};
pub use contact::{Areas, Contact, electrode_circuit, spreading_ohm};
pub use fit::band_pressure_pa;
pub use noise::{NoiseParts, NoiseSources, noise_v};
pub use read_out::{Amplifier, ReadOut, conversion, needed_input_ohm, read_out, worst_loss};
pub use stimulation::{CURRENT_DENSITY_A_PER_M2, Pulses, Stimulation, stimulation};
pub use texture::{GAIN_ERROR, Texture, surface_gain};
