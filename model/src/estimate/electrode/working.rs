//! The working of an electrode, step by step, for a practitioner to repeat.

use super::chain::{ReadingDetails, electrode_chain, hum_v};
use super::piece::{Electrode, ElectrodeTexture};
use crate::electrode::{Pulses, Stimulation, spreading_ohm};
use crate::estimate::pad::PieceChain;
use crate::estimate::working::{Step, StepInput};
use crate::estimate::{Feature, Piece};
use crate::units::short;

const TEXTBOOK: &str = "any textbook on circuits";

struct Writer<'a> {
    feature: Feature,
    steps: &'a mut Vec<Step>,
}

type Inputs<'a> = &'a [(&'static str, f64, &'static str)];

impl Writer<'_> {
    fn step(
        &mut self,
        (symbol, what): (&'static str, &'static str),
        formula: &'static str,
        inputs: Inputs<'_>,
        (result, unit): (f64, &'static str),
        source: &'static str,
        note: Option<String>,
    ) {
        let inputs = inputs.iter().map(|&(symbol, value, unit)| StepInput { symbol, value, unit }).collect();
        self.steps.push(Step { feature: Some(self.feature), symbol, what, formula, inputs, result, unit, source, note });
    }
}

/// Adds the steps of every electrode of a piece.
pub(in super::super) fn electrode_steps(piece: &Piece, chain: &PieceChain<'_>, steps: &mut Vec<Step>) {
    for (k, electrode) in piece.electrodes.iter().enumerate() {
        one(chain, k, electrode, steps);
    }
}

