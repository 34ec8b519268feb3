//! What an electrode is held against, and how well it stands.

use super::chain::{ElectrodeChain, RoleValues, electrode_chain};
use super::piece::Electrode;
use crate::electrode::CURRENT_DENSITY_A_PER_M2;
use crate::estimate::checks::{Inputs, check, closest_stitch_limit, weakest};
use crate::estimate::pad::PieceChain;
use crate::estimate::{Check, Feature, Input};
use crate::materials::MOST_PRESSURE_PA;
use crate::uncertainty::Linear;
use crate::units::{self, Quantity};
use crate::verdict::{Bound, CheckKind, Verdict, judge};

/// Largest loss within the band: an input of ten times the electrode's impedance loses less (teaching text on electromyography,
/// read).
const LARGEST_LOSS: f64 = 0.1;

/// Noise, r.m.s., as a share of the signal's height: from crest to crest it is then an eighth. Common practice, no source.
const NOISE_SHARE: f64 = 0.02;

/// Hum as a share of the signal's height; a filter can take more. Common practice, no source.
const HUM_SHARE: f64 = 0.05;

/// What is predicted for one electrode, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct ElectrodeResult {
    /// Its name.
    pub name: String,
    /// That of its weakest check; never better than measure first where it stimulates.
    pub verdict: Verdict,
    /// The lowest chance of its checks.
    pub chance: f64,
    /// The weakest of its checks, a number in `Estimate::checks`.
    pub weakest: usize,
    /// What the outline covers, m2.
    pub footprint_m2: f64,
    /// Skin that is touched, m2.
    pub touching_m2: f64,
    /// Thread surface towards the skin per footprint.
    pub surface_gain: f64,
    /// Run with its terminal, ohm.
    pub run_ohm: f64,
    /// Length of the impedance at 10 Hz, ohm.
    pub impedance_10_hz_ohm: f64,
    /// Contact pressure, Pa.
    pub pressure_pa: f64,
    /// What an amplifier gets; `None` for an electrode that stimulates.
    pub reading: Option<ReadingResult>,
    /// What its pulses do; `None` for an electrode that reads.
    pub stimulation: Option<StimulationResult>,
}

/// What an amplifier gets of a pair of electrodes, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadingResult {
    /// Lowest and highest frequency looked at.
    pub band_hz: [f64; 2],
    /// Largest loss within the band.
    pub loss: f64,
    /// Turn of the phase at the low end of the band, rad.
    pub phase_rad: f64,
    /// Noise r.m.s. over the band, V.
    pub noise_v: f64,
    /// What of it is thermal, V.
    pub thermal_v: f64,
    /// What is read of the mains, V.
    pub hum_v: f64,
    /// Difference that the pair makes of what both have, as a fraction.
    pub conversion: f64,
    /// Input resistance that the rule for dry electrodes asks for, ohm.
    pub needed_input_ohm: f64,
}

/// What pulses do at an electrode, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StimulationResult {
    /// Current, A r.m.s.
    pub rms_a: f64,
    /// Current density over the touching skin, A/m2 r.m.s.
    pub density_a_per_m2: f64,
    /// Charge of one phase, C.
    pub charge_c: f64,
    /// The same over the touching skin, C/m2.
    pub skin_charge_c_per_m2: f64,
    /// The same over the wetted thread, C/m2.
    pub metal_charge_c_per_m2: f64,
    /// Mean current that flows one way, A.
    pub unbalanced_a: f64,
    /// Voltage across the electrode at the end of a phase, V.
    pub end_v: f64,
}

/// Works out every electrode of a piece; adds their checks, inputs and notes to those of the estimate.
pub(in super::super) fn electrodes(
    chain: &PieceChain<'_>,
    checks: &mut Vec<Check>,
    inputs: &mut Vec<Input>,
    notes: &mut Vec<String>,
) -> Vec<ElectrodeResult> {
    let electrodes = &chain.piece.electrodes;
    for text in NOTES.iter().filter(|_| !electrodes.is_empty()) {
        notes.push((*text).to_owned());
    }
    electrodes.iter().enumerate().map(|(k, electrode)| one(chain, k, electrode, checks, inputs)).collect()
}

const NOTES: [&str; 2] = [
    "skin under an electrode differs by a factor of a hundred between people, sites and minutes; it is taken for a resistance beside a capacitance",
    "movement of an electrode disturbs far more than the noise given for it",
];

