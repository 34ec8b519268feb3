//! What is assumed where a piece says nothing: each with spread, source and status, and shown with every answer.

use super::{Stitch, TerminalKind, TouchCase};
use crate::materials::{Known, Status};
use crate::uncertainty::Measured;
use crate::units;

/// Fingertip as a flat disc: index contacts average 9.4 x 8.8 mm, a normal tap 10.8 x 10.5 mm.
pub(super) static FINGERTIP: Known = Known::new(
    &units::FINGERTIP,
    Measured::uniform(8.0, 11.0),
    "disc of the area of an average index contact, 65 to 89 mm2, touch-platform hardware guidance (page dn672264)",
    Status::Published,
);

/// Person to earth.
pub(super) static BODY_TO_EARTH: Known = Known::new(
    &units::BODY_TO_EARTH,
    Measured::uniform(100.0, 300.0),
    "usual range of a person to the surroundings, 100 to 300 pF (public review page on body capacitance)",
    Status::Published,
);

/// A small free-standing circuit to earth.
static SUPPLY_STANDING: Known = Known::new(
    &units::SUPPLY_TO_EARTH,
    Measured::uniform(5.0, 40.0),
    "small battery device with its wiring in a room",
    Status::CommonPractice,
);

/// A circuit worn on the body to earth.
static SUPPLY_WORN: Known = Known::new(
    &units::SUPPLY_TO_EARTH,
    Measured::uniform(1.0, 10.0),
    "small worn device, most of its field ends on the wearer",
    Status::CommonPractice,
);

/// The person to a free-standing circuit, beside the finger's own field.
static BODY_BESIDE: Known =
    Known::new(&units::BODY_TO_SUPPLY, Measured::uniform(0.5, 3.0), "hand and arm near a device that is not worn", Status::CommonPractice);

/// The wearer to a worn circuit.
static BODY_WEARING: Known = Known::new(
    &units::BODY_TO_SUPPLY,
    Measured::uniform(10.0, 60.0),
    "battery and board against clothing on the body",
    Status::CommonPractice,
);

pub(super) fn supply_to_earth(case: TouchCase) -> Option<&'static Known> {
    match case {
        TouchCase::Earthed => None,
        TouchCase::Battery => Some(&SUPPLY_STANDING),
        TouchCase::Worn => Some(&SUPPLY_WORN),
    }
}

pub(super) fn body_to_supply(case: TouchCase) -> &'static Known {
    match case {
        TouchCase::Earthed | TouchCase::Battery => &BODY_BESIDE,
        TouchCase::Worn => &BODY_WEARING,
    }
}

/// Temperature in use.
pub(super) static TEMPERATURE: Known =
    Known::new(&units::TEMPERATURE, Measured::exact(23.0), "room temperature, assumed", Status::CommonPractice);

/// Thickness that the needle passes where the piece names no layer.
pub(super) static SEWN_THICKNESS: Known = Known::new(
    &units::SEWN_THICKNESS,
    Measured::uniform(0.4, 3.0),
    "between one woven cloth and a felt on a carrier; no layer is named",
    Status::CommonPractice,
);

/// Depth of the interlacing point.
pub(super) static INTERLACE: Known = Known::new(
    &units::INTERLACE_FRACTION,
    Measured::uniform(0.5, 1.0),
    "between a balanced seam and an embroidery tension that pulls the top thread to the back",
    Status::CommonPractice,
);

/// Shape of a stitch: 0 elliptic, 1 rectangular.
pub(super) static STITCH_SHAPE: Known = Known {
    measured: Measured::uniform(0.0, 1.0),
    source: "lockstitches are rectangular to elliptic by feed, tension and cloth (Chauhan and Ghosh, Indian J. Fibre & Textile Res., abstract)",
    status: Status::Published,
};

/// Resistance of one terminal.
pub(super) static CONTACT: Known = Known::new(
    &units::CONTACT_RESISTANCE,
    Measured::uniform(0.1, 2.0),
    "stitched-down or crimped terminal in good order",
    Status::CommonPractice,
);

/// Contact between the threads of a stitch.
pub(super) static STITCH_CONTACT: Known = Known::new(
    &units::STITCH_CONTACT,
    Measured::uniform(0.1, 3.0),
    "of the order of 0.3 ohm between interlaced silver-coated yarns (Text. Res. J. 2014, doi 10.1177/0040517514532158, abstract); widened for stitches by judgement",
    Status::CommonPractice,
);

/// Resistance of one terminal by its kind.
pub(super) fn terminal_contact(kind: Option<TerminalKind>) -> &'static Known {
    static BOARD: Known = Known::new(
        &units::CONTACT_RESISTANCE,
        Measured::uniform(0.1, 2.0),
        "thread sewn down over plated holes, several stitches; no source",
        Status::CommonPractice,
    );
    static SNAP: Known = Known::new(
        &units::CONTACT_RESISTANCE,
        Measured::uniform(0.02, 1.0),
        "press stud over stitched thread, both threads pinched; no source",
        Status::CommonPractice,
    );
    static CRIMP: Known = Known::new(
        &units::CONTACT_RESISTANCE,
        Measured::uniform(0.01, 0.5),
        "crimp that bites through stitched thread, both threads pinched; no source",
        Status::CommonPractice,
    );
    match kind {
        None => &CONTACT,
        Some(TerminalKind::Board) => &BOARD,
        Some(TerminalKind::Snap) => &SNAP,
        Some(TerminalKind::Crimp) => &CRIMP,
    }
}

/// Sheet resistance of the cloth of a solid pad.
pub(super) static SHEET_RESISTANCE: Known = Known::new(
    &units::SHEET_RESISTANCE,
    Measured::uniform(0.02, 1.0),
    "metallised woven or knitted cloth; no source",
    Status::CommonPractice,
);

/// Growth in a wash where a thread is given by numbers.
pub(super) static GROWTH_PER_WASH: Known = Known::new(
    &units::GROWTH_PER_WASH,
    Measured::uniform(0.0, 4.0),
    "between solid steel and coated thread; no source, judgement",
    Status::CommonPractice,
);

/// Growth by stretch where a thread is given by numbers.
pub(super) static STRETCH_FACTOR: Known = Known::new(
    &units::STRETCH_FACTOR,
    Measured::uniform(0.0, 5.0),
    "2 for solid metal of constant volume, more where a coating cracks, less while the thread only straightens",
    Status::FromMemory,
);

/// Growth of a thread's resistance where thread is given by numbers.
pub(super) static TEMPERATURE_COEFFICIENT: Known = Known::new(
    &units::TEMPERATURE_COEFFICIENT,
    Measured::uniform(0.0, 0.004),
    "between carbon or steel and pure copper or silver",
    Status::FromMemory,
);

/// Stitch length of a run of which nothing is said.
pub(super) static STITCH_LENGTH: Known = Known {
    measured: Stitch::USUAL_LENGTH_M,
    source: "running stitches, the usual length for conductive thread",
    status: Status::CommonPractice,
};
