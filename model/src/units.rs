//! Quantities at the edge: name, unit, allowed range, conversion to and from SI, and number formatting.
//!
//! The model computes in SI. People, spreadsheets and JSON use the unit that a field's suffix names.
//! A [`Quantity`] is the one place where a field's name, its unit, its conversion and its allowed range stand;
//! messages, the API document and the spreadsheet reader all take them from here.

mod electrode;
mod laid_wire;
mod lights;
mod run;

pub use electrode::*;
pub use laid_wire::*;
pub use lights::*;
pub use run::*;

/// Vacuum permittivity in F/m (CODATA 2018).
pub const VACUUM_PERMITTIVITY: f64 = 8.854_187_812_8e-12;

/// Half width of a normal 95 % interval in standard uncertainties.
pub const COVERAGE_95: f64 = 1.959_963_984_540_054;

/// One kind of number that people give or read: its field name, unit, conversion and allowed range.
#[derive(Debug, PartialEq)]
pub struct Quantity {
    /// Field name at the edge, unit suffix included (`thickness_mm`).
    pub field: &'static str,
    /// What a person calls it (`thickness`).
    pub name: &'static str,
    /// Unit as printed (`mm`); empty for a pure number.
    pub unit: &'static str,
    /// How many edge units make one SI unit (1000 for mm).
    pub per_si: f64,
    /// What is added to an edge value before the conversion (273.15 for degrees Celsius).
    pub offset: f64,
    /// Smallest allowed value, in the edge unit.
    pub low: f64,
    /// Largest allowed value, in the edge unit.
    pub high: f64,
}

impl Quantity {
    const fn new(field: &'static str, name: &'static str, unit: &'static str, per_si: f64, low: f64, high: f64) -> Self {
        Self { field, name, unit, per_si, offset: 0.0, low, high }
    }

    /// Converts a value in the edge unit to SI.
    ///
    /// ```
    /// assert_eq!(toile_model::units::LAYER_THICKNESS.to_si(3.0), 0.003);
    /// ```
    pub const fn to_si(&self, edge: f64) -> f64 {
        (edge + self.offset) / self.per_si
    }

    /// Converts a value in SI to the edge unit.
    pub const fn from_si(&self, si: f64) -> f64 {
        si * self.per_si - self.offset
    }

    /// Converts a difference (an uncertainty, a slope's step) in SI to the edge unit.
    pub const fn width_from_si(&self, si: f64) -> f64 {
        si * self.per_si
    }

    /// The allowed range in words: `0.01 to 200 mm`.
    pub fn allowed(&self) -> String {
        with_unit(&format!("{} to {}", self.low, self.high), self.unit)
    }

    /// A value given in SI, printed in the edge unit with it: `3 mm`.
    pub fn print(&self, si: f64) -> String {
        with_unit(&short(self.from_si(si)), self.unit)
    }
}

/// Thickness of one layer of a piece.
pub const LAYER_THICKNESS: Quantity = Quantity::new("thickness_mm", "thickness", "mm", 1e3, 0.01, 200.0);
/// Thickness of one layer in a single-part question, where limits far from the trade are of interest.
pub const MEDIUM_THICKNESS: Quantity = Quantity::new("thickness_mm", "thickness", "mm", 1e3, 0.001, 10_000.0);
/// Permittivity of a layer relative to vacuum.
pub const RELATIVE_PERMITTIVITY: Quantity = Quantity::new("relative_permittivity", "relative permittivity", "", 1.0, 1.0, 100.0);
/// Thickness that the needle passes through.
pub const SEWN_THICKNESS: Quantity = Quantity::new("sewn_thickness_mm", "sewn thickness", "mm", 1e3, 0.01, 50.0);

