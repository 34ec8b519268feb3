//! A light row of a piece: what the customer wants lit, in SI, and what can be wrong with it.

use super::super::piece::Inspector;
use super::super::warmth::WarmthChoice;
use super::super::{Run, ThreadChoice};
use crate::lights::{Diode, Feed, ForwardPoint, MOST_LIGHTS, PointsFault, thermal_voltage_v};
use crate::materials::Library;
use crate::uncertainty::Measured;
use crate::units::{self, Quantity};

/// Largest number of light rows of a piece.
pub const MOST_LIGHT_ROWS: usize = 32;

/// Largest number of lights in all rows of a piece.
pub const MOST_LIGHTS_OF_PIECE: usize = 2000;

/// Temperature at which a light's numbers hold, K: 27 degrees Celsius. Saturation current and emission coefficient belong
/// together at one temperature, so that the light is taken as told; a real one drops 1 to 3 mV less per kelvin.
pub(super) const TOLD_AT_K: f64 = 300.15;

/// Equal lights along a feed and a return.
#[derive(Debug, Clone, PartialEq)]
pub struct LightRow {
    /// What it is called; `light row 1` and so on where nothing is given.
    pub name: Option<String>,
    /// Lights, 1 to [`MOST_LIGHTS`].
    pub lights: u32,
    /// From one light to the next, m.
    pub pitch_m: Measured,
    /// Where the supply is tied to the runs.
    pub feed: Feed,
    /// One light.
    pub light: LightChoice,
    /// Resistor of each light, ohm.
    pub series_ohm: Measured,
    /// Both contacts of a light together, ohm.
    pub light_contact_ohm: Option<Measured>,
    /// Who puts the lights on.
    pub placed_by: PlacedBy,
    /// Thread of the feed, and of the return where it has none of its own.
    pub thread: ThreadChoice,
    /// Thread of the return.
    pub return_thread: Option<ThreadChoice>,
    /// How feed and return are sewn; its length is that from the terminal to the first light.
    pub run: Run,
    /// Times the return is sewn; as often as the feed where nothing is given.
    pub return_passes: Option<u32>,
    /// From the terminal to the last light, for runs that are tied there, m; along the row where nothing is given.
    pub far_length_m: Option<Measured>,
    /// What feeds it.
    pub supply: SupplyChoice,
    /// Least current of a light beside the most, 0 to 1.
    pub least_brightness: Option<Measured>,
    /// Least current of a light, A.
    pub least_current_a: Option<Measured>,
    /// Most that a light bears, A; not looked at where nothing is given.
    pub most_current_a: Option<Measured>,
    /// How warm the thread may become.
    pub warmth: WarmthChoice,
}

/// One light: forward voltages at two currents, as a datasheet lists them, or a saturation current with its emission
/// coefficient. SI.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LightChoice {
    /// Lower test current, A.
    pub low_current_a: Option<Measured>,
    /// Forward voltage at it, V.
    pub low_forward_v: Option<Measured>,
    /// Higher test current, A.
    pub high_current_a: Option<Measured>,
    /// Forward voltage at it, V.
    pub high_forward_v: Option<Measured>,
    /// Saturation current, A.
    pub saturation_current_a: Option<Measured>,
    /// Emission coefficient; with forward voltages, the rest of their rise is resistance inside the light.
    pub emission_coefficient: Option<Measured>,
}

/// Who puts the lights on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PlacedBy {
    /// The machine, from a carrier.
    #[default]
    Machine,
    /// A person.
    Hand,
}

impl PlacedBy {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Machine => "machine",
            Self::Hand => "hand",
        }
    }
}

/// What feeds a row, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct SupplyChoice {
    /// What it is.
    pub kind: SupplyKind,
    /// Voltage without load, V.
    pub voltage_v: Measured,
    /// Voltage when it is nearly empty, V; headroom is held against it.
    pub empty_v: Option<Measured>,
    /// Resistance, ohm.
    pub source_ohm: Option<Measured>,
    /// Most that it may give, A; not looked at where nothing is given.
    pub max_a: Option<Measured>,
    /// Rated charge, C.
    pub capacity_c: Option<Measured>,
    /// Part of it that can be drawn, 0 to 1.
    pub usable_share: Option<Measured>,
    /// Time that it must last, s; not looked at where nothing is given.
    pub needed_life_s: Option<Measured>,
}

/// What a supply is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SupplyKind {
    /// A battery.
    #[default]
    Battery,
    /// A listed power unit on the mains.
    Mains,
}

impl SupplyKind {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Battery => "battery",
            Self::Mains => "mains",
        }
    }
}

