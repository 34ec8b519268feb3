//! What is assumed of electrodes where a piece says nothing, beside skin ([`crate::materials::Skin`]): each with spread, source
//! and status, and shown with every answer.

use crate::electrode::GAIN_ERROR;
use crate::materials::{Known, Status};
use crate::uncertainty::Measured;
use crate::units;

/// Input resistance of an amplifier of which nothing is said.
pub(super) static INPUT_RESISTANCE: Known = Known::new(
    &units::INPUT_RESISTANCE,
    Measured::exact(10.0),
    "recommended with the performance standards of electrocardiographs, and shown to be too little for dry electrodes (Maji and Burke 2020, read in the abstract); give that of the amplifier in hand",
    Status::Published,
);

/// Input capacitance with the lead.
pub(super) static INPUT_CAPACITANCE: Known = Known::new(
    &units::INPUT_CAPACITANCE,
    Measured::uniform(20.0, 200.0),
    "an input with 0.2 to 1 m of stitched or shielded lead",
    Status::CommonPractice,
);

/// Noise voltage density.
pub(super) static VOLTAGE_NOISE: Known =
    Known::new(&units::VOLTAGE_NOISE, Measured::uniform(20.0, 150.0), "usual biopotential input", Status::CommonPractice);

/// Noise current density.
pub(super) static CURRENT_NOISE: Known =
    Known::new(&units::CURRENT_NOISE, Measured::uniform(1.0, 100.0), "usual biopotential input", Status::CommonPractice);

/// Common-mode rejection.
pub(super) static REJECTION: Known =
    Known::new(&units::REJECTION, Measured::uniform(80.0, 100.0), "usual biopotential input", Status::CommonPractice);

/// Pressure of a garment of which nothing is said.
pub(super) static PRESSURE: Known = Known::new(
    &units::PRESSURE,
    Measured::uniform(0.3, 3.0),
    "anything from a shirt to a chest band; nobody has measured it",
    Status::CommonPractice,
);

/// Charge of a phase per area that wetted thread bears without being eaten.
pub(super) static MAX_CHARGE: Known = Known::new(
    &units::MAX_CHARGE,
    Measured::uniform(20.0, 40.0),
    "order of what stainless steel gives and takes back in balanced phases, from reviews of implanted electrodes; no limit of safety for skin",
    Status::FromMemory,
);

/// Thread surface per footprint from the geometry of the texture.
pub(super) fn surface_gain(gain: f64) -> Known {
    Known {
        measured: Measured::uniform(gain * (1.0 - GAIN_ERROR), gain * (1.0 + GAIN_ERROR)),
        source: "geometry of the texture and the thread; pressed loops hide part of themselves",
        status: Status::CommonPractice,
    }
}
