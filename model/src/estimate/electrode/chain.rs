//! One electrode worked out: areas, circuit, what it reads or passes, with the spreads of every number carried along.

use std::f64::consts::{FRAC_PI_4, PI};

use super::assumed;
use super::piece::{Electrode, ElectrodeKind, ElectrodeTexture};
use crate::electrode::{
    Amplifier, Areas, Circuit, Contact, NoiseParts, NoiseSources, Pulses, ReadOut, Stimulation, band_pressure_pa, conversion,
    electrode_circuit, needed_input_ohm, noise_v, read_out, stimulation, surface_gain, worst_loss,
};
use crate::estimate::Shape;
use crate::estimate::checks::shape_inputs;
use crate::estimate::input::{Input, Origin, Place, Register};
use crate::estimate::pad::{PieceChain, StitchValues};
use crate::estimate::run::{RunDetails, RunPlaces, run_values};
use crate::estimate::thread::ThreadValues;
use crate::materials::{BodySignal, COMMON_MODE, Known, SKIN_NOISE, TISSUE};
use crate::uncertainty::{Linear, Measured, propagate};
use crate::units::{self, Quantity};

/// Temperature of skin and thread, K: 33 degrees Celsius. Three degrees more or less move the noise by half a percent.
const SKIN_K: f64 = 306.15;

/// Area that the noise of skin is given for, m2.
const ONE_CM2: f64 = 1e-4;

/// Mains where a piece does not say which, Hz: the lower of the two usual ones, at which an electrode's impedance is higher.
const USUAL_MAINS_HZ: f64 = 50.0;

/// One electrode, worked out.
pub(super) struct ElectrodeChain {
    pub(super) inputs: Vec<Input>,
    pub(super) pressure_pa: Linear,
    pub(super) stitch: StitchValues,
    pub(super) role: RoleValues,
    /// Number of the touching share among the inputs.
    pub(super) share_input: usize,
    /// Number of the surface gain among the inputs.
    pub(super) gain_input: usize,
    pub(super) details: ElectrodeDetails,
}

/// What belongs to the kind of an electrode.
pub(super) enum RoleValues {
    Reads(Box<ReadingValues>),
    Stimulates(Box<PulseValues>),
}

/// What a reading electrode is held against.
pub(super) struct ReadingValues {
    pub(super) loss: Linear,
    pub(super) noise_v: Linear,
    pub(super) hum_v: Linear,
    pub(super) signal_v: Linear,
}

/// What a stimulating electrode is held against.
pub(super) struct PulseValues {
    pub(super) density_a_per_m2: Linear,
    pub(super) charge_c_per_m2: Linear,
    pub(super) max_charge_c_per_m2: Linear,
}

/// Numbers at the best estimates, for results and working.
pub(super) struct ElectrodeDetails {
    pub(super) areas: Areas,
    pub(super) contact: Contact,
    pub(super) surface_gain: f64,
    pub(super) touching_share: f64,
    /// With its terminal.
    pub(super) run_ohm: f64,
    pub(super) run: RunDetails,
    pub(super) circuit: Circuit,
    pub(super) reading: Option<ReadingDetails>,
    pub(super) pulses: Option<(Pulses, Stimulation)>,
}

/// A reading at the best estimates.
pub(super) struct ReadingDetails {
    pub(super) amplifier: Amplifier,
    pub(super) sources: NoiseSources,
    pub(super) band_hz: [f64; 2],
    pub(super) low: ReadOut,
    pub(super) mismatch: f64,
    pub(super) mains_hz: f64,
    pub(super) common_mode_v: f64,
    pub(super) rejection_db: f64,
    pub(super) conversion: f64,
    pub(super) noise: NoiseParts,
    pub(super) needed_input_ohm: f64,
}

/// Registers the numbers of one electrode.
struct Numbers<'a> {
    register: Register<'a>,
    k: usize,
}

