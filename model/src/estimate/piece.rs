//! A piece: what the customer wants stitched, in SI, and what can be wrong with it.

use super::electrode::{Electrode, MOST_ELECTRODES};
use super::laid_wire::{LaidWire, MOST_LAID_WIRES};
use super::light_row::{LightRow, MOST_LIGHT_ROWS, MOST_LIGHTS_OF_PIECE};
use super::{Feature, Order};
use crate::electrostatics::{Aim, Choice, Figure, Outline};
use crate::geometry::{self, Extent, MOST_CORNERS, Point, PolygonFault};
use crate::materials::Library;
use crate::uncertainty::{Measured, Spread};
use crate::units::{self, Quantity};

/// Largest number of layers on one side of the stitched plane.
pub const MOST_LAYERS: usize = 16;
/// Largest number of pads of a piece.
pub const MOST_PADS: usize = 256;
/// Largest number of characters of a name.
pub const MOST_CHARACTERS: usize = 200;

/// What the customer wants stitched. It may consist of any features, at least one.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// What the customer calls it.
    pub name: Option<String>,
    /// Pieces asked for.
    pub quantity: u32,
    /// Layers and ground; pads need them, other features are sewn through them where they are given.
    pub stack: Stack,
    /// Touch pads with their runs.
    pub pads: Vec<Pad>,
    /// Areas on skin that read or stimulate, with their runs.
    pub electrodes: Vec<Electrode>,
    /// Lights along a feed and a return.
    pub light_rows: Vec<LightRow>,
    /// Wires, tubes and rovings under a zigzag.
    pub laid_wires: Vec<LaidWire>,
    /// Touch-sensing input of the pads.
    pub controller: ControllerChoice,
    /// Finger and way back; of no account without pads.
    pub touch: Touch,
    /// Temperature in use, K; 296.15 K (23 degrees Celsius) where nothing is given.
    pub temperature_k: Option<Measured>,
    /// Wash cycles behind it when it is to work.
    pub after_washes: u32,
    /// Stretch in use as a fraction of the length; none where nothing is given.
    pub stretch: Option<Measured>,
    /// What the machine can do.
    pub machine: Machine,
    /// How capacitances are computed.
    pub aim: Aim,
    /// How it is to be made.
    pub production: Order,
}

/// Layers, listed upwards, and what lies under them; by default nothing is known of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stack {
    /// Under the lowest base layer.
    pub ground: GroundKind,
    /// From ground to the stitched plane.
    pub base: Vec<LayerChoice>,
    /// From the stitched plane to the finger.
    pub overlay: Vec<LayerChoice>,
    /// Thickness that the needle passes; the topmost base layer where nothing is given.
    pub sewn_thickness_m: Option<Measured>,
    /// Diameter of a round opening in the ground under the middle of each pad; a closed ground where nothing is given.
    pub opening_diameter_m: Option<Measured>,
}

/// What lies under the base.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum GroundKind {
    /// Conductive cloth tied to circuit ground.
    Sheet,
    /// A metal frame tied to circuit ground.
    Metal,
    /// The body of the wearer, who also touches.
    Body,
    /// Nothing near.
    #[default]
    None,
}

impl GroundKind {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Sheet => "sheet",
            Self::Metal => "metal",
            Self::Body => "body",
            Self::None => "none",
        }
    }
}

/// A layer: an entry of the library, numbers, or an entry with some numbers put right.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LayerChoice {
    /// Entry of the library.
    pub library: Option<String>,
    /// Thickness, m.
    pub thickness_m: Option<Measured>,
    /// Permittivity relative to vacuum.
    pub relative_permittivity: Option<Measured>,
    /// Part of the volume that is water, for a cover that got wet; dry as the library has it where nothing is given.
    pub water_fraction: Option<Measured>,
}

/// A conductive thread, chosen as a layer is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ThreadChoice {
    /// Entry of the library.
    pub library: Option<String>,
    /// Resistance per metre at 20 degrees Celsius.
    pub linear_resistance_ohm_per_m: Option<Measured>,
    /// Diameter, m.
    pub diameter_m: Option<Measured>,
    /// Mass per length, kg/m.
    pub linear_density_kg_per_m: Option<Measured>,
    /// Relative growth of resistance per kelvin; 0 to 0.004 where neither entry nor number is given.
    pub temperature_coefficient_per_k: Option<Measured>,
    /// Relative growth of resistance in one wash cycle; 0 to 0.04 where neither entry nor number is given.
    pub growth_per_wash: Option<Measured>,
    /// Growth of resistance as a multiple of the stretch; 0 to 5 where neither entry nor number is given.
    pub stretch_factor: Option<Measured>,
}

/// A touch-sensing input, chosen as a layer is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ControllerChoice {
    /// Entry of the library.
    pub library: Option<String>,
    /// Time given to charge, s.
    pub charge_time_s: Option<Measured>,
    /// Driver resistance, ohm.
    pub series_resistance_ohm: Option<Measured>,
    /// Largest standing capacitance, F.
    pub max_standing_f: Option<Measured>,
    /// Needed signal, F.
    pub needed_signal_f: Option<Measured>,
    /// Largest run resistance, ohm.
    pub max_run_ohm: Option<Measured>,
    /// Share of the final charge to reach, 0 to 1.
    pub settled_fraction: Option<Measured>,
}

