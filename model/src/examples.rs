//! Small pieces for examples and tests.

use crate::electrostatics::Aim;
use crate::estimate::{
    AmplifierChoice, Bobbin, ContactChoice, ControllerChoice, Electrode, ElectrodeKind, ElectrodeTexture, Fill, Fit, GroundKind,
    LayerChoice, Machine, Order, Pad, Pair, Piece, Run, Shape, Stack, Terminal, ThreadChoice, Touch, TouchCase,
};
use crate::materials::Skin;
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
            fill: Some(Fill { row_spacing_m: Measured::exact(0.8e-3), stitch_length_m: Measured::exact(3e-3), row_contact_ohm: None }),
            sheet_resistance_ohm_sq: None,
            run: Run {
                length_m: Measured::exact(0.18),
                passes: 2,
                stitch: None,
                bobbin: Bobbin::Plain,
                interlace_fraction: None,
                stitch_contact_ohm: None,
                passes_joined: true,
                contact_resistance_ohm: None,
                terminal: Terminal::default(),
            },
            guard: None,
        }],
        electrodes: Vec::new(),
        controller: ControllerChoice { library: Some("patient-input".into()), ..Default::default() },
        touch: Touch::assumed(TouchCase::Battery),
        temperature_k: None,
        after_washes: 0,
        stretch: None,
        machine: Machine::default(),
        aim: Aim::USUAL,
        production: Order::default(),
    }
}

/// One round loop-pile electrode of `diameter_mm` in silver-coated thread that reads the heart through damp skin, held by a band
/// of 6 N around a chest, at an amplifier of 1 Gohm; nothing else on the piece.
pub fn chest_electrode(diameter_mm: f64) -> Piece {
    let exact = Measured::exact;
    let electrode = Electrode {
        name: None,
        kind: ElectrodeKind::Reads,
        shape: Shape::Round { diameter_m: exact(diameter_mm / 1e3) },
        texture: ElectrodeTexture::LoopPile { row_spacing_m: exact(1e-3), stitch_length_m: exact(2e-3), loop_height_m: exact(1.5e-3) },
        thread: ThreadChoice { library: Some("silver-polyamide-40-tex".into()), ..Default::default() },
        run: Run {
            length_m: exact(0.15),
            passes: 2,
            stitch: None,
            bobbin: Bobbin::Plain,
            interlace_fraction: None,
            contact_resistance_ohm: None,
            stitch_contact_ohm: None,
            passes_joined: false,
            terminal: Terminal::default(),
        },
        skin: Skin::Damp,
        surface_gain: None,
        touching_share: None,
        contact: ContactChoice::default(),
        fit: Fit {
            pressure_pa: None,
            tension_n: Some(Measured::normal(6.0, 1.0)),
            band_width_m: Some(exact(0.035)),
            girth_m: Some(Measured::uniform(0.8, 1.0)),
        },
        signal: None,
        signal_v: None,
        band_low_hz: None,
        band_high_hz: None,
        amplifier: AmplifierChoice { input_ohm: Some(exact(1e9)), ..Default::default() },
        pair: Pair::default(),
        pulses: None,
    };
    Piece {
        stack: Stack::default(),
        pads: Vec::new(),
        electrodes: vec![electrode],
        controller: ControllerChoice::default(),
        ..round_pad(24.0)
    }
}
