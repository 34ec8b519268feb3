//! An electrode on skin: impedance over frequency, what an amplifier gets, noise, and what a pulse does.

use serde::{Deserialize, Serialize};
use toile_model::electrode::{
    Amplifier, Areas, CURRENT_DENSITY_A_PER_M2, Circuit, Contact, NoiseSources, Pulses, Texture, conversion, electrode_circuit,
    needed_input_ohm, noise_v, read_out, stimulation, surface_gain, worst_loss,
};
use toile_model::materials::{BodySignal, COMMON_MODE, Known, SKIN_NOISE, Skin, TISSUE};
use toile_model::uncertainty::Spread;
use toile_model::units::{self, Quantity, significant};
use toile_model::{Caution, Faults, Inspector, Verdict, electrode_cautions};
use utoipa::ToSchema;

use crate::api::number::{
    BandHighHz, BandLowHz, FootprintCm2, FrequencyHz, MainsHz, PlainCommonModeMv, PlainCurrentNoise, PlainInputCapacitancePf,
    PlainInputResistanceMohm, PlainLoopHeightMm, PlainMetalCapacitance, PlainMetalResistance, PlainMismatchPercent, PlainPhaseWidthUs,
    PlainPulseCurrentMa, PlainPulseRateHz, PlainRejectionDb, PlainRowSpacingMm, PlainRunOhm, PlainSkinCapacitance, PlainSkinNoiseUv,
    PlainSkinResistance, PlainStitchLengthMm, PlainSurfaceGain, PlainThreadDiameterMm, PlainTissueResistivity, PlainTouchingShare,
    PlainVoltageNoise,
};
use crate::api::read::Readable;

/// Digits of an answer: those of the arithmetic, for checking it; the numbers of skin are known to one.
const DIGITS: i32 = 12;

/// Temperature of skin and thread, K: 33 degrees Celsius. Three degrees more or less move the noise by half a percent.
const SKIN_K: f64 = 306.15;

/// Frequencies looked at where none are named, Hz: the whole range that is offered.
const USUAL_HZ: [f64; 20] = [0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1e3, 2e3, 5e3, 1e4, 2e4, 5e4, 1e5];

/// One electrode on skin, or one of a pair of the same kind.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ElectrodeQuestion {
    /// Area that the outline covers.
    pub footprint_cm2: FootprintCm2,
    /// How it is stitched.
    pub texture: ElectrodeTexture,
    /// What lies between thread and skin.
    pub skin: SkinWord,
    /// Part of the footprint that touches; the middle of what is usual where nothing is given.
    pub touching_share: Option<PlainTouchingShare>,
    /// Thread surface towards the skin per footprint; from the texture where nothing is given.
    pub surface_gain: Option<PlainSurfaceGain>,
    /// Skin by numbers; the middle of what is usual where nothing is given.
    pub contact: Option<ContactNumbers>,
    /// Resistance of the run; 0 where nothing is given.
    pub run_ohm: Option<PlainRunOhm>,
    /// Frequencies to look at; 0.05 Hz to 100 kHz in steps of 1, 2, 5 where nothing is given.
    #[schema(min_items = 1, max_items = 501)]
    pub frequencies_hz: Option<Vec<FrequencyHz>>,
    /// What reads it; without it no loss and no noise are worked out.
    pub amplifier: Option<AmplifierNumbers>,
    /// What is read; the heart where nothing is given.
    pub signal: Option<SignalWord>,
    /// Lowest frequency of the signal; that of the signal where nothing is given.
    pub band_low_hz: Option<BandLowHz>,
    /// Highest frequency of the signal; that of the signal where nothing is given.
    pub band_high_hz: Option<BandHighHz>,
    /// The other electrode of the pair, and the hum that both pick up.
    pub pair: Option<PairNumbers>,
    /// Pulses that it passes into skin. Numbers for talking with licensed practitioners; they permit nothing.
    pub stimulation: Option<StimulationNumbers>,
}

