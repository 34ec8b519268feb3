//! Verdicts and checks in plain sentences.

use super::{Bound, Verdict};
use crate::units::{Quantity, percent, short, with_unit};

/// A requirement that a piece must meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CheckKind {
    /// A touch changes the capacitance enough.
    Signal,
    /// The untouched pad and run stay within what the controller handles.
    StandingCapacitance,
    /// The pad charges in the time it is given.
    Settling,
    /// The run's resistance is within what the controller allows.
    RunResistance,
    /// Stitches and needles are within what machine and thread bear.
    Stitchable(StitchLimit),
    /// Conductors keep their distance.
    Clearance,
    /// Neighbouring contacts of a terminal stay apart.
    TerminalPitch,
    /// The needle and its thread go through the hole of the board.
    TerminalHole,
    /// A touch of the pad stays below what counts as a touch on the others.
    Neighbour,
    /// An electrode loses little of the signal to the amplifier's input.
    ReadOutLoss,
    /// Noise of electrodes and amplifier stays small beside the signal.
    Noise,
    /// What a pair of electrodes makes of the mains stays small beside the signal.
    CommonMode,
    /// The garment presses an electrode neither too little nor too hard.
    Fit,
    /// Current density at skin stays below what calls for an operator's attention.
    CurrentDensity,
    /// Charge of a phase stays below what wetted thread bears.
    ChargePerPhase,
    /// The dimmest light of a row gets nearly as much current as the brightest.
    LightSpread,
    /// The dimmest light of a row gets the voltage that it needs.
    Headroom,
    /// The brightest light of a row bears its current.
    LightCurrent,
    /// The supply gives what the row draws.
    SupplyCurrent,
    /// The battery lasts.
    BatteryLife,
    /// A thread or wire that carries current stays below a temperature.
    Warmth,
    /// A laid wire bears its bends.
    BendRadius,
    /// The needle stays clear of a laid wire.
    NeedleClearance,
    /// A laid wire's resistance is within what is allowed.
    WireResistance,
    /// A laid wire gives the power that is needed.
    HeatingPower,
}

/// Which limit of stitching is the closest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StitchLimit {
    /// Stitch length of the run.
    RunStitch,
    /// Stitch length of the fill.
    FillStitch,
    /// Row spacing of the fill.
    RowSpacing,
    /// Width of the satin column.
    ColumnWidth,
    /// Density of the satin column.
    Density,
    /// Width of the zigzag over a laid wire.
    ZigzagWidth,
    /// Stitch length of the zigzag over a laid wire.
    ZigzagStitch,
    /// Needles of the machine.
    Needles,
}

impl CheckKind {
    /// Its name in data.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Signal => "signal",
            Self::StandingCapacitance => "standing_capacitance",
            Self::Settling => "settling",
            Self::RunResistance => "run_resistance",
            Self::Stitchable(_) => "stitchable",
            Self::Clearance => "clearance",
            Self::TerminalPitch => "terminal_pitch",
            Self::TerminalHole => "terminal_hole",
            Self::Neighbour => "neighbour",
            Self::ReadOutLoss => "read_out_loss",
            Self::Noise => "noise",
            Self::CommonMode => "common_mode",
            Self::Fit => "fit",
            Self::CurrentDensity => "current_density",
            Self::ChargePerPhase => "charge_per_phase",
            Self::LightSpread => "light_spread",
            Self::Headroom => "headroom",
            Self::LightCurrent => "light_current",
            Self::SupplyCurrent => "supply_current",
            Self::BatteryLife => "battery_life",
            Self::Warmth => "warmth",
            Self::BendRadius => "bend_radius",
            Self::NeedleClearance => "needle_clearance",
            Self::WireResistance => "wire_resistance",
            Self::HeatingPower => "heating_power",
        }
    }

    /// Its name for people.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Signal => "Signal of a touch",
            Self::StandingCapacitance => "Standing capacitance",
            Self::Settling => "Charge reached in time",
            Self::RunResistance => "Run resistance",
            Self::Stitchable(limit) => match limit {
                StitchLimit::RunStitch => "Stitch length of the run",
                StitchLimit::FillStitch => "Stitch length of the fill",
                StitchLimit::RowSpacing => "Row spacing of the fill",
                StitchLimit::ColumnWidth => "Width of the satin column",
                StitchLimit::Density => "Density of the satin column",
                StitchLimit::ZigzagWidth => "Width of the zigzag",
                StitchLimit::ZigzagStitch => "Stitch length of the zigzag",
                StitchLimit::Needles => "Needles",
            },
            Self::Clearance => "Clearance to the next pad",
            Self::TerminalPitch => "Space between contacts of the terminal",
            Self::TerminalHole => "Needle through the board",
            Self::Neighbour => "Signal on the neighbour",
            Self::ReadOutLoss => "Read-out loss",
            Self::Noise => "Noise",
            Self::CommonMode => "Hum of the mains",
            Self::Fit => "Fit on the skin",
            Self::CurrentDensity => "Current density",
            Self::ChargePerPhase => "Charge per phase",
            Self::LightSpread => "Evenness of the lights",
            Self::Headroom => "Headroom of the dimmest light",
            Self::LightCurrent => "Current of the brightest light",
            Self::SupplyCurrent => "Current of the supply",
            Self::BatteryLife => "Life of the battery",
            Self::Warmth => "Warmth",
            Self::BendRadius => "Bend radius",
            Self::NeedleClearance => "Needle beside the wire",
            Self::WireResistance => "Resistance of the wire",
            Self::HeatingPower => "Heating power",
        }
    }
}

