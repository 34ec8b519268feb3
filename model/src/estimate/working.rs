//! The working of an estimate, step by step, for a practitioner to repeat.

use super::pad::{PadChain, PadDetails, PieceChain};
use super::production::production_of;
use super::production_working::production_steps;
use super::{Feature, GroundKind, Piece, TouchCase};
use crate::electrostatics::{DiscTerm, Layer, Medium, Method, disc_terms, published};
use crate::materials::Library;
use crate::uncertainty::{Linear, normal_chance};
use crate::units::short;
use crate::verdict::Bound;

/// One step.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The feature it belongs to.
    pub feature: Option<Feature>,
    /// Symbol of the result.
    pub symbol: &'static str,
    /// What it is.
    pub what: &'static str,
    /// Formula or name of the method.
    pub formula: &'static str,
    /// What goes in.
    pub inputs: Vec<StepInput>,
    /// Result in `unit`.
    pub result: f64,
    /// Unit of the result.
    pub unit: &'static str,
    /// Where the formula comes from.
    pub source: &'static str,
    /// What to know about it.
    pub note: Option<String>,
}

/// An input of a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepInput {
    /// Symbol in the formula.
    pub symbol: &'static str,
    /// Value in `unit`.
    pub value: f64,
    /// Unit.
    pub unit: &'static str,
}

/// The working of a piece that [`super::estimate`] has accepted: for every pad how its capacitances, its run, its
/// signal, its settling and the chances of its checks were worked out, at the best estimates; and of the whole, how its
/// price was.
///
/// Values are in the units a practitioner writes (mm, pF, ohm, us); eps0 = 8.8541878128 pF/m throughout.
pub fn working(piece: &Piece, library: &Library) -> Vec<Step> {
    let chain = PieceChain::new(piece, library);
    let mut steps = Vec::new();
    for (k, (pad, worked)) in piece.pads.iter().zip(chain.pads()).enumerate() {
        let mut writer = Writer { feature: Feature::Pad(k), steps: &mut steps };
        writer.stack(&chain);
        writer.pad_capacitance(&chain, &worked.details);
        writer.hand_check(&chain, &worked.details);
        writer.run(&worked.details, &pad.run.sewn());
        writer.pad_way(&worked.details);
        writer.touch(&worked.details, piece);
        writer.settling(&worked);
        writer.chances(&chain, &worked);
    }
    super::electrode::electrode_steps(piece, &chain, &mut steps);
    super::light_row::light_row_steps(piece, &chain, &mut steps);
    super::laid_wire::laid_wire_steps(piece, &chain, &mut steps);
    // A piece whose price cannot be counted has no estimate either.
    steps.extend(production_of(piece, library).iter().flat_map(production_steps));
    steps
}

const EPS0_PF_PER_MM: f64 = crate::units::VACUUM_PERMITTIVITY * 1e9;

pub(super) struct Writer<'a> {
    pub(super) feature: Feature,
    pub(super) steps: &'a mut Vec<Step>,
}

type Inputs<'a> = &'a [(&'static str, f64, &'static str)];