/// How a light is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Told {
    /// By two points; the emission coefficient may be given beside them.
    Points {
        low_current_a: Measured,
        low_forward_v: Measured,
        high_current_a: Measured,
        high_forward_v: Measured,
        emission: Option<Measured>,
    },
    /// By its equation.
    Saturation { current_a: Measured, emission: Measured },
}

impl LightChoice {
    /// How the light is told; `None` where numbers are missing.
    pub(super) fn told(&self) -> Option<Told> {
        let points = (self.low_current_a, self.low_forward_v, self.high_current_a, self.high_forward_v);
        match (self.saturation_current_a, points) {
            (Some(current_a), _) => Some(Told::Saturation { current_a, emission: self.emission_coefficient? }),
            (None, (Some(low_current_a), Some(low_forward_v), Some(high_current_a), Some(high_forward_v))) => {
                Some(Told::Points { low_current_a, low_forward_v, high_current_a, high_forward_v, emission: self.emission_coefficient })
            }
            _ => None,
        }
    }

    fn numbers(&self) -> [(&'static Quantity, Option<Measured>); 6] {
        [
            (&units::LOW_CURRENT, self.low_current_a),
            (&units::LOW_FORWARD, self.low_forward_v),
            (&units::HIGH_CURRENT, self.high_current_a),
            (&units::HIGH_FORWARD, self.high_forward_v),
            (&units::SATURATION_CURRENT, self.saturation_current_a),
            (&units::EMISSION_COEFFICIENT, self.emission_coefficient),
        ]
    }

    fn check(&self, inspect: &mut Inspector, at: impl Fn(&str) -> String) {
        let numbers = self.numbers();
        let before = inspect.faults();
        for (quantity, given) in &numbers {
            inspect.optional(quantity, given.as_ref(), || at(quantity.field));
        }
        let points = &numbers[..4];
        let allowed = "forward voltages at two currents, or saturation_current_a with emission_coefficient";
        if self.saturation_current_a.is_some() {
            for (quantity, _) in points.iter().filter(|(_, given)| given.is_some()) {
                inspect.refuse(at(quantity.field), "a point beside a saturation current", "The light is told twice.", allowed);
            }
            if self.emission_coefficient.is_none() {
                let allowed = units::EMISSION_COEFFICIENT.allowed();
                inspect.refuse(at("emission_coefficient"), "nothing", "A saturation current needs it.", allowed);
            }
        } else {
            let some = points.iter().any(|(_, given)| given.is_some());
            for (quantity, _) in points.iter().filter(|(_, given)| given.is_none()) {
                let message = if some { "A point is a current and its voltage, and there are two." } else { "The light is not told." };
                inspect.refuse(at(quantity.field), "nothing", message, allowed);
            }
        }
        if inspect.faults() == before
            && let Some(Told::Points { low_current_a, low_forward_v, high_current_a, high_forward_v, emission }) = self.told()
        {
            let points = [(low_current_a, low_forward_v), (high_current_a, high_forward_v)]
                .map(|(current, voltage)| ForwardPoint { current_a: current.value, voltage_v: voltage.value });
            if points[0].current_a > points[1].current_a {
                let given = points.map(|p| units::CURRENT.print(p.current_a)).join(" and ");
                inspect.refuse(at("low_current_ma"), given, "The lower current is the higher one.", "below high_current_ma");
                return;
            }
            let emission_v = emission.map(|n| n.value * thermal_voltage_v(TOLD_AT_K));
            if let Err(fault) = Diode::through(points, emission_v) {
                let field = if fault == PointsFault::SameCurrent { "high_current_ma" } else { "high_forward_v" };
                inspect.refuse(at(field), points_in_words(&points), fault.message(), fault.allowed());
            }
        }
    }
}

/// Two points as a message has them.
pub fn points_in_words(points: &[ForwardPoint; 2]) -> String {
    points.map(|p| format!("{} at {}", units::FORWARD.print(p.voltage_v), units::CURRENT.print(p.current_a))).join(", ")
}

impl LightRow {
    /// Times the return is sewn.
    pub(in super::super) fn return_passes(&self) -> u32 {
        self.return_passes.unwrap_or(self.run.passes)
    }

    /// Whether a run is tied to the supply at the first light and at the last: feed, then return.
    pub(in super::super) fn tied(&self) -> [[bool; 2]; 2] {
        match self.feed {
            Feed::Same => [[true, false]; 2],
            Feed::Opposite => [[true, false], [false, true]],
            Feed::BothEnds => [[true, true]; 2],
        }
    }

    /// Whether any run is tied at the last light.
    pub(super) fn has_far_leads(&self) -> bool {
        self.feed != Feed::Same
    }