/// How an electrode is stitched.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum ElectrodeTexture {
    /// Rows of stitches that leave a loop standing at each step.
    LoopPile {
        /// Diameter of the thread.
        thread_diameter_mm: PlainThreadDiameterMm,
        /// Distance between rows.
        row_spacing_mm: PlainRowSpacingMm,
        /// Distance between loops within a row.
        stitch_length_mm: PlainStitchLengthMm,
        /// How far a loop stands out.
        loop_height_mm: PlainLoopHeightMm,
    },
    /// Flat rows.
    Fill {
        /// Diameter of the thread.
        thread_diameter_mm: PlainThreadDiameterMm,
        /// Distance between rows.
        row_spacing_mm: PlainRowSpacingMm,
    },
}

/// What lies between thread and skin.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SkinWord {
    /// Gel, or an electrode soaked with saline.
    Gel,
    /// Sweat, or an electrode moistened with water.
    Damp,
    /// Nothing, in the first minutes after dressing.
    Dry,
}

impl From<SkinWord> for Skin {
    fn from(word: SkinWord) -> Self {
        match word {
            SkinWord::Gel => Self::Gel,
            SkinWord::Damp => Self::Damp,
            SkinWord::Dry => Self::Dry,
        }
    }
}

/// What an electrode reads.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SignalWord {
    /// The heart, at the trunk.
    Heart,
    /// A muscle at work under the skin.
    Muscle,
}

impl From<SignalWord> for BodySignal {
    fn from(word: SignalWord) -> Self {
        match word {
            SignalWord::Heart => Self::Heart,
            SignalWord::Muscle => Self::Muscle,
        }
    }
}

/// Skin and wetted thread by numbers.
#[derive(Debug, Clone, Copy, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ContactNumbers {
    /// Outer layer of the skin: resistance times area.
    pub skin_kohm_cm2: Option<PlainSkinResistance>,
    /// Outer layer of the skin: capacitance per area.
    pub skin_nf_per_cm2: Option<PlainSkinCapacitance>,
    /// Wetted thread: resistance times area.
    pub metal_kohm_cm2: Option<PlainMetalResistance>,
    /// Wetted thread: capacitance per area.
    pub metal_uf_per_cm2: Option<PlainMetalCapacitance>,
    /// Resistivity of the tissue below.
    pub tissue_ohm_m: Option<PlainTissueResistivity>,
    /// Noise of the skin under 1 cm2, beside what its impedance makes.
    pub skin_noise_uv: Option<PlainSkinNoiseUv>,
}

/// A biopotential amplifier by its numbers.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AmplifierNumbers {
    /// Resistance of each input to the reference.
    pub input_resistance_mohm: PlainInputResistanceMohm,
    /// Capacitance of each input with its lead; 0 where nothing is given.
    pub input_capacitance_pf: Option<PlainInputCapacitancePf>,
    /// Noise voltage density between the inputs; 0 where nothing is given.
    pub noise_nv_per_rthz: Option<PlainVoltageNoise>,
    /// Noise current density at each input; 0 where nothing is given.
    pub noise_fa_per_rthz: Option<PlainCurrentNoise>,
    /// Rejection of what both inputs have in common; without end where nothing is given.
    pub rejection_db: Option<PlainRejectionDb>,
}

/// How the electrodes of a pair differ, and what both pick up.
#[derive(Debug, Clone, Copy, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PairNumbers {
    /// How much larger the other one's impedance is; the middle of what is usual where nothing is given.
    pub mismatch_percent: Option<PlainMismatchPercent>,
    /// Mains voltage between body and amplifier; 25.5 where nothing is given.
    pub common_mode_mv: Option<PlainCommonModeMv>,
    /// Frequency of the mains; 50 where nothing is given.
    pub mains_hz: Option<MainsHz>,
}

