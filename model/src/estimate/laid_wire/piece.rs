//! A laid wire of a piece: what the customer wants fixed on the cloth, in SI, and what can be wrong with it.

use super::super::SupplyKind;
use super::super::piece::Inspector;
use super::super::warmth::WarmthChoice;
use crate::geometry::Point;
use crate::laid_wire::{Course, CourseFault, Laid, MOST_POINTS, Section, insulation_kg_per_m, wire_kg_per_m};
use crate::materials::{ConductorClass, Library, Metal, Status, conductor_sections_mm2, largest_ohm_per_m};
use crate::uncertainty::Measured;
use crate::units::{self, Quantity};

/// Largest number of laid wires of a piece.
pub const MOST_LAID_WIRES: usize = 64;

/// A wire, a tube or a roving, fixed by a zigzag over it.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidWire {
    /// What it is called; `laid wire 1` and so on where nothing is given.
    pub name: Option<String>,
    /// What is laid.
    pub kind: LaidKind,
    /// The metal of a wire.
    pub conductor: Option<ConductorChoice>,
    /// Diameter over all, m; that of the metal where nothing is given.
    pub outer_diameter_m: Option<Measured>,
    /// Mass per length over all, kg/m; from metal and covering where nothing is given.
    pub linear_mass_kg_per_m: Option<Measured>,
    /// Its way over the cloth.
    pub course: CourseChoice,
    /// The zigzag that holds it.
    pub hold: HoldChoice,
    /// Smallest bend radius that it bears, m.
    pub min_bend_radius_m: Option<Measured>,
    /// Voltage across a wire, V.
    pub supply_v: Option<Measured>,
    /// Current through a wire in place of a voltage, A.
    pub current_a: Option<Measured>,
    /// What the power comes from.
    pub supply_kind: SupplyKind,
    /// Power that it must give, W; not looked at where nothing is given.
    pub needed_power_w: Option<Measured>,
    /// Largest resistance that it may have, ohm; not looked at where nothing is given.
    pub max_resistance_ohm: Option<Measured>,
    /// How warm it may become.
    pub warmth: WarmthChoice,
}

/// What is laid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LaidKind {
    /// A wire or a strand.
    Wire,
    /// A tube.
    Tube,
    /// A roving, a cord or anything else that does not conduct.
    Roving,
}

impl LaidKind {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Wire => "wire",
            Self::Tube => "tube",
            Self::Roving => "roving",
        }
    }
}

/// The metal of a wire: one of metal and linear resistance; with a metal, one of diameter, gauge and section. SI.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ConductorChoice {
    /// Metal of the library.
    pub metal: Option<String>,
    /// Resistance per length at 20 degrees Celsius, in place of a metal; taken to stay so when it warms.
    pub linear_resistance_ohm_per_m: Option<Measured>,
    /// Diameter of the metal, m.
    pub diameter_m: Option<Measured>,
    /// American gauge.
    pub gauge: Option<i32>,
    /// Section of the metal, m2.
    pub area_m2: Option<Measured>,
    /// For copper of a nominal section: its class after IEC 60228.
    pub class: Option<ConductorClass>,
    /// Whether the copper is coated with metal; by the metal's name where nothing is given.
    pub coated: Option<bool>,
}

/// The way over the cloth, m.
#[derive(Debug, Clone, PartialEq)]
pub enum CourseChoice {
    /// Straight, or gently curved.
    Straight {
        /// Length.
        length_m: Measured,
    },
    /// From point to point, corners rounded as widely as they allow.
    Path {
        /// Its points.
        points_m: Vec<Point>,
    },
    /// Rows to and fro over a rectangle.
    Meander {
        /// Along the rows, turns included.
        width_m: Measured,
        /// Across the rows.
        height_m: Measured,
        /// From row to row.
        spacing_m: Measured,
    },
}

/// The zigzag over what is laid, m; usual where nothing is given.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HoldChoice {
    /// From its side to the needle.
    pub clearance_m: Option<Measured>,
    /// Distance of penetrations on one side.
    pub advance_m: Option<Measured>,
}

/// Longest way on a piece, m: the stitches over it are no more than one feature may ask for.
const MOST_LAID_M: f64 = 10_000.0;