/// Diameter of a round pad.
pub const DIAMETER: Quantity = Quantity::new("diameter_mm", "diameter", "mm", 1e3, 0.5, 1000.0);
/// Side of a rectangle along x.
pub const WIDTH: Quantity = Quantity::new("width_mm", "width", "mm", 1e3, 0.1, 1000.0);
/// Side of a rectangle along y.
pub const LENGTH: Quantity = Quantity::new("length_mm", "length", "mm", 1e3, 0.1, 1000.0);
/// Radius of a rectangle's corners.
pub const CORNER_RADIUS: Quantity = Quantity::new("corner_radius_mm", "corner radius", "mm", 1e3, 0.0, 500.0);
/// Inner diameter of a ring.
pub const INNER_DIAMETER: Quantity = Quantity::new("inner_diameter_mm", "inner diameter", "mm", 1e3, 0.1, 1000.0);
/// Outer diameter of a ring.
pub const OUTER_DIAMETER: Quantity = Quantity::new("outer_diameter_mm", "outer diameter", "mm", 1e3, 0.5, 1000.0);
/// One coordinate of a point, a pad's centre or a corner.
pub const COORDINATE: Quantity = Quantity::new("points_mm", "coordinate", "mm", 1e3, -5000.0, 5000.0);
/// One coordinate of the middle of a conductor.
pub const CENTRE: Quantity = Quantity::new("centre_mm", "centre coordinate", "mm", 1e3, -5000.0, 5000.0);
/// Turn of a conductor against the x axis.
pub const ROTATION: Quantity = Quantity::new("rotation_deg", "rotation", "degrees", 180.0 / std::f64::consts::PI, -360.0, 360.0);

/// Diameter of a thread.
pub const THREAD_DIAMETER: Quantity = Quantity::new("diameter_mm", "thread diameter", "mm", 1e3, 0.01, 5.0);
/// Diameter of a thread, where the field must say so.
pub const ROW_THREAD_DIAMETER: Quantity = Quantity::new("thread_diameter_mm", "thread diameter", "mm", 1e3, 0.01, 5.0);
/// Resistance of a thread per length at 20 degrees Celsius.
pub const LINEAR_RESISTANCE: Quantity =
    Quantity::new("linear_resistance_ohm_per_m", "linear resistance of the thread", "ohm/m", 1.0, 0.001, 1e6);
/// Mass of a thread per length.
pub const LINEAR_DENSITY: Quantity = Quantity::new("linear_density_tex", "linear density", "tex", 1e6, 1.0, 5000.0);
/// Relative growth of a thread's resistance per kelvin.
pub const TEMPERATURE_COEFFICIENT: Quantity =
    Quantity::new("temperature_coefficient_per_k", "temperature coefficient of resistance", "1/K", 1.0, -0.01, 0.02);

/// Distance between neighbouring rows of a fill.
pub const ROW_SPACING: Quantity = Quantity::new("row_spacing_mm", "row spacing", "mm", 1e3, 0.05, 50.0);
/// Nominal length of one stitch.
pub const STITCH_LENGTH: Quantity = Quantity::new("stitch_length_mm", "stitch length", "mm", 1e3, 0.05, 100.0);
/// Width of a satin column.
pub const COLUMN_WIDTH: Quantity = Quantity::new("column_width_mm", "column width", "mm", 1e3, 0.1, 100.0);
/// Distance between neighbouring penetrations on the same side of a satin column.
pub const SATIN_DENSITY: Quantity = Quantity::new("density_mm", "satin density", "mm", 1e3, 0.05, 50.0);
/// Depth of the interlacing point as a fraction of the sewn thickness, from the face.
pub const INTERLACE_FRACTION: Quantity = Quantity::new("interlace_fraction", "depth of the interlacing point", "", 1.0, 0.0, 1.0);
/// Length of a run or of a stitched feature.
pub const RUN_LENGTH: Quantity = Quantity::new("length_mm", "length", "mm", 1e3, 0.1, 100_000.0);
/// Height of a filled area.
pub const FILL_HEIGHT: Quantity = Quantity::new("height_mm", "height", "mm", 1e3, 0.1, 100_000.0);
/// Thickness that stitches pass, in a single-part question.
pub const STITCHED_THICKNESS: Quantity = Quantity::new("thickness_mm", "thickness", "mm", 1e3, 0.0, 100.0);
/// Width of a run drawn as a line.
pub const LINE_WIDTH: Quantity = Quantity::new("width_mm", "line width", "mm", 1e3, 0.001, 1000.0);
/// Height of thread axes over ground.
pub const HEIGHT: Quantity = Quantity::new("height_mm", "height", "mm", 1e3, 0.001, 10_000.0);
/// Contact resistance between a run and a board, snap or crimp.
pub const CONTACT_RESISTANCE: Quantity =
    Quantity::new("contact_resistance_ohm", "contact resistance of the terminal", "ohm", 1.0, 0.0, 1e6);