impl Numbers<'_> {
    fn given(&mut self, part: &'static str, quantity: &'static Quantity, measured: Measured) -> Linear {
        self.register.given(Place::Electrode(self.k, part), quantity, measured)
    }

    fn or(&mut self, part: &'static str, quantity: &'static Quantity, given: Option<Measured>, usual: &Known) -> Linear {
        self.register.given_or(Place::Electrode(self.k, part), quantity, given, (usual, Origin::Assumed))
    }
}

/// Works out electrode `k` of a piece that has passed its check.
pub(super) fn electrode_chain(chain: &PieceChain<'_>, k: usize, electrode: &Electrode) -> ElectrodeChain {
    let mut numbers = Numbers { register: Register::of_feature(&chain.inputs), k };
    let thread =
        ThreadValues::register(&mut numbers.register, Place::Electrode(k, "thread"), &electrode.thread, chain.library, &chain.shared.state);

    // Area of the outline.
    let measures: Vec<Linear> =
        shape_inputs(&electrode.shape, k).into_iter().map(|input| numbers.given("shape", input.quantity, input.measured)).collect();
    let of_polygon = electrode.shape.extent().map_or(0.0, |extent| extent.area_m2);
    let [footprint] = propagate(&measures.iter().collect::<Vec<_>>(), |x| [footprint_m2(&electrode.shape, x, of_polygon)]);

    // Texture and what touches.
    let [row_spacing_m, stitch_length_m] = electrode.texture.rows();
    let fill =
        [numbers.given("texture", &units::ROW_SPACING, row_spacing_m), numbers.given("texture", &units::STITCH_LENGTH, stitch_length_m)];
    if let ElectrodeTexture::LoopPile { loop_height_m, .. } = electrode.texture {
        numbers.given("texture", &units::LOOP_HEIGHT, loop_height_m);
    }
    let usual_gain = assumed::surface_gain(surface_gain(electrode.texture.geometry(), thread.diameter_m.value));
    let gain_input = numbers.register.next_number();
    let gain = numbers.or("", &units::SURFACE_GAIN, electrode.surface_gain, &usual_gain);
    let skin = electrode.skin.contact();
    let touching = match electrode.texture {
        ElectrodeTexture::LoopPile { .. } => &skin.touching_pile,
        ElectrodeTexture::Fill { .. } => &skin.touching_fill,
    };
    let share_input = numbers.register.next_number();
    let share = numbers.or("", &units::TOUCHING_SHARE, electrode.touching_share, touching);
    let c = &electrode.contact;
    let contact = [
        numbers.or("contact", &units::SKIN_RESISTANCE, c.skin_ohm_m2, &skin.skin_ohm_m2),
        numbers.or("contact", &units::SKIN_CAPACITANCE, c.skin_f_per_m2, &skin.skin_f_per_m2),
        numbers.or("contact", &units::METAL_RESISTANCE, c.metal_ohm_m2, &skin.metal_ohm_m2),
        numbers.or("contact", &units::METAL_CAPACITANCE, c.metal_f_per_m2, &skin.metal_f_per_m2),
        numbers.or("contact", &units::TISSUE_RESISTIVITY, c.tissue_ohm_m, &TISSUE),
    ];

    let places = RunPlaces {
        run: Place::Electrode(k, "run"),
        stitch: Place::Electrode(k, "run/stitch"),
        terminal: Place::Electrode(k, "run/terminal"),
    };
    let run = run_values(&mut numbers.register, places, &electrode.run, &thread, chain.sewn_m());
    let run_ohm = run.ohm.plus(1.0, &run.contact_ohm);

    // Fit.
    let f = &electrode.fit;
    let pressure_pa = match (f.tension_n, f.band_width_m, f.girth_m) {
        (Some(tension), Some(width), Some(girth)) => {
            let band = [
                numbers.given("fit", &units::TENSION, tension),
                numbers.given("fit", &units::BAND_WIDTH, width),
                numbers.given("fit", &units::GIRTH, girth),
            ];
            let [pressure] = propagate(&band.each_ref(), |x| [band_pressure_pa(x[0], x[1], x[2])]);
            pressure
        }
        _ => numbers.or("fit", &units::PRESSURE, f.pressure_pa, &assumed::PRESSURE),
    };

    let electrical = Electrical { footprint, share, gain, contact, run_ohm };
    let (role, reading, pulses) = match electrode.kind {
        ElectrodeKind::Reads => {
            let (values, details) = electrical.reading(&mut numbers, electrode);
            (RoleValues::Reads(Box::new(values)), Some(details), None)
        }
        ElectrodeKind::Stimulates => {
            let (values, details) = electrical.pulses(&mut numbers, electrode);
            (RoleValues::Stimulates(Box::new(values)), None, Some(details))
        }
    };
    let (areas, contact, circuit) = electrical.circuit(&electrical.values());
    ElectrodeChain {
        inputs: numbers.register.finish(),
        pressure_pa,
        stitch: StitchValues { thread_diameter_m: thread.diameter_m, fill: Some(fill), run: run.stitch },
        role,
        share_input,
        gain_input,
        details: ElectrodeDetails {
            areas,
            contact,
            surface_gain: electrical.gain.value,
            touching_share: electrical.share.value,
            run_ohm: electrical.run_ohm.value,
            run: run.details,
            circuit,
            reading,
            pulses,
        },
    }
}

