//! Quantities of electrodes on skin, of amplifiers and of stimulation.

use super::Quantity;

/// Height of the loops of a loop pile.
pub const LOOP_HEIGHT: Quantity = Quantity::new("loop_height_mm", "loop height", "mm", 1e3, 0.1, 20.0);
/// Thread surface towards the skin per footprint.
pub const SURFACE_GAIN: Quantity = Quantity::new("surface_gain", "thread surface per footprint", "", 1.0, 0.01, 100.0);
/// Area that the outline of an electrode covers.
pub const FOOTPRINT: Quantity = Quantity::new("footprint_cm2", "footprint", "cm2", 1e4, 0.01, 1e4);
/// Part of the footprint that touches skin.
pub const TOUCHING_SHARE: Quantity = Quantity::new("touching_share", "touching share of the footprint", "", 1.0, 0.01, 1.0);
/// Outer layer of the skin: resistance times area. 1 kohm cm2 = 0.1 ohm m2.
pub const SKIN_RESISTANCE: Quantity = Quantity::new("skin_kohm_cm2", "resistance of the skin times area", "kohm cm2", 10.0, 0.1, 1e5);
/// Outer layer of the skin: capacitance per area. 1 nF/cm2 = 1e-5 F/m2.
pub const SKIN_CAPACITANCE: Quantity = Quantity::new("skin_nf_per_cm2", "capacitance of the skin per area", "nF/cm2", 1e5, 0.01, 1e4);
/// Wetted thread: resistance times area.
pub const METAL_RESISTANCE: Quantity =
    Quantity::new("metal_kohm_cm2", "resistance of the wetted thread times area", "kohm cm2", 10.0, 1e-4, 1e4);
/// Wetted thread: capacitance per area. 1 uF/cm2 = 0.01 F/m2.
pub const METAL_CAPACITANCE: Quantity =
    Quantity::new("metal_uf_per_cm2", "capacitance of the wetted thread per area", "uF/cm2", 100.0, 0.01, 1e4);
/// Resistivity of the tissue below the skin.
pub const TISSUE_RESISTIVITY: Quantity = Quantity::new("tissue_ohm_m", "resistivity of the tissue", "ohm m", 1.0, 0.0, 100.0);
/// Resistance of the run from electrode to amplifier.
pub const RUN_RESISTANCE: Quantity = Quantity::new("run_ohm", "resistance of the run", "ohm", 1.0, 0.0, 1e7);
/// Noise of the skin under an electrode of 1 cm2, beside what its impedance makes.
pub const SKIN_NOISE: Quantity = Quantity::new("skin_noise_uv", "noise of the skin under 1 cm2", "uV", 1e6, 0.0, 1e3);
/// How much larger the impedance of one electrode of a pair is than that of the other.
pub const MISMATCH: Quantity = Quantity::new("mismatch_percent", "difference between the electrodes of a pair", "%", 100.0, 0.0, 1000.0);