/// How many times a run is sewn over itself.
pub const PASSES: Quantity = Quantity::new("passes", "number of passes", "", 1.0, 1.0, 50.0);

/// Time a controller gives a pad to charge.
pub const CHARGE_TIME: Quantity = Quantity::new("charge_time_us", "charge time", "us", 1e6, 0.001, 1e5);
/// Resistance between the controller's driver and its terminal.
pub const SERIES_RESISTANCE: Quantity = Quantity::new("series_resistance_ohm", "series resistance of the controller", "ohm", 1.0, 0.0, 1e7);
/// Largest standing capacitance that a controller can handle.
pub const MAX_STANDING: Quantity = Quantity::new("max_standing_pf", "largest standing capacitance", "pF", 1e12, 0.1, 1e6);
/// Smallest change of capacitance that a controller tells from noise.
pub const NEEDED_SIGNAL: Quantity = Quantity::new("needed_signal_pf", "needed signal", "pF", 1e12, 1e-4, 1e3);
/// Largest resistance of a run that a controller's maker allows.
pub const MAX_RUN: Quantity = Quantity::new("max_run_ohm", "largest run resistance", "ohm", 1.0, 1.0, 1e8);
/// Share of its final charge that a pad must reach, in percent.
pub const SETTLED: Quantity = Quantity::new("settled_percent", "needed share of the final charge", "%", 100.0, 1.0, 99.9999);

/// What a touch of one pad adds to another.
pub const NEIGHBOUR_SIGNAL: Quantity = Quantity::new("needed_signal_pf", "signal on a neighbour", "pF", 1e12, 1e-4, 1e3);
/// Relative error that is asked of a capacitance.
pub const RELATIVE_TOLERANCE: Quantity = Quantity::new("relative_tolerance", "relative tolerance", "", 1.0, 1e-9, 1.0);
/// Part of a layer's volume that is water.
pub const WATER_FRACTION: Quantity = Quantity::new("water_fraction", "water fraction", "", 1.0, 0.0, 0.95);
/// Diameter of the round opening in the ground sheet under each pad.
pub const OPENING_DIAMETER: Quantity =
    Quantity::new("opening_diameter_mm", "diameter of the opening in the ground", "mm", 1e3, 0.5, 1000.0);
/// Free space between a pad and the guard around it.
pub const GUARD_GAP: Quantity = Quantity::new("gap_mm", "gap to the guard", "mm", 1e3, 0.2, 100.0);
/// Width of the guard.
pub const GUARD_WIDTH: Quantity = Quantity::new("width_mm", "width of the guard", "mm", 1e3, 0.2, 100.0);
/// How far the finger comes down beside the middle of the pad.
pub const OFF_CENTRE: Quantity = Quantity::new("off_centre_mm", "distance of the finger from the pad's middle", "mm", 1e3, 0.0, 500.0);
/// Diameter of the contact area of a fingertip, taken as a flat disc.
pub const FINGERTIP: Quantity = Quantity::new("fingertip_diameter_mm", "fingertip diameter", "mm", 1e3, 1.0, 60.0);
/// Capacitance from a person to earth.
pub const BODY_TO_EARTH: Quantity = Quantity::new("body_to_earth_pf", "capacitance from body to earth", "pF", 1e12, 0.0, 1e5);
/// Capacitance from the circuit's supply to earth.
pub const SUPPLY_TO_EARTH: Quantity = Quantity::new("supply_to_earth_pf", "capacitance from supply to earth", "pF", 1e12, 0.0, 1e9);
/// Capacitance from a person to the circuit's supply.
pub const BODY_TO_SUPPLY: Quantity = Quantity::new("body_to_supply_pf", "capacitance from body to supply", "pF", 1e12, 0.0, 1e5);
/// Capacitance between two conductors, in a single-part question.
pub const CAPACITANCE: Quantity = Quantity::new("capacitance_pf", "capacitance", "pF", 1e12, 0.0, 1e9);

