//! The working of a light row, step by step, for a practitioner to repeat.

use super::chain::{LightRowChain, light_row_chain};
use super::piece::LightRow;
use crate::estimate::pad::PieceChain;
use crate::estimate::working::{Step, Writer};
use crate::estimate::{Feature, Piece};
use crate::lights::Feed;
use crate::units::{self, short};

const TEXTBOOK: &str = "any textbook on circuits";

/// Adds the steps of every light row of a piece.
pub(in super::super) fn light_row_steps(piece: &Piece, chain: &PieceChain<'_>, steps: &mut Vec<Step>) {
    for (k, row) in piece.light_rows.iter().enumerate() {
        // A row whose currents are not found has no estimate either.
        if let Ok(worked) = light_row_chain(chain, k, row) {
            one(&mut Writer { feature: Feature::LightRow(k), steps }, row, &worked);
        }
    }
}

fn one(w: &mut Writer<'_>, row: &LightRow, worked: &LightRowChain) {
    let d = &worked.details;
    let v = &d.values;
    runs(w, worked);
    let light = &v.light;
    w.step(
        "U(I)",
        "voltage of a light with its resistor at its least current",
        "m ln(1 + I/Is) + R I",
        &[
            ("m", light.emission_voltage_v * 1e3, "mV"),
            ("Is", light.saturation_current_a, "A"),
            ("R", light.series_ohm, "ohm"),
            ("I", d.least_current_a * 1e3, "mA"),
        ],
        (worked.needed_v.value, "V"),
        "diode equation, Shockley 1949, Bell Syst. Tech. J. 28, 435",
        Some(format!("R: resistor {} ohm, contacts {} ohm, the rest inside the light", short(v.series_ohm), short(v.contact_ohm))),
    );
    let n = f64::from(row.lights);
    let (dimmest, brightest) = (d.lit.dimmest(), d.lit.brightest());
    let tied = match row.feed {
        Feed::Same => "both runs tied at the first light",
        Feed::Opposite => "feed tied at the first light, return at the last",
        Feed::BothEnds => "both runs tied at both ends",
    };
    let inputs = [
        ("N", n, ""),
        ("U0", v.supply_v, "V"),
        ("R0", v.source_ohm, "ohm"),
        ("feed segment", v.feed.segment_ohm, "ohm"),
        ("return segment", v.back.segment_ohm, "ohm"),
        ("feed lead near", v.feed.near_ohm, "ohm"),
        ("feed lead far", v.feed.far_ohm, "ohm"),
        ("return lead near", v.back.near_ohm, "ohm"),
        ("return lead far", v.back.far_ohm, "ohm"),
    ];
    let how = "currents of the network of runs and diodes: Kirchhoff's laws, Newton's method";
    let ma = |a: f64| (a * 1e3, "mA");
    let note = format!("light {}; {tied}; solved, within {}", dimmest + 1, short(d.lit.relative_error));
    w.step("I_min", "current of the dimmest light", how, &inputs, ma(d.lit.current_a[dimmest]), TEXTBOOK, Some(note));
    let note = format!("light {}", brightest + 1);
    w.step("I_max", "current of the brightest light", how, &inputs, ma(d.lit.current_a[brightest]), TEXTBOOK, Some(note));
    w.step(
        "I_min/I_max",
        "evenness",
        "dimmest over brightest",
        &[("I_min", d.lit.current_a[dimmest] * 1e3, "mA"), ("I_max", d.lit.current_a[brightest] * 1e3, "mA")],
        (100.0 * worked.spread.value, "%"),
        "definition",
        None,
    );
    let of_empty = d.empty_v.zip(d.lit_empty.as_ref()).map(|(volt, _)| format!("from the empty supply of {} V", short(volt)));
    let note = of_empty.unwrap_or_else(|| "from the supply as given".into());
    w.step("U_min", "voltage of the dimmest light with its resistor", how, &inputs, (worked.light_v.value, "V"), TEXTBOOK, Some(note));
    let parts = [d.lit.lights_w(), d.lit.run_loss_w, d.lit.source_loss_w].map(|watt| watt * 1e3);
    w.step(
        "P",
        "power drawn from the supply: lights, runs, supply itself",
        "P_lights + P_runs + P_source = U0 I",
        &[("P_lights", parts[0], "mW"), ("P_runs", parts[1], "mW"), ("P_source", parts[2], "mW"), ("U0", v.supply_v, "V")],
        (1e3 * v.supply_v * d.lit.supply_a, "mW"),
        TEXTBOOK,
        Some(format!("I = {} mA", short(d.lit.supply_a * 1e3))),
    );
    if let Some(life) = d.life {
        w.step(
            "t",
            "time that the battery lasts",
            "share Q / I",
            &[("Q", units::CAPACITY.from_si(life.capacity_c), "mAh"), ("share", life.usable_share, ""), ("I", d.lit.supply_a * 1e3, "mA")],
            (life.life_s.unwrap_or(0.0) / 3600.0, "h"),
            "definition of the current",
            Some("at an even current; a cell gives less when it is cold, old or drawn hard".into()),
        );
    }
    warmth(w, worked);
}

fn runs(w: &mut Writer<'_>, worked: &LightRowChain) {
    let d = &worked.details;
    for (symbol, what, segment) in
        [("R_feed", "feed from light to light", &d.segments[0]), ("R_return", "return from light to light", &d.segments[1])]
    {
        let passes = f64::from(segment.passes.passes);
        let mut inputs = vec![("R_top", segment.top_ohm, "ohm"), ("passes", passes, ""), ("n", d.stitches_per_segment, "")];
        let formula = match segment.bobbin_ohm {
            Some(bobbin) => {
                inputs.extend([("R_bobbin", bobbin, "ohm"), ("c", segment.passes.contact_ohm, "ohm")]);
                "ladder of two threads over n stitches, ends on the top thread, over passes"
            }
            None => "R_top/passes",
        };
        let length = format!("over {} mm, as a run of a pad is worked out", short(d.pitch_m * 1e3));
        w.step(symbol, what, formula, &inputs, (segment.run_ohm, "ohm"), "Ohm's law; difference equation of the ladder", Some(length));
    }
}

fn warmth(w: &mut Writer<'_>, worked: &LightRowChain) {
    let d = &worked.details;
    let h = &d.heat;
    w.step(
        "P'",
        "heat per length at the warmest place of the runs",
        "I^2 R_segment/pitch",
        &[("I", h.current_a * 1e3, "mA"), ("pitch", d.pitch_m * 1e3, "mm")],
        (h.power_w_per_m, "W/m"),
        TEXTBOOK,
        None,
    );
    w.step(
        "T",
        "no warmer than this, in still air",
        "cloth as a fin with convection and radiation from its free sides, poorly conducting and giving off little",
        &[("T0", units::TEMPERATURE.from_si(h.ambient_k), "degrees C"), ("P'", h.power_w_per_m, "W/m")],
        (units::TEMPERATURE.from_si(worked.warm_k.value), "degrees C"),
        "McAdams 1954, Heat Transmission (level faces); fin of even section, any textbook",
        Some(format!("bounds of the rise: {} to {} K; a broken stitch is hotter", short(h.rise.low_k), short(h.rise.high_k))),
    );
}