/// A pad with its run.
#[derive(Debug, Clone, PartialEq)]
pub struct Pad {
    /// What it is called; `pad 1` and so on where nothing is given.
    pub name: Option<String>,
    /// Outline.
    pub shape: Shape,
    /// Middle on the cloth, m; clearance is checked between pads that have one.
    pub centre_m: Option<Point>,
    /// Turn about the middle, rad.
    pub rotation_rad: f64,
    /// Thread of fill and run.
    pub thread: ThreadChoice,
    /// Rows that fill it; without them the pad is a solid conductive cloth.
    pub fill: Option<Fill>,
    /// Of that cloth, ohm in a square.
    pub sheet_resistance_ohm_sq: Option<Measured>,
    /// Conductor from the pad to the controller.
    pub run: Run,
    /// Conductor laid around the pad to keep its field to itself.
    pub guard: Option<Guard>,
}

/// A band of even width around a pad, at an even distance.
#[derive(Debug, Clone, PartialEq)]
pub struct Guard {
    /// Free space between pad and guard, m.
    pub gap_m: Measured,
    /// Width of the band, m.
    pub width_m: Measured,
    /// What it is tied to.
    pub held: Held,
}

/// What a guard is tied to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Held {
    /// Circuit ground.
    Ground,
    /// A driver that follows the pad's own voltage.
    Driven,
}

impl Held {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Ground => "ground",
            Self::Driven => "driven",
        }
    }
}

/// Outline of a pad, m.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A disc.
    Round {
        /// Diameter.
        diameter_m: Measured,
    },
    /// A rectangle, width along x.
    Rectangle {
        /// Along x.
        width_m: Measured,
        /// Along y.
        length_m: Measured,
        /// Radius of the corners.
        corner_radius_m: Measured,
    },
    /// A disc with a round hole.
    Ring {
        /// Of the hole.
        inner_diameter_m: Measured,
        /// Of the rim.
        outer_diameter_m: Measured,
    },
    /// Any outline.
    Polygon {
        /// Corners in order.
        points_m: Vec<Point>,
        /// Holes, corners in order.
        holes_m: Vec<Vec<Point>>,
    },
}

/// Rows of thread that fill a pad.
#[derive(Debug, Clone, PartialEq)]
pub struct Fill {
    /// Distance between rows, m.
    pub row_spacing_m: Measured,
    /// Stitch length within a row, m.
    pub stitch_length_m: Measured,
    /// Contact between facing penetrations of neighbouring rows, ohm; rows count as apart where nothing is given.
    pub row_contact_ohm: Option<Measured>,
}

/// A stitched conductor.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// From pad to terminal, m.
    pub length_m: Measured,
    /// Times it is sewn.
    pub passes: u32,
    /// How it is sewn; [`Stitch::usual`] where nothing is given.
    pub stitch: Option<Stitch>,
    /// What is wound on the bobbin.
    pub bobbin: Bobbin,
    /// Depth of the interlacing point from the face, fraction of the sewn thickness.
    pub interlace_fraction: Option<Measured>,
    /// Contact between top and bobbin thread at a stitch, ohm, where both conduct.
    pub stitch_contact_ohm: Option<Measured>,
    /// Whether the passes touch at every penetration; what they do when a stitch breaks depends on it.
    pub passes_joined: bool,
    /// Of the terminal, ohm.
    pub contact_resistance_ohm: Option<Measured>,
    /// What the terminal is.
    pub terminal: Terminal,
}

/// Where a run meets a board, snap or crimp.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Terminal {
    /// What it is.
    pub kind: Option<TerminalKind>,
    /// Between the middles of neighbouring contacts, m.
    pub pitch_m: Option<Measured>,
    /// Of the board, for the needle, m.
    pub hole_diameter_m: Option<Measured>,
}

/// What a run is joined to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TerminalKind {
    /// A circuit board with holes or pads that the run is stitched down to.
    Board,
    /// A press stud.
    Snap,
    /// A crimp that bites through the cloth.
    Crimp,
}

impl TerminalKind {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Board => "board",
            Self::Snap => "snap",
            Self::Crimp => "crimp",
        }
    }
}

/// How a run is sewn.
#[derive(Debug, Clone, PartialEq)]
pub enum Stitch {
    /// Forward along the line.
    Running {
        /// Stitch length, m.
        stitch_length_m: Measured,
    },
    /// Forward, back, forward.
    Back {
        /// Stitch length, m.
        stitch_length_m: Measured,
    },
    /// Zigzag column.
    Satin {
        /// Width, m.
        column_width_m: Measured,
        /// Distance of penetrations on one side, m.
        density_m: Measured,
    },
}

impl Bobbin {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::SameThread => "same_thread",
        }
    }
}

impl Stitch {
    /// The stitch length that conductive thread takes well, 2.5 mm; common practice, no source.
    pub const USUAL_LENGTH_M: Measured = Measured::exact(2.5e-3);