/// Rectangular pulses of current.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StimulationNumbers {
    /// Height of each phase.
    pub current_ma: PlainPulseCurrentMa,
    /// Width of one phase.
    pub phase_width_us: PlainPhaseWidthUs,
    /// Pulses per second.
    pub rate_hz: PlainPulseRateHz,
    /// One phase, or two of opposite sign; 2 where nothing is given.
    #[schema(minimum = 1, maximum = 2)]
    pub phases: Option<u32>,
}

impl StimulationNumbers {
    fn pulses(&self) -> Pulses {
        Pulses { current_a: self.current_ma.0, width_s: self.phase_width_us.0, rate_hz: self.rate_hz.0, phases: self.phases.unwrap_or(2) }
    }
}

/// An electrode at work.
#[derive(Debug, Serialize, ToSchema)]
pub struct ElectrodeAnswer {
    /// The areas that count.
    pub areas: ElectrodeAreas,
    /// The elements of the circuit.
    pub circuit: CircuitAnswer,
    /// The numbers of skin and thread that were used, with their spread and source.
    pub contact: Vec<ContactAnswer>,
    /// Frequency by frequency, in the order asked.
    pub frequencies: Vec<FrequencyAnswer>,
    /// What an amplifier gets; null without one.
    pub reading: Option<ReadingAnswer>,
    /// What pulses do; null without them.
    pub stimulation: Option<StimulationAnswer>,
    /// What to know about the numbers.
    pub notes: Vec<&'static str>,
    /// Cautions that apply.
    pub cautions: Vec<ElectrodeCaution>,
}

/// The areas of an electrode.
#[derive(Debug, Serialize, ToSchema)]
pub struct ElectrodeAreas {
    /// What the outline covers.
    pub footprint_cm2: f64,
    /// Skin that is touched.
    pub touching_cm2: f64,
    /// Thread that sweat or gel joins to that skin.
    pub wetted_cm2: f64,
    /// Thread surface towards the skin per footprint.
    pub surface_gain: f64,
}

/// The elements of an electrode's circuit.
#[derive(Debug, Serialize, ToSchema)]
pub struct CircuitAnswer {
    /// Run and tissue.
    pub series_ohm: f64,
    /// Resistance of the skin's outer layer.
    pub skin_ohm: f64,
    /// Capacitance beside it.
    pub skin_nf: f64,
    /// Resistance of the wetted thread's surface.
    pub metal_ohm: f64,
    /// Capacitance beside it.
    pub metal_nf: f64,
}

/// One number of skin or thread.
#[derive(Debug, Serialize, ToSchema)]
pub struct ContactAnswer {
    /// Field that sets it.
    pub field: &'static str,
    /// Value used.
    pub value: f64,
    /// Unit.
    pub unit: &'static str,
    /// Where it may lie with a chance of 95 %; null for a given number.
    pub interval_95: Option<[f64; 2]>,
    /// Where it comes from.
    pub source: &'static str,
    /// standard, published, common practice, from memory or given.
    pub status: &'static str,
}

/// An electrode at one frequency.
#[derive(Debug, Serialize, ToSchema)]
pub struct FrequencyAnswer {
    /// Frequency.
    pub frequency_hz: f64,
    /// Length of the impedance.
    pub impedance_ohm: f64,
    /// The same at the ends of all ranges that were used: the least and the most.
    pub impedance_range_ohm: [f64; 2],
    /// Its angle.
    pub phase_deg: f64,
    /// Its real part.
    pub real_ohm: f64,
    /// Its imaginary part.
    pub imaginary_ohm: f64,
    /// What the amplifier loses of a signal; null without one.
    pub loss_percent: Option<f64>,
    /// By how much what is read runs ahead; null without an amplifier.
    pub read_out_phase_deg: Option<f64>,
}