/// The runs of all electrodes at the best estimates.
pub(in super::super) fn electrode_runs(chain: &PieceChain<'_>) -> Vec<RunDetails> {
    chain.piece.electrodes.iter().enumerate().map(|(k, electrode)| electrode_chain(chain, k, electrode).details.run).collect()
}

/// What the outline covers with its measures moved to `x`; a polygon has none, and covers `of_polygon`.
fn footprint_m2(shape: &Shape, x: &[f64], of_polygon: f64) -> f64 {
    match shape {
        Shape::Round { .. } => FRAC_PI_4 * x[0] * x[0],
        Shape::Ring { .. } => FRAC_PI_4 * (x[1] * x[1] - x[0] * x[0]),
        Shape::Rectangle { .. } => x[0] * x[1] - (4.0 - PI) * x[2] * x[2],
        Shape::Polygon { .. } => of_polygon,
    }
}

/// What the circuit is made of, with spreads.
struct Electrical {
    footprint: Linear,
    share: Linear,
    gain: Linear,
    contact: [Linear; 5],
    run_ohm: Linear,
}

/// How many numbers the circuit takes.
const CIRCUIT: usize = 9;

impl Electrical {
    fn arguments(&self) -> [&Linear; CIRCUIT] {
        let [skin_ohm, skin_f, metal_ohm, metal_f, tissue] = &self.contact;
        [&self.footprint, &self.share, &self.gain, skin_ohm, skin_f, metal_ohm, metal_f, tissue, &self.run_ohm]
    }

    fn values(&self) -> [f64; CIRCUIT] {
        self.arguments().map(|a| a.value)
    }

    /// Areas, contact and circuit from the numbers of [`Self::arguments`].
    fn circuit(&self, x: &[f64]) -> (Areas, Contact, Circuit) {
        let areas = Areas::new(x[0], x[1], x[2]);
        let contact = Contact { skin_ohm_m2: x[3], skin_f_per_m2: x[4], metal_ohm_m2: x[5], metal_f_per_m2: x[6], tissue_ohm_m: x[7] };
        (areas, contact, electrode_circuit(&contact, &areas, x[8]))
    }