    /// Running stitches of the usual length, taken where nothing is said.
    pub const fn usual() -> Self {
        Self::Running { stitch_length_m: Self::USUAL_LENGTH_M }
    }
}

/// Thread on the bobbin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bobbin {
    /// Plain thread that does not conduct.
    Plain,
    /// The same conductive thread as on top.
    SameThread,
}

/// Finger and way back to circuit ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Touch {
    /// How the circuit stands to earth.
    pub case: TouchCase,
    /// Flat disc for the fingertip, m.
    pub fingertip_diameter_m: Option<Measured>,
    /// Person to earth, F.
    pub body_to_earth_f: Option<Measured>,
    /// Supply to earth, F.
    pub supply_to_earth_f: Option<Measured>,
    /// Person to supply, F.
    pub body_to_supply_f: Option<Measured>,
    /// How far from the pad's middle the finger comes down, m; over the middle where nothing is given.
    pub off_centre_m: Option<Measured>,
}

impl Touch {
    /// A case with every number left to the assumptions.
    pub const fn assumed(case: TouchCase) -> Self {
        Self {
            case,
            fingertip_diameter_m: None,
            body_to_earth_f: None,
            supply_to_earth_f: None,
            body_to_supply_f: None,
            off_centre_m: None,
        }
    }
}

/// How the circuit stands to earth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TouchCase {
    /// Supply tied to earth.
    Earthed,
    /// Battery or isolated supply, standing free.
    Battery,
    /// Battery worn on the body that touches.
    Worn,
}

impl TouchCase {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Earthed => "earthed",
            Self::Battery => "battery",
            Self::Worn => "worn",
        }
    }
}

/// What the machine can do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Machine {
    /// Needles; machines of this kind carry 12, some up to 24.
    pub needles: u32,
    /// Threads that only decorate.
    pub decorative_threads: u32,
    /// Smallest distance kept between conductors, m.
    pub clearance_m: f64,
    /// Blade of the needle that carries conductive thread, m.
    pub needle_diameter_m: f64,
}

impl Default for Machine {
    fn default() -> Self {
        Self { needles: 12, decorative_threads: 0, clearance_m: 0.001, needle_diameter_m: 0.0009 }
    }
}

/// One thing wrong with an input: where, what was given, why not, and what is allowed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// JSON pointer (RFC 6901) of the field, edge names and units.
    pub pointer: String,
    /// What was given, as printed.
    pub given: String,
    /// Why it is refused.
    pub message: String,
    /// What is allowed.
    pub allowed: String,
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {} Given: {}. Allowed: {}.", self.pointer, self.message, self.given, self.allowed)
    }
}

/// Every fault found in an input, at least one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Faults(pub Vec<Fault>);

impl std::fmt::Display for Faults {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let texts: Vec<String> = self.0.iter().map(Fault::to_string).collect();
        f.write_str(&texts.join(" "))
    }
}

impl std::error::Error for Faults {}

/// Collects faults while an input is read through.
///
/// The check of a good piece must cost next to nothing, so pointers are put together only for a fault.
#[derive(Debug, Default)]
pub struct Inspector {
    faults: Vec<Fault>,
}

impl Inspector {
    /// An inspector that has found nothing yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// All that was found, or leave to go on.
    pub fn finish(self) -> Result<(), Faults> {
        if self.faults.is_empty() { Ok(()) } else { Err(Faults(self.faults)) }
    }

    /// How many faults were found so far.
    pub(super) fn faults(&self) -> usize {
        self.faults.len()
    }

    /// Notes a fault.
    pub fn refuse(&mut self, pointer: String, given: impl Into<String>, message: impl Into<String>, allowed: impl Into<String>) {
        self.faults.push(Fault { pointer, given: given.into(), message: message.into(), allowed: allowed.into() });
    }

    /// Checks a plain number, SI.
    pub fn number(&mut self, quantity: &Quantity, si: f64, pointer: impl FnOnce() -> String) {
        self.measured(quantity, &Measured::exact(si), pointer);
    }

    /// Checks a value and its spread, SI: finite, in range, limits in order.
    pub fn measured(&mut self, quantity: &Quantity, given: &Measured, pointer: impl FnOnce() -> String) {
        let (low, high) = given.named_limits();
        let inside = |si: f64| si.is_finite() && (edge_low(quantity)..=edge_high(quantity)).contains(&si);
        // A normal spread may reach past the range where the value itself may not: its tail is an approximation.
        let fine = match given.spread {
            Spread::Exact => inside(given.value),
            Spread::Uniform => inside(low) && inside(high) && given.standard_uncertainty >= 0.0,
            Spread::Normal => {
                let widest = edge_high(quantity) - edge_low(quantity);
                inside(given.value) && (0.0..=widest).contains(&(given.standard_uncertainty * units::COVERAGE_95))
            }
        };
        if fine {
            return;
        }
        let print = |si: f64| units::significant(quantity.from_si(si), 12).to_string();
        let (text, why) = match given.spread {
            Spread::Exact => (print(given.value), "is outside the allowed range"),
            Spread::Uniform if given.standard_uncertainty < 0.0 => {
                (format!("{} to {}", print(low), print(high)), "has its low limit above its high limit")
            }
            Spread::Uniform => (format!("{} to {}", print(low), print(high)), "reaches outside the allowed range"),
            Spread::Normal if inside(given.value) => (
                format!(
                    "{} plus or minus {}",
                    print(given.value),
                    units::significant(quantity.width_from_si(given.standard_uncertainty * units::COVERAGE_95), 12)
                ),
                "has a spread that is negative or wider than the allowed range",
            ),
            Spread::Normal => (print(given.value), "is outside the allowed range"),
        };
        self.refuse(pointer(), text, format!("The {} {why}.", quantity.name), quantity.allowed());
    }

