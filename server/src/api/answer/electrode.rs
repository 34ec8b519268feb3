//! What is predicted for an electrode of a piece, on the wire.

use serde::Serialize;
use toile_model as model;
use toile_model::electrode::CURRENT_DENSITY_A_PER_M2;
use toile_model::units;
use utoipa::ToSchema;

use super::{VerdictWord, out};

/// What is predicted for one electrode.
#[derive(Serialize, ToSchema)]
pub struct ElectrodeResultAnswer<'a> {
    /// Its name.
    name: &'a str,
    /// Its place in the piece.
    pointer: String,
    /// That of its weakest check; never better than measure first where it stimulates.
    verdict: VerdictWord,
    /// The lowest chance of its checks.
    chance: f64,
    /// What the outline covers.
    footprint_cm2: f64,
    /// Skin that is touched.
    touching_cm2: f64,
    /// Thread surface towards the skin per footprint.
    surface_gain: f64,
    /// Run with its terminal.
    run_ohm: f64,
    /// Length of the impedance at 10 Hz.
    impedance_10_hz_ohm: f64,
    /// Contact pressure.
    pressure_kpa: f64,
    /// What an amplifier gets of a pair of such electrodes; null for one that stimulates.
    reading: Option<ElectrodeReadingAnswer>,
    /// What its pulses do; null for one that reads.
    stimulation: Option<ElectrodePulsesAnswer>,
}

/// What an amplifier gets of a pair of electrodes.
#[derive(Serialize, ToSchema)]
pub struct ElectrodeReadingAnswer {
    /// Lowest frequency looked at.
    band_low_hz: f64,
    /// Highest frequency looked at.
    band_high_hz: f64,
    /// Largest loss within the band.
    worst_loss_percent: f64,
    /// By how much what is read runs ahead at the low end of the band.
    read_out_phase_deg: f64,
    /// All noise together over the band, r.m.s.
    noise_uv: f64,
    /// What of it is thermal.
    thermal_noise_uv: f64,
    /// What is read of the mains, by the pair and the amplifier's rejection together.
    hum_uv: f64,
    /// Difference that the pair makes of the voltage both have at mains frequency, as a fraction.
    conversion: f64,
    /// Input resistance that the rule for dry electrodes asks for.
    needed_input_mohm: f64,
}

/// What pulses do at an electrode.
#[derive(Serialize, ToSchema)]
pub struct ElectrodePulsesAnswer {
    /// Current, r.m.s.
    rms_ma: f64,
    /// Current over the skin that touches, r.m.s.
    current_density_ma_per_cm2: f64,
    /// Published value that calls for an operator's attention, r.m.s.; no limit of safety.
    attention_ma_per_cm2: f64,
    /// Charge of one phase.
    charge_per_phase_uc: f64,
    /// The same over the skin that touches.
    skin_charge_uc_per_cm2: f64,
    /// The same over the wetted thread.
    thread_charge_uc_per_cm2: f64,
    /// Mean current that flows one way; 0 for two phases.
    unbalanced_ma: f64,
    /// Voltage across the electrode at the end of a phase.
    end_voltage_v: f64,
}

impl<'a> ElectrodeResultAnswer<'a> {
    /// Puts the result of electrode `k` on the wire.
    pub(super) fn new(k: usize, electrode: &'a model::ElectrodeResult) -> Self {
        let cm2 = |m2: f64| out(units::FOOTPRINT.from_si(m2));
        Self {
            name: &electrode.name,
            pointer: model::Feature::Electrode(k).pointer(),
            verdict: electrode.verdict.into(),
            chance: out(electrode.chance),
            footprint_cm2: cm2(electrode.footprint_m2),
            touching_cm2: cm2(electrode.touching_m2),
            surface_gain: out(electrode.surface_gain),
            run_ohm: out(electrode.run_ohm),
            impedance_10_hz_ohm: out(electrode.impedance_10_hz_ohm),
            pressure_kpa: out(units::PRESSURE.from_si(electrode.pressure_pa)),
            reading: electrode.reading.as_ref().map(Into::into),
            stimulation: electrode.stimulation.as_ref().map(Into::into),
        }
    }
}

impl From<&model::ReadingResult> for ElectrodeReadingAnswer {
    fn from(reading: &model::ReadingResult) -> Self {
        let uv = |v: f64| out(units::AT_INPUT.from_si(v));
        Self {
            band_low_hz: out(reading.band_hz[0]),
            band_high_hz: out(reading.band_hz[1]),
            worst_loss_percent: out(units::LOSS.from_si(reading.loss)),
            read_out_phase_deg: out(reading.phase_rad.to_degrees()),
            noise_uv: uv(reading.noise_v),
            thermal_noise_uv: uv(reading.thermal_v),
            hum_uv: uv(reading.hum_v),
            conversion: out(reading.conversion),
            needed_input_mohm: out(units::INPUT_RESISTANCE.from_si(reading.needed_input_ohm)),
        }
    }
}

impl From<&model::StimulationResult> for ElectrodePulsesAnswer {
    fn from(pulses: &model::StimulationResult) -> Self {
        let density = |a_per_m2: f64| out(units::CURRENT_DENSITY.from_si(a_per_m2));
        let charge = |c_per_m2: f64| out(units::PHASE_CHARGE.from_si(c_per_m2));
        let ma = |a: f64| out(units::PULSE_CURRENT.from_si(a));
        Self {
            rms_ma: ma(pulses.rms_a),
            current_density_ma_per_cm2: density(pulses.density_a_per_m2),
            attention_ma_per_cm2: density(CURRENT_DENSITY_A_PER_M2),
            charge_per_phase_uc: out(pulses.charge_c * 1e6),
            skin_charge_uc_per_cm2: charge(pulses.skin_charge_c_per_m2),
            thread_charge_uc_per_cm2: charge(pulses.metal_charge_c_per_m2),
            unbalanced_ma: ma(pulses.unbalanced_a),
            end_voltage_v: out(pulses.end_v),
        }
    }
}
