//! An electrode of a piece on the wire. `solve/electrode` names the same things the same way.

use serde::Deserialize;
use toile_model::{self as model, ElectrodeKind, MOST_ELECTRODES};
use utoipa::ToSchema;

use super::{Run, Shape, Thread};
use crate::api::number::{
    BandHighHz, BandLowHz, BandWidthMm, CommonModeMv, CurrentNoise, GirthMm, InputCapacitancePf, InputResistanceMohm, LoopHeightMm,
    MainsHz, MaxCharge, MetalCapacitance, MetalResistance, MismatchPercent, PhaseWidthUs, PressureKpa, PulseCurrentMa, PulseRateHz,
    RejectionDb, RowSpacingMm, SignalMv, SkinCapacitance, SkinNoiseUv, SkinResistance, StitchLengthMm, SurfaceGain, TensionN,
    TissueResistivity, TouchingShare, VoltageNoise,
};
use crate::api::solve::{SignalWord, SkinWord};

/// A stitched area on skin with its run: one that reads, or one that stimulates.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Electrode {
    /// What it is called; `electrode 1` and so on where nothing is given.
    #[schema(max_length = 200)]
    name: Option<String>,
    /// What it is for.
    kind: ElectrodePurpose,
    /// Outline.
    shape: Shape,
    /// How it is stitched.
    texture: StitchedTexture,
    /// Thread of electrode and run.
    thread: Thread,
    /// Conductor from the electrode to its device.
    run: Run,
    /// What lies between thread and skin.
    skin: SkinWord,
    /// Part of the footprint that touches; assumed by skin and texture where nothing is given.
    touching_share: Option<TouchingShare>,
    /// Thread surface towards the skin per footprint; from the texture where nothing is given.
    surface_gain: Option<SurfaceGain>,
    /// Skin by numbers; what is left out is assumed.
    contact: Option<ElectrodeContact>,
    /// How the garment holds it: a pressure, or a band that makes one; a wide range is assumed where nothing is given.
    fit: Option<ElectrodeFit>,
    /// What an electrode that reads is to read; the heart where nothing is given.
    signal: Option<SignalWord>,
    /// Height of that signal; usual for it where nothing is given.
    signal_mv: Option<SignalMv>,
    /// Lowest frequency of the signal; that of the signal where nothing is given.
    band_low_hz: Option<BandLowHz>,
    /// Highest frequency of the signal; that of the signal where nothing is given.
    band_high_hz: Option<BandHighHz>,
    /// What an electrode that reads is joined to; what is left out is assumed.
    amplifier: Option<ElectrodeAmplifier>,
    /// How unlike the other electrode of the pair is, and the hum that both pick up.
    pair: Option<ElectrodePair>,
    /// Pulses of an electrode that stimulates. Numbers for talking with licensed practitioners; they permit nothing.
    stimulation: Option<ElectrodePulses>,
}

/// What an electrode is for.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ElectrodePurpose {
    /// It reads a voltage of the body.
    Reads,
    /// It passes current into the body; its verdict is never better than `measure first`.
    Stimulates,
}

/// How an electrode is stitched.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum StitchedTexture {
    /// Rows of stitches that leave a loop standing at each step.
    LoopPile {
        /// Distance between rows.
        row_spacing_mm: RowSpacingMm,
        /// Distance between loops within a row.
        stitch_length_mm: StitchLengthMm,
        /// How far a loop stands out.
        loop_height_mm: LoopHeightMm,
    },
    /// Flat rows.
    Fill {
        /// Distance between rows.
        row_spacing_mm: RowSpacingMm,
        /// Stitch length within a row.
        stitch_length_mm: StitchLengthMm,
    },
}

/// Skin and wetted thread by numbers.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ElectrodeContact {
    /// Outer layer of the skin: resistance times area.
    skin_kohm_cm2: Option<SkinResistance>,
    /// Outer layer of the skin: capacitance per area.
    skin_nf_per_cm2: Option<SkinCapacitance>,
    /// Wetted thread: resistance times area.
    metal_kohm_cm2: Option<MetalResistance>,
    /// Wetted thread: capacitance per area.
    metal_uf_per_cm2: Option<MetalCapacitance>,
    /// Resistivity of the tissue below.
    tissue_ohm_m: Option<TissueResistivity>,
    /// Noise of the skin under 1 cm2, beside what its impedance makes.
    skin_noise_uv: Option<SkinNoiseUv>,
}

/// How the garment holds an electrode: a pressure, or tension, width and girth of a band together.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ElectrodeFit {
    /// Contact pressure.
    pressure_kpa: Option<PressureKpa>,
    /// Tension of the band.
    tension_n: Option<TensionN>,
    /// Width of the band.
    band_width_mm: Option<BandWidthMm>,
    /// Girth of the body where it lies.
    girth_mm: Option<GirthMm>,
}

/// A biopotential amplifier by its numbers; what is left out is assumed.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ElectrodeAmplifier {
    /// Resistance of each input to the reference.
    input_resistance_mohm: Option<InputResistanceMohm>,
    /// Capacitance of each input with its lead.
    input_capacitance_pf: Option<InputCapacitancePf>,
    /// Noise voltage density between the inputs.
    noise_nv_per_rthz: Option<VoltageNoise>,
    /// Noise current density at each input.
    noise_fa_per_rthz: Option<CurrentNoise>,
    /// Rejection of what both inputs have in common.
    rejection_db: Option<RejectionDb>,
}

