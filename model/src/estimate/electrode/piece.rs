//! An electrode of a piece: what the customer wants on skin, in SI, and what can be wrong with it.

use super::super::piece::Inspector;
use super::super::{Run, Shape, ThreadChoice};
use crate::electrode::Texture;
use crate::materials::{BodySignal, Library, Skin};
use crate::uncertainty::Measured;
use crate::units::{self, Quantity};

/// Largest number of electrodes of a piece.
pub const MOST_ELECTRODES: usize = 64;

/// A stitched area on skin, with its run.
#[derive(Debug, Clone, PartialEq)]
pub struct Electrode {
    /// What it is called; `electrode 1` and so on where nothing is given.
    pub name: Option<String>,
    /// What it is for.
    pub kind: ElectrodeKind,
    /// Outline.
    pub shape: Shape,
    /// How it is stitched.
    pub texture: ElectrodeTexture,
    /// Thread of electrode and run.
    pub thread: ThreadChoice,
    /// Conductor from the electrode to its device.
    pub run: Run,
    /// What lies between thread and skin.
    pub skin: Skin,
    /// Thread surface towards the skin per footprint; from the texture where nothing is given.
    pub surface_gain: Option<Measured>,
    /// Part of the footprint that touches; assumed by skin and texture where nothing is given.
    pub touching_share: Option<Measured>,
    /// Skin by numbers; what is left out is assumed.
    pub contact: ContactChoice,
    /// How the garment holds it.
    pub fit: Fit,
    /// What a reading electrode reads; the heart where nothing is given.
    pub signal: Option<BodySignal>,
    /// Height of the signal, V.
    pub signal_v: Option<Measured>,
    /// Lowest frequency of the signal.
    pub band_low_hz: Option<f64>,
    /// Highest frequency of the signal.
    pub band_high_hz: Option<f64>,
    /// What a reading electrode is joined to.
    pub amplifier: AmplifierChoice,
    /// How unlike the other electrode of the pair is, and what both pick up.
    pub pair: Pair,
    /// What a stimulating electrode passes.
    pub pulses: Option<PulseChoice>,
}

/// What an electrode is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ElectrodeKind {
    /// It reads a voltage of the body.
    Reads,
    /// It passes current into the body.
    Stimulates,
}

impl ElectrodeKind {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Reads => "reads",
            Self::Stimulates => "stimulates",
        }
    }
}

/// How an electrode is stitched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ElectrodeTexture {
    /// Rows of stitches that leave a loop standing at each step.
    LoopPile {
        /// Distance between rows, m.
        row_spacing_m: Measured,
        /// Distance between loops within a row, m.
        stitch_length_m: Measured,
        /// How far a loop stands out, m.
        loop_height_m: Measured,
    },
    /// Flat rows.
    Fill {
        /// Distance between rows, m.
        row_spacing_m: Measured,
        /// Stitch length within a row, m.
        stitch_length_m: Measured,
    },
}

impl ElectrodeTexture {
    /// The word for it on every surface.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::LoopPile { .. } => "loop_pile",
            Self::Fill { .. } => "fill",
        }
    }

    /// Distance between rows and stitch length within a row, m.
    pub const fn rows(&self) -> [Measured; 2] {
        match *self {
            Self::LoopPile { row_spacing_m, stitch_length_m, .. } | Self::Fill { row_spacing_m, stitch_length_m } => {
                [row_spacing_m, stitch_length_m]
            }
        }
    }

    /// Its geometry at the best values.
    pub(super) fn geometry(&self) -> Texture {
        match self {
            Self::LoopPile { row_spacing_m, stitch_length_m, loop_height_m } => Texture::LoopPile {
                row_spacing_m: row_spacing_m.value,
                stitch_length_m: stitch_length_m.value,
                loop_height_m: loop_height_m.value,
            },
            Self::Fill { row_spacing_m, .. } => Texture::Fill { row_spacing_m: row_spacing_m.value },
        }
    }
}

/// Skin and wetted thread by numbers, SI.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ContactChoice {
    /// Outer layer of the skin: resistance times area.
    pub skin_ohm_m2: Option<Measured>,
    /// Outer layer of the skin: capacitance per area.
    pub skin_f_per_m2: Option<Measured>,
    /// Wetted thread: resistance times area.
    pub metal_ohm_m2: Option<Measured>,
    /// Wetted thread: capacitance per area.
    pub metal_f_per_m2: Option<Measured>,
    /// Resistivity of the tissue below.
    pub tissue_ohm_m: Option<Measured>,
    /// Noise of the skin under 1 cm2, V r.m.s.
    pub skin_noise_v: Option<Measured>,
}