fn one(chain: &PieceChain<'_>, k: usize, electrode: &Electrode, steps: &mut Vec<Step>) {
    let worked = electrode_chain(chain, k, electrode);
    let d = &worked.details;
    let mut w = Writer { feature: Feature::Electrode(k), steps };
    let cm2 = |m2: f64| m2 * 1e4;
    let diameter = ("d", worked.stitch.thread_diameter_m.value * 1e3, "mm");
    if electrode.surface_gain.is_none() {
        let [row, stitch] = electrode.texture.rows();
        let (p, s) = (("p", row.value * 1e3, "mm"), ("s", stitch.value * 1e3, "mm"));
        let (formula, inputs) = match electrode.texture {
            ElectrodeTexture::LoopPile { loop_height_m, .. } => {
                ("pi d (2 h + s) / (s p)", vec![diameter, p, s, ("h", loop_height_m.value * 1e3, "mm")])
            }
            ElectrodeTexture::Fill { .. } => ("pi d / (2 p), p no less than d", vec![diameter, p]),
        };
        w.step(
            ("g", "thread surface towards the skin, per footprint"),
            formula,
            &inputs,
            (d.surface_gain, ""),
            "own geometry",
            Some("pressed loops hide part of themselves: taken within 40 %".into()),
        );
    }
    w.step(
        ("A_touch", "skin that is touched"),
        "A share",
        &[("A", cm2(d.areas.footprint_m2), "cm2"), ("share", d.touching_share, "")],
        (cm2(d.areas.touching_m2), "cm2"),
        "definition",
        None,
    );
    w.step(
        ("R_tissue", "tissue below the electrode, taken for a disc of its area"),
        "rho / (4 sqrt(A/pi))",
        &[("rho", d.contact.tissue_ohm_m, "ohm m"), ("A", cm2(d.areas.footprint_m2), "cm2")],
        (spreading_ohm(d.contact.tissue_ohm_m, d.areas.footprint_m2), "ohm"),
        "Holm, Electric Contacts (1967), from memory; exact for a disc on a half space",
        None,
    );
    let c = &d.circuit;
    for (names, formula, inputs, result) in [
        (
            ("R_skin", "outer layer of the skin"),
            "r / A_touch",
            [("r", d.contact.skin_ohm_m2 * 10.0, "kohm cm2"), ("A_touch", cm2(d.areas.touching_m2), "cm2")],
            (c.skin.ohm / 1e3, "kohm"),
        ),
        (
            ("C_skin", "capacitance beside it"),
            "c A_touch",
            [("c", d.contact.skin_f_per_m2 * 1e5, "nF/cm2"), ("A_touch", cm2(d.areas.touching_m2), "cm2")],
            (c.skin.farad * 1e9, "nF"),
        ),
        (
            ("R_metal", "surface of the wetted thread"),
            "r / (g A_touch)",
            [("r", d.contact.metal_ohm_m2 * 10.0, "kohm cm2"), ("g A_touch", cm2(d.areas.wetted_m2), "cm2")],
            (c.metal.ohm / 1e3, "kohm"),
        ),
        (
            ("C_metal", "capacitance beside it"),
            "c g A_touch",
            [("c", d.contact.metal_f_per_m2 * 100.0, "uF/cm2"), ("g A_touch", cm2(d.areas.wetted_m2), "cm2")],
            (c.metal.farad * 1e6, "uF"),
        ),
    ] {
        w.step(names, formula, &inputs, result, "definition", None);
    }
    if let Some(reading) = &d.reading {
        let f = reading.band_hz[0];
        let z = c.impedance(f);
        w.step(
            ("|Z|", "impedance at the low end of the band"),
            "Z = R_run + R_tissue + R_skin/(1 + j w R_skin C_skin) + R_metal/(1 + j w R_metal C_metal), w = 2 pi f",
            &[
                ("f", f, "Hz"),
                ("R_run", d.run_ohm, "ohm"),
                ("R_tissue", c.series_ohm - d.run_ohm, "ohm"),
                ("R_skin", c.skin.ohm, "ohm"),
                ("C_skin", c.skin.farad * 1e9, "nF"),
                ("R_metal", c.metal.ohm, "ohm"),
                ("C_metal", c.metal.farad * 1e9, "nF"),
            ],
            (z.norm(), "ohm"),
            TEXTBOOK,
            Some(format!("real part {} ohm, imaginary part {} ohm", short(z.re), short(z.im))),
        );
        w.reading(reading, [z.re, z.im]);
    }
    if let Some((pulses, s)) = &d.pulses {
        w.pulses(pulses, s, cm2(d.areas.touching_m2), cm2(d.areas.wetted_m2));
    }
    if let (Some(tension), Some(width), Some(girth)) = (electrode.fit.tension_n, electrode.fit.band_width_m, electrode.fit.girth_m) {
        w.step(
            ("p", "pressure of the band"),
            "2 pi T / (w U)",
            &[("T", tension.value, "N"), ("w", width.value * 1e3, "mm"), ("U", girth.value * 1e3, "mm")],
            (worked.pressure_pa.value / 1e3, "kPa"),
            "law of Laplace for a cylinder, any textbook",
            Some("no body is a cylinder: flat places press less, bony ones more".into()),
        );
    }
}