    /// Checks a value that may be left out.
    pub fn optional(&mut self, quantity: &Quantity, given: Option<&Measured>, pointer: impl FnOnce() -> String) {
        if let Some(given) = given {
            self.measured(quantity, given, pointer);
        }
    }

    /// Checks a text's length.
    pub fn text(&mut self, text: Option<&str>, pointer: impl FnOnce() -> String) {
        let characters = text.map_or(0, |t| t.chars().count());
        if characters > MOST_CHARACTERS {
            self.refuse(
                pointer(),
                format!("{characters} characters"),
                "The text is too long.",
                format!("at most {MOST_CHARACTERS} characters"),
            );
        }
    }

    /// Notes a part of the piece that pads need and that is not there.
    fn missing(&mut self, part: &str, allowed: &str) {
        self.refuse(format!("/{part}"), "nothing", format!("The field `{part}` is missing: pads need it."), allowed);
    }

    pub(super) fn count(&mut self, given: usize, least: usize, most: usize, what: &str, pointer: impl FnOnce() -> String) {
        if !(least..=most).contains(&given) {
            self.refuse(
                pointer(),
                given.to_string(),
                format!("The number of {what} is outside the allowed range."),
                format!("{least} to {most}"),
            );
        }
    }

    /// Checks a choice from the library, or numbers in its place. `missing` are the fields that have neither.
    fn choice(&mut self, library: Option<&str>, known: &[&str], found: bool, missing: &[&str], pointer: impl Fn() -> String) {
        match library {
            Some(id) if !found => {
                self.refuse(format!("{}/library", pointer()), id, "The library has no such entry.", format!("one of {}", known.join(", ")));
            }
            Some(_) => {}
            None => {
                for field in missing {
                    self.refuse(
                        format!("{}/{field}", pointer()),
                        "nothing",
                        "This number is needed where no library entry is named.",
                        format!("a number, or `library` with one of {}", known.join(", ")),
                    );
                }
            }
        }
    }

    fn polygon(&mut self, points: &[Point], holes: &[Vec<Point>], pointer: impl Fn() -> String) {
        for (at, corners) in std::iter::once((format!("{}/points_mm", pointer()), points))
            .chain(holes.iter().enumerate().map(|(k, hole)| (format!("{}/holes_mm/{k}", pointer()), hole.as_slice())))
        {
            if let Some((k, corner)) = corners.iter().enumerate().find(|(_, c)| c.iter().any(|x| !in_range(&units::COORDINATE, *x))) {
                let given = corner.map(|x| units::significant(x * 1e3, 12));
                self.refuse(
                    format!("{at}/{k}"),
                    format!("{given:?}"),
                    "A corner lies outside the allowed range.",
                    units::COORDINATE.allowed(),
                );
                return;
            }
        }
        let Err(fault) = geometry::extent(points, holes) else { return };
        let at = |field: &str| format!("{}/{field}", pointer());
        let corners = points.len() + holes.iter().map(Vec::len).sum::<usize>();
        match fault {
            PolygonFault::TooFewCorners => {
                self.refuse(
                    at("points_mm"),
                    format!("{corners} corners"),
                    "An outline or a hole has too few corners.",
                    "3 corners or more each",
                );
            }
            PolygonFault::TooManyCorners => {
                self.refuse(
                    at("points_mm"),
                    format!("{corners} corners"),
                    "There are too many corners.",
                    format!("at most {MOST_CORNERS} with holes"),
                );
            }
            PolygonFault::Crossing(i, j) => self.refuse(
                at("points_mm"),
                format!("edges from corner {} and corner {}", i + 1, j + 1),
                "Two edges cross, touch or double back.",
                "an outline that does not meet itself",
            ),
            PolygonFault::Flat => {
                self.refuse(at("points_mm"), format!("{corners} corners"), "The outline has no area.", "corners that enclose an area")
            }
            PolygonFault::HoleOutside(k) => self.refuse(
                format!("{}/holes_mm/{k}", pointer()),
                format!("hole {}", k + 1),
                "The hole is not wholly inside the outline, or meets another hole.",
                "holes inside the outline that do not touch it or each other",
            ),
        }
    }
}

fn in_range(quantity: &Quantity, si: f64) -> bool {
    si.is_finite() && (edge_low(quantity)..=edge_high(quantity)).contains(&si)
}