/// What an amplifier gets of a pair of such electrodes.
#[derive(Debug, Serialize, ToSchema)]
pub struct ReadingAnswer {
    /// heart or muscle.
    pub signal: &'static str,
    /// Lowest frequency looked at.
    pub band_low_hz: f64,
    /// Highest frequency looked at.
    pub band_high_hz: f64,
    /// Largest loss within the band.
    pub worst_loss_percent: f64,
    /// Input resistance that the rule for dry electrodes asks for.
    pub needed_input_mohm: f64,
    /// How much larger the other electrode's impedance was taken.
    pub mismatch_percent: f64,
    /// Difference that the pair makes of the voltage both have at mains frequency, as a fraction.
    pub conversion: f64,
    /// What is read of the mains, by the pair and the amplifier's rejection together.
    pub hum_uv: f64,
    /// Thermal noise of the pair over the band, r.m.s.
    pub thermal_noise_uv: f64,
    /// Noise of the amplifier over the band, r.m.s.
    pub amplifier_noise_uv: f64,
    /// What the skin adds, r.m.s.
    pub skin_noise_uv: f64,
    /// All noise together, r.m.s.
    pub noise_uv: f64,
}

/// What pulses do at an electrode.
#[derive(Debug, Serialize, ToSchema)]
pub struct StimulationAnswer {
    /// Never better than measure first.
    #[schema(value_type = String)]
    pub verdict: &'static str,
    /// The verdict in a plain sentence.
    pub sentence: String,
    /// Current, r.m.s.
    pub rms_ma: f64,
    /// Current over the skin that touches, r.m.s.
    pub current_density_ma_per_cm2: f64,
    /// Published value that calls for an operator's attention, r.m.s.
    pub attention_ma_per_cm2: f64,
    /// Charge of one phase.
    pub charge_per_phase_uc: f64,
    /// The same over the skin that touches.
    pub skin_charge_uc_per_cm2: f64,
    /// The same over the wetted thread.
    pub thread_charge_uc_per_cm2: f64,
    /// Mean current that flows one way; 0 for two phases.
    pub unbalanced_ma: f64,
    /// Voltage across the electrode at the end of a phase.
    pub end_voltage_v: f64,
    /// Energy that a phase leaves in electrode and tissue.
    pub energy_mj: f64,
}

/// A caution that applies.
#[derive(Debug, Serialize, ToSchema)]
pub struct ElectrodeCaution {
    /// What it is about.
    pub subject: &'static str,
    /// The words.
    pub text: &'static str,
}

impl From<Caution> for ElectrodeCaution {
    fn from(caution: Caution) -> Self {
        Self { subject: caution.subject, text: caution.text }
    }
}

/// A number that was given, or that the library has.
#[derive(Clone, Copy)]
struct Number {
    quantity: &'static Quantity,
    given: Option<f64>,
    usual: &'static Known,
}

impl Number {
    fn value(&self) -> f64 {
        self.given.unwrap_or(self.usual.measured.value)
    }

    /// The ends of what the number may be, the smaller first.
    fn ends(&self) -> [f64; 2] {
        self.given.map_or_else(
            || {
                let (low, high) = self.usual.measured.named_limits();
                [low, high]
            },
            |x| [x, x],
        )
    }

    fn answer(&self) -> ContactAnswer {
        let edge = |si: f64| significant(self.quantity.from_si(si), DIGITS);
        let spread = self.given.is_none() && self.usual.measured.spread != Spread::Exact;
        ContactAnswer {
            field: self.quantity.field,
            value: edge(self.value()),
            unit: self.quantity.unit,
            interval_95: spread.then(|| {
                let (low, high) = self.usual.measured.interval_95();
                [edge(low), edge(high)]
            }),
            source: if self.given.is_some() { "given with the question" } else { self.usual.source },
            status: if self.given.is_some() { "given" } else { self.usual.status.word() },
        }
    }
}

/// Touching share, then the numbers of [`Contact`] in its order, then the noise of the skin.
const SHARE: usize = 0;
const NOISE: usize = 6;