fn one(chain: &PieceChain<'_>, k: usize, electrode: &Electrode, checks: &mut Vec<Check>, inputs: &mut Vec<Input>) -> ElectrodeResult {
    let worked = electrode_chain(chain, k, electrode);
    let first = checks.len();
    let of = Inputs { shared: &chain.inputs, own: &worked.inputs, first_own: inputs.len() };
    let feature = Some(Feature::Electrode(k));
    let mut add = |kind, quantity: &'static Quantity, bound, predicted: &Linear, needed: &Linear| {
        checks.push(check(kind, feature, quantity, bound, predicted, needed, &of));
    };
    match &worked.role {
        RoleValues::Reads(r) => {
            add(CheckKind::ReadOutLoss, &units::LOSS, Bound::AtMost, &r.loss, &Linear::exact(LARGEST_LOSS));
            add(CheckKind::Noise, &units::AT_INPUT, Bound::AtMost, &r.noise_v, &r.signal_v.times(NOISE_SHARE));
            add(CheckKind::CommonMode, &units::AT_INPUT, Bound::AtMost, &r.hum_v, &r.signal_v.times(HUM_SHARE));
        }
        RoleValues::Stimulates(p) => {
            let attention = Linear::exact(CURRENT_DENSITY_A_PER_M2);
            add(CheckKind::CurrentDensity, &units::CURRENT_DENSITY, Bound::AtMost, &p.density_a_per_m2, &attention);
            add(CheckKind::ChargePerPhase, &units::PHASE_CHARGE, Bound::AtMost, &p.charge_c_per_m2, &p.max_charge_c_per_m2);
        }
    }
    let (bound, limit_pa) = closest_pressure(&worked.pressure_pa, electrode.skin.contact().least_pressure_pa);
    add(CheckKind::Fit, &units::PRESSURE, bound, &worked.pressure_pa, &Linear::exact(limit_pa));
    let (limit, quantity, bound, predicted, needed) = closest_stitch_limit(&worked.stitch);
    add(CheckKind::Stitchable(limit), quantity, bound, &predicted, &needed);
    if matches!(worked.role, RoleValues::Stimulates(_)) {
        for check in &mut checks[first..] {
            measure_first(check, |number| of.in_estimate(number), &worked);
        }
    }
    let weakest = weakest(checks, first);
    inputs.extend_from_slice(&worked.inputs);
    result(k, electrode, &worked, &checks[weakest], weakest)
}

/// A stimulating electrode never stands better than measure first: current spreads unevenly over skin and thread in a way that no
/// drawing tells, and what is passed into a person is not for this program to call comfortable.
fn measure_first(check: &mut Check, in_estimate: impl Fn(usize) -> usize, worked: &ElectrodeChain) {
    let open = match check.kind {
        CheckKind::CurrentDensity => worked.share_input,
        CheckKind::ChargePerPhase => worked.gain_input,
        _ => return,
    };
    if check.verdict < Verdict::MeasureFirst {
        check.verdict = Verdict::MeasureFirst;
        check.measure = Some(in_estimate(open));
    }
}

/// Of the two limits of the pressure, the one with the lower chance.
fn closest_pressure(pressure_pa: &Linear, least_pa: f64) -> (Bound, f64) {
    let chance = |bound: Bound, limit: f64| judge(&bound.margin(pressure_pa, &Linear::exact(limit)), |_| None).chance;
    let limits = [(Bound::AtLeast, least_pa), (Bound::AtMost, MOST_PRESSURE_PA)];
    let [low, high] = limits.map(|(bound, limit)| chance(bound, limit));
    if low <= high { limits[0] } else { limits[1] }
}

fn result(k: usize, electrode: &Electrode, worked: &ElectrodeChain, weakest_check: &Check, weakest: usize) -> ElectrodeResult {
    let d = &worked.details;
    let reading = match (&worked.role, &d.reading) {
        (RoleValues::Reads(r), Some(details)) => Some(ReadingResult {
            band_hz: details.band_hz,
            loss: r.loss.value,
            phase_rad: details.low.phase_rad,
            noise_v: r.noise_v.value,
            thermal_v: details.noise.thermal_v,
            hum_v: r.hum_v.value,
            conversion: details.conversion,
            needed_input_ohm: details.needed_input_ohm,
        }),
        _ => None,
    };
    ElectrodeResult {
        name: electrode_name(k, electrode),
        verdict: weakest_check.verdict,
        chance: weakest_check.chance,
        weakest,
        footprint_m2: d.areas.footprint_m2,
        touching_m2: d.areas.touching_m2,
        surface_gain: d.surface_gain,
        run_ohm: d.run_ohm,
        impedance_10_hz_ohm: d.circuit.impedance(10.0).norm(),
        pressure_pa: worked.pressure_pa.value,
        reading,
        stimulation: d.pulses.as_ref().map(|(_, s)| StimulationResult {
            rms_a: s.rms_a,
            density_a_per_m2: s.density_a_per_m2,
            charge_c: s.charge_c,
            skin_charge_c_per_m2: s.skin_charge_c_per_m2,
            metal_charge_c_per_m2: s.metal_charge_c_per_m2,
            unbalanced_a: s.unbalanced_a,
            end_v: s.end_v,
        }),
    }
}

/// What an electrode is called.
pub(super) fn electrode_name(k: usize, electrode: &Electrode) -> String {
    Feature::Electrode(k).called(electrode.name.as_deref())
}