/// The range in SI, a hair wider than the edge says so that a limit itself passes after conversion.
fn edge_low(quantity: &Quantity) -> f64 {
    quantity.to_si(quantity.low - 1e-12 * quantity.low.abs())
}

fn edge_high(quantity: &Quantity) -> f64 {
    quantity.to_si(quantity.high + 1e-12 * quantity.high.abs())
}

impl Piece {
    /// How many features it has.
    pub fn features(&self) -> usize {
        self.pads.len() + self.electrodes.len() + self.light_rows.len() + self.laid_wires.len()
    }

    /// The conductive threads of its features, one for each; a needle carries one kind.
    pub(super) fn threads(&self) -> impl Iterator<Item = &ThreadChoice> {
        let of_rows = self.light_rows.iter().flat_map(|row| std::iter::once(&row.thread).chain(&row.return_thread));
        self.pads.iter().map(|pad| &pad.thread).chain(self.electrodes.iter().map(|electrode| &electrode.thread)).chain(of_rows)
    }

    /// Checks the whole piece against the allowed ranges and the library; every fault found is returned.
    ///
    /// # Errors
    /// [`Faults`] with a JSON pointer, what was given and what is allowed for each.
    pub fn check(&self, library: &Library) -> Result<(), Faults> {
        let mut inspect = Inspector::new();
        inspect.text(self.name.as_deref(), || "/name".into());
        inspect.number(&units::PIECES, f64::from(self.quantity), || "/quantity".into());
        if self.features() == 0 {
            let lists = Feature::LISTS.join(", ");
            inspect.refuse(String::new(), "no feature", "The piece has no feature.", format!("at least one entry in {lists}"));
        }
        self.check_stack(&mut inspect, library);
        inspect.count(self.pads.len(), 0, MOST_PADS, "pads", || "/pads".into());
        for (k, pad) in self.pads.iter().enumerate().take(MOST_PADS) {
            pad.check(&mut inspect, library, k);
        }
        inspect.count(self.electrodes.len(), 0, MOST_ELECTRODES, "electrodes", || "/electrodes".into());
        for (k, electrode) in self.electrodes.iter().enumerate().take(MOST_ELECTRODES) {
            electrode.check(&mut inspect, library, k);
        }
        self.check_light_rows(&mut inspect, library);
        inspect.count(self.laid_wires.len(), 0, MOST_LAID_WIRES, "laid wires", || "/laid_wires".into());
        for (k, wire) in self.laid_wires.iter().enumerate().take(MOST_LAID_WIRES) {
            wire.check_in_piece(&mut inspect, library, k);
        }
        self.check_controller(&mut inspect, library);
        self.check_touch(&mut inspect);
        inspect.optional(&units::TEMPERATURE, self.temperature_k.as_ref(), || "/temperature_c".into());
        inspect.number(&units::AFTER_WASHES, f64::from(self.after_washes), || "/after_washes".into());
        inspect.optional(&units::STRETCH, self.stretch.as_ref(), || "/stretch_percent".into());
        inspect.number(&units::NEEDLES, f64::from(self.machine.needles), || "/machine/needles".into());
        inspect.number(&units::DECORATIVE_THREADS, f64::from(self.machine.decorative_threads), || "/machine/decorative_threads".into());
        inspect.number(&units::CLEARANCE, self.machine.clearance_m, || "/machine/clearance_mm".into());
        inspect.number(&units::NEEDLE_DIAMETER, self.machine.needle_diameter_m, || "/machine/needle_diameter_mm".into());
        inspect.number(&units::RELATIVE_TOLERANCE, self.aim.relative_tolerance, || "/relative_tolerance".into());
        self.check_field(&mut inspect);
        self.production.check(&mut inspect, library);
        inspect.finish()
    }

    fn check_light_rows(&self, inspect: &mut Inspector, library: &Library) {
        inspect.count(self.light_rows.len(), 0, MOST_LIGHT_ROWS, "light rows", || "/light_rows".into());
        for (k, row) in self.light_rows.iter().enumerate().take(MOST_LIGHT_ROWS) {
            row.check(inspect, library, k);
        }
        let lights = self.light_rows.iter().map(|row| row.lights as usize).sum();
        inspect.count(lights, 0, MOST_LIGHTS_OF_PIECE, "lights in all rows", || "/light_rows".into());
    }