impl ElectrodeQuestion {
    /// What the ranges of the schema cannot tell.
    ///
    /// # Errors
    /// A band without width, a pair without an amplifier, pulses that run into each other.
    pub fn check(&self) -> Result<(), Faults> {
        let mut inspect = Inspector::new();
        let [low, high] = self.band_hz();
        if low >= high {
            let pointer = if self.band_low_hz.is_some() { "/band_low_hz" } else { "/band_high_hz" };
            let given = format!("{} to {}", units::BAND_LOW.print(low), units::BAND_HIGH.print(high));
            inspect.refuse(pointer.into(), given, "The band has no width.", "a lowest frequency below the highest");
        }
        if self.amplifier.is_none() {
            let loose = [
                ("/pair", self.pair.is_some()),
                ("/signal", self.signal.is_some()),
                ("/band_low_hz", self.band_low_hz.is_some()),
                ("/band_high_hz", self.band_high_hz.is_some()),
            ];
            for (pointer, _) in loose.iter().filter(|(_, there)| *there) {
                inspect.refuse((*pointer).into(), "no amplifier", "Nothing reads the electrode.", "an amplifier, or leave this out");
            }
        }
        if let Some(pulses) = self.stimulation.map(|s| s.pulses()).filter(|p| p.duty() > 1.0) {
            let given = format!("current in {} % of the time", units::short(100.0 * pulses.duty()));
            inspect.refuse(
                "/stimulation/rate_hz".into(),
                given,
                "The pulses run into each other.",
                "phases x phase width x rate of at most 1",
            );
        }
        inspect.finish()
    }

    fn signal(&self) -> BodySignal {
        self.signal.map_or(BodySignal::Heart, Into::into)
    }

    fn band_hz(&self) -> [f64; 2] {
        let usual = self.signal().band().map(|known| known.measured.value);
        [self.band_low_hz.map_or(usual[0], |n| n.0), self.band_high_hz.map_or(usual[1], |n| n.0)]
    }

    fn gain(&self) -> f64 {
        self.surface_gain.map_or_else(
            || match self.texture {
                ElectrodeTexture::LoopPile { thread_diameter_mm, row_spacing_mm, stitch_length_mm, loop_height_mm } => {
                    let (row_spacing_m, stitch_length_m) = (row_spacing_mm.0, stitch_length_mm.0);
                    let pile = Texture::LoopPile { row_spacing_m, stitch_length_m, loop_height_m: loop_height_mm.0 };
                    surface_gain(pile, thread_diameter_mm.0)
                }
                ElectrodeTexture::Fill { thread_diameter_mm, row_spacing_mm } => {
                    surface_gain(Texture::Fill { row_spacing_m: row_spacing_mm.0 }, thread_diameter_mm.0)
                }
            },
            |n| n.0,
        )
    }

    fn numbers(&self) -> [Number; 7] {
        let usual = Skin::from(self.skin).contact();
        let touching = match self.texture {
            ElectrodeTexture::LoopPile { .. } => &usual.touching_pile,
            ElectrodeTexture::Fill { .. } => &usual.touching_fill,
        };
        let c = self.contact.unwrap_or_default();
        let number = |quantity, given, usual| Number { quantity, given, usual };
        [
            number(&units::TOUCHING_SHARE, self.touching_share.map(|n| n.0), touching),
            number(&units::SKIN_RESISTANCE, c.skin_kohm_cm2.map(|n| n.0), &usual.skin_ohm_m2),
            number(&units::SKIN_CAPACITANCE, c.skin_nf_per_cm2.map(|n| n.0), &usual.skin_f_per_m2),
            number(&units::METAL_RESISTANCE, c.metal_kohm_cm2.map(|n| n.0), &usual.metal_ohm_m2),
            number(&units::METAL_CAPACITANCE, c.metal_uf_per_cm2.map(|n| n.0), &usual.metal_f_per_m2),
            number(&units::TISSUE_RESISTIVITY, c.tissue_ohm_m.map(|n| n.0), &TISSUE),
            number(&units::SKIN_NOISE, c.skin_noise_uv.map(|n| n.0), &SKIN_NOISE),
        ]
    }