/// How the electrodes of a pair differ, and what both pick up.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ElectrodePair {
    /// How much larger the other one's impedance is.
    mismatch_percent: Option<MismatchPercent>,
    /// Mains voltage between body and amplifier.
    common_mode_mv: Option<CommonModeMv>,
    /// Frequency of the mains; 50 where nothing is given.
    mains_hz: Option<MainsHz>,
}

/// Rectangular pulses of current.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ElectrodePulses {
    /// Height of each phase.
    current_ma: PulseCurrentMa,
    /// Width of one phase.
    phase_width_us: PhaseWidthUs,
    /// Pulses per second.
    rate_hz: PulseRateHz,
    /// One phase, or two of opposite sign; 2 where nothing is given.
    #[schema(minimum = 1, maximum = 2)]
    phases: Option<u32>,
    /// Charge of a phase per area that the wetted thread bears; assumed where nothing is given. No limit of safety for skin.
    max_charge_uc_per_cm2: Option<MaxCharge>,
}

// The limit in the schema of a piece is a literal, because the schema macro takes no other; this holds it to the model.
const _: () = assert!(MOST_ELECTRODES == 64);

impl From<Electrode> for model::Electrode {
    fn from(wire: Electrode) -> Self {
        Self {
            name: wire.name,
            kind: match wire.kind {
                ElectrodePurpose::Reads => ElectrodeKind::Reads,
                ElectrodePurpose::Stimulates => ElectrodeKind::Stimulates,
            },
            shape: wire.shape.into(),
            texture: wire.texture.into(),
            thread: wire.thread.into(),
            run: wire.run.into(),
            skin: wire.skin.into(),
            surface_gain: wire.surface_gain.map(|n| n.0),
            touching_share: wire.touching_share.map(|n| n.0),
            contact: wire.contact.unwrap_or_default().into(),
            fit: wire.fit.unwrap_or_default().into(),
            signal: wire.signal.map(Into::into),
            signal_v: wire.signal_mv.map(|n| n.0),
            band_low_hz: wire.band_low_hz.map(|n| n.0),
            band_high_hz: wire.band_high_hz.map(|n| n.0),
            amplifier: wire.amplifier.unwrap_or_default().into(),
            pair: wire.pair.unwrap_or_default().into(),
            pulses: wire.stimulation.map(Into::into),
        }
    }
}

impl From<StitchedTexture> for model::ElectrodeTexture {
    fn from(wire: StitchedTexture) -> Self {
        match wire {
            StitchedTexture::LoopPile { row_spacing_mm, stitch_length_mm, loop_height_mm } => {
                Self::LoopPile { row_spacing_m: row_spacing_mm.0, stitch_length_m: stitch_length_mm.0, loop_height_m: loop_height_mm.0 }
            }
            StitchedTexture::Fill { row_spacing_mm, stitch_length_mm } => {
                Self::Fill { row_spacing_m: row_spacing_mm.0, stitch_length_m: stitch_length_mm.0 }
            }
        }
    }
}

impl From<ElectrodeContact> for model::ContactChoice {
    fn from(wire: ElectrodeContact) -> Self {
        Self {
            skin_ohm_m2: wire.skin_kohm_cm2.map(|n| n.0),
            skin_f_per_m2: wire.skin_nf_per_cm2.map(|n| n.0),
            metal_ohm_m2: wire.metal_kohm_cm2.map(|n| n.0),
            metal_f_per_m2: wire.metal_uf_per_cm2.map(|n| n.0),
            tissue_ohm_m: wire.tissue_ohm_m.map(|n| n.0),
            skin_noise_v: wire.skin_noise_uv.map(|n| n.0),
        }
    }
}

impl From<ElectrodeFit> for model::Fit {
    fn from(wire: ElectrodeFit) -> Self {
        Self {
            pressure_pa: wire.pressure_kpa.map(|n| n.0),
            tension_n: wire.tension_n.map(|n| n.0),
            band_width_m: wire.band_width_mm.map(|n| n.0),
            girth_m: wire.girth_mm.map(|n| n.0),
        }
    }
}

impl From<ElectrodeAmplifier> for model::AmplifierChoice {
    fn from(wire: ElectrodeAmplifier) -> Self {
        Self {
            input_ohm: wire.input_resistance_mohm.map(|n| n.0),
            input_f: wire.input_capacitance_pf.map(|n| n.0),
            noise_v_per_rthz: wire.noise_nv_per_rthz.map(|n| n.0),
            noise_a_per_rthz: wire.noise_fa_per_rthz.map(|n| n.0),
            rejection_db: wire.rejection_db.map(|n| n.0),
        }
    }
}

impl From<ElectrodePair> for model::Pair {
    fn from(wire: ElectrodePair) -> Self {
        Self {
            mismatch: wire.mismatch_percent.map(|n| n.0),
            common_mode_v: wire.common_mode_mv.map(|n| n.0),
            mains_hz: wire.mains_hz.map(|n| n.0),
        }
    }
}

impl From<ElectrodePulses> for model::PulseChoice {
    fn from(wire: ElectrodePulses) -> Self {
        Self {
            current_a: wire.current_ma.0,
            width_s: wire.phase_width_us.0,
            rate_hz: wire.rate_hz.0,
            phases: wire.phases.unwrap_or(2),
            max_charge_c_per_m2: wire.max_charge_uc_per_cm2.map(|n| n.0),
        }
    }
}