    fn reading(&self, numbers: &mut Numbers<'_>, electrode: &Electrode) -> (ReadingValues, ReadingDetails) {
        let (a, p) = (&electrode.amplifier, &electrode.pair);
        let signal = electrode.signal.unwrap_or(BodySignal::Heart);
        let signal_v = numbers.or("", &units::SIGNAL_HEIGHT, electrode.signal_v, signal.height());
        let of_amplifier = [
            numbers.or("amplifier", &units::INPUT_RESISTANCE, a.input_ohm, &assumed::INPUT_RESISTANCE),
            numbers.or("amplifier", &units::INPUT_CAPACITANCE, a.input_f, &assumed::INPUT_CAPACITANCE),
            numbers.or("amplifier", &units::VOLTAGE_NOISE, a.noise_v_per_rthz, &assumed::VOLTAGE_NOISE),
            numbers.or("amplifier", &units::CURRENT_NOISE, a.noise_a_per_rthz, &assumed::CURRENT_NOISE),
            numbers.or("amplifier", &units::REJECTION, a.rejection_db, &assumed::REJECTION),
            numbers.or("pair", &units::MISMATCH, p.mismatch, &electrode.skin.contact().mismatch),
            numbers.or("pair", &units::COMMON_MODE, p.common_mode_v, &COMMON_MODE),
            numbers.or("contact", &units::SKIN_NOISE, electrode.contact.skin_noise_v, &SKIN_NOISE),
        ];
        let [low_hz, high_hz] = electrode.band_hz();
        let mains_hz = p.mains_hz.unwrap_or(USUAL_MAINS_HZ);
        let details = |x: &[f64]| {
            let (areas, _, circuit) = self.circuit(x);
            let y = &x[CIRCUIT..];
            let amplifier = Amplifier { input_ohm: y[0], input_f: y[1] };
            let other = circuit.times(1.0 + y[5]);
            let sources = NoiseSources {
                voltage_v_per_rthz: y[2],
                current_a_per_rthz: y[3],
                skin_v: y[7] * (ONE_CM2 / areas.touching_m2).sqrt(),
                temperature_k: SKIN_K,
            };
            let details = ReadingDetails {
                amplifier,
                sources,
                band_hz: [low_hz, high_hz],
                low: read_out(&circuit, &amplifier, low_hz),
                mismatch: y[5],
                mains_hz,
                common_mode_v: y[6],
                rejection_db: y[4],
                conversion: conversion(&circuit, &other, &amplifier, mains_hz),
                noise: noise_v(&[circuit, other], low_hz, high_hz, &sources),
                needed_input_ohm: needed_input_ohm(&circuit.skin),
            };
            (details, circuit)
        };
        let mut arguments = self.arguments().to_vec();
        arguments.extend(&of_amplifier);
        let [loss, noise, hum] = propagate(&arguments, |x| {
            let (d, circuit) = details(x);
            [worst_loss(&circuit, &d.amplifier, low_hz, high_hz), d.noise.total_v, hum_v(&d)]
        });
        let best: Vec<f64> = arguments.iter().map(|a| a.value).collect();
        (ReadingValues { loss, noise_v: noise, hum_v: hum, signal_v }, details(&best).0)
    }

    fn pulses(&self, numbers: &mut Numbers<'_>, electrode: &Electrode) -> (PulseValues, (Pulses, Stimulation)) {
        let choice = electrode.pulses.as_ref().expect("Piece::check asks a stimulating electrode for its pulses");
        let train = [
            numbers.given("stimulation", &units::PULSE_CURRENT, choice.current_a),
            numbers.given("stimulation", &units::PHASE_WIDTH, choice.width_s),
            numbers.given("stimulation", &units::PULSE_RATE, choice.rate_hz),
        ];
        let max_charge = numbers.or("stimulation", &units::MAX_CHARGE, choice.max_charge_c_per_m2, &assumed::MAX_CHARGE);
        let pulsed = |x: &[f64]| {
            let (areas, _, circuit) = self.circuit(x);
            let y = &x[CIRCUIT..];
            let pulses = Pulses { current_a: y[0], width_s: y[1], rate_hz: y[2], phases: choice.phases };
            (pulses, stimulation(&circuit, &areas, &pulses))
        };
        let mut arguments = self.arguments().to_vec();
        arguments.extend(&train);
        let [density, charge] = propagate(&arguments, |x| {
            let (_, s) = pulsed(x);
            [s.density_a_per_m2, s.metal_charge_c_per_m2]
        });
        let best: Vec<f64> = arguments.iter().map(|a| a.value).collect();
        (PulseValues { density_a_per_m2: density, charge_c_per_m2: charge, max_charge_c_per_m2: max_charge }, pulsed(&best))
    }
}

/// What is read of the mains: by the pair and by what the amplifier lets through, as if both came at once.
pub(super) fn hum_v(reading: &ReadingDetails) -> f64 {
    reading.common_mode_v * (reading.conversion + 10f64.powf(-reading.rejection_db / 20.0))
}