/// What usually covers a wire, kg/m3; PVC, from memory.
const USUAL_COVERING: f64 = 1300.0;

/// How the resistance of a conductor is told.
#[derive(Debug, Clone, Copy)]
pub enum Conduction<'l> {
    /// By a metal of the library and its section.
    Metal(&'l Metal, Section),
    /// By the resistance per length.
    PerLength(Measured),
}

impl CourseChoice {
    /// The way at the best estimates.
    ///
    /// # Errors
    /// A way that cannot be laid.
    pub fn laid(&self) -> Result<Laid, CourseFault> {
        match self {
            Self::Straight { length_m } => Course::Straight { length_m: length_m.value },
            Self::Path { points_m } => Course::Path(points_m),
            Self::Meander { width_m, height_m, spacing_m } => {
                Course::Meander { width_m: width_m.value, height_m: height_m.value, spacing_m: spacing_m.value }
            }
        }
        .laid()
    }

    fn check(&self, inspect: &mut Inspector, at: impl Fn(&str) -> String) {
        let before = inspect.faults();
        let field = match self {
            Self::Straight { length_m } => {
                inspect.measured(&units::RUN_LENGTH, length_m, || at("/length_mm"));
                "/length_mm"
            }
            Self::Path { points_m } => {
                for (k, point) in points_m.iter().enumerate().take(MOST_POINTS) {
                    for x in point {
                        inspect.number(&units::COORDINATE, *x, || at(&format!("/points_mm/{k}")));
                    }
                }
                "/points_mm"
            }
            Self::Meander { width_m, height_m, spacing_m } => {
                inspect.measured(&units::MEANDER_WIDTH, width_m, || at("/width_mm"));
                inspect.measured(&units::MEANDER_HEIGHT, height_m, || at("/height_mm"));
                inspect.measured(&units::MEANDER_SPACING, spacing_m, || at("/spacing_mm"));
                "/width_mm"
            }
        };
        if inspect.faults() > before {
            return;
        }
        let (message, allowed) = match self.laid() {
            Ok(_) => return,
            Err(CourseFault::NoLength) => ("The way has no length.", "two or more points that differ".to_owned()),
            Err(CourseFault::TooManyPoints) => ("There are too many points.", format!("at most {MOST_POINTS}")),
            Err(CourseFault::TurnsTooWide) => ("The turns do not fit into the width.", "a width of at least the spacing".to_owned()),
        };
        inspect.refuse(at(field), "as given", message, allowed);
    }
}

impl ConductorChoice {
    /// Section of the metal at the best estimates.
    pub fn section(&self) -> Option<Section> {
        let diameter = self.diameter_m.map(|d| Section::Diameter(d.value));
        diameter.or(self.gauge.map(Section::Gauge)).or(self.area_m2.map(|a| Section::Area(a.value)))
    }