/// Temperature of the piece in use.
pub const TEMPERATURE: Quantity =
    Quantity { field: "temperature_c", name: "temperature", unit: "degrees C", per_si: 1.0, offset: 273.15, low: -60.0, high: 200.0 };
/// Needles of the machine.
pub const NEEDLES: Quantity = Quantity::new("needles", "number of needles", "", 1.0, 1.0, 24.0);
/// Threads that only decorate and take a needle each.
pub const DECORATIVE_THREADS: Quantity = Quantity::new("decorative_threads", "number of decorative threads", "", 1.0, 0.0, 100.0);
/// Smallest distance that the shop keeps between stitched conductors.
pub const CLEARANCE: Quantity = Quantity::new("clearance_mm", "clearance", "mm", 1e3, 0.0, 100.0);
/// Pieces asked for.
pub const PIECES: Quantity = Quantity::new("quantity", "quantity", "", 1.0, 1.0, 10_000_000.0);

/// Stitches a minute with plain thread.
pub const PLAIN_SPEED: Quantity = Quantity::new("plain_stitches_per_min", "speed with plain thread", "stitches/min", 60.0, 10.0, 3000.0);
/// Stitches a minute with conductive thread.
pub const CONDUCTIVE_SPEED: Quantity =
    Quantity::new("conductive_stitches_per_min", "speed with conductive thread", "stitches/min", 60.0, 10.0, 3000.0);
/// Stitches a minute over a laid wire.
pub const LAID_SPEED: Quantity = Quantity::new("laid_stitches_per_min", "speed over a laid wire", "stitches/min", 60.0, 10.0, 3000.0);
/// Stop for a trim.
pub const TRIM_TIME: Quantity = Quantity::new("trim_s", "stop for a trim", "s", 1.0, 0.0, 600.0);
/// Stop for a change of colour.
pub const COLOUR_CHANGE_TIME: Quantity = Quantity::new("colour_change_s", "stop for a change of colour", "s", 1.0, 0.0, 600.0);
/// Change of one bobbin.
pub const BOBBIN_CHANGE_TIME: Quantity = Quantity::new("bobbin_change_s", "change of one bobbin", "s", 1.0, 0.0, 3600.0);
/// Plain thread on a bobbin.
pub const PLAIN_BOBBIN: Quantity = Quantity::new("plain_bobbin_m", "plain thread on a bobbin", "m", 1.0, 1.0, 10_000.0);
/// Conductive thread on a bobbin.
pub const CONDUCTIVE_BOBBIN: Quantity = Quantity::new("conductive_bobbin_m", "conductive thread on a bobbin", "m", 1.0, 1.0, 10_000.0);
/// Stitches between two breaks of plain thread.
pub const PLAIN_BREAK: Quantity =
    Quantity::new("plain_stitches_per_break", "stitches between two breaks of plain thread", "stitches", 1.0, 10.0, 1e8);
/// Stitches between two breaks of conductive thread.
pub const CONDUCTIVE_BREAK: Quantity =
    Quantity::new("conductive_stitches_per_break", "stitches between two breaks of conductive thread", "stitches", 1.0, 10.0, 1e8);