    pub(in super::super) fn check(&self, inspect: &mut Inspector, library: &Library, k: usize) {
        let at = |tail: &str| format!("/light_rows/{k}{tail}");
        inspect.text(self.name.as_deref(), || at("/name"));
        const { assert!(MOST_LIGHTS == 500 && units::LIGHTS.high == 500.0) };
        inspect.number(&units::LIGHTS, f64::from(self.lights), || at("/lights"));
        inspect.measured(&units::PITCH, &self.pitch_m, || at("/pitch_mm"));
        self.light.check(inspect, |field| at(&format!("/light/{field}")));
        inspect.measured(&units::LIGHT_SERIES, &self.series_ohm, || at("/series_ohm"));
        self.thread.check(inspect, library, || at("/thread"));
        if let Some(thread) = &self.return_thread {
            thread.check(inspect, library, || at("/return_thread"));
        }
        self.run.check(inspect, at);
        if let Some(passes) = self.return_passes {
            inspect.number(&units::RETURN_PASSES, f64::from(passes), || at("/return_passes"));
        }
        let s = &self.supply;
        inspect.measured(&units::SUPPLY_VOLTAGE, &s.voltage_v, || at("/supply/supply_v"));
        let optional: [(&'static str, &'static Quantity, &Option<Measured>); 11] = [
            ("", &units::LIGHT_CONTACT, &self.light_contact_ohm),
            ("", &units::FAR_LENGTH, &self.far_length_m),
            ("", &units::LEAST_BRIGHTNESS, &self.least_brightness),
            ("", &units::LEAST_CURRENT, &self.least_current_a),
            ("", &units::MOST_CURRENT, &self.most_current_a),
            ("/supply", &units::EMPTY_SUPPLY_VOLTAGE, &s.empty_v),
            ("/supply", &units::SOURCE_RESISTANCE, &s.source_ohm),
            ("/supply", &units::MAX_SUPPLY, &s.max_a),
            ("/supply", &units::CAPACITY, &s.capacity_c),
            ("/supply", &units::USABLE_SHARE, &s.usable_share),
            ("/supply", &units::NEEDED_LIFE, &s.needed_life_s),
        ];
        for (part, quantity, given) in optional {
            inspect.optional(quantity, given.as_ref(), || at(&format!("{part}/{}", quantity.field)));
        }
        self.warmth.check(inspect, at);
        self.check_together(inspect, at);
    }

    /// Numbers that are fine each by itself and not together.
    fn check_together(&self, inspect: &mut Inspector, at: impl Fn(&str) -> String) {
        let s = &self.supply;
        let is_zero = |ohm: &Measured| ohm.value == 0.0;
        if is_zero(&self.series_ohm) && s.source_ohm.as_ref().is_some_and(is_zero) {
            let allowed = "a resistor of each light or a resistance of the supply above 0";
            inspect.refuse(at("/series_ohm"), "0 ohm", "Nothing holds the current of the first light back.", allowed);
        }
        if self.far_length_m.is_some() && !self.has_far_leads() {
            let allowed = "leave it out, or the feed opposite or both_ends";
            inspect.refuse(at("/far_length_mm"), Feed::Same.word(), "No run leads from the terminal to the last light.", allowed);
        }
        if let Some(empty) = s.empty_v.filter(|empty| empty.value > s.voltage_v.value) {
            let given = units::SUPPLY_VOLTAGE.print(empty.value);
            let allowed = format!("at most {}", units::SUPPLY_VOLTAGE.print(s.voltage_v.value));
            inspect.refuse(at("/supply/empty_supply_v"), given, "The empty supply has more than the full one.", allowed);
        }
        let of_battery = [
            ("empty_supply_v", s.empty_v.is_some()),
            ("capacity_mah", s.capacity_c.is_some()),
            ("usable_share", s.usable_share.is_some()),
            ("needed_life_h", s.needed_life_s.is_some()),
        ];
        for (field, _) in of_battery.iter().filter(|(_, given)| *given && s.kind == SupplyKind::Mains) {
            let allowed = "leave it out, or the kind battery";
            inspect.refuse(at(&format!("/supply/{field}")), SupplyKind::Mains.word(), "Only a battery runs empty.", allowed);
        }
        if s.capacity_c.is_none() && s.kind == SupplyKind::Battery {
            for (field, _) in of_battery[2..].iter().filter(|(_, given)| *given) {
                let allowed = "give capacity_mah, or leave it out";
                inspect.refuse(at(&format!("/supply/{field}")), "no capacity", "There is no capacity to draw from.", allowed);
            }
        }
        if let (Some(least), Some(most)) = (&self.least_current_a, &self.most_current_a)
            && least.value >= most.value
        {
            let allowed = format!("below {}", units::MOST_CURRENT.print(most.value));
            let given = units::LEAST_CURRENT.print(least.value);
            inspect.refuse(at("/least_current_ma"), given, "A light needs more than it bears.", allowed);
        }
    }
}