    /// How the resistance is told; `None` where it is not.
    pub fn conduction<'l>(&self, library: &'l Library) -> Option<Conduction<'l>> {
        match self.linear_resistance_ohm_per_m {
            Some(ohm) => Some(Conduction::PerLength(ohm)),
            None => Some(Conduction::Metal(library.metal(self.metal.as_deref()?)?, self.section()?)),
        }
    }

    /// Largest that IEC 60228 allows a conductor of the class that was named, ohm/m, and how well that is known.
    pub fn largest_ohm_per_m(&self) -> Option<(f64, Status)> {
        let coated = self.coated.unwrap_or(self.metal.as_deref() == Some("tinned-copper"));
        largest_ohm_per_m(units::SECTION.from_si(self.area_m2?.value), self.class?, coated)
    }

    fn check(&self, inspect: &mut Inspector, library: &Library, at: impl Fn(&str) -> String) {
        inspect.optional(&units::WIRE_RESISTANCE, self.linear_resistance_ohm_per_m.as_ref(), || at("linear_resistance_ohm_per_m"));
        inspect.optional(&units::METAL_DIAMETER, self.diameter_m.as_ref(), || at("diameter_mm"));
        if let Some(gauge) = self.gauge {
            inspect.number(&units::GAUGE, f64::from(gauge), || at("gauge"));
        }
        inspect.optional(&units::SECTION, self.area_m2.as_ref(), || at("area_mm2"));
        let sections = [("diameter_mm", self.diameter_m.is_some()), ("gauge", self.gauge.is_some()), ("area_mm2", self.area_m2.is_some())];
        for (field, _) in sections.iter().filter(|(_, given)| *given).skip(1) {
            inspect.refuse(at(field), "given", "The section is told twice.", "one of diameter_mm, gauge and area_mm2");
        }
        self.check_class(inspect, &at);
        let known = || library.metals.iter().map(|m| m.id).collect::<Vec<_>>().join(", ");
        match (self.metal.as_deref(), self.linear_resistance_ohm_per_m) {
            (Some(_), Some(_)) => {
                let allowed = "one of metal and linear_resistance_ohm_per_m";
                inspect.refuse(at("linear_resistance_ohm_per_m"), "given", "The metal tells the resistance already.", allowed);
            }
            (None, None) => {
                let allowed = format!("one of {}, or linear_resistance_ohm_per_m", known());
                inspect.refuse(at("metal"), "nothing", "The conductor is not told.", allowed);
            }
            (None, Some(_)) => {}
            (Some(id), None) => {
                if library.metal(id).is_none() {
                    inspect.refuse(at("metal"), id, "The library has no such metal.", format!("one of {}", known()));
                } else if self.section().is_none() {
                    inspect.refuse(at("diameter_mm"), "nothing", "A metal needs its section.", "one of diameter_mm, gauge and area_mm2");
                }
            }
        }
    }

    /// A class belongs to copper of a section that the standard's table has.
    fn check_class(&self, inspect: &mut Inspector, at: &impl Fn(&str) -> String) {
        if self.class.is_none() {
            if self.coated.is_some() {
                inspect.refuse(at("coated"), "given", "Coated or plain belongs to a class.", "leave it out, or give a class");
            }
            return;
        }
        if !matches!(self.metal.as_deref(), Some("copper" | "tinned-copper")) {
            let given = self.metal.clone().unwrap_or_else(|| "no metal".into());
            inspect.refuse(at("class"), given, "The classes belong to copper.", "leave it out, or the metal copper or tinned-copper");
        } else if self.largest_ohm_per_m().is_none() {
            let sections: Vec<String> = conductor_sections_mm2().map(|mm2| mm2.to_string()).collect();
            let given = self.area_m2.map_or_else(|| "no section".into(), |area| units::SECTION.print(area.value));
            let allowed = format!("one of {} mm2", sections.join(", "));
            inspect.refuse(at("area_mm2"), given, "The standard's table has no such section here.", allowed);
        }
    }
}

impl LaidWire {
    /// Diameter over all at the best estimate, m; `None` where nothing tells it.
    pub fn outer_m(&self) -> Option<f64> {
        let metal = || self.conductor.as_ref().and_then(ConductorChoice::section).map(Section::diameter_m);
        self.outer_diameter_m.map(|outer| outer.value).or_else(metal)
    }

    /// Mass per length, kg/m; `None` where neither a metal nor a mass is told. The covering is weighed as PVC, 1300 kg/m3.
    pub fn kg_per_m(&self, library: &Library) -> Option<f64> {
        if let Some(mass) = self.linear_mass_kg_per_m {
            return Some(mass.value);
        }
        let Some(Conduction::Metal(metal, section)) = self.conductor.as_ref()?.conduction(library) else { return None };
        let area = section.area_m2();
        Some(wire_kg_per_m(area, metal.density_kg_per_m3.measured.value) + insulation_kg_per_m(area, self.outer_m()?, USUAL_COVERING))
    }

    /// Whether a current is driven through it.
    pub const fn is_powered(&self) -> bool {
        self.supply_v.is_some() || self.current_a.is_some()
    }

    /// As [`Self::check`], for laid wire `k` of a piece, where it can be no longer than is sewn.
    pub(in super::super) fn check_in_piece(&self, inspect: &mut Inspector, library: &Library, k: usize) {
        let at = |tail: &str| format!("/laid_wires/{k}{tail}");
        self.check(inspect, library, at);
        if let Ok(laid) = self.course.laid()
            && laid.length_m > MOST_LAID_M
        {
            let given = format!("{} m", units::short(laid.length_m));
            inspect.refuse(at("/course"), given, "The way is too long.", format!("at most {MOST_LAID_M} m"));
        }
    }