/// Repair of a thread break.
pub const BREAK_REPAIR_TIME: Quantity = Quantity::new("break_repair_s", "repair of a thread break", "s", 1.0, 0.0, 3600.0);
/// Exchange of one frame at the machine.
pub const FRAME_EXCHANGE_TIME: Quantity = Quantity::new("frame_exchange_s", "exchange of one frame", "s", 1.0, 0.0, 3600.0);
/// Hooping one frame, beside the machine.
pub const HOOPING_TIME: Quantity = Quantity::new("hooping_s", "hooping one frame", "s", 1.0, 0.0, 36_000.0);
/// A light or sequin placed by the machine.
pub const MACHINE_PART_TIME: Quantity = Quantity::new("machine_part_s", "placing one light by machine", "s", 1.0, 0.0, 600.0);
/// A terminal or patch put on by hand.
pub const HAND_PART_TIME: Quantity = Quantity::new("hand_part_s", "putting on one terminal or patch", "s", 1.0, 0.0, 36_000.0);
/// A board placed by hand.
pub const BOARD_TIME: Quantity = Quantity::new("board_s", "placing one board", "s", 1.0, 0.0, 36_000.0);
/// A piece laid into the jig.
pub const JIG_TIME: Quantity = Quantity::new("jig_s", "laying a piece into the jig", "s", 1.0, 0.0, 36_000.0);
/// The jig itself, once for a series.
pub const JIG_MAKING_TIME: Quantity = Quantity::new("jig_making_min", "making the jig", "min", 1.0 / 60.0, 0.0, 100_000.0);
/// Tails cut, tested and packed.
pub const FINISHING_TIME: Quantity = Quantity::new("finishing_s", "cutting tails, testing and packing a piece", "s", 1.0, 0.0, 100_000.0);
/// Programme set-up and first piece.
pub const SET_UP_TIME: Quantity =
    Quantity::new("set_up_min", "setting up the programme and the first piece", "min", 1.0 / 60.0, 0.0, 10_000.0);
/// Threading one needle of one head.
pub const THREADING_TIME: Quantity = Quantity::new("threading_s", "threading one needle of one head", "s", 1.0, 0.0, 3600.0);
/// Drawing the stitch file, once for a design.
pub const DESIGN_TIME: Quantity = Quantity::new("design_min", "drawing the stitch file", "min", 1.0 / 60.0, 0.0, 100_000.0);
/// Share of a person that a running machine takes.
pub const ATTENDANCE: Quantity = Quantity::new("attendance_percent", "share of a person at a running machine", "%", 100.0, 0.0, 100.0);
/// Thread for tails, breaks and repairs, over what is sewn.
pub const THREAD_ALLOWANCE: Quantity =
    Quantity::new("thread_allowance_percent", "thread for tails, breaks and repairs", "%", 100.0, 0.0, 200.0);
/// Good pieces among those made in a series.
pub const YIELD: Quantity = Quantity::new("yield_percent", "good pieces among those made", "%", 100.0, 1.0, 100.0);
/// Pieces made for one sample that is handed over.
pub const SAMPLE_TRIES: Quantity = Quantity::new("sample_tries", "pieces made for one sample", "pieces", 1.0, 1.0, 50.0);

/// Price of an hour of one head.
pub const MACHINE_PRICE: Quantity = Quantity::new("machine_per_head_hour", "one head of the machine", "per hour", 1.0, 0.0, 1e6);
/// Price of an hour at the machine and the bench.
pub const LABOUR_PRICE: Quantity = Quantity::new("labour_per_hour", "labour", "per hour", 1.0, 0.0, 1e6);
/// Price of an hour of drawing.
pub const DESIGN_PRICE: Quantity = Quantity::new("design_per_hour", "drawing", "per hour", 1.0, 0.0, 1e6);
/// Price of a conductive thread that has none of its own.
pub const CONDUCTIVE_THREAD_PRICE: Quantity = Quantity::new("conductive_thread_per_m", "conductive thread", "per m", 1.0, 0.0, 1e5);
/// Price of plain needle thread.
pub const PLAIN_THREAD_PRICE: Quantity = Quantity::new("plain_thread_per_m", "plain needle thread", "per m", 1.0, 0.0, 1e5);
/// Price of plain bobbin thread.
pub const BOBBIN_THREAD_PRICE: Quantity = Quantity::new("bobbin_thread_per_m", "plain bobbin thread", "per m", 1.0, 0.0, 1e5);
/// Price of a laid wire.
pub const LAID_PRICE: Quantity = Quantity::new("laid_per_m", "laid wire", "per m", 1.0, 0.0, 1e5);
/// Price of a light or sequin.
pub const MACHINE_PART_PRICE: Quantity = Quantity::new("machine_part_each", "light", "each", 1.0, 0.0, 1e6);
/// Price of a terminal or patch.
pub const HAND_PART_PRICE: Quantity = Quantity::new("hand_part_each", "terminal or patch", "each", 1.0, 0.0, 1e6);
/// Price of a board.
pub const BOARD_PRICE: Quantity = Quantity::new("board_each", "board", "each", 1.0, 0.0, 1e6);
/// Price of what a piece uses up.
pub const CONSUMABLES_PRICE: Quantity = Quantity::new("consumables_per_piece", "backing, film and needles", "a piece", 1.0, 0.0, 1e6);
/// Margin as a part of the price.
pub const MARGIN: Quantity = Quantity::new("margin_percent", "margin, part of the price", "%", 1.0, 0.0, 95.0);
/// Price of one metre of a thread of the library.
pub const THREAD_PRICE: Quantity = Quantity::new("thread_per_m", "thread of the library", "per m", 1.0, 0.0, 1e5);