    fn circuit(&self, numbers: [f64; 7]) -> (Areas, Circuit) {
        let areas = Areas::new(self.footprint_cm2.0, numbers[SHARE], self.gain());
        let contact = Contact {
            skin_ohm_m2: numbers[1],
            skin_f_per_m2: numbers[2],
            metal_ohm_m2: numbers[3],
            metal_f_per_m2: numbers[4],
            tissue_ohm_m: numbers[5],
        };
        (areas, electrode_circuit(&contact, &areas, self.run_ohm.map_or(0.0, |n| n.0)))
    }

    /// Works it out; for a question that [`Self::check`] has passed.
    pub fn answer(&self) -> ElectrodeAnswer {
        let numbers = self.numbers();
        let (areas, circuit) = self.circuit(numbers.map(|n| n.value()));
        // More touching area and more capacitance: less impedance. More resistance: more.
        let corner = |least: usize| {
            let falling = [true, false, true, false, true, false, false];
            let mut values = [0.0; 7];
            for ((value, number), falling) in values.iter_mut().zip(&numbers).zip(falling) {
                *value = number.ends()[if falling { 1 - least } else { least }];
            }
            self.circuit(values).1
        };
        let corners = [corner(0), corner(1)];
        let amplifier = self
            .amplifier
            .map(|a| Amplifier { input_ohm: a.input_resistance_mohm.0, input_f: a.input_capacitance_pf.map_or(0.0, |n| n.0) });
        let frequencies: Vec<f64> =
            self.frequencies_hz.as_ref().map_or_else(|| USUAL_HZ.to_vec(), |list| list.iter().map(|f| f.0).collect());
        let pulses = self.stimulation.map(|s| s.pulses());
        let per_cm2 = units::FOOTPRINT.per_si;
        ElectrodeAnswer {
            areas: ElectrodeAreas {
                footprint_cm2: out(areas.footprint_m2 * per_cm2),
                touching_cm2: out(areas.touching_m2 * per_cm2),
                wetted_cm2: out(areas.wetted_m2 * per_cm2),
                surface_gain: out(self.gain()),
            },
            circuit: CircuitAnswer {
                series_ohm: out(circuit.series_ohm),
                skin_ohm: out(circuit.skin.ohm),
                skin_nf: out(circuit.skin.farad * 1e9),
                metal_ohm: out(circuit.metal.ohm),
                metal_nf: out(circuit.metal.farad * 1e9),
            },
            contact: numbers.iter().map(Number::answer).collect(),
            frequencies: frequencies.into_iter().map(|f| at(&circuit, &corners, amplifier.as_ref(), f)).collect(),
            reading: self.amplifier.zip(amplifier).map(|(given, amplifier)| self.reading(&circuit, &areas, &given, &amplifier)),
            stimulation: pulses.map(|pulses| pulsed(&circuit, &areas, &pulses)),
            notes: NOTES.to_vec(),
            cautions: electrode_cautions(pulses.is_some(), pulses.is_none() || amplifier.is_some()).into_iter().map(Into::into).collect(),
        }
    }