/// How the garment holds an electrode: a pressure, or a band that makes one. Assumed where neither is given.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fit {
    /// Contact pressure, Pa.
    pub pressure_pa: Option<Measured>,
    /// Tension of the band, N.
    pub tension_n: Option<Measured>,
    /// Width of the band, m.
    pub band_width_m: Option<Measured>,
    /// Girth of the body where it lies, m.
    pub girth_m: Option<Measured>,
}

/// A biopotential amplifier by its numbers, SI; what is left out is assumed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct AmplifierChoice {
    /// Resistance of each input to the reference, ohm.
    pub input_ohm: Option<Measured>,
    /// Capacitance of each input with its lead, F.
    pub input_f: Option<Measured>,
    /// Noise voltage density between the inputs, V per root hertz.
    pub noise_v_per_rthz: Option<Measured>,
    /// Noise current density at each input, A per root hertz.
    pub noise_a_per_rthz: Option<Measured>,
    /// Rejection of what both inputs have in common, dB.
    pub rejection_db: Option<Measured>,
}

/// The two electrodes of a pair, SI; what is left out is assumed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Pair {
    /// How much larger the other one's impedance is, as a fraction.
    pub mismatch: Option<Measured>,
    /// Mains voltage between body and amplifier, V.
    pub common_mode_v: Option<Measured>,
    /// Frequency of the mains; 50 where nothing is given.
    pub mains_hz: Option<f64>,
}

/// Rectangular pulses of current, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct PulseChoice {
    /// Height of each phase, A.
    pub current_a: Measured,
    /// Width of one phase, s.
    pub width_s: Measured,
    /// Pulses per second.
    pub rate_hz: Measured,
    /// One phase, or two of opposite sign.
    pub phases: u32,
    /// Charge of a phase per area that the thread bears, C/m2; assumed where nothing is given.
    pub max_charge_c_per_m2: Option<Measured>,
}

impl Electrode {
    /// Frequencies that matter, low and high, Hz.
    pub(super) fn band_hz(&self) -> [f64; 2] {
        let usual = self.signal.unwrap_or(BodySignal::Heart).band().map(|known| known.measured.value);
        [self.band_low_hz.unwrap_or(usual[0]), self.band_high_hz.unwrap_or(usual[1])]
    }

    pub(in super::super) fn check(&self, inspect: &mut Inspector, library: &Library, k: usize) {
        let at = |tail: &str| format!("/electrodes/{k}{tail}");
        inspect.text(self.name.as_deref(), || at("/name"));
        self.shape.check(inspect, || at("/shape"));
        self.thread.check(inspect, library, || at("/thread"));
        self.run.check(inspect, at);
        let [row_spacing, stitch_length] = self.texture.rows();
        inspect.measured(&units::ROW_SPACING, &row_spacing, || at("/texture/row_spacing_mm"));
        inspect.measured(&units::STITCH_LENGTH, &stitch_length, || at("/texture/stitch_length_mm"));
        if let ElectrodeTexture::LoopPile { loop_height_m, .. } = &self.texture {
            inspect.measured(&units::LOOP_HEIGHT, loop_height_m, || at("/texture/loop_height_mm"));
        }
        let (c, f, a, p) = (&self.contact, &self.fit, &self.amplifier, &self.pair);
        let optional: [(&'static str, &'static Quantity, &Option<Measured>); 20] = [
            ("", &units::SURFACE_GAIN, &self.surface_gain),
            ("", &units::TOUCHING_SHARE, &self.touching_share),
            ("", &units::SIGNAL_HEIGHT, &self.signal_v),
            ("/contact", &units::SKIN_RESISTANCE, &c.skin_ohm_m2),
            ("/contact", &units::SKIN_CAPACITANCE, &c.skin_f_per_m2),
            ("/contact", &units::METAL_RESISTANCE, &c.metal_ohm_m2),
            ("/contact", &units::METAL_CAPACITANCE, &c.metal_f_per_m2),
            ("/contact", &units::TISSUE_RESISTIVITY, &c.tissue_ohm_m),
            ("/contact", &units::SKIN_NOISE, &c.skin_noise_v),
            ("/fit", &units::PRESSURE, &f.pressure_pa),
            ("/fit", &units::TENSION, &f.tension_n),
            ("/fit", &units::BAND_WIDTH, &f.band_width_m),
            ("/fit", &units::GIRTH, &f.girth_m),
            ("/amplifier", &units::INPUT_RESISTANCE, &a.input_ohm),
            ("/amplifier", &units::INPUT_CAPACITANCE, &a.input_f),
            ("/amplifier", &units::VOLTAGE_NOISE, &a.noise_v_per_rthz),
            ("/amplifier", &units::CURRENT_NOISE, &a.noise_a_per_rthz),
            ("/amplifier", &units::REJECTION, &a.rejection_db),
            ("/pair", &units::MISMATCH, &p.mismatch),
            ("/pair", &units::COMMON_MODE, &p.common_mode_v),
        ];
        for (part, quantity, given) in optional {
            inspect.optional(quantity, given.as_ref(), || at(&format!("{part}/{}", quantity.field)));
        }
        for (pointer, quantity, given) in [
            ("/band_low_hz", &units::BAND_LOW, self.band_low_hz),
            ("/band_high_hz", &units::BAND_HIGH, self.band_high_hz),
            ("/pair/mains_hz", &units::MAINS, p.mains_hz),
        ] {
            if let Some(si) = given {
                inspect.number(quantity, si, || at(pointer));
            }
        }
        self.check_fit(inspect, k);
        match self.kind {
            ElectrodeKind::Reads => self.check_reading(inspect, k),
            ElectrodeKind::Stimulates => self.check_pulses(inspect, k),
        }
    }

