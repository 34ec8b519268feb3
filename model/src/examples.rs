//! Small pieces for examples and tests.

use crate::electrostatics::Aim;
use crate::estimate::{
    AmplifierChoice, Bobbin, ConductorChoice, ContactChoice, ControllerChoice, CourseChoice, Electrode, ElectrodeKind, ElectrodeTexture,
    Fill, Fit, GroundKind, HoldChoice, LaidKind, LaidWire, LayerChoice, LightChoice, LightRow, Machine, Order, Pad, Pair, Piece, PlacedBy,
    Run, Shape, Stack, SupplyChoice, SupplyKind, Terminal, ThreadChoice, Touch, TouchCase, WarmthChoice,
};
use crate::lights::Feed;
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
        light_rows: Vec::new(),
        laid_wires: Vec::new(),
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

/// One row of `lights` small white lights, 25 mm apart, in two passes of silver-coated thread on 2 mm of felt, each with a
/// resistor of 680 ohm, at a battery of 4.5 V; nothing else on the piece.
pub fn light_row(lights: u32) -> Piece {
    let exact = Measured::exact;
    let base = round_pad(24.0);
    let row = LightRow {
        name: None,
        lights,
        pitch_m: exact(0.025),
        feed: Feed::Same,
        light: LightChoice {
            low_current_a: Some(exact(1e-3)),
            low_forward_v: Some(Measured::normal(2.65, 0.08)),
            high_current_a: Some(exact(5e-3)),
            high_forward_v: Some(Measured::normal(2.85, 0.08)),
            ..Default::default()
        },
        series_ohm: exact(680.0),
        light_contact_ohm: None,
        placed_by: PlacedBy::Machine,
        thread: base.pads[0].thread.clone(),
        return_thread: None,
        run: Run { length_m: exact(0.1), ..base.pads[0].run.clone() },
        return_passes: None,
        far_length_m: None,
        supply: SupplyChoice {
            kind: SupplyKind::Battery,
            voltage_v: exact(4.5),
            empty_v: None,
            source_ohm: None,
            max_a: None,
            capacity_c: None,
            usable_share: None,
            needed_life_s: None,
        },
        least_brightness: None,
        least_current_a: None,
        most_current_a: None,
        warmth: WarmthChoice::default(),
    };
    Piece {
        stack: Stack { ground: GroundKind::None, base: base.stack.base.clone(), ..Stack::default() },
        pads: Vec::new(),
        light_rows: vec![row],
        controller: ControllerChoice::default(),
        ..base
    }
}

/// One heating wire: stainless steel of 0.3 mm in a meander of 200 mm by 120 mm, rows 20 mm apart, at 3 V of a power unit;
/// nothing else on the piece.
pub fn heating_wire() -> Piece {
    let exact = Measured::exact;
    let wire = LaidWire {
        name: None,
        kind: LaidKind::Wire,
        conductor: Some(ConductorChoice { metal: Some("stainless-steel".into()), diameter_m: Some(exact(0.3e-3)), ..Default::default() }),
        outer_diameter_m: None,
        linear_mass_kg_per_m: None,
        course: CourseChoice::Meander { width_m: exact(0.2), height_m: exact(0.12), spacing_m: exact(0.02) },
        hold: HoldChoice::default(),
        min_bend_radius_m: None,
        supply_v: Some(exact(3.0)),
        current_a: None,
        supply_kind: SupplyKind::Mains,
        needed_power_w: None,
        max_resistance_ohm: None,
        warmth: WarmthChoice::default(),
    };
    Piece { light_rows: Vec::new(), laid_wires: vec![wire], ..light_row(1) }
}