    fn reading(&self, circuit: &Circuit, areas: &Areas, given: &AmplifierNumbers, amplifier: &Amplifier) -> ReadingAnswer {
        let [low, high] = self.band_hz();
        let pair = self.pair.unwrap_or_default();
        let mismatch = pair.mismatch_percent.map_or(Skin::from(self.skin).contact().mismatch.measured.value, |n| n.0);
        let other = circuit.times(1.0 + mismatch);
        let converted = conversion(circuit, &other, amplifier, pair.mains_hz.map_or(50.0, |n| n.0));
        let rejected = given.rejection_db.map_or(0.0, |n| 10f64.powf(-n.0 / 20.0));
        let one_cm2: f64 = 1e-4;
        let sources = NoiseSources {
            voltage_v_per_rthz: given.noise_nv_per_rthz.map_or(0.0, |n| n.0),
            current_a_per_rthz: given.noise_fa_per_rthz.map_or(0.0, |n| n.0),
            skin_v: self.numbers()[NOISE].value() * (one_cm2 / areas.touching_m2).sqrt(),
            temperature_k: SKIN_K,
        };
        let noise = noise_v(&[*circuit, other], low, high, &sources);
        let uv = |v: f64| out(v * 1e6);
        ReadingAnswer {
            signal: self.signal().word(),
            band_low_hz: low,
            band_high_hz: high,
            worst_loss_percent: out(100.0 * worst_loss(circuit, amplifier, low, high)),
            needed_input_mohm: out(needed_input_ohm(&circuit.skin) / 1e6),
            mismatch_percent: out(100.0 * mismatch),
            conversion: out(converted),
            hum_uv: uv(pair.common_mode_mv.map_or(COMMON_MODE.measured.value, |n| n.0) * (converted + rejected)),
            thermal_noise_uv: uv(noise.thermal_v),
            amplifier_noise_uv: uv(noise.amplifier_v),
            skin_noise_uv: uv(noise.skin_v),
            noise_uv: uv(noise.total_v),
        }
    }
}

const NOTES: [&str; 3] = [
    "Skin has no single capacitance: at high frequency it acts like a smaller one than at low frequency.",
    "Movement of the electrode disturbs far more than the noise given here.",
    "The range of the impedance takes every number of skin and thread at its worse end at once.",
];

fn at(circuit: &Circuit, corners: &[Circuit; 2], amplifier: Option<&Amplifier>, frequency_hz: f64) -> FrequencyAnswer {
    let z = circuit.impedance(frequency_hz);
    let got = amplifier.map(|a| read_out(circuit, a, frequency_hz));
    FrequencyAnswer {
        frequency_hz,
        impedance_ohm: out(z.norm()),
        impedance_range_ohm: corners.map(|c| out(c.impedance(frequency_hz).norm())),
        phase_deg: out(z.arg().to_degrees()),
        real_ohm: out(z.re),
        imaginary_ohm: out(z.im),
        loss_percent: got.map(|r| out(100.0 * r.loss)),
        read_out_phase_deg: got.map(|r| out(r.phase_rad.to_degrees())),
    }
}

fn pulsed(circuit: &Circuit, areas: &Areas, pulses: &Pulses) -> StimulationAnswer {
    let s = stimulation(circuit, areas, pulses);
    let density = units::CURRENT_DENSITY.from_si(s.density_a_per_m2);
    let attention = units::CURRENT_DENSITY.from_si(CURRENT_DENSITY_A_PER_M2);
    let over = density > attention;
    let text = units::CURRENT_DENSITY.print(s.density_a_per_m2);
    StimulationAnswer {
        verdict: if over { Verdict::OutOfReach } else { Verdict::MeasureFirst }.word(),
        sentence: if over {
            format!("{text} r.m.s. is above the {attention} mA/cm2 that call for an operator's attention: out of reach as described.")
        } else {
            format!("{text} r.m.s. if the current spreads evenly, which nobody has measured: measure first, with those licensed to do it.")
        },
        rms_ma: out(s.rms_a * 1e3),
        current_density_ma_per_cm2: out(density),
        attention_ma_per_cm2: attention,
        charge_per_phase_uc: out(s.charge_c * 1e6),
        skin_charge_uc_per_cm2: out(units::PHASE_CHARGE.from_si(s.skin_charge_c_per_m2)),
        thread_charge_uc_per_cm2: out(units::PHASE_CHARGE.from_si(s.metal_charge_c_per_m2)),
        unbalanced_ma: out(s.unbalanced_a * 1e3),
        end_voltage_v: out(s.end_v),
        energy_mj: out(s.energy_j * 1e3),
    }
}

fn out(value: f64) -> f64 {
    significant(value, DIGITS)
}

impl Readable for ElectrodeQuestion {
    const SCHEMA: &'static str = "ElectrodeQuestion";
}