    fn check_fit(&self, inspect: &mut Inspector, k: usize) {
        let f = &self.fit;
        let band = [("tension_n", &f.tension_n), ("band_width_mm", &f.band_width_m), ("girth_mm", &f.girth_m)];
        let given = band.iter().filter(|(_, number)| number.is_some()).count();
        if f.pressure_pa.is_some() {
            for (field, _) in band.iter().filter(|(_, number)| number.is_some()) {
                inspect.refuse(
                    format!("/electrodes/{k}/fit/{field}"),
                    "a band beside a pressure",
                    "The pressure is given already.",
                    "a pressure, or tension, width and girth of a band",
                );
            }
        } else if given > 0 {
            for (field, _) in band.iter().filter(|(_, number)| number.is_none()) {
                inspect.refuse(
                    format!("/electrodes/{k}/fit/{field}"),
                    "nothing",
                    "A band presses by its tension, its width and the girth of the body together.",
                    "a number",
                );
            }
        }
    }

    fn check_reading(&self, inspect: &mut Inspector, k: usize) {
        if self.pulses.is_some() {
            inspect.refuse(
                format!("/electrodes/{k}/stimulation"),
                "pulses",
                "An electrode that reads passes no current.",
                "leave it out, or the kind stimulates",
            );
        }
        let [low, high] = self.band_hz();
        if low >= high {
            let field = if self.band_low_hz.is_some() { "band_low_hz" } else { "band_high_hz" };
            let given = format!("{} to {}", units::BAND_LOW.print(low), units::BAND_HIGH.print(high));
            inspect.refuse(format!("/electrodes/{k}/{field}"), given, "The band has no width.", "a lowest frequency below the highest");
        }
    }

    fn check_pulses(&self, inspect: &mut Inspector, k: usize) {
        let at = |tail: &str| format!("/electrodes/{k}{tail}");
        let of_reading = [
            ("/signal", self.signal.is_some()),
            ("/signal_mv", self.signal_v.is_some()),
            ("/band_low_hz", self.band_low_hz.is_some()),
            ("/band_high_hz", self.band_high_hz.is_some()),
            ("/amplifier", self.amplifier != AmplifierChoice::default()),
            ("/pair", self.pair != Pair::default()),
        ];
        for (field, _) in of_reading.iter().filter(|(_, there)| *there) {
            let allowed = "leave it out, or the kind reads";
            inspect.refuse(at(field), "given", "This belongs to an electrode that reads.", allowed);
        }
        let Some(pulses) = &self.pulses else {
            let allowed = "current, phase width and rate of its pulses";
            inspect.refuse(at("/stimulation"), "nothing", "An electrode that stimulates needs its pulses.", allowed);
            return;
        };
        for (quantity, given) in
            [(&units::PULSE_CURRENT, &pulses.current_a), (&units::PHASE_WIDTH, &pulses.width_s), (&units::PULSE_RATE, &pulses.rate_hz)]
        {
            inspect.measured(quantity, given, || at(&format!("/stimulation/{}", quantity.field)));
        }
        inspect.optional(&units::MAX_CHARGE, pulses.max_charge_c_per_m2.as_ref(), || at("/stimulation/max_charge_uc_per_cm2"));
        inspect.number(&units::PHASES, f64::from(pulses.phases), || at("/stimulation/phases"));
        let duty = f64::from(pulses.phases) * pulses.width_s.value * pulses.rate_hz.value;
        if duty > 1.0 {
            inspect.refuse(
                at("/stimulation/rate_hz"),
                format!("current in {} % of the time", units::short(100.0 * duty)),
                "The pulses run into each other.",
                "phases x phase width x rate of at most 1",
            );
        }
    }
}