    fn check_stack(&self, inspect: &mut Inspector, library: &Library) {
        let stack = &self.stack;
        if !self.pads.is_empty() && *stack == Stack::default() {
            inspect.missing("stack", "ground and layers");
        } else {
            let least = usize::from(!self.pads.is_empty());
            inspect.count(stack.base.len(), least, MOST_LAYERS, "base layers", || "/stack/base".into());
        }
        inspect.count(stack.overlay.len(), 0, MOST_LAYERS, "overlay layers", || "/stack/overlay".into());
        inspect.optional(&units::SEWN_THICKNESS, stack.sewn_thickness_m.as_ref(), || "/stack/sewn_thickness_mm".into());
        for (side, layers) in [("base", &stack.base), ("overlay", &stack.overlay)] {
            for (k, layer) in layers.iter().enumerate().take(MOST_LAYERS) {
                let at = || format!("/stack/{side}/{k}");
                inspect.optional(&units::LAYER_THICKNESS, layer.thickness_m.as_ref(), || format!("{}/thickness_mm", at()));
                inspect.optional(&units::RELATIVE_PERMITTIVITY, layer.relative_permittivity.as_ref(), || {
                    format!("{}/relative_permittivity", at())
                });
                inspect.optional(&units::WATER_FRACTION, layer.water_fraction.as_ref(), || format!("{}/water_fraction", at()));
                let found = layer.library.as_deref().is_some_and(|id| library.fabric(id).is_some());
                if !found {
                    let missing = needed(&[("thickness_mm", layer.thickness_m), ("relative_permittivity", layer.relative_permittivity)]);
                    let known: Vec<_> = library.fabrics.iter().map(|f| f.id).collect();
                    inspect.choice(layer.library.as_deref(), &known, found, &missing, at);
                }
            }
        }
    }

    /// What only the solved field can answer, and what it cannot.
    fn check_field(&self, inspect: &mut Inspector) {
        let opening = self.stack.opening_diameter_m.as_ref();
        inspect.optional(&units::OPENING_DIAMETER, opening, || "/stack/opening_diameter_mm".into());
        let off_centre = self.touch.off_centre_m.as_ref();
        inspect.optional(&units::OFF_CENTRE, off_centre, || "/touch/off_centre_mm".into());
        let moved = off_centre.is_some_and(|m| m.value != 0.0);
        let guarded = self.pads.iter().any(|pad| pad.guard.is_some());
        if self.aim.choice == Choice::ClosedForm && (opening.is_some() || moved || guarded) {
            inspect.refuse(
                "/method".into(),
                Choice::ClosedForm.word(),
                "An opening in the ground, a guard or a finger off the middle has no closed form.",
                "best or field",
            );
        }
        if opening.is_none() {
            return;
        }
        if self.stack.ground == GroundKind::None {
            inspect.refuse(
                "/stack/opening_diameter_mm".into(),
                "an opening",
                "There is no ground to open.",
                "leave it out, or name a ground",
            );
        }
        if moved {
            inspect.refuse(
                "/touch/off_centre_mm".into(),
                "a finger beside the middle",
                "Over an opening in the ground the finger is taken to come down on the middle.",
                "0, or no opening",
            );
        }
        for (k, pad) in self.pads.iter().enumerate().take(MOST_PADS) {
            if pad.guard.is_some() || !matches!(pad.shape, Shape::Round { .. }) {
                inspect.refuse(
                    "/stack/opening_diameter_mm".into(),
                    format!("pad {}", k + 1),
                    "An opening in the ground is worked out for round pads without a guard alone.",
                    "round pads without a guard, or no opening",
                );
                return;
            }
        }
    }

    fn check_controller(&self, inspect: &mut Inspector, library: &Library) {
        let c = &self.controller;
        if *c == ControllerChoice::default() {
            if !self.pads.is_empty() {
                let known: Vec<_> = library.controllers.iter().map(|f| f.id).collect();
                inspect.missing("controller", &format!("its numbers, or `library` with one of {}", known.join(", ")));
            }
            return;
        }
        let found = c.library.as_deref().is_some_and(|id| library.controller(id).is_some());
        let fields = [
            (&units::CHARGE_TIME, c.charge_time_s),
            (&units::SERIES_RESISTANCE, c.series_resistance_ohm),
            (&units::MAX_STANDING, c.max_standing_f),
            (&units::NEEDED_SIGNAL, c.needed_signal_f),
            (&units::MAX_RUN, c.max_run_ohm),
            (&units::SETTLED, c.settled_fraction),
        ];
        for (quantity, given) in &fields {
            inspect.optional(quantity, given.as_ref(), || format!("/controller/{}", quantity.field));
        }
        if !found {
            let missing = needed(&fields.map(|(quantity, given)| (quantity.field, given)));
            let known: Vec<_> = library.controllers.iter().map(|f| f.id).collect();
            inspect.choice(c.library.as_deref(), &known, found, &missing, || "/controller".into());
        }
    }

    fn check_touch(&self, inspect: &mut Inspector) {
        let t = &self.touch;
        let fields = [
            (&units::FINGERTIP, t.fingertip_diameter_m),
            (&units::BODY_TO_EARTH, t.body_to_earth_f),
            (&units::SUPPLY_TO_EARTH, t.supply_to_earth_f),
            (&units::BODY_TO_SUPPLY, t.body_to_supply_f),
        ];
        for (quantity, given) in &fields {
            inspect.optional(quantity, given.as_ref(), || format!("/touch/{}", quantity.field));
        }
        if t.case == TouchCase::Earthed && t.supply_to_earth_f.is_some() {
            inspect.refuse(
                "/touch/supply_to_earth_pf".into(),
                t.supply_to_earth_f.map_or_else(String::new, |m| units::SUPPLY_TO_EARTH.print(m.value)),
                "An earthed supply has no capacitance to earth to give.",
                "leave it out, or choose the case battery or worn",
            );
        }
    }
}