    /// Distance of parallel rows, m; `None` for a single run.
    pub fn row_spacing_m(&self) -> Option<f64> {
        match &self.course {
            CourseChoice::Meander { spacing_m, .. } if self.course.laid().is_ok_and(|laid| laid.rows > 1.0) => Some(spacing_m.value),
            _ => None,
        }
    }

    /// Holds every number against its range, and the numbers against each other; `at` makes the pointer of a field.
    pub fn check(&self, inspect: &mut Inspector, library: &Library, at: impl Fn(&str) -> String) {
        inspect.text(self.name.as_deref(), || at("/name"));
        self.course.check(inspect, |field| at(&format!("/course{field}")));
        let wire = self.kind == LaidKind::Wire;
        match (&self.conductor, wire) {
            (None, true) => {
                let allowed = "a metal with its section, or a linear resistance";
                inspect.refuse(at("/conductor"), "nothing", "A wire is made of something.", allowed);
            }
            (Some(_), false) => {
                let message = format!("A {} does not conduct.", self.kind.word());
                inspect.refuse(at("/conductor"), "a conductor", message, "leave it out, or the kind wire");
            }
            (Some(conductor), true) => conductor.check(inspect, library, |field| at(&format!("/conductor/{field}"))),
            (None, false) => {}
        }
        let given = [
            ("supply_v", self.supply_v.is_some()),
            ("current_ma", self.current_a.is_some()),
            ("needed_power_w", self.needed_power_w.is_some()),
            ("max_resistance_ohm", self.max_resistance_ohm.is_some()),
        ];
        for (field, _) in given.iter().filter(|(_, given)| *given && !wire) {
            let message = format!("A {} carries no current.", self.kind.word());
            inspect.refuse(at(&format!("/{field}")), "given", message, "leave it out, or the kind wire");
        }
        if wire && self.supply_v.is_some() && self.current_a.is_some() {
            inspect.refuse(at("/current_ma"), "given", "Voltage and current both tell the power.", "one of supply_v and current_ma");
        }
        if wire && self.needed_power_w.is_some() && !self.is_powered() {
            inspect.refuse(at("/needed_power_w"), "given", "No current makes this power.", "give supply_v or current_ma, or leave it out");
        }
        let optional: [(&'static str, &'static Quantity, &Option<Measured>); 9] = [
            ("", &units::SUPPLY_VOLTAGE, &self.supply_v),
            ("", &units::WIRE_CURRENT, &self.current_a),
            ("", &units::OUTSIDE, &self.outer_diameter_m),
            ("", &units::LINEAR_MASS, &self.linear_mass_kg_per_m),
            ("", &units::BEND_RADIUS, &self.min_bend_radius_m),
            ("", &units::NEEDED_POWER, &self.needed_power_w),
            ("", &units::MAX_RESISTANCE, &self.max_resistance_ohm),
            ("/hold", &units::NEEDLE_CLEARANCE, &self.hold.clearance_m),
            ("/hold", &units::ADVANCE, &self.hold.advance_m),
        ];
        for (part, quantity, given) in optional {
            inspect.optional(quantity, given.as_ref(), || at(&format!("{part}/{}", quantity.field)));
        }
        self.warmth.check(inspect, &at);
        let section = self.conductor.as_ref().and_then(ConductorChoice::section);
        if let (Some(outer), Some(section)) = (self.outer_diameter_m, section)
            && outer.value < 0.8 * section.diameter_m()
        {
            let allowed = format!("{} or more", units::OUTSIDE.print(section.diameter_m()));
            inspect.refuse(at("/outer_diameter_mm"), units::OUTSIDE.print(outer.value), "The metal does not fit into it.", allowed);
        }
        if self.outer_m().is_none() && (!wire || self.conductor.is_some()) {
            inspect.refuse(at("/outer_diameter_mm"), "nothing", "Its thickness is not told.", units::OUTSIDE.allowed());
        }
    }
}
