//! Skin under an electrode, and what heart and muscle give at it.
//!
//! Every number is a range, because skin differs by a factor of a hundred between people, sites and minutes. What was
//! read in print says so; the rest is from memory. Per-area values are those of whole electrodes, so that part of
//! what does not touch is in them already; the touching share is counted on top, which errs on the side of more
//! impedance and more current density.

use super::{Known, Status};
use crate::uncertainty::Measured;
use crate::units::{self, Quantity};

/// What lies between thread and skin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Skin {
    /// Gel, or an electrode soaked with saline.
    Gel,
    /// Sweat, or an electrode moistened with water.
    Damp,
    /// Nothing, in the first minutes after dressing.
    Dry,
}

impl Skin {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Gel => "gel",
            Self::Damp => "damp",
            Self::Dry => "dry",
        }
    }

    /// What is known of it.
    pub const fn contact(self) -> &'static SkinContact {
        match self {
            Self::Gel => &GEL,
            Self::Damp => &DAMP,
            Self::Dry => &DRY,
        }
    }
}

/// An electrode's contact with skin, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SkinContact {
    /// Part of the footprint of a loop pile that touches.
    pub touching_pile: Known,
    /// Part of the footprint of a flat fill that touches.
    pub touching_fill: Known,
    /// Outer layer of the skin: resistance times area.
    pub skin_ohm_m2: Known,
    /// Outer layer of the skin: capacitance per area.
    pub skin_f_per_m2: Known,
    /// Wetted thread: resistance times area.
    pub metal_ohm_m2: Known,
    /// Wetted thread: capacitance per area.
    pub metal_f_per_m2: Known,
    /// How unlike two electrodes of a pair are, as a fraction.
    pub mismatch: Known,
    /// Least pressure that keeps it in place, Pa; common practice, but for damp and dry the lowest that was studied.
    pub least_pressure_pa: f64,
}

/// Tissue below the skin.
pub static TISSUE: Known = Known::new(
    &units::TISSUE_RESISTIVITY,
    Measured::uniform(2.0, 3.4),
    "120 ohm at 1 MHz under 1 cm2 (Rosell and others 1988, read in the abstract), taken for a disc on a half space: 2.7 ohm m",
    Status::Published,
);

/// Noise of skin under an electrode of 1 cm2; falls as the square root of the area.
pub static SKIN_NOISE: Known = Known::new(
    &units::SKIN_NOISE,
    Measured::uniform(1.0, 20.0),
    "1 to 20 uV r.m.s. among subjects, under gel (Huigen, Peper, Grimbergen 2002, read in the abstract); their area is taken for 1 cm2",
    Status::Published,
);

/// Voltage of the mains between body and amplifier.
pub static COMMON_MODE: Known = Known::new(
    &units::COMMON_MODE,
    Measured::uniform(1.0, 50.0),
    "a battery device near mains wiring, third electrode in place; without one it is volts",
    Status::FromMemory,
);

/// Highest pressure at which textile electrodes were studied in print, Pa: 25 mmHg (Comert, Honkala, Hyttinen 2013, read in the
/// abstract). More of it is for a fitter and a physician to allow.
pub const MOST_PRESSURE_PA: f64 = 3333.0;

/// Lowest pressure of the same study, Pa: 5 mmHg.
const LEAST_STUDIED_PA: f64 = 667.0;

const GEL_SKIN: &str = "10 kohm to 1 Mohm at 1 Hz under 1 cm2, ten subjects, ten sites (Rosell and others 1988, read in the abstract)";
const GEL_FARAD: &str = "8.6 nF/cm2 from 220 ohm at 100 kHz under 1 cm2 (Rosell and others 1988, read in the abstract) up to some 50 at low frequency, from memory";
const DRY_SKIN: &str = "order of 0.1 to 2 Mohm cm2 at 10 Hz minutes after dressing; 23 to 1850 kohm were measured under carbon electrodes whose area is not known (Baba and Burke, read in the abstract)";
const DAMP_SKIN: &str = "between gel and dry";
const METAL: &str = "silver or steel in an electrolyte, order of magnitude";
const TOUCHING: &str = "judgement: loops follow the skin better than flat rows, gel fills what is left";
const UNLIKE: &str = "judgement: skin differs between two sites as it differs between two days";

const fn range(quantity: &Quantity, low: f64, high: f64, source: &'static str, status: Status) -> Known {
    Known::new(quantity, Measured::uniform(low, high), source, status)
}

const fn touching(low: f64, high: f64) -> Known {
    range(&units::TOUCHING_SHARE, low, high, TOUCHING, Status::CommonPractice)
}