impl Writer<'_> {
    #[allow(clippy::too_many_arguments, reason = "a step is one line of a worked table; its columns are these")]
    pub(super) fn step(
        &mut self,
        symbol: &'static str,
        what: &'static str,
        formula: &'static str,
        inputs: Inputs<'_>,
        (result, unit): (f64, &'static str),
        source: &'static str,
        note: Option<String>,
    ) {
        let inputs = inputs.iter().map(|&(symbol, value, unit)| StepInput { symbol, value, unit }).collect();
        self.steps.push(Step { feature: Some(self.feature), symbol, what, formula, inputs, result, unit, source, note });
    }

    fn stack(&mut self, chain: &PieceChain<'_>) {
        let (base, overlay) = chain.layers();
        for (layers, symbol, what) in [(base, "er_base", "base layers in series"), (overlay, "er_overlay", "overlay layers in series")] {
            if layers.is_empty() {
                continue;
            }
            let inputs: Vec<_> = layers.iter().flat_map(|[t, e]| [("t", t.value * 1e3, "mm"), ("er", e.value, "")]).collect();
            let (thickness, elastance) = layers.iter().fold((0.0, 0.0), |(a, b), [t, e]| (a + t.value, b + t.value / e.value));
            self.step(
                symbol,
                what,
                "sum t / sum (t/er)",
                &inputs,
                (thickness / elastance, ""),
                "any textbook; exact in one dimension",
                None,
            );
        }
    }

    fn pad_capacitance(&mut self, chain: &PieceChain<'_>, d: &PadDetails) {
        let pad = &d.pad;
        let (area, perimeter) = (pad.area_m2 * 1e6, pad.perimeter_m * 1e3);
        if let Some(rows) = d.rows {
            self.step(
                "delta",
                "how much further than the thread axes the even plate lies that stands for the rows",
                "delta = (p/2 pi) ln(p/(2 pi r)) - p (pi x^2/2)/(1 + 2.704 x^2 - 2.727 x^4), x = r/p; near the ground in its image form",
                &[("p", rows.row_spacing_m * 1e3, "mm"), ("2r", rows.thread_diameter_m * 1e3, "mm")],
                (pad.row_offset_m * 1e3, "mm"),
                Method::RowGrating.source(),
                Some("negative: the rows act as a plate nearer than their axes".into()),
            );
        }
        if pad.plate_f > 0.0 {
            self.step(
                "C_plate",
                "parallel-plate part of the pad",
                "eps0 er A / h",
                &[
                    ("er", pad.series_permittivity, ""),
                    ("A", area, "mm2"),
                    ("h", pad.effective_height_m * 1e3, "mm"),
                    ("eps0", EPS0_PF_PER_MM, "pF/mm"),
                ],
                (pad.plate_f * 1e12, "pF"),
                "any textbook",
                None,
            );
        }
        let sums = self.disc_sums(chain, d);
        let mut inputs = sums.to_vec();
        inputs.extend([("a", pad.disc_radius_m * 1e3, "mm"), ("eps0", EPS0_PF_PER_MM, "pF/mm")]);
        if pad.disc_count != 1.0 {
            let disc = "C_disc";
            let formula = Method::TwoChargeDisc.formula();
            self.step(
                disc,
                "one of the discs that stand for the outline",
                formula,
                &inputs,
                (pad.disc_f * 1e12, "pF"),
                Method::TwoChargeDisc.source(),
                None,
            );
            inputs = vec![
                (disc, pad.disc_f * 1e12, "pF"),
                ("N", pad.disc_count, ""),
                ("area", area, "mm2"),
                ("perimeter", perimeter, "mm"),
                ("a", pad.disc_radius_m * 1e3, "mm"),
                ("a_free", pad.free_radius_m * 1e3, "mm"),
                ("elastance between the discs", pad.mutual_elastance_per_f * 1e-12, "1/pF"),
            ];
        }
        let range = if pad.accuracy.valid { "" } else { ", outside the measured range" };
        let total_f = d.field.coefficients_f[2];
        let solved = d.field.method.is_solved();
        self.step(
            if solved { "C_pad by hand" } else { "C_pad" },
            if solved { "pad to ground by the closed form, for checking by hand" } else { "pad to ground with its fringe" },
            pad.method.formula(),
            &inputs,
            (pad.total_f * 1e12, "pF"),
            pad.method.source(),
            Some(format!("error bound {} %{range}", short(pad.accuracy.relative_error * 100.0))),
        );
        if solved {
            self.solved("C_pad", "pad to ground with its fringe", d.field.method, total_f, d.field.pad_error);
        }
        self.step(
            "C_fringe",
            "fringe of the pad",
            "C_pad - C_plate",
            &[("C_pad", total_f * 1e12, "pF"), ("C_plate", pad.plate_f * 1e12, "pF")],
            ((total_f - pad.plate_f) * 1e12, "pF"),
            "difference",
            None,
        );
    }

    /// A step that no pencil repeats: what was solved, and how well.
    fn solved(&mut self, symbol: &'static str, what: &'static str, method: Method, farad: f64, bound: f64) {
        let note = format!("solved, within {} %; nothing to repeat by hand, the closed form beside it is", short(bound * 100.0));
        self.step(symbol, what, method.formula(), &[], (farad * 1e12, "pF"), method.source(), Some(note));
    }

    /// The three sums behind a disc, every weight and impedance written out.
    fn disc_sums(&mut self, chain: &PieceChain<'_>, d: &PadDetails) -> [(&'static str, f64, &'static str); 3] {
        type Weight = fn(&DiscTerm) -> f64;
        let layers = |list: &[[Linear; 2]]| -> Vec<Layer> {
            list.iter().map(|[t, e]| Layer { thickness_m: t.value, relative_permittivity: e.value }).collect()
        };
        let (base, overlay) = chain.layers();
        let (base, overlay) = (layers(base), layers(overlay));
        let medium = Medium { ground: chain.ground(), base: &base, overlay: &overlay };
        let (terms, low_end) = disc_terms(&medium, d.rows, d.pad.disc_radius_m);
        let weights: [(&'static str, &'static str, Weight); 3] = [
            ("Auu", "uniform charge on the uniform one", |t| t.weight_uniform),
            ("Aue", "uniform charge on the edge-loaded one", |t| t.weight_cross),
            ("Aee", "edge-loaded charge on itself", |t| t.weight_edge),
        ];
        weights.map(|(symbol, what, weight)| {
            let sum = low_end + terms.iter().map(|t| weight(t) * t.impedance).sum::<f64>();
            let mut inputs: Vec<_> = terms.iter().flat_map(|t| [("w", weight(t), ""), ("Z", t.impedance, "")]).collect();
            if low_end != 0.0 {
                inputs.push(("below the first wavenumber", low_end, ""));
            }
            let formula = "sum w Z, Z = 1/(Y_below + Y_above) at the wavenumbers 2^(n-5)/a, n = 0 to 17";
            let note = "Y of a pile of layers: from far to near, Y = e (Y + e tanh(k t))/(e + Y tanh(k t)), starting with 1 for air, e coth(k t) over ground";
            self.step(symbol, what, formula, &inputs, (sum, ""), Method::TwoChargeDisc.source(), Some(note.into()));
            (symbol, sum, "")
        })
    }

    /// For a round pad over one kind of base with nothing above it, the published form gives the same within its own
    /// error; with an overlay it shows what the overlay adds.
    fn hand_check(&mut self, chain: &PieceChain<'_>, d: &PadDetails) {
        let crate::electrostatics::Outline::Round { diameter_m } = d.outline else { return };
        let (a, h, er) = (diameter_m / 2.0, d.pad.effective_height_m, d.pad.series_permittivity);
        if d.pad.plate_f <= 0.0 || !(0.0..=0.5).contains(&(h / a)) {
            return;
        }
        let (base, overlay) = chain.layers();
        let alike = base.windows(2).all(|w| w[0][1].value == w[1][1].value);
        let note = match (overlay.is_empty(), alike) {
            (true, true) => "for one base layer and air above: within 1 % where h/a is 0.5 or less",
            (true, false) => "for comparison: takes the base layers as one of their series permittivity",
            (false, _) => "for comparison: leaves the overlay out, so it lies lower",
        };
        self.step(
            "C_check",
            "hand check of the pad",
            "(eps0 er pi a^2/h) {1 + (2h/(pi er a)) [ln(a/(2h)) + 1.41 er + 1.77 + (h/a)(0.268 er + 1.65)]}",
            &[("a", a * 1e3, "mm"), ("h", h * 1e3, "mm"), ("er", er, "")],
            (published::disc_over_grounded_layer(a, h, er) * 1e12, "pF"),
            "Chew & Kong 1980, IEEE Trans. MTT-28(2) 98-104 (coefficients from memory, confirmed numerically)",
            Some(note.into()),
        );
    }

    fn touch(&mut self, d: &PadDetails, piece: &Piece) {
        let t = &d.touch;
        let pf = 1e12;
        let solved = d.field.method.is_solved();
        let [pad_finger_f, touched_f, untouched_f, finger_ground_f] = d.field.coefficients_f;
        self.step(
            if solved { "C_PF by hand" } else { "C_PF" },
            if solved { "pad to finger by the closed form, for checking by hand" } else { "pad to finger through the overlay" },
            t.method.formula(),
            &[
                ("fingertip", d.finger_m * 1e3, "mm"),
                ("C(finger, pad's plane as ground)", t.finger_over_plane_f * pf, "pF"),
                ("C(pad, finger's plane as ground)", t.pad_under_plane_f * pf, "pF"),
                ("s_up", t.share_up, ""),
                ("s_down", t.share_down, ""),
            ],
            (t.pad_finger_f * pf, "pF"),
            t.method.source(),
            Some(format!("error bound {} %", short(t.pad_finger_error * 100.0))),
        );
        if solved {
            self.solved("C_PF", "pad to finger through the overlay", d.field.method, pad_finger_f, d.field.finger_error);
        }
        let mut inputs = vec![
            ("C_FG", finger_ground_f * pf, "pF"),
            ("body to supply", d.way.body_to_supply_f * pf, "pF"),
            ("C_FE", d.way.body_to_earth_f * pf, "pF"),
        ];
        let formula = match d.way.supply_to_earth_f {
            Some(supply) => {
                inputs.push(("C_GE", supply * pf, "pF"));
                "C_FG + body to supply + C_FE C_GE/(C_FE + C_GE)"
            }
            None => "C_FG + body to supply + C_FE (the supply is earthed)",
        };
        debug_assert_eq!(piece.touch.case == TouchCase::Earthed, d.way.supply_to_earth_f.is_none());
        self.step(
            "C_ret",
            "way back from the finger to circuit ground",
            formula,
            &inputs,
            (d.return_f * pf, "pF"),
            "capacitances in series and side by side",
            None,
        );
        let over_body = piece.stack.ground == GroundKind::Body;
        let shared = [
            ("C_PF", pad_finger_f * pf, "pF"),
            ("C_ret", d.return_f * pf, "pF"),
            ("C_PG touched", touched_f * pf, "pF"),
            ("C_PG untouched", untouched_f * pf, "pF"),
            ("C_run", d.charging.run_f * pf, "pF"),
        ];
        let (formula, note) = if over_body {
            (
                "(C_PF + C_PG touched + C_run) in series with C_ret, less (C_PG untouched + C_run) in series with C_ret",
                "the body under the base is the one that touches",
            )
        } else {
            ("C_PF C_ret/(C_PF + C_ret) + C_PG touched - C_PG untouched", "the finger also shades the pad from ground")
        };
        self.step(
            "S",
            "signal of a touch",
            formula,
            if over_body { &shared } else { &shared[..4] },
            (d.signal_f * pf, "pF"),
            "reduction of the Maxwell matrix by the floating body",
            Some(note.into()),
        );
        let formula = if over_body { "(C_PG untouched + C_run) in series with C_ret" } else { "C_PG untouched + C_run" };
        self.step(
            "C_stand",
            "standing capacitance",
            formula,
            &[shared[3], shared[4], shared[1]][..if over_body { 3 } else { 2 }],
            (d.standing_f * pf, "pF"),
            "capacitances side by side and in series",
            None,
        );
    }

    fn chances(&mut self, chain: &PieceChain<'_>, worked: &PadChain) {
        let c = &chain.shared.controller;
        let rows: [(&'static str, &Linear, &Linear, Bound, f64, &'static str); 4] = [
            ("chance of the signal", &worked.signal_f, &c.needed_signal_f, Bound::AtLeast, 1e12, "pF"),
            ("chance of the standing capacitance", &worked.standing_f, &c.max_standing_f, Bound::AtMost, 1e12, "pF"),
            ("chance of the settling", &worked.settled, &c.settled_fraction, Bound::AtLeast, 100.0, "%"),
            ("chance of the run resistance", &worked.run_ohm, &c.max_run_ohm, Bound::AtMost, 1.0, "ohm"),
        ];
        for (what, predicted, needed, bound, scale, unit) in rows {
            let margin = bound.margin(predicted, needed);
            let u = margin.standard_uncertainty();
            self.step(
                "P",
                what,
                "Phi(margin/u), u = sqrt(sum (c_i u_i)^2)",
                &[
                    ("predicted", predicted.value * scale, unit),
                    ("needed", needed.value * scale, unit),
                    ("margin", margin.value * scale, unit),
                    ("u", u * scale, unit),
                ],
                (normal_chance(margin.value, u) * 100.0, "%"),
                "JCGM 100:2008 (GUM), 5.1.2, first order; normal distribution",
                None,
            );
        }
    }
}