/// Stitches of one piece, in a single-part question.
pub const STITCH_COUNT: Quantity = Quantity::new("stitches", "number of stitches", "", 1.0, 0.0, 1e8);
/// Trims, lights or terminals of one piece, in a single-part question.
pub const PART_COUNT: Quantity = Quantity::new("parts", "number of parts", "", 1.0, 0.0, 1e5);
/// Kinds of thread, in a single-part question.
pub const THREAD_KINDS: Quantity = Quantity::new("kinds", "kinds of thread", "", 1.0, 0.0, 100.0);
/// Thread or wire of one piece, in a single-part question.
pub const THREAD_LENGTH: Quantity = Quantity::new("thread_m", "length of thread", "m", 1.0, 0.0, 1e6);
/// Heads of a machine that sew at once.
pub const HEADS: Quantity = Quantity::new("heads", "number of heads", "", 1.0, 1.0, 100.0);
/// Pieces that one frame holds.
pub const PIECES_PER_FRAME: Quantity = Quantity::new("pieces_per_frame", "pieces in one frame", "", 1.0, 1.0, 1000.0);
/// Stitches that only decorate.
pub const DECORATIVE_STITCHES: Quantity = Quantity::new("decorative_stitches", "decorative stitches", "", 1.0, 0.0, 10_000_000.0);
/// Boards on a piece.
pub const BOARDS: Quantity = Quantity::new("boards", "number of boards", "", 1.0, 0.0, 1000.0);
/// What comes to each piece beside the shop's own: cloth, boards.
pub const MATERIAL_PER_PIECE: Quantity = Quantity::new("material_per_piece", "material for each piece", "", 1.0, 0.0, 1e6);
/// Price of one unit of the shop's currency in the currency asked for.
pub const EXCHANGE_RATE: Quantity = Quantity::new("exchange_rate", "exchange rate", "", 1.0, 1e-6, 1e6);

/// Rounds to `digits` significant decimal digits (1 to 15); zero, NaN and infinities pass unchanged.
///
/// ```
/// assert_eq!(toile_model::units::significant(0.1 + 0.2, 6), 0.3);
/// ```
pub fn significant(value: f64, digits: i32) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let shift = digits - 1 - decade(value.abs());
    if shift.unsigned_abs() as usize >= POWERS.len() {
        // Beyond the exact powers of ten only printing and reading is exact; such numbers are rare.
        return format!("{value:.*e}", (digits - 1) as usize).parse().ok().filter(|x: &f64| x.is_finite()).unwrap_or(value);
    }
    // Dividing by an exact power of ten (rather than multiplying by an inexact one) keeps the printed form short.
    let power = POWERS[shift.unsigned_abs() as usize];
    if shift >= 0 { (value * power).round() / power } else { (value / power).round() * power }
}

const POWERS: [f64; 23] =
    [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22];

/// Ten to a power of 0 or more; up to the 22nd it is exact.
fn power_of_ten(exponent: i32) -> f64 {
    usize::try_from(exponent).ok().and_then(|k| POWERS.get(k)).copied().unwrap_or_else(|| 10f64.powi(exponent.min(300)))
}

