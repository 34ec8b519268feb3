//! Small pieces for examples and tests.

use crate::electrostatics::Aim;
use crate::estimate::{
    Bobbin, ControllerChoice, Fill, GroundKind, LayerChoice, Machine, Order, Pad, Piece, Run, Shape, Stack, ThreadChoice, Touch, TouchCase,
};
use crate::uncertainty::Measured;

/// One round pad of `diameter_mm` in silver-coated thread, on 3 mm of wool felt over a ground sheet, under 1.2 mm of
/// felt, with a run of 180 mm in two passes, a patient input and a battery supply.
pub fn round_pad(diameter_mm: f64) -> Piece {
    let felt = |mm: f64| LayerChoice {
        library: Some("wool-felt".into()),
        thickness_m: Some(Measured::normal(mm / 1e3, mm / 1e4)),
        ..Default::default()
    };
    Piece {
        name: None,
        quantity: 1,
        stack: Stack {
            ground: GroundKind::Sheet,
            base: vec![felt(3.0)],
            overlay: vec![felt(1.2)],
            sewn_thickness_m: None,
            opening_diameter_m: None,
        },
        pads: vec![Pad {
            name: None,
            shape: Shape::Round { diameter_m: Measured::exact(diameter_mm / 1e3) },
            centre_m: None,
            rotation_rad: 0.0,
            thread: ThreadChoice { library: Some("silver-polyamide-40-tex".into()), ..Default::default() },
            fill: Some(Fill { row_spacing_m: Measured::exact(0.8e-3), stitch_length_m: Measured::exact(3e-3) }),
            run: Run {
                length_m: Measured::exact(0.18),
                passes: 2,
                stitch: None,
                bobbin: Bobbin::Plain,
                interlace_fraction: None,
                contact_resistance_ohm: None,
            },
            guard: None,
        }],
        controller: ControllerChoice { library: Some("patient-input".into()), ..Default::default() },
        touch: Touch::assumed(TouchCase::Battery),
        temperature_k: None,
        machine: Machine::default(),
        aim: Aim::USUAL,
        production: Order::default(),
    }
}
