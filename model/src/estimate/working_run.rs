//! The working of a run, of the way into its pad, and of settling: the steps of a pad's working that
//! [`crate::conduction`] stands behind.
//!
//! Values are in the units a practitioner writes (mm, ohm, pF, us), at the best estimates.

use super::Stitch;
use super::pad::{PadChain, PadDetails};
use super::run::PadWayDetails;
use super::working::Writer;
use crate::conduction::{End, in_use};
use crate::electrostatics::CrossSection;
use crate::units::short;

impl Writer<'_> {
    pub(super) fn run(&mut self, d: &PadDetails, stitch: &Stitch) {
        let run = &d.run;
        let length = run.length_m * 1e3;
        let formula = match stitch {
            Stitch::Running { .. } => "n = L/s rounded up",
            Stitch::Back { .. } => "n = 3 (L/s rounded up)",
            Stitch::Satin { .. } => "n = 2 (L/density rounded up)",
        };
        self.step(
            "n",
            "stitches of one pass",
            formula,
            &[("L", length, "mm"), ("s", run.seam.stitch_length_actual_m * 1e3, "mm")],
            (run.seam.stitches, ""),
            "definition of the stitch kinds",
            Some("s is the stitch length as it comes out".into()),
        );
        self.step(
            "L_top",
            "top thread of one pass",
            "span + 2 f t n",
            &[("n", run.seam.stitches, ""), ("f", run.interlace, ""), ("t", run.sewn_m * 1e3, "mm"), ("L", length, "mm")],
            (run.seam.top_thread_m * 1e3, "mm"),
            "lockstitch with rectangular section, 2 + 2 T S for both threads; textile costing text",
            Some("span: the way along the cloth, L for running stitches, 3 L for back stitches, n times the stitch for satin".into()),
        );
        self.thread_in_use(d);
        let used = in_use(&d.thread, &d.state);
        self.step(
            "R_top",
            "top thread of one pass",
            "r_use L_top",
            &[("r_use", used, "ohm/m"), ("L_top", run.seam.top_thread_m * 1e3, "mm")],
            (run.resistance.top_ohm, "ohm"),
            "Ohm's law",
            None,
        );
        self.resistance(d);
        let (symbol, measure) = match d.cross_section {
            CrossSection::Strip { width_m } => ("w", width_m),
            CrossSection::Thread { diameter_m } => ("2r", diameter_m),
        };
        self.step(
            "C'_run",
            "run to ground per metre",
            d.line.method.formula(),
            &[(symbol, measure * 1e3, "mm"), ("h", d.line.height_m * 1e3, "mm"), ("er", d.line.series_permittivity, "")],
            (d.line.per_m_f * 1e12, "pF/m"),
            d.line.method.source(),
            Some(format!(
                "{} {} %; passes over one line count as one thread of their section",
                if d.line.method.is_solved() { "solved, within" } else { "error bound" },
                short(d.line.accuracy.relative_error * 100.0)
            )),
        );
        self.step(
            "C_run",
            "run to ground",
            "C'_run L",
            &[("C'_run", d.line.per_m_f * 1e12, "pF/m"), ("L", length, "mm")],
            (d.charging.run_f * 1e12, "pF"),
            "definition",
            None,
        );
    }

    /// The thread as it is used: warm, washed, stretched.
    fn thread_in_use(&mut self, d: &PadDetails) {
        let (thread, state) = (&d.thread, &d.state);
        let mut inputs = vec![
            ("r", thread.linear_resistance_ohm_per_m, "ohm/m"),
            ("alpha", thread.temperature_coefficient_per_k, "1/K"),
            ("T", state.temperature_k - 273.15, "degrees C"),
        ];
        let washed = state.washes > 0.0;
        if washed {
            inputs.extend([("growth", thread.growth_per_wash, ""), ("washes", state.washes, "")]);
        }
        let stretched = state.stretch > 0.0;
        if stretched {
            inputs.extend([("factor", thread.stretch_factor, ""), ("stretch", state.stretch, "")]);
        }
        let formula = match (washed, stretched) {
            (false, false) => "r (1 + alpha (T - 20))",
            (true, false) => "r (1 + alpha (T - 20)) (1 + growth)^washes",
            (false, true) => "r (1 + alpha (T - 20)) (1 + factor stretch)",
            (true, true) => "r (1 + alpha (T - 20)) (1 + growth)^washes (1 + factor stretch)",
        };
        let note = washed.then(|| {
            "the growth of one wash is taken to compound; its spread is carried along to first order, so after many washes the interval reaches too low and not high enough".into()
        });
        self.step(
            "r_use",
            "thread in use",
            formula,
            &inputs,
            (in_use(thread, state), "ohm/m"),
            "temperature rule as in IEC 60028:1925 (second-hand); compounding and stretch own",
            note,
        );
    }

    fn resistance(&mut self, d: &PadDetails) {
        let r = &d.run.resistance;
        let Some(ladder) = r.passes.ladder() else {
            self.step(
                "R_run",
                "resistance of the run",
                "R_top/passes",
                &[("R_top", r.top_ohm, "ohm"), ("passes", f64::from(d.passes), "")],
                (r.run_ohm, "ohm"),
                "Ohm's law",
                Some("the bobbin does not conduct; passes lie in parallel".into()),
            );
            return;
        };
        let n = f64::from(ladder.stitches);
        let tied = r.passes.ends[1] == End::Tied;
        self.step(
            "R_run",
            "resistance of the run: two threads joined at every penetration",
            if tied {
                "(N R1 R2/R + R1^2 (1 - e^(-2qN))/((1 + e^(-q(2N+1))) (e^q - 1) R))/passes, R = R1 + R2, cosh q = 1 + R/(2 c)"
            } else {
                "(N R1 R2/R + 2 R1^2 (1 - e^(-qN))/((1 + e^(-q(N+1))) (e^q - 1) R))/passes, R = R1 + R2, cosh q = 1 + R/(2 c)"
            },
            &[
                ("N", n, ""),
                ("R1", ladder.top_ohm, "ohm"),
                ("R2", ladder.bobbin_ohm, "ohm"),
                ("c", ladder.contact_ohm, "ohm"),
                ("passes", f64::from(d.passes), ""),
            ],
            (r.run_ohm, "ohm"),
            "difference equation of the ladder; the reference table's closed form for ends on the top thread",
            Some(format!(
                "R1, R2: one step of the line in either thread; the threads share their current over {} mm; by the rule 'both threads in parallel' the run would resist {} ohm, {} % less; the three threads of a back stitch count as joined in every hole",
                short(ladder.transfer_stitches() * d.run.length_m / n * 1e3),
                short(r.parallel_ohm),
                short(100.0 * (1.0 - r.parallel_ohm / r.run_ohm).max(0.0)),
            )),
        );
    }

    /// The mean way from the end of the run into the pad.
    pub(super) fn pad_way(&mut self, d: &PadDetails) {
        let ohm = d.charging.pad_ohm;
        let what = "mean way from the end of the run into the pad";
        match d.pad_way {
            PadWayDetails::Thread { whole_ohm } => self.step(
                "R_pad",
                what,
                "R_rows/3",
                &[("R_rows", whole_ohm, "ohm")],
                (ohm, "ohm"),
                "an even load along a line: its first moment is a third of the line's resistance; own",
                Some("R_rows: the thread of all rows, area over row spacing, with its legs; rows count as apart".into()),
            ),
            PadWayDetails::Rows { fill } => self.step(
                "R_pad",
                what,
                "sum of i^2 R of the network of rows, turns and contacts, 1 A in at the start, drawn off evenly",
                &[
                    ("rows", f64::from(fill.rows), ""),
                    ("stitches in a row", f64::from(fill.stitches_per_row), ""),
                    ("stitch", fill.stitch_ohm, "ohm"),
                    ("turn", fill.turn_ohm, "ohm"),
                    ("contact between rows", fill.contact_ohm, "ohm"),
                ],
                (ohm, "ohm"),
                "nodal analysis; own",
                Some("solved; nothing to repeat by hand; never above a third of the thread alone".into()),
            ),
            PadWayDetails::Cloth { sheet_ohm_sq, squares } => self.step(
                "R_pad",
                what,
                "R_sheet (ln(a/e) + 1/8)/pi",
                &[("R_sheet", sheet_ohm_sq, "ohm in a square"), ("(ln(a/e) + 1/8)/pi", squares, "")],
                (ohm, "ohm"),
                "disc with a contact on its rim, own; any outline as the disc of its area",
                Some("e: the last stitches of the run, taken to reach 2.5 mm".into()),
            ),
        }
    }

    pub(super) fn settling(&mut self, worked: &PadChain) {
        let d = &worked.details;
        let line = &d.charging;
        let inputs = [
            ("R_s", line.source_ohm, "ohm"),
            ("R_run", line.run_ohm, "ohm"),
            ("R_pad", line.pad_ohm, "ohm"),
            ("C_run", line.run_f * 1e12, "pF"),
            ("C_load", line.load_f * 1e12, "pF"),
        ];
        self.step(
            "T_E",
            "Elmore time of the touched pad",
            "R_s (C_run + C_load) + R_run (C_run/2 + C_load) + R_pad C_load",
            &inputs,
            (line.elmore_s() * 1e6, "us"),
            "Elmore 1948, J. Appl. Phys. 19, 55",
            Some(format!("R_s: driver and terminal, of which the terminal {} ohm", short(d.run.contact_ohm))),
        );
        let mut with_time = vec![("t", d.charge_time_s * 1e6, "us")];
        with_time.extend(inputs);
        self.step(
            "q",
            "share of the final charge reached in time",
            "1 - sum of 2 exp(-p^2 t/(R C))/((1 + c) p^2 (1 + r^2 p^2) F'), p + atan(r p) + atan2(c p, 1 - c w p^2) = F = pi/2 + n pi, r = R_s/R, c = C_load/C, w = R_pad/R",
            &with_time,
            (worked.settled.value * 100.0, "%"),
            "exact response of the uniform line, own derivation; without R_pad the pole sum of Sakurai 1983, IEEE J. Solid-State Circuits 18(4) 418",
            Some("by hand: 1 - exp(-t/T_E) is close".into()),
        );
    }
}
