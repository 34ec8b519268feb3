//! The working of a laid wire, step by step, for a practitioner to repeat.

use super::chain::{LaidWireChain, laid_wire_chain};
use super::piece::{CourseChoice, LaidWire};
use crate::estimate::pad::PieceChain;
use crate::estimate::working::{Step, Writer};
use crate::estimate::{Feature, Piece};
use crate::units::{self, short};

/// Adds the steps of every laid wire of a piece.
pub(in super::super) fn laid_wire_steps(piece: &Piece, chain: &PieceChain<'_>, steps: &mut Vec<Step>) {
    for (k, wire) in piece.laid_wires.iter().enumerate() {
        let worked = laid_wire_chain(chain, k, wire);
        let mut writer = Writer { feature: Feature::LaidWire(k), steps };
        way(&mut writer, wire, &worked);
        resistance(&mut writer, &worked);
    }
}

fn way(w: &mut Writer<'_>, wire: &LaidWire, worked: &LaidWireChain) {
    let d = &worked.details;
    let length = worked.length_m.value * 1e3;
    let (formula, inputs) = match &wire.course {
        CourseChoice::Straight { .. } => ("L as given", vec![]),
        CourseChoice::Path { points_m } => ("sum of the straight pieces", vec![("points", points_m.len() as f64, "")]),
        CourseChoice::Meander { width_m, height_m, spacing_m } => (
            "n w + (n - 1) s (pi/2 - 1), n = 1 + h/s rounded down",
            vec![
                ("w", width_m.value * 1e3, "mm"),
                ("h", height_m.value * 1e3, "mm"),
                ("s", spacing_m.value * 1e3, "mm"),
                ("n", d.laid.rows, ""),
            ],
        ),
    };
    w.step("L", "length of what is laid", formula, &inputs, (length, "mm"), "own geometry", None);
    w.step(
        "n_z",
        "stitches of the zigzag that holds it",
        "2 (L/advance rounded up)",
        &[("L", length, "mm"), ("width", d.hold.width_m * 1e3, "mm")],
        (d.hold.stitches, ""),
        "definition of the satin column",
        Some("width: over all and twice the distance to the needle".into()),
    );
    if let Some(kg_per_m) = d.kg_per_m {
        w.step(
            "m",
            "mass of what is laid",
            "m' L",
            &[("m'", kg_per_m * 1e3, "g/m"), ("L", length, "mm")],
            (kg_per_m * worked.length_m.value * 1e3, "g"),
            "section times density; a covering counts as PVC, 1300 kg/m3, where no mass is told",
            None,
        );
    }
}

fn resistance(w: &mut Writer<'_>, worked: &LaidWireChain) {
    let (Some(values), Some(c)) = (&worked.wire, &worked.details.conductor) else { return };
    let length = worked.length_m.value;
    let mut inputs = vec![
        ("R'", c.ohm_per_m, "ohm/m"),
        ("L", length * 1e3, "mm"),
        ("alpha", c.coefficient_per_k, "1/K"),
        ("T", units::TEMPERATURE.from_si(c.ambient_k), "degrees C"),
    ];
    if let Some(area) = c.area_m2 {
        inputs.push(("section", area * 1e6, "mm2"));
    }
    let note = c.largest.map(|(ohm_per_m, status)| {
        format!("IEC 60228 allows {} ohm for this length at 20 degrees C ({})", short(ohm_per_m * length), status.word())
    });
    w.step("R", "resistance of the wire in use", "R' L (1 + alpha (T - 20))", &inputs, (values.ohm.value, "ohm"), c.source, note);
    let Some(h) = &values.heat else { return };
    let power = h.power_w.value;
    let mut inputs = vec![("I", h.current_a * 1e3, "mA"), ("R", values.ohm.value, "ohm")];
    if let Some(area) = worked.details.laid.area_m2 {
        inputs.push(("area", area * 100.0, "dm2"));
    }
    let per_area = worked.details.laid.area_m2.map(|m2| format!("{} W/dm2", short(power / m2 / 100.0)));
    w.step("P", "heating power", "I^2 R", &inputs, (power, "W"), "Joule's law", per_area);
    w.step(
        "T_wire",
        "no warmer than this, in still air",
        "cloth as a fin with convection and radiation from its free sides, poorly conducting and giving off little",
        &[("T0", units::TEMPERATURE.from_si(h.ambient_k), "degrees C"), ("P'", power / length, "W/m")],
        (units::TEMPERATURE.from_si(h.warm_k.value), "degrees C"),
        "McAdams 1954, Heat Transmission (level faces); fin of even section, any textbook",
        Some(format!("bounds of the rise: {} to {} K", short(h.rise.low_k), short(h.rise.high_k))),
    );
}