impl Writer<'_> {
    fn reading(&mut self, r: &ReadingDetails, [real, imaginary]: [f64; 2]) {
        let uv = |v: f64| (v * 1e6, "uV");
        let [low, high] = r.band_hz;
        let (r_in, c_in) = (("R_in", r.amplifier.input_ohm / 1e6, "Mohm"), ("C_in", r.amplifier.input_f * 1e12, "pF"));
        self.step(
            ("loss", "part of the signal that is lost at the low end of the band"),
            "1 - 1/|1 + Z (1/R_in + j w C_in)|",
            &[("Re Z", real, "ohm"), ("Im Z", imaginary, "ohm"), ("f", low, "Hz"), r_in, c_in],
            (100.0 * r.low.loss, "%"),
            "voltage divider, any textbook",
            Some(format!("what is read runs ahead by {} degrees there", short(r.low.phase_rad.to_degrees()))),
        );
        self.step(
            ("V_noise", "noise of the pair, the amplifier and the skin, r.m.s."),
            "sqrt(4 k T (integral of Re Z) + e^2 B + i^2 (integral of |Z|^2) + 2 n^2), integrals over the band, of both electrodes",
            &[
                ("f_low", low, "Hz"),
                ("f_high", high, "Hz"),
                ("T", r.sources.temperature_k, "K"),
                ("thermal part", r.noise.thermal_v * 1e6, "uV"),
                ("amplifier's part", r.noise.amplifier_v * 1e6, "uV"),
                ("n", r.sources.skin_v * 1e6, "uV"),
            ],
            uv(r.noise.total_v),
            "Nyquist 1928; skin after Huigen, Peper, Grimbergen 2002 (read in the abstract), falling as the square root of the area",
            Some("movement is not in it and disturbs far more".into()),
        );
        self.step(
            ("m", "difference that the pair makes of what both have"),
            "|1/(1 + Z Y) - 1/(1 + (1 + delta) Z Y)|, Y = 1/R_in + j w C_in, at mains frequency",
            &[("delta", 100.0 * r.mismatch, "%"), ("f", r.mains_hz, "Hz"), r_in, c_in],
            (1e6 * r.conversion, "uV/V"),
            "two voltage dividers, any textbook",
            None,
        );
        self.step(
            ("V_hum", "what is read of the mains"),
            "V_cm (m + 10^(-CMR/20))",
            &[("V_cm", r.common_mode_v * 1e3, "mV"), ("m", 1e6 * r.conversion, "uV/V"), ("CMR", r.rejection_db, "dB")],
            uv(hum_v(r)),
            "definition; both parts as if they came at once",
            None,
        );
        self.step(
            ("R_rule", "input resistance that the rule for dry electrodes asks for"),
            "the greater of 60 R_skin and 25 s / C_skin",
            &[],
            (r.needed_input_ohm / 1e6, "Mohm"),
            "Maji and Burke 2020, read in the abstract",
            None,
        );
    }

    fn pulses(&mut self, pulses: &Pulses, s: &Stimulation, touching_cm2: f64, wetted_cm2: f64) {
        let (i, w) = (("I", pulses.current_a * 1e3, "mA"), ("w", pulses.width_s * 1e6, "us"));
        self.step(
            ("I_rms", "current, r.m.s."),
            "I sqrt(phases w rate)",
            &[i, ("phases", f64::from(pulses.phases), ""), w, ("rate", pulses.rate_hz, "Hz")],
            (s.rms_a * 1e3, "mA"),
            "any textbook",
            None,
        );
        self.step(
            ("J", "current density over the skin that touches, r.m.s."),
            "I_rms / A_touch",
            &[("I_rms", s.rms_a * 1e3, "mA"), ("A_touch", touching_cm2, "cm2")],
            (s.density_a_per_m2 * 0.1, "mA/cm2"),
            "the 2 mA/cm2 that call for an operator's attention: IEC 60601-2-10:2012, 201.7.9.2, read in a reprint",
            Some("as if the current spread evenly; at a lifted edge it can be several times as dense. No limit of safety".into()),
        );
        self.step(
            ("q", "charge of a phase over the wetted thread"),
            "I w / (g A_touch)",
            &[i, w, ("g A_touch", wetted_cm2, "cm2")],
            (s.metal_charge_c_per_m2 * 100.0, "uC/cm2"),
            "definition",
            Some(format!("{} uC in all; {} mA flow one way", short(s.charge_c * 1e6), short(s.unbalanced_a * 1e3))),
        );
        self.step(
            ("V_end", "voltage across the electrode at the end of the first phase"),
            "I (R_run + R_tissue + R_skin (1 - exp(-w/(R_skin C_skin))) + R_metal (1 - exp(-w/(R_metal C_metal))))",
            &[i, w],
            (s.end_v, "V"),
            TEXTBOOK,
            Some("skin conducts better under strong current, so that less voltage shows".into()),
        );
    }
}