fn needed<const N: usize>(fields: &[(&'static str, Option<Measured>); N]) -> Vec<&'static str> {
    fields.iter().filter(|(_, given)| given.is_none()).map(|(field, _)| *field).collect()
}

impl ThreadChoice {
    /// Checks its numbers and its entry; `pointer` names the thread.
    pub(super) fn check(&self, inspect: &mut Inspector, library: &Library, pointer: impl Fn() -> String) {
        for (quantity, given) in [
            (&units::LINEAR_RESISTANCE, self.linear_resistance_ohm_per_m),
            (&units::THREAD_DIAMETER, self.diameter_m),
            (&units::LINEAR_DENSITY, self.linear_density_kg_per_m),
            (&units::TEMPERATURE_COEFFICIENT, self.temperature_coefficient_per_k),
            (&units::GROWTH_PER_WASH, self.growth_per_wash),
            (&units::STRETCH_FACTOR, self.stretch_factor),
        ] {
            inspect.optional(quantity, given.as_ref(), || format!("{}/{}", pointer(), quantity.field));
        }
        let found = self.library.as_deref().is_some_and(|id| library.thread(id).is_some());
        if !found {
            let missing = needed(&[("linear_resistance_ohm_per_m", self.linear_resistance_ohm_per_m), ("diameter_mm", self.diameter_m)]);
            let known: Vec<_> = library.threads.iter().map(|f| f.id).collect();
            inspect.choice(self.library.as_deref(), &known, found, &missing, pointer);
        }
    }
}

impl Pad {
    fn check(&self, inspect: &mut Inspector, library: &Library, k: usize) {
        let at = |tail: &str| format!("/pads/{k}{tail}");
        inspect.text(self.name.as_deref(), || at("/name"));
        self.shape.check(inspect, || at("/shape"));
        for (axis, x) in self.centre_m.iter().flatten().enumerate() {
            inspect.number(&units::CENTRE, *x, || format!("/pads/{k}/centre_mm/{axis}"));
        }
        inspect.number(&units::ROTATION, self.rotation_rad, || at("/rotation_deg"));
        self.thread.check(inspect, library, || at("/thread"));
        if let Some(fill) = &self.fill {
            inspect.measured(&units::ROW_SPACING, &fill.row_spacing_m, || at("/fill/row_spacing_mm"));
            inspect.measured(&units::STITCH_LENGTH, &fill.stitch_length_m, || at("/fill/stitch_length_mm"));
            inspect.optional(&units::ROW_CONTACT, fill.row_contact_ohm.as_ref(), || at("/fill/row_contact_ohm"));
            if self.sheet_resistance_ohm_sq.is_some() {
                let message = "The sheet resistance is that of solid cloth; this pad is filled with rows of thread.";
                inspect.refuse(at("/sheet_resistance_ohm_sq"), "rows", message, "without fill");
            }
        }
        inspect.optional(&units::SHEET_RESISTANCE, self.sheet_resistance_ohm_sq.as_ref(), || at("/sheet_resistance_ohm_sq"));
        self.run.check(inspect, at);
        if let Some(guard) = &self.guard {
            inspect.measured(&units::GUARD_GAP, &guard.gap_m, || at("/guard/gap_mm"));
            inspect.measured(&units::GUARD_WIDTH, &guard.width_m, || at("/guard/width_mm"));
            if matches!(self.shape, Shape::Polygon { .. }) {
                inspect.refuse(
                    at("/guard"),
                    "a guard around a polygon",
                    "A guard is worked out for round, rectangular and ring pads alone.",
                    "leave it out, or draw the guard as a pad of its own",
                );
            }
        }
    }
}

impl Shape {
    /// Checks the measures of the outline; `pointer` names the shape.
    pub fn check(&self, inspect: &mut Inspector, pointer: impl Fn() -> String) {
        let at = |field: &str| format!("{}/{field}", pointer());
        match self {
            Self::Round { diameter_m } => inspect.measured(&units::DIAMETER, diameter_m, || at("diameter_mm")),
            Self::Rectangle { width_m, length_m, corner_radius_m } => {
                inspect.measured(&units::WIDTH, width_m, || at("width_mm"));
                inspect.measured(&units::LENGTH, length_m, || at("length_mm"));
                inspect.measured(&units::CORNER_RADIUS, corner_radius_m, || at("corner_radius_mm"));
                let most = width_m.value.min(length_m.value) / 2.0;
                if corner_radius_m.value > most * (1.0 + 1e-9) && in_range(&units::CORNER_RADIUS, corner_radius_m.value) {
                    inspect.refuse(
                        at("corner_radius_mm"),
                        units::CORNER_RADIUS.print(corner_radius_m.value),
                        "The corner radius is more than half of the shorter side.",
                        format!("0 to {}", units::CORNER_RADIUS.print(most)),
                    );
                }
            }
            Self::Ring { inner_diameter_m, outer_diameter_m } => {
                inspect.measured(&units::INNER_DIAMETER, inner_diameter_m, || at("inner_diameter_mm"));
                inspect.measured(&units::OUTER_DIAMETER, outer_diameter_m, || at("outer_diameter_mm"));
                let most = 0.99 * outer_diameter_m.value;
                if inner_diameter_m.value > most && in_range(&units::INNER_DIAMETER, inner_diameter_m.value) {
                    inspect.refuse(
                        at("inner_diameter_mm"),
                        units::INNER_DIAMETER.print(inner_diameter_m.value),
                        "The hole leaves no ring.",
                        format!("at most {}, 99 % of the outer diameter", units::INNER_DIAMETER.print(most)),
                    );
                }
            }
            Self::Polygon { points_m, holes_m } => inspect.polygon(points_m, holes_m, pointer),
        }
    }

    /// The outline at the best values; `None` for a polygon with a fault.
    pub fn outline(&self) -> Option<Outline> {
        let extent = self.extent();
        match self {
            Self::Round { diameter_m } => Some(Outline::Round { diameter_m: diameter_m.value }),
            Self::Rectangle { width_m, length_m, corner_radius_m } => {
                Some(Outline::Rectangle { width_m: width_m.value, length_m: length_m.value, corner_radius_m: corner_radius_m.value })
            }
            Self::Ring { inner_diameter_m, outer_diameter_m } => {
                Some(Outline::Ring { inner_diameter_m: inner_diameter_m.value, outer_diameter_m: outer_diameter_m.value })
            }
            Self::Polygon { .. } => extent.map(|e| Outline::Polygon {
                area_m2: e.area_m2,
                perimeter_m: e.perimeter_m,
                hole_area_m2: e.hole_area_m2,
                box_width_m: e.width_m,
                box_length_m: e.length_m,
            }),
        }
    }

    /// The whole geometry at the best values.
    pub fn figure(&self) -> Figure {
        match self {
            Self::Round { diameter_m } => Figure::Round { diameter_m: diameter_m.value },
            Self::Rectangle { width_m, length_m, corner_radius_m } => {
                Figure::Rectangle { width_m: width_m.value, length_m: length_m.value, corner_radius_m: corner_radius_m.value }
            }
            Self::Ring { inner_diameter_m, outer_diameter_m } => {
                Figure::Ring { inner_diameter_m: inner_diameter_m.value, outer_diameter_m: outer_diameter_m.value }
            }
            Self::Polygon { points_m, holes_m } => Figure::Polygon { points_m: points_m.clone(), holes_m: holes_m.clone() },
        }
    }

    /// Measures of a polygon; `None` for the other shapes or a faulty one.
    pub fn extent(&self) -> Option<Extent> {
        match self {
            Self::Polygon { points_m, holes_m } => geometry::extent(points_m, holes_m).ok(),
            _ => None,
        }
    }
}

impl Run {
    /// How it is sewn, the usual stitch filled in.
    pub fn sewn(&self) -> Stitch {
        self.stitch.clone().unwrap_or_else(Stitch::usual)
    }

    pub(super) fn check(&self, inspect: &mut Inspector, at: impl Fn(&str) -> String) {
        inspect.measured(&units::RUN_LENGTH, &self.length_m, || at("/run/length_mm"));
        inspect.number(&units::PASSES, f64::from(self.passes), || at("/run/passes"));
        match &self.sewn() {
            Stitch::Running { stitch_length_m } | Stitch::Back { stitch_length_m } => {
                inspect.measured(&units::STITCH_LENGTH, stitch_length_m, || at("/run/stitch/stitch_length_mm"));
            }
            Stitch::Satin { column_width_m, density_m } => {
                inspect.measured(&units::COLUMN_WIDTH, column_width_m, || at("/run/stitch/column_width_mm"));
                inspect.measured(&units::SATIN_DENSITY, density_m, || at("/run/stitch/density_mm"));
            }
        }
        inspect.optional(&units::INTERLACE_FRACTION, self.interlace_fraction.as_ref(), || at("/run/interlace_fraction"));
        inspect.optional(&units::STITCH_CONTACT, self.stitch_contact_ohm.as_ref(), || at("/run/stitch_contact_ohm"));
        inspect.optional(&units::CONTACT_RESISTANCE, self.contact_resistance_ohm.as_ref(), || at("/run/terminal/contact_resistance_ohm"));
        inspect.optional(&units::TERMINAL_PITCH, self.terminal.pitch_m.as_ref(), || at("/run/terminal/pitch_mm"));
        inspect.optional(&units::HOLE, self.terminal.hole_diameter_m.as_ref(), || at("/run/terminal/hole_diameter_mm"));
        if self.terminal.hole_diameter_m.is_some() && self.terminal.kind != Some(TerminalKind::Board) {
            let given = self.terminal.kind.map_or("a terminal of no kind", TerminalKind::word);
            inspect.refuse(at("/run/terminal/hole_diameter_mm"), given, "A hole for the needle belongs to a board.", "with kind board");
        }
        if self.bobbin == Bobbin::Plain && self.stitch_contact_ohm.is_some() {
            let message = "The threads meet at a stitch only where the bobbin conducts too.";
            inspect.refuse(at("/run/stitch_contact_ohm"), Bobbin::Plain.word(), message, "with bobbin same_thread");
        }
    }
}