/// Input resistance of a biopotential amplifier, each input to the reference.
pub const INPUT_RESISTANCE: Quantity = Quantity::new("input_resistance_mohm", "input resistance of the amplifier", "Mohm", 1e-6, 0.01, 1e6);
/// Input capacitance of a biopotential amplifier with that of its lead.
pub const INPUT_CAPACITANCE: Quantity = Quantity::new("input_capacitance_pf", "input capacitance of the amplifier", "pF", 1e12, 0.0, 1e5);
/// Noise voltage density between the inputs.
pub const VOLTAGE_NOISE: Quantity = Quantity::new("noise_nv_per_rthz", "noise voltage density of the amplifier", "nV/rtHz", 1e9, 0.0, 1e5);
/// Noise current density at each input.
pub const CURRENT_NOISE: Quantity = Quantity::new("noise_fa_per_rthz", "noise current density of the amplifier", "fA/rtHz", 1e15, 0.0, 1e7);
/// Rejection of what both inputs have in common.
pub const REJECTION: Quantity = Quantity::new("rejection_db", "common-mode rejection of the amplifier", "dB", 1.0, 0.0, 200.0);
/// Voltage of the mains between body and the amplifier's reference.
pub const COMMON_MODE: Quantity = Quantity::new("common_mode_mv", "mains voltage between body and amplifier", "mV", 1e3, 0.0, 1e5);
/// Frequency of the mains.
pub const MAINS: Quantity = Quantity::new("mains_hz", "frequency of the mains", "Hz", 1.0, 16.0, 400.0);
/// Height of the signal at the skin.
pub const SIGNAL_HEIGHT: Quantity = Quantity::new("signal_mv", "height of the signal", "mV", 1e3, 1e-3, 100.0);
/// Lowest frequency of a signal.
pub const BAND_LOW: Quantity = Quantity::new("band_low_hz", "lowest frequency of the signal", "Hz", 1.0, 0.05, 1e4);
/// Highest frequency of a signal.
pub const BAND_HIGH: Quantity = Quantity::new("band_high_hz", "highest frequency of the signal", "Hz", 1.0, 0.1, 1e5);
/// Frequency at which an electrode is looked at.
pub const FREQUENCY: Quantity = Quantity::new("frequency_hz", "frequency", "Hz", 1.0, 0.05, 1e5);

/// Pressure of the garment on the electrode.
pub const PRESSURE: Quantity = Quantity::new("pressure_kpa", "contact pressure", "kPa", 1e-3, 0.0, 50.0);
/// Tension of the band that holds the electrode.
pub const TENSION: Quantity = Quantity::new("tension_n", "tension of the band", "N", 1.0, 0.0, 500.0);
/// Width of the band that holds the electrode.
pub const BAND_WIDTH: Quantity = Quantity::new("band_width_mm", "width of the band", "mm", 1e3, 2.0, 1000.0);
/// Girth of the body where the band lies.
pub const GIRTH: Quantity = Quantity::new("girth_mm", "girth of the body", "mm", 1e3, 50.0, 3000.0);

/// Height of a stimulating pulse.
pub const PULSE_CURRENT: Quantity = Quantity::new("current_ma", "current of a pulse", "mA", 1e3, 1e-3, 200.0);
/// Width of one phase of a pulse.
pub const PHASE_WIDTH: Quantity = Quantity::new("phase_width_us", "width of a phase", "us", 1e6, 1.0, 1e5);
/// Pulses per second.
pub const PULSE_RATE: Quantity = Quantity::new("rate_hz", "pulses per second", "Hz", 1.0, 0.01, 1e5);
/// Phases of a pulse.
pub const PHASES: Quantity = Quantity::new("phases", "number of phases", "", 1.0, 1.0, 2.0);

/// Charge of a phase per area that wetted thread bears.
pub const MAX_CHARGE: Quantity =
    Quantity::new("max_charge_uc_per_cm2", "charge per phase and area that the thread bears", "uC/cm2", 100.0, 0.01, 1e4);

/// Part of a signal that is lost, as a result.
pub const LOSS: Quantity = Quantity::new("loss_percent", "read-out loss", "%", 100.0, 0.0, 100.0);
/// A voltage between the inputs, as a result.
pub const AT_INPUT: Quantity = Quantity::new("input_uv", "voltage at the input", "uV", 1e6, 0.0, 1e9);
/// Current density at the skin, as a result. 1 mA/cm2 = 10 A/m2.
pub const CURRENT_DENSITY: Quantity = Quantity::new("current_density_ma_per_cm2", "current density", "mA/cm2", 0.1, 0.0, 1e9);
/// Charge of a phase over wetted thread, as a result. 1 uC/cm2 = 0.01 C/m2.
pub const PHASE_CHARGE: Quantity = Quantity::new("charge_uc_per_cm2", "charge per phase and area", "uC/cm2", 100.0, 0.0, 1e9);