/// The whole part of the decimal logarithm of a positive number. Ordinary magnitudes are looked up: an answer rounds a
/// few hundred numbers.
fn decade(magnitude: f64) -> i32 {
    if (1.0..1e15).contains(&magnitude) { POWERS.partition_point(|p| *p <= magnitude) as i32 - 1 } else { magnitude.log10().floor() as i32 }
}

/// A number for a sentence: three significant digits, no exponent between 0.0001 and 10 million.
///
/// ```
/// assert_eq!(toile_model::units::short(12.3456), "12.3");
/// ```
pub fn short(value: f64) -> String {
    let magnitude = value.abs();
    if !(1e-4..9_999_999.5).contains(&magnitude) {
        let rounded = significant(value, 3);
        return if rounded == 0.0 { "0".into() } else { format!("{rounded:e}") };
    }
    // Sentences hold a hundred such numbers an answer: three digits are put together from whole numbers, which is
    // several times faster than printing a float to its shortest form.
    let decimals = (2 - decade(magnitude)).max(0) as usize;
    let scaled = (magnitude * power_of_ten(decimals as i32)).round() as u64;
    let one = 10u64.pow(decimals as u32);
    let (whole, part) = (scaled / one, scaled % one);
    let mut text = String::with_capacity(12);
    if value < 0.0 {
        text.push('-');
    }
    text.push_str(&whole.to_string());
    if part > 0 {
        let part = (one + part).to_string();
        text.push('.');
        text.push_str(part[1..].trim_end_matches('0'));
    }
    text
}

/// A chance for a sentence. It never claims certainty: `99.9 % or more`, `0.1 % or less`.
///
/// ```
/// assert_eq!(toile_model::units::percent(0.9312), "93 %");
/// ```
pub fn percent(chance: f64) -> String {
    let hundredths = chance * 100.0;
    if hundredths >= 99.9 {
        "99.9 % or more".into()
    } else if hundredths <= 0.1 {
        "0.1 % or less".into()
    } else if (94.0..95.0).contains(&hundredths) {
        // Rounded down: 94.96 % must not read as 95 %, the limit of the verdict.
        format!("{} %", (hundredths * 10.0).floor() / 10.0)
    } else if !(10.0..95.0).contains(&hundredths) {
        format!("{} %", ((hundredths * 10.0).round() / 10.0).min(99.9))
    } else {
        format!("{} %", hundredths.round())
    }
}

/// Joins a printed number and its unit; a pure number stays alone.
pub fn with_unit(number: &str, unit: &str) -> String {
    if unit.is_empty() { number.to_owned() } else { format!("{number} {unit}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_numbers_read_as_three_significant_digits() {
        for (value, text) in [
            (0.0, "0"),
            (12.3456, "12.3"),
            (-0.000_123_44, "-0.000123"),
            (99.96, "100"),
            (999.6, "1000"),
            (123_456.7, "123457"),
            (0.1, "0.1"),
            (2.0, "2"),
            (9_999_999.0, "9999999"),
            (12_345_678.0, "1.23e7"),
            (0.000_012_345, "1.23e-5"),
            (1.5e-30, "1.5e-30"),
        ] {
            assert_eq!(short(value), text);
        }
    }

    #[test]
    fn rounding_holds_at_any_magnitude() {
        for (value, digits, rounded) in [
            (7.386_812_3e-270, 6, 7.386_81e-270),
            (-1.234_567e-18, 6, -1.234_57e-18),
            (1.234_567e-17, 6, 1.234_57e-17),
            (9.999_999e25, 6, 1e26),
            (f64::MAX, 3, f64::MAX),
            (5e-324, 6, 5e-324),
            (123_456_789.0, 6, 123_457_000.0),
        ] {
            assert_eq!(significant(value, digits), rounded, "{value}");
        }
    }

    #[test]
    fn short_numbers_are_the_rounded_ones_printed() {
        let mut value = 1.003e-4;
        while value < 99.9 {
            assert_eq!(short(value), significant(value, 3).to_string(), "{value}");
            value *= 1.0137;
        }
    }
}
