//! A row of a sheet that is an electrode.

use super::feature::TextureKind;
use super::{Draft, FILL_STITCH_MM, Reader};
use toile_model::materials::{BodySignal, Skin};
use toile_model::units::{self, Quantity};
use toile_model::{
    AmplifierChoice, ContactChoice, Electrode, ElectrodeKind, ElectrodeTexture, Fit, Measured, Pair, PulseChoice, Run, ThreadChoice,
};

/// What the cells of an electrode say. SI.
#[derive(Debug, Default)]
pub(in super::super) struct ElectrodeDraft {
    pub(in super::super) kind: Option<ElectrodeKind>,
    pub(in super::super) texture: Option<TextureKind>,
    pub(in super::super) loop_height: Option<Measured>,
    pub(in super::super) skin: Option<Skin>,
    pub(in super::super) touching_share: Option<Measured>,
    pub(in super::super) surface_gain: Option<Measured>,
    pub(in super::super) contact: ContactChoice,
    pub(in super::super) fit: Fit,
    pub(in super::super) signal: Option<BodySignal>,
    pub(in super::super) signal_v: Option<Measured>,
    pub(in super::super) band_low_hz: Option<f64>,
    pub(in super::super) band_high_hz: Option<f64>,
    pub(in super::super) amplifier: AmplifierChoice,
    pub(in super::super) pair: Pair,
    pub(in super::super) pulse_current: Option<Measured>,
    pub(in super::super) phase_width: Option<Measured>,
    pub(in super::super) pulse_rate: Option<Measured>,
    pub(in super::super) phases: Option<u32>,
    pub(in super::super) max_charge: Option<Measured>,
}

impl Reader<'_> {
    /// The electrode of a row; its thread and run are read already.
    pub(super) fn electrode(&mut self, draft: &mut Draft, thread: ThreadChoice, run: Run) -> Electrode {
        let d = std::mem::take(&mut draft.electrode);
        // Reading is not taken for granted: a row that forgets to say that it stimulates must not pass for one that reads.
        let kind = self.needed_word(d.kind, "electrode_use", "reads, stimulates").unwrap_or(ElectrodeKind::Reads);
        let skin = self.needed_word(d.skin, "skin", "gel, damp, dry").unwrap_or(Skin::Dry);
        Electrode {
            name: draft.name.take(),
            kind,
            shape: self.shape(draft),
            texture: self.texture(draft, d.texture, d.loop_height),
            thread,
            run,
            skin,
            surface_gain: d.surface_gain,
            touching_share: d.touching_share,
            pulses: self.pulses(&d, kind),
            contact: d.contact,
            fit: d.fit,
            signal: d.signal,
            signal_v: d.signal_v,
            band_low_hz: d.band_low_hz,
            band_high_hz: d.band_high_hz,
            amplifier: d.amplifier,
            pair: d.pair,
        }
    }

    fn needed_word<T>(&mut self, given: Option<T>, column: &'static str, allowed: &str) -> Option<T> {
        if given.is_none() {
            self.refuse(column, 0, "An electrode needs this word, and the row gives none.", allowed);
        }
        given
    }

    /// Loops stand where the row gives their height, unless it says otherwise.
    fn texture(&mut self, draft: &Draft, kind: Option<TextureKind>, loop_height: Option<Measured>) -> ElectrodeTexture {
        let row_spacing_m = self.needed(draft.row_spacing, "row_spacing_mm", &units::ROW_SPACING, "An electrode");
        let stitch_length_m = draft.fill_stitch_length.unwrap_or(Measured::exact(units::STITCH_LENGTH.to_si(FILL_STITCH_MM)));
        let loops = loop_height.is_some() || self.is_faulty("loop_height_mm", 0);
        match kind.unwrap_or(if loops { TextureKind::LoopPile } else { TextureKind::Fill }) {
            TextureKind::Fill => {
                self.not_here(loops, "loop_height_mm", "A loop height belongs to the texture loop_pile.");
                ElectrodeTexture::Fill { row_spacing_m, stitch_length_m }
            }
            TextureKind::LoopPile => {
                let loop_height_m = self.needed(loop_height, "loop_height_mm", &units::LOOP_HEIGHT, "A loop pile");
                ElectrodeTexture::LoopPile { row_spacing_m, stitch_length_m, loop_height_m }
            }
        }
    }

    /// The pulses that a row names by any of its columns, or must name because it stimulates; then it must name them whole.
    fn pulses(&mut self, d: &ElectrodeDraft, kind: ElectrodeKind) -> Option<PulseChoice> {
        let needed: [(Option<Measured>, &'static str, &Quantity); 3] = [
            (d.pulse_current, "pulse_current_ma", &units::PULSE_CURRENT),
            (d.phase_width, "phase_width_us", &units::PHASE_WIDTH),
            (d.pulse_rate, "pulse_rate_hz", &units::PULSE_RATE),
        ];
        if kind == ElectrodeKind::Reads {
            let more = [(d.max_charge.is_some(), "max_charge_uc_per_cm2"), (d.phases.is_some(), "pulse_phases")];
            for (given, column) in needed.iter().map(|(number, column, _)| (number.is_some(), *column)).chain(more) {
                self.not_here(given, column, "An electrode that reads passes no current.");
            }
            return None;
        }
        // Stand-ins for what is missing must not run into each other, or one fault would bring a second.
        let mut pulse = |k: usize| {
            let (number, column, quantity) = &needed[k];
            let high = self.needed(*number, column, quantity, "An electrode that stimulates");
            number.unwrap_or(if k == 0 { high } else { Measured::exact(quantity.to_si(quantity.low)) })
        };
        Some(PulseChoice {
            current_a: pulse(0),
            width_s: pulse(1),
            rate_hz: pulse(2),
            phases: d.phases.unwrap_or(2),
            max_charge_c_per_m2: d.max_charge,
        })
    }
}
