//! What is assumed of light rows where a piece says nothing: each with spread, source and status, and shown with every answer.

use crate::materials::{Known, Status};
use crate::uncertainty::Measured;
use crate::units;

/// Contacts of a light to feed and return, together.
pub(super) static LIGHT_CONTACT: Known = Known::new(
    &units::LIGHT_CONTACT,
    Measured::uniform(0.2, 4.0),
    "two contacts like stitched-down terminals in good order",
    Status::CommonPractice,
);

/// Resistance of a supply of which nothing is said.
pub(super) static SOURCE: Known = Known::new(
    &units::SOURCE_RESISTANCE,
    Measured::uniform(0.05, 2.0),
    "small cell with its protection, leads and switch, or a small power unit",
    Status::CommonPractice,
);

/// Evenness that is asked for.
pub(super) static LEAST_BRIGHTNESS: Known = Known::new(
    &units::LEAST_BRIGHTNESS,
    Measured::exact(70.0),
    "half as bright beside its neighbour is plainly seen, a tenth is not; judgement, no source",
    Status::CommonPractice,
);

/// Current at which a small light is plainly lit.
pub(super) static LEAST_CURRENT: Known = Known::new(
    &units::LEAST_CURRENT,
    Measured::exact(1.0),
    "a small light of today is plainly lit indoors at 1 mA; no source, give the current of the brightness that is wanted",
    Status::CommonPractice,
);

/// Part of a battery that can be drawn.
pub(super) static USABLE_SHARE: Known = Known::new(
    &units::USABLE_SHARE,
    Measured::uniform(0.6, 0.9),
    "what is left of the rated charge at room temperature, some years old and with the last of it too low in voltage; no source",
    Status::CommonPractice,
);