const fn unlike(low: f64, high: f64) -> Known {
    range(&units::MISMATCH, low, high, UNLIKE, Status::CommonPractice)
}

static GEL: SkinContact = SkinContact {
    touching_pile: touching(0.9, 1.0),
    touching_fill: touching(0.9, 1.0),
    skin_ohm_m2: range(&units::SKIN_RESISTANCE, 10.0, 1000.0, GEL_SKIN, Status::Published),
    skin_f_per_m2: range(&units::SKIN_CAPACITANCE, 8.0, 50.0, GEL_FARAD, Status::FromMemory),
    metal_ohm_m2: range(&units::METAL_RESISTANCE, 0.2, 10.0, METAL, Status::FromMemory),
    metal_f_per_m2: range(&units::METAL_CAPACITANCE, 5.0, 40.0, METAL, Status::FromMemory),
    mismatch: unlike(10.0, 60.0),
    least_pressure_pa: 200.0,
};

static DAMP: SkinContact = SkinContact {
    touching_pile: touching(0.6, 1.0),
    touching_fill: touching(0.5, 1.0),
    skin_ohm_m2: range(&units::SKIN_RESISTANCE, 20.0, 1000.0, DAMP_SKIN, Status::FromMemory),
    skin_f_per_m2: range(&units::SKIN_CAPACITANCE, 4.0, 40.0, DAMP_SKIN, Status::FromMemory),
    metal_ohm_m2: range(&units::METAL_RESISTANCE, 0.5, 20.0, METAL, Status::FromMemory),
    metal_f_per_m2: range(&units::METAL_CAPACITANCE, 3.0, 30.0, METAL, Status::FromMemory),
    mismatch: unlike(10.0, 80.0),
    least_pressure_pa: LEAST_STUDIED_PA,
};

static DRY: SkinContact = SkinContact {
    touching_pile: touching(0.4, 1.0),
    touching_fill: touching(0.3, 0.9),
    skin_ohm_m2: range(&units::SKIN_RESISTANCE, 100.0, 2000.0, DRY_SKIN, Status::FromMemory),
    skin_f_per_m2: range(&units::SKIN_CAPACITANCE, 1.0, 30.0, DRY_SKIN, Status::FromMemory),
    metal_ohm_m2: range(&units::METAL_RESISTANCE, 1.0, 50.0, METAL, Status::FromMemory),
    metal_f_per_m2: range(&units::METAL_CAPACITANCE, 1.0, 20.0, METAL, Status::FromMemory),
    mismatch: unlike(20.0, 100.0),
    least_pressure_pa: LEAST_STUDIED_PA,
};

/// What an electrode reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BodySignal {
    /// The heart, at the trunk.
    Heart,
    /// A muscle at work under the skin.
    Muscle,
}

impl BodySignal {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Heart => "heart",
            Self::Muscle => "muscle",
        }
    }

    /// How high it is at the skin.
    pub const fn height(self) -> &'static Known {
        match self {
            Self::Heart => &HEART,
            Self::Muscle => &MUSCLE,
        }
    }

    /// Frequencies that matter of it, low and high.
    pub const fn band(self) -> [&'static Known; 2] {
        match self {
            Self::Heart => [&HEART_LOW, &HEART_HIGH],
            Self::Muscle => [&MUSCLE_LOW, &MUSCLE_HIGH],
        }
    }
}

const MONITOR: &str = "bandwidth of a monitor, 0.5 to 50 Hz or 0.67 to 40 Hz (popular pages); diagnosis asks for 0.05 to 150 Hz and more";
const SURFACE_MUSCLE: &str = "high pass 10 to 20 Hz, low pass near 500 Hz (SENIAM recommendations, second-hand)";

static HEART: Known = range(
    &units::SIGNAL_HEIGHT,
    0.5,
    2.0,
    "largest wave at the chest of an adult; other leads and small bodies give less",
    Status::FromMemory,
);
static MUSCLE: Known = range(
    &units::SIGNAL_HEIGHT,
    0.05,
    1.0,
    "a few microvolts to 2 or 3 mV at the skin (teaching text); a muscle at work",
    Status::Published,
);
static HEART_LOW: Known = Known::new(&units::BAND_LOW, Measured::exact(0.5), MONITOR, Status::Published);
static HEART_HIGH: Known = Known::new(&units::BAND_HIGH, Measured::exact(40.0), MONITOR, Status::Published);
static MUSCLE_LOW: Known = Known::new(&units::BAND_LOW, Measured::exact(20.0), SURFACE_MUSCLE, Status::Published);
static MUSCLE_HIGH: Known = Known::new(&units::BAND_HIGH, Measured::exact(500.0), SURFACE_MUSCLE, Status::Published);