/// One check in a sentence: what is predicted, how sure, and what is needed.
pub fn check_sentence(kind: CheckKind, quantity: &Quantity, bound: Bound, predicted: f64, interval_95: (f64, f64), needed: f64) -> String {
    let unit = |si: f64| with_unit(&short(quantity.from_si(si)), quantity.unit);
    let spread = if interval_95.0 < interval_95.1 {
        let low = short(quantity.from_si(interval_95.0));
        format!(" ({low} to {})", unit(interval_95.1))
    } else {
        String::new()
    };
    let (p, n) = (unit(predicted), unit(needed));
    match kind {
        CheckKind::Signal => format!("A touch adds {p}{spread}; the controller needs at least {n}."),
        CheckKind::StandingCapacitance => format!("Pad and run stand at {p}{spread}; the controller handles up to {n}."),
        CheckKind::Settling => format!("The pad reaches {p}{spread} of its charge in the time it is given; {n} is needed."),
        CheckKind::RunResistance => format!("The run resists {p}{spread}; at most {n} is allowed."),
        CheckKind::Stitchable(StitchLimit::Needles) => format!("The piece needs {p} of the machine's {n} needles."),
        CheckKind::Stitchable(_) => {
            format!("{}: {p}{spread}; {} {n} is the limit.", kind.title(), if bound == Bound::AtLeast { "at least" } else { "at most" })
        }
        CheckKind::Neighbour => {
            format!("A touch shows as {p}{spread} on the pad that feels it most; at most {n} keeps that pad quiet.")
        }
        CheckKind::TerminalPitch => {
            format!("Between neighbouring contacts of the terminal {p}{spread} stay free; the shop keeps at least {n}.")
        }
        CheckKind::TerminalHole => format!("The hole of the board is {p}{spread} wide; needle and thread take {n}."),
        CheckKind::ReadOutLoss => format!("The amplifier's input loses {p}{spread} of the signal; at most {n} is wanted."),
        CheckKind::Noise => format!("Noise is {p}{spread} r.m.s. while the electrode lies still; at most {n} leaves the signal clear."),
        CheckKind::CommonMode => format!("{p}{spread} of the mains is read; at most {n} leaves the signal clear."),
        CheckKind::Fit => {
            let side = if bound == Bound::AtLeast { "at least" } else { "at most" };
            format!("The garment presses with {p}{spread}; {side} {n} is the limit. Signs of pressure on skin come first.")
        }
        CheckKind::CurrentDensity => {
            format!("{p}{spread} r.m.s. if the current spreads evenly; {n} calls for an operator's attention and is no limit of safety.")
        }
        CheckKind::ChargePerPhase => {
            format!("Each phase moves {p}{spread} over the wetted thread; from about {n} on the thread dissolves. It says nothing of skin.")
        }
        CheckKind::LightSpread => {
            format!("The dimmest light gets {p}{spread} of the current of the brightest; at least {n} looks even.")
        }
        CheckKind::Headroom => format!("The dimmest light with its resistor gets {p}{spread}; it takes {n} for its least current."),
        CheckKind::LightCurrent => format!("The brightest light gets {p}{spread}; it bears {n}."),
        CheckKind::SupplyCurrent => format!("The row draws {p}{spread}; the supply may give {n}."),
        CheckKind::BatteryLife => format!("The battery lasts {p}{spread}; {n} is needed."),
        CheckKind::Warmth => {
            format!("It settles no warmer than {p}{spread} in still air; {n} is the limit. A fold, a cushion or a broken stitch is hotter.")
        }
        CheckKind::BendRadius => format!("The sharpest bend has a radius of {p}{spread}; at least {n} is needed."),
        CheckKind::NeedleClearance => format!("The middle of the needle passes {p}{spread} beside it; half of the needle takes {n}."),
        CheckKind::WireResistance => format!("The wire resists {p}{spread}; at most {n} is allowed."),
        CheckKind::HeatingPower => format!("The wire gives {p}{spread}; at least {n} is needed."),
        CheckKind::Clearance => format!("The next pad is {p}{spread} away; the shop keeps at least {n}."),
    }
}

/// The whole piece in a sentence; `closest` is the title of its weakest check and the pad it belongs to.
pub fn piece_sentence(verdict: Verdict, checks: usize, chance: f64, closest: &str, pad: Option<&str>, measure: Option<&str>) -> String {
    let place = pad.map_or_else(String::new, |p| format!(" at {p}"));
    let closest = format!("{}{place}", lower_first(closest));
    let chance = percent(chance);
    match verdict {
        Verdict::Comfortable => format!("Comfortable: all {checks} checks hold; the closest is the {closest} ({chance})."),
        Verdict::Tight => format!("Tight: the {closest} holds with a chance of {chance}."),
        Verdict::OutOfReach => format!("Out of reach as drawn: the {closest} holds with a chance of {chance}."),
        Verdict::MeasureFirst => format!(
            "Measure first: the {closest} hangs on the {}, which nobody has measured yet ({chance} as things stand).",
            measure.unwrap_or("unmeasured input")
        ),
    }
}

/// The whole piece in a sentence where an electrode that stimulates decides; `electrode` is its name.
pub fn stimulation_sentence(electrode: &str) -> String {
    format!(
        "Measure first: {electrode} passes current into a person, which no computation makes comfortable; current density and charge are for those licensed to do so to measure."
    )
}

fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}
