//! The columns that a sheet may have: one table of names, synonyms, quantities and places in the piece.
//!
//! Header matching, reading, messages and templates all take from this table; nothing else lists the columns.

mod words;

use super::row::Draft;
use toile_model::Measured;
use toile_model::units::{self, Quantity};
use words::{
    BOBBINS, CASES, FEATURES, FEEDS, GROUNDS, HOLDS, JIGS, JOINED, LAID, METHODS, PLACERS, SHAPES, SIGNALS, SKINS, STITCHES, SUPPLIES,
    TERMINALS, TEXTURES, USES,
};

/// Layers on each side that a sheet can name.
pub const MOST_LAYERS: usize = 4;

/// Columns that the answer adds, in order.
pub const RESULT_COLUMNS: [&str; 36] = [
    "verdict",
    "chance",
    "signal_pf",
    "standing_pf",
    "run_ohm",
    "settling_percent",
    "pad_pf",
    "closed_form_pf",
    "capacitance_error_percent",
    "light_spread_percent",
    "headroom_v",
    "supply_ma",
    "battery_life_h",
    "laid_mm",
    "wire_ohm",
    "heating_w",
    "warmest_c",
    "impedance_10_hz_ohm",
    "read_out_loss_percent",
    "noise_uv",
    "hum_uv",
    "current_density_ma_per_cm2",
    "charge_per_phase_uc",
    "contact_pressure_kpa",
    "stitches_per_piece",
    "conductive_thread_m",
    "machine_minutes",
    "price_sample",
    "price_each",
    "price_each_low",
    "price_each_high",
    "price_total",
    "price_currency",
    "main_reason",
    "cautions",
    "problem",
];

/// One column, or one per layer where its name holds a `#`.
#[derive(Debug)]
pub struct Column {
    /// Its name, with the unit that a bare number has.
    pub name: &'static str,
    /// Other names, without units; case, spaces and punctuation do not matter, nor does the order of the words.
    pub synonyms: &'static [&'static str],
    /// A value for a template.
    pub example: &'static str,
    /// Where its value stands in a piece (JSON pointer).
    pub(super) pointer: &'static str,
    pub(super) takes: Takes,
}

/// What the cells of a column hold, and where it goes.
pub(super) enum Takes {
    /// The pad's name.
    Name,
    /// One of some words.
    Word(&'static [Word]),
    /// An entry of the library.
    Entry(Shelf, fn(&mut Draft, usize, &'static str)),
    /// A number with its spread.
    Number(&'static Quantity, fn(&mut Draft, usize) -> &mut Option<Measured>),
    /// A number without a spread.
    Plain(&'static Quantity, fn(&mut Draft) -> &mut Option<f64>),
    /// A short text in capital letters, such as the code of a currency.
    Code(fn(&mut Draft) -> &mut Option<String>),
    /// A whole number.
    Count(&'static Quantity, fn(&mut Draft) -> &mut Option<u32>),
}

impl std::fmt::Debug for Takes {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Name => "Name",
            Self::Word(_) => "Word",
            Self::Entry(..) => "Entry",
            Self::Number(..) => "Number",
            Self::Plain(..) => "Plain",
            Self::Code(_) => "Code",
            Self::Count(..) => "Count",
        })
    }
}

/// One word that a cell may hold.
pub(super) struct Word {
    pub(super) word: &'static str,
    pub(super) also: &'static [&'static str],
    pub(super) put: fn(&mut Draft),
}

/// Part of the library.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shelf {
    Fabrics,
    Threads,
    Controllers,
    Metals,
}

impl Column {
    /// How many columns stand for it: one, or one per layer.
    pub fn layers(&self) -> usize {
        if self.name.contains('#') { MOST_LAYERS } else { 1 }
    }

    /// Its name for a layer, counted from 0.
    pub fn name_of(&self, layer: usize) -> String {
        self.name.replace('#', &(layer + 1).to_string())
    }

    /// Its kind of number.
    pub fn quantity(&self) -> Option<&'static Quantity> {
        match self.takes {
            Takes::Number(quantity, _) | Takes::Plain(quantity, _) | Takes::Count(quantity, _) => Some(quantity),
            Takes::Name | Takes::Word(_) | Takes::Entry(..) | Takes::Code(_) => None,
        }
    }

    /// What it means and what its cells may hold.
    pub fn meaning(&self) -> String {
        match (self.quantity(), self.words(), &self.takes) {
            (Some(quantity), ..) => format!("{}, {}", quantity.name, quantity.allowed()),
            (None, words, _) if !words.is_empty() => format!("one of {}", words.join(", ")),
            (.., Takes::Entry(Shelf::Fabrics, _)) => "a fabric of the library".into(),
            (.., Takes::Entry(Shelf::Threads, _)) => "a thread of the library".into(),
            (.., Takes::Entry(Shelf::Controllers, _)) => "a controller of the library".into(),
            (.., Takes::Entry(Shelf::Metals, _)) => "a metal of the library".into(),
            (.., Takes::Code(_)) => "a code of three letters".into(),
            _ => "a name".into(),
        }
    }

    /// The help text of a template for one of its layers, counted from 0.
    pub fn help(&self, layer: usize) -> String {
        let side = match self.name.split_once("_#") {
            Some((side, _)) => format!(" Layer {} of the {side}, counted upwards.", layer + 1),
            None => String::new(),
        };
        let spread = if matches!(self.takes, Takes::Number(..)) { " May have a spread: 3 ± 0.2, or 2.8 to 3.2." } else { "" };
        let example = if self.example.is_empty() { String::new() } else { format!(" For example {}.", self.example) };
        let also = if self.synonyms.is_empty() {
            String::new()
        } else {
            format!(" Other names: {}.", self.synonyms.join(", ").replace('#', &(layer + 1).to_string()))
        };
        let meaning = self.meaning();
        let mut letters = meaning.chars();
        let meaning: String = letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect();
        format!("{meaning}.{side}{spread}{example}{also}")
    }

    /// The words that its cells may hold, where they hold words.
    pub fn words(&self) -> Vec<&'static str> {
        match self.takes {
            Takes::Word(words) => words.iter().map(|w| w.word).collect(),
            _ => Vec::new(),
        }
    }
}

/// Outline named by a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ShapeKind {
    Round,
    Rectangle,
    Ring,
}

/// Stitch named by a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum StitchKind {
    Running,
    Back,
    Satin,
}

const fn column(
    name: &'static str,
    synonyms: &'static [&'static str],
    example: &'static str,
    pointer: &'static str,
    takes: Takes,
) -> Column {
    Column { name, synonyms, example, pointer, takes }
}

/// Every column, in the order of a template.
pub static COLUMNS: [Column; 151] = [
    column("pad", &["pad name", "feature name"], "brighter", "/pads/0/name", Takes::Name),
    column("feature", &["kind of feature"], "pad", "/feature", Takes::Word(FEATURES)),
    column("ground", &[], "sheet", "/stack/ground", Takes::Word(GROUNDS)),
    column(
        "base_#",
        &["base layer #", "base fabric #"],
        "wool-felt",
        "/stack/base/#/library",
        Takes::Entry(Shelf::Fabrics, |d, k, id| d.base[k].library = Some(id.into())),
    ),
    column(
        "base_#_thickness_mm",
        &["base layer # thickness"],
        "3 ± 0.2",
        "/stack/base/#/thickness_mm",
        Takes::Number(&units::LAYER_THICKNESS, |d, k| &mut d.base[k].thickness_m),
    ),
    column(
        "base_#_permittivity",
        &["base # relative permittivity", "base layer # permittivity", "base # er", "base # epsilon r"],
        "",
        "/stack/base/#/relative_permittivity",
        Takes::Number(&units::RELATIVE_PERMITTIVITY, |d, k| &mut d.base[k].relative_permittivity),
    ),
    column(
        "base_#_water_fraction",
        &["base layer # water fraction", "base # water"],
        "",
        "/stack/base/#/water_fraction",
        Takes::Number(&units::WATER_FRACTION, |d, k| &mut d.base[k].water_fraction),
    ),
    column(
        "overlay_#",
        &["overlay layer #", "overlay fabric #", "cover #", "cover layer #"],
        "wool-felt",
        "/stack/overlay/#/library",
        Takes::Entry(Shelf::Fabrics, |d, k, id| d.overlay[k].library = Some(id.into())),
    ),
    column(
        "overlay_#_thickness_mm",
        &["overlay layer # thickness", "cover # thickness", "cover layer # thickness"],
        "1.2",
        "/stack/overlay/#/thickness_mm",
        Takes::Number(&units::LAYER_THICKNESS, |d, k| &mut d.overlay[k].thickness_m),
    ),
    column(
        "overlay_#_permittivity",
        &["overlay # relative permittivity", "overlay layer # permittivity", "overlay # er", "overlay # epsilon r", "cover # permittivity"],
        "",
        "/stack/overlay/#/relative_permittivity",
        Takes::Number(&units::RELATIVE_PERMITTIVITY, |d, k| &mut d.overlay[k].relative_permittivity),
    ),
    column(
        "overlay_#_water_fraction",
        &["overlay layer # water fraction", "overlay # water", "cover # water fraction"],
        "",
        "/stack/overlay/#/water_fraction",
        Takes::Number(&units::WATER_FRACTION, |d, k| &mut d.overlay[k].water_fraction),
    ),
    column(
        "opening_diameter_mm",
        &["ground opening diameter", "ground opening"],
        "",
        "/stack/opening_diameter_mm",
        Takes::Number(&units::OPENING_DIAMETER, |d, _| &mut d.opening_diameter),
    ),
    column("sewn_thickness_mm", &[], "", "/stack/sewn_thickness_mm", Takes::Number(&units::SEWN_THICKNESS, |d, _| &mut d.sewn_thickness)),
    column("shape", &["pad shape", "outline"], "round", "/pads/0/shape/kind", Takes::Word(SHAPES)),
    column("diameter_mm", &["pad diameter"], "24", "/pads/0/shape/diameter_mm", Takes::Number(&units::DIAMETER, |d, _| &mut d.diameter)),
    column("width_mm", &["pad width"], "", "/pads/0/shape/width_mm", Takes::Number(&units::WIDTH, |d, _| &mut d.width)),
    column("length_mm", &["pad length"], "", "/pads/0/shape/length_mm", Takes::Number(&units::LENGTH, |d, _| &mut d.length)),
    column(
        "corner_radius_mm",
        &["pad corner radius"],
        "",
        "/pads/0/shape/corner_radius_mm",
        Takes::Number(&units::CORNER_RADIUS, |d, _| &mut d.corner_radius),
    ),
    column(
        "inner_diameter_mm",
        &["pad inner diameter", "inside diameter"],
        "",
        "/pads/0/shape/inner_diameter_mm",
        Takes::Number(&units::INNER_DIAMETER, |d, _| &mut d.inner_diameter),
    ),
    column(
        "outer_diameter_mm",
        &["pad outer diameter", "outside diameter"],
        "",
        "/pads/0/shape/outer_diameter_mm",
        Takes::Number(&units::OUTER_DIAMETER, |d, _| &mut d.outer_diameter),
    ),
    column(
        "row_spacing_mm",
        &["fill row spacing", "fill spacing", "row pitch"],
        "0.8",
        "/pads/0/fill/row_spacing_mm",
        Takes::Number(&units::ROW_SPACING, |d, _| &mut d.row_spacing),
    ),
    column(
        "fill_stitch_length_mm",
        &[],
        "3",
        "/pads/0/fill/stitch_length_mm",
        Takes::Number(&units::STITCH_LENGTH, |d, _| &mut d.fill_stitch_length),
    ),
    column(
        "row_contact_ohm",
        &["row contact resistance", "contact between rows"],
        "",
        "/pads/0/fill/row_contact_ohm",
        Takes::Number(&units::ROW_CONTACT, |d, _| &mut d.row_contact),
    ),
    column(
        "sheet_resistance_ohm",
        &["sheet resistance", "cloth sheet resistance"],
        "",
        "/pads/0/sheet_resistance_ohm_sq",
        Takes::Number(&units::SHEET_RESISTANCE, |d, _| &mut d.sheet_resistance),
    ),
    column("guard_gap_mm", &["gap to the guard"], "", "/pads/0/guard/gap_mm", Takes::Number(&units::GUARD_GAP, |d, _| &mut d.guard_gap)),
    column("guard_width_mm", &[], "", "/pads/0/guard/width_mm", Takes::Number(&units::GUARD_WIDTH, |d, _| &mut d.guard_width)),
    column("guard_held", &["guard", "guard tied to"], "", "/pads/0/guard/held", Takes::Word(HOLDS)),
    column(
        "thread",
        &["conductive thread", "top thread"],
        "silver-polyamide-40-tex",
        "/pads/0/thread/library",
        Takes::Entry(Shelf::Threads, |d, _, id| d.thread.library = Some(id.into())),
    ),
    column(
        "thread_resistance_ohm_per_m",
        &["linear resistance", "thread linear resistance"],
        "",
        "/pads/0/thread/linear_resistance_ohm_per_m",
        Takes::Number(&units::LINEAR_RESISTANCE, |d, _| &mut d.thread.linear_resistance_ohm_per_m),
    ),
    column(
        "thread_diameter_mm",
        &[],
        "",
        "/pads/0/thread/diameter_mm",
        Takes::Number(&units::THREAD_DIAMETER, |d, _| &mut d.thread.diameter_m),
    ),
    column(
        "thread_growth_per_wash_percent",
        &["growth per wash", "resistance growth per wash"],
        "",
        "/pads/0/thread/growth_per_wash_percent",
        Takes::Number(&units::GROWTH_PER_WASH, |d, _| &mut d.thread.growth_per_wash),
    ),
    column(
        "thread_stretch_factor",
        &["stretch factor"],
        "",
        "/pads/0/thread/stretch_factor",
        Takes::Number(&units::STRETCH_FACTOR, |d, _| &mut d.thread.stretch_factor),
    ),
    column("run_length_mm", &[], "180", "/pads/0/run/length_mm", Takes::Number(&units::RUN_LENGTH, |d, _| &mut d.run_length)),
    column("passes", &["run passes", "number of passes"], "2", "/pads/0/run/passes", Takes::Count(&units::PASSES, |d| &mut d.passes)),
    column("stitch", &["run stitch", "stitch kind", "stitch type"], "running", "/pads/0/run/stitch/kind", Takes::Word(STITCHES)),
    column(
        "stitch_length_mm",
        &["run stitch length"],
        "2.5",
        "/pads/0/run/stitch/stitch_length_mm",
        Takes::Number(&units::STITCH_LENGTH, |d, _| &mut d.stitch_length),
    ),
    column(
        "column_width_mm",
        &["satin width", "satin column width"],
        "",
        "/pads/0/run/stitch/column_width_mm",
        Takes::Number(&units::COLUMN_WIDTH, |d, _| &mut d.column_width),
    ),
    column(
        "density_mm",
        &["satin density"],
        "",
        "/pads/0/run/stitch/density_mm",
        Takes::Number(&units::SATIN_DENSITY, |d, _| &mut d.density),
    ),
    column("bobbin", &["bobbin thread"], "plain", "/pads/0/run/bobbin", Takes::Word(BOBBINS)),
    column(
        "stitch_contact_ohm",
        &["stitch contact resistance"],
        "",
        "/pads/0/run/stitch_contact_ohm",
        Takes::Number(&units::STITCH_CONTACT, |d, _| &mut d.stitch_contact),
    ),
    column("passes_joined", &["passes touch"], "joined", "/pads/0/run/passes_joined", Takes::Word(JOINED)),
    column("terminal", &["terminal kind", "kind of terminal"], "board", "/pads/0/run/terminal/kind", Takes::Word(TERMINALS)),
    column(
        "terminal_pitch_mm",
        &["contact pitch", "pitch of the terminal"],
        "",
        "/pads/0/run/terminal/pitch_mm",
        Takes::Number(&units::TERMINAL_PITCH, |d, _| &mut d.terminal_pitch),
    ),
    column(
        "terminal_hole_mm",
        &["hole diameter", "board hole", "terminal hole diameter"],
        "",
        "/pads/0/run/terminal/hole_diameter_mm",
        Takes::Number(&units::HOLE, |d, _| &mut d.terminal_hole),
    ),
    column(
        "contact_resistance_ohm",
        &["terminal resistance", "terminal contact resistance"],
        "0.2 to 1",
        "/pads/0/run/terminal/contact_resistance_ohm",
        Takes::Number(&units::CONTACT_RESISTANCE, |d, _| &mut d.contact_resistance),
    ),
    column(
        "controller",
        &["touch controller", "controller input"],
        "patient-input",
        "/controller/library",
        Takes::Entry(Shelf::Controllers, |d, _, id| d.controller.library = Some(id.into())),
    ),
    column(
        "charge_time_us",
        &["charging time"],
        "",
        "/controller/charge_time_us",
        Takes::Number(&units::CHARGE_TIME, |d, _| &mut d.controller.charge_time_s),
    ),
    column(
        "series_resistance_ohm",
        &["controller series resistance"],
        "",
        "/controller/series_resistance_ohm",
        Takes::Number(&units::SERIES_RESISTANCE, |d, _| &mut d.controller.series_resistance_ohm),
    ),
    column(
        "max_standing_pf",
        &["max standing capacitance", "largest standing capacitance"],
        "",
        "/controller/max_standing_pf",
        Takes::Number(&units::MAX_STANDING, |d, _| &mut d.controller.max_standing_f),
    ),
    column(
        "needed_signal_pf",
        &["min signal", "smallest signal"],
        "",
        "/controller/needed_signal_pf",
        Takes::Number(&units::NEEDED_SIGNAL, |d, _| &mut d.controller.needed_signal_f),
    ),
    column(
        "max_run_ohm",
        &["max run resistance", "largest run resistance"],
        "",
        "/controller/max_run_ohm",
        Takes::Number(&units::MAX_RUN, |d, _| &mut d.controller.max_run_ohm),
    ),
    column(
        "settled_percent",
        &["needed settling"],
        "",
        "/controller/settled_percent",
        Takes::Number(&units::SETTLED, |d, _| &mut d.controller.settled_fraction),
    ),
    column("touch_case", &["touch", "power", "supply", "power supply"], "battery", "/touch/case", Takes::Word(CASES)),
    column(
        "fingertip_diameter_mm",
        &["finger diameter"],
        "",
        "/touch/fingertip_diameter_mm",
        Takes::Number(&units::FINGERTIP, |d, _| &mut d.fingertip_diameter),
    ),
    column(
        "off_centre_mm",
        &["finger off centre", "off center"],
        "",
        "/touch/off_centre_mm",
        Takes::Number(&units::OFF_CENTRE, |d, _| &mut d.off_centre),
    ),
    column("body_to_earth_pf", &[], "", "/touch/body_to_earth_pf", Takes::Number(&units::BODY_TO_EARTH, |d, _| &mut d.body_to_earth)),
    column(
        "supply_to_earth_pf",
        &[],
        "",
        "/touch/supply_to_earth_pf",
        Takes::Number(&units::SUPPLY_TO_EARTH, |d, _| &mut d.supply_to_earth),
    ),
    column("body_to_supply_pf", &[], "", "/touch/body_to_supply_pf", Takes::Number(&units::BODY_TO_SUPPLY, |d, _| &mut d.body_to_supply)),
    column("lights", &["number of lights"], "", "/light_rows/0/lights", Takes::Count(&units::LIGHTS, |d| &mut d.light.lights)),
    column(
        "light_pitch_mm",
        &["distance of the lights", "pitch of the lights"],
        "",
        "/light_rows/0/pitch_mm",
        Takes::Number(&units::PITCH, |d, _| &mut d.light.pitch),
    ),
    column("feed", &["feed kind"], "", "/light_rows/0/feed", Takes::Word(FEEDS)),
    column(
        "low_current_ma",
        &["lower test current"],
        "",
        "/light_rows/0/light/low_current_ma",
        Takes::Number(&units::LOW_CURRENT, |d, _| &mut d.light.light.low_current_a),
    ),
    column(
        "low_forward_v",
        &["forward voltage at the lower current"],
        "",
        "/light_rows/0/light/low_forward_v",
        Takes::Number(&units::LOW_FORWARD, |d, _| &mut d.light.light.low_forward_v),
    ),
    column(
        "high_current_ma",
        &["higher test current"],
        "",
        "/light_rows/0/light/high_current_ma",
        Takes::Number(&units::HIGH_CURRENT, |d, _| &mut d.light.light.high_current_a),
    ),
    column(
        "high_forward_v",
        &["forward voltage at the higher current"],
        "",
        "/light_rows/0/light/high_forward_v",
        Takes::Number(&units::HIGH_FORWARD, |d, _| &mut d.light.light.high_forward_v),
    ),
    column(
        "saturation_current_a",
        &[],
        "",
        "/light_rows/0/light/saturation_current_a",
        Takes::Number(&units::SATURATION_CURRENT, |d, _| &mut d.light.light.saturation_current_a),
    ),
    column(
        "emission_coefficient",
        &[],
        "",
        "/light_rows/0/light/emission_coefficient",
        Takes::Number(&units::EMISSION_COEFFICIENT, |d, _| &mut d.light.light.emission_coefficient),
    ),
    column(
        "light_series_ohm",
        &["resistor of each light", "light resistor"],
        "",
        "/light_rows/0/series_ohm",
        Takes::Number(&units::LIGHT_SERIES, |d, _| &mut d.light.series),
    ),
    column(
        "light_contact_ohm",
        &["contacts of each light"],
        "",
        "/light_rows/0/light_contact_ohm",
        Takes::Number(&units::LIGHT_CONTACT, |d, _| &mut d.light.contact),
    ),
    column("placed_by", &["lights placed by"], "", "/light_rows/0/placed_by", Takes::Word(PLACERS)),
    column(
        "return_passes",
        &["passes of the return"],
        "",
        "/light_rows/0/return_passes",
        Takes::Count(&units::RETURN_PASSES, |d| &mut d.light.return_passes),
    ),
    column(
        "far_length_mm",
        &["length to the last light"],
        "",
        "/light_rows/0/far_length_mm",
        Takes::Number(&units::FAR_LENGTH, |d, _| &mut d.light.far_length),
    ),
    column("supply_kind", &["kind of supply"], "", "/light_rows/0/supply/kind", Takes::Word(SUPPLIES)),
    column(
        "supply_voltage_v",
        &["voltage of the supply"],
        "",
        "/light_rows/0/supply/supply_v",
        Takes::Number(&units::SUPPLY_VOLTAGE, |d, _| &mut d.light.supply_v),
    ),
    column(
        "empty_supply_voltage_v",
        &["voltage of the empty supply"],
        "",
        "/light_rows/0/supply/empty_supply_v",
        Takes::Number(&units::EMPTY_SUPPLY_VOLTAGE, |d, _| &mut d.light.empty_v),
    ),
    column(
        "source_ohm",
        &["resistance of the supply", "supply resistance"],
        "",
        "/light_rows/0/supply/source_ohm",
        Takes::Number(&units::SOURCE_RESISTANCE, |d, _| &mut d.light.source),
    ),
    column(
        "max_supply_ma",
        &["largest current of the supply"],
        "",
        "/light_rows/0/supply/max_supply_ma",
        Takes::Number(&units::MAX_SUPPLY, |d, _| &mut d.light.max_supply),
    ),
    column(
        "capacity_mah",
        &["battery capacity"],
        "",
        "/light_rows/0/supply/capacity_mah",
        Takes::Number(&units::CAPACITY, |d, _| &mut d.light.capacity),
    ),
    column(
        "usable_share",
        &[],
        "",
        "/light_rows/0/supply/usable_share",
        Takes::Number(&units::USABLE_SHARE, |d, _| &mut d.light.usable_share),
    ),
    column(
        "needed_life_h",
        &["needed battery life"],
        "",
        "/light_rows/0/supply/needed_life_h",
        Takes::Number(&units::NEEDED_LIFE, |d, _| &mut d.light.needed_life),
    ),
    column(
        "least_brightness_percent",
        &["needed evenness"],
        "",
        "/light_rows/0/least_brightness_percent",
        Takes::Number(&units::LEAST_BRIGHTNESS, |d, _| &mut d.light.least_brightness),
    ),
    column(
        "least_current_ma",
        &["least current of a light"],
        "",
        "/light_rows/0/least_current_ma",
        Takes::Number(&units::LEAST_CURRENT, |d, _| &mut d.light.least_current),
    ),
    column(
        "most_current_ma",
        &["largest current of a light"],
        "",
        "/light_rows/0/most_current_ma",
        Takes::Number(&units::MOST_CURRENT, |d, _| &mut d.light.most_current),
    ),
    column(
        "max_temperature_c",
        &["highest temperature"],
        "",
        "/light_rows/0/warmth/max_temperature_c",
        Takes::Number(&units::MAX_TEMPERATURE, |d, _| &mut d.light.max_temperature),
    ),
    column("laid", &["what is laid", "kind of laid wire"], "", "/laid_wires/0/kind", Takes::Word(LAID)),
    column(
        "metal",
        &["wire metal"],
        "",
        "/laid_wires/0/conductor/metal",
        Takes::Entry(Shelf::Metals, |d, _, id| d.laid.conductor.metal = Some(id.into())),
    ),
    column(
        "wire_diameter_mm",
        &["metal diameter", "diameter of the metal"],
        "",
        "/laid_wires/0/conductor/diameter_mm",
        Takes::Number(&units::METAL_DIAMETER, |d, _| &mut d.laid.conductor.diameter_m),
    ),
    column("gauge", &["wire gauge"], "", "/laid_wires/0/conductor/gauge", Takes::Count(&units::GAUGE, |d| &mut d.laid.gauge)),
    column(
        "section_mm2",
        &["wire section mm2"],
        "",
        "/laid_wires/0/conductor/area_mm2",
        Takes::Number(&units::SECTION, |d, _| &mut d.laid.conductor.area_m2),
    ),
    column(
        "wire_resistance_ohm_per_m",
        &["linear resistance of the wire"],
        "",
        "/laid_wires/0/conductor/linear_resistance_ohm_per_m",
        Takes::Number(&units::WIRE_RESISTANCE, |d, _| &mut d.laid.conductor.linear_resistance_ohm_per_m),
    ),
    column(
        "wire_outer_diameter_mm",
        &["diameter over all"],
        "",
        "/laid_wires/0/outer_diameter_mm",
        Takes::Number(&units::OUTSIDE, |d, _| &mut d.laid.outer_diameter),
    ),
    column(
        "linear_mass_g_per_m",
        &["mass per length"],
        "",
        "/laid_wires/0/linear_mass_g_per_m",
        Takes::Number(&units::LINEAR_MASS, |d, _| &mut d.laid.linear_mass),
    ),
    column(
        "laid_length_mm",
        &["length of the laid wire"],
        "",
        "/laid_wires/0/course/length_mm",
        Takes::Number(&units::RUN_LENGTH, |d, _| &mut d.laid.length),
    ),
    column(
        "meander_width_mm",
        &[],
        "",
        "/laid_wires/0/course/width_mm",
        Takes::Number(&units::MEANDER_WIDTH, |d, _| &mut d.laid.meander_width),
    ),
    column(
        "meander_height_mm",
        &[],
        "",
        "/laid_wires/0/course/height_mm",
        Takes::Number(&units::MEANDER_HEIGHT, |d, _| &mut d.laid.meander_height),
    ),
    column(
        "meander_spacing_mm",
        &["spacing of the meander"],
        "",
        "/laid_wires/0/course/spacing_mm",
        Takes::Number(&units::MEANDER_SPACING, |d, _| &mut d.laid.meander_spacing),
    ),
    column(
        "zigzag_clearance_mm",
        &["distance from wire to needle"],
        "",
        "/laid_wires/0/hold/clearance_mm",
        Takes::Number(&units::NEEDLE_CLEARANCE, |d, _| &mut d.laid.hold.clearance_m),
    ),
    column(
        "zigzag_advance_mm",
        &["advance of the zigzag"],
        "",
        "/laid_wires/0/hold/advance_mm",
        Takes::Number(&units::ADVANCE, |d, _| &mut d.laid.hold.advance_m),
    ),
    column(
        "min_bend_radius_mm",
        &["smallest bend radius"],
        "",
        "/laid_wires/0/min_bend_radius_mm",
        Takes::Number(&units::BEND_RADIUS, |d, _| &mut d.laid.min_bend_radius),
    ),
    column(
        "wire_current_ma",
        &["current through the wire"],
        "",
        "/laid_wires/0/current_ma",
        Takes::Number(&units::WIRE_CURRENT, |d, _| &mut d.laid.current),
    ),
    column(
        "needed_power_w",
        &["needed heating power"],
        "",
        "/laid_wires/0/needed_power_w",
        Takes::Number(&units::NEEDED_POWER, |d, _| &mut d.laid.needed_power),
    ),
    column(
        "max_wire_ohm",
        &["largest wire resistance"],
        "",
        "/laid_wires/0/max_resistance_ohm",
        Takes::Number(&units::MAX_RESISTANCE, |d, _| &mut d.laid.max_resistance),
    ),
    column("electrode_use", &["use of the electrode", "reads or stimulates"], "", "/electrodes/0/kind", Takes::Word(USES)),
    column("texture", &["electrode texture"], "", "/electrodes/0/texture/kind", Takes::Word(TEXTURES)),
    column(
        "loop_height_mm",
        &["height of the loops"],
        "",
        "/electrodes/0/texture/loop_height_mm",
        Takes::Number(&units::LOOP_HEIGHT, |d, _| &mut d.electrode.loop_height),
    ),
    column("skin", &["between thread and skin"], "", "/electrodes/0/skin", Takes::Word(SKINS)),
    column(
        "touching_share",
        &[],
        "",
        "/electrodes/0/touching_share",
        Takes::Number(&units::TOUCHING_SHARE, |d, _| &mut d.electrode.touching_share),
    ),
    column(
        "surface_gain",
        &[],
        "",
        "/electrodes/0/surface_gain",
        Takes::Number(&units::SURFACE_GAIN, |d, _| &mut d.electrode.surface_gain),
    ),
    column(
        "skin_kohm_cm2",
        &["resistance of the skin times area"],
        "",
        "/electrodes/0/contact/skin_kohm_cm2",
        Takes::Number(&units::SKIN_RESISTANCE, |d, _| &mut d.electrode.contact.skin_ohm_m2),
    ),
    column(
        "skin_nf_per_cm2",
        &["capacitance of the skin per area"],
        "",
        "/electrodes/0/contact/skin_nf_per_cm2",
        Takes::Number(&units::SKIN_CAPACITANCE, |d, _| &mut d.electrode.contact.skin_f_per_m2),
    ),
    column(
        "metal_kohm_cm2",
        &["resistance of the wetted thread times area"],
        "",
        "/electrodes/0/contact/metal_kohm_cm2",
        Takes::Number(&units::METAL_RESISTANCE, |d, _| &mut d.electrode.contact.metal_ohm_m2),
    ),
    column(
        "metal_uf_per_cm2",
        &["capacitance of the wetted thread per area"],
        "",
        "/electrodes/0/contact/metal_uf_per_cm2",
        Takes::Number(&units::METAL_CAPACITANCE, |d, _| &mut d.electrode.contact.metal_f_per_m2),
    ),
    column(
        "tissue_ohm_m",
        &["resistivity of the tissue"],
        "",
        "/electrodes/0/contact/tissue_ohm_m",
        Takes::Number(&units::TISSUE_RESISTIVITY, |d, _| &mut d.electrode.contact.tissue_ohm_m),
    ),
    column(
        "skin_noise_uv",
        &["noise of the skin"],
        "",
        "/electrodes/0/contact/skin_noise_uv",
        Takes::Number(&units::SKIN_NOISE, |d, _| &mut d.electrode.contact.skin_noise_v),
    ),
    column(
        "pressure_kpa",
        &["pressure on the skin"],
        "",
        "/electrodes/0/fit/pressure_kpa",
        Takes::Number(&units::PRESSURE, |d, _| &mut d.electrode.fit.pressure_pa),
    ),
    column(
        "band_tension_n",
        &["tension of the band"],
        "",
        "/electrodes/0/fit/tension_n",
        Takes::Number(&units::TENSION, |d, _| &mut d.electrode.fit.tension_n),
    ),
    column(
        "band_width_mm",
        &["width of the band"],
        "",
        "/electrodes/0/fit/band_width_mm",
        Takes::Number(&units::BAND_WIDTH, |d, _| &mut d.electrode.fit.band_width_m),
    ),
    column(
        "girth_mm",
        &["girth of the body"],
        "",
        "/electrodes/0/fit/girth_mm",
        Takes::Number(&units::GIRTH, |d, _| &mut d.electrode.fit.girth_m),
    ),
    column("body_signal", &["signal of the body"], "", "/electrodes/0/signal", Takes::Word(SIGNALS)),
    column(
        "body_signal_mv",
        &["height of the body signal"],
        "",
        "/electrodes/0/signal_mv",
        Takes::Number(&units::SIGNAL_HEIGHT, |d, _| &mut d.electrode.signal_v),
    ),
    column(
        "band_low_hz",
        &["lowest frequency of the signal"],
        "",
        "/electrodes/0/band_low_hz",
        Takes::Plain(&units::BAND_LOW, |d| &mut d.electrode.band_low_hz),
    ),
    column(
        "band_high_hz",
        &["highest frequency of the signal"],
        "",
        "/electrodes/0/band_high_hz",
        Takes::Plain(&units::BAND_HIGH, |d| &mut d.electrode.band_high_hz),
    ),
    column(
        "input_resistance_mohm",
        &["input resistance of the amplifier"],
        "",
        "/electrodes/0/amplifier/input_resistance_mohm",
        Takes::Number(&units::INPUT_RESISTANCE, |d, _| &mut d.electrode.amplifier.input_ohm),
    ),
    column(
        "input_capacitance_pf",
        &["input capacitance of the amplifier"],
        "",
        "/electrodes/0/amplifier/input_capacitance_pf",
        Takes::Number(&units::INPUT_CAPACITANCE, |d, _| &mut d.electrode.amplifier.input_f),
    ),
    column(
        "noise_nv_per_rthz",
        &["noise voltage of the amplifier"],
        "",
        "/electrodes/0/amplifier/noise_nv_per_rthz",
        Takes::Number(&units::VOLTAGE_NOISE, |d, _| &mut d.electrode.amplifier.noise_v_per_rthz),
    ),
    column(
        "noise_fa_per_rthz",
        &["noise current of the amplifier"],
        "",
        "/electrodes/0/amplifier/noise_fa_per_rthz",
        Takes::Number(&units::CURRENT_NOISE, |d, _| &mut d.electrode.amplifier.noise_a_per_rthz),
    ),
    column(
        "rejection_db",
        &["common-mode rejection"],
        "",
        "/electrodes/0/amplifier/rejection_db",
        Takes::Number(&units::REJECTION, |d, _| &mut d.electrode.amplifier.rejection_db),
    ),
    column(
        "mismatch_percent",
        &["mismatch of the pair"],
        "",
        "/electrodes/0/pair/mismatch_percent",
        Takes::Number(&units::MISMATCH, |d, _| &mut d.electrode.pair.mismatch),
    ),
    column(
        "common_mode_mv",
        &["mains voltage on the body"],
        "",
        "/electrodes/0/pair/common_mode_mv",
        Takes::Number(&units::COMMON_MODE, |d, _| &mut d.electrode.pair.common_mode_v),
    ),
    column(
        "mains_hz",
        &["frequency of the mains"],
        "",
        "/electrodes/0/pair/mains_hz",
        Takes::Plain(&units::MAINS, |d| &mut d.electrode.pair.mains_hz),
    ),
    column(
        "pulse_current_ma",
        &["current of a pulse"],
        "",
        "/electrodes/0/stimulation/current_ma",
        Takes::Number(&units::PULSE_CURRENT, |d, _| &mut d.electrode.pulse_current),
    ),
    column(
        "phase_width_us",
        &["width of a phase"],
        "",
        "/electrodes/0/stimulation/phase_width_us",
        Takes::Number(&units::PHASE_WIDTH, |d, _| &mut d.electrode.phase_width),
    ),
    column(
        "pulse_rate_hz",
        &["pulses per second"],
        "",
        "/electrodes/0/stimulation/rate_hz",
        Takes::Number(&units::PULSE_RATE, |d, _| &mut d.electrode.pulse_rate),
    ),
    column(
        "pulse_phases",
        &["phases of a pulse"],
        "",
        "/electrodes/0/stimulation/phases",
        Takes::Count(&units::PHASES, |d| &mut d.electrode.phases),
    ),
    column(
        "max_charge_uc_per_cm2",
        &["charge that the thread bears"],
        "",
        "/electrodes/0/stimulation/max_charge_uc_per_cm2",
        Takes::Number(&units::MAX_CHARGE, |d, _| &mut d.electrode.max_charge),
    ),
    column("temperature_c", &["temp"], "23", "/temperature_c", Takes::Number(&units::TEMPERATURE, |d, _| &mut d.temperature)),
    column(
        "after_washes",
        &["washes", "number of washes", "wash cycles"],
        "0",
        "/after_washes",
        Takes::Count(&units::AFTER_WASHES, |d| &mut d.after_washes),
    ),
    column("stretch_percent", &["elongation"], "", "/stretch_percent", Takes::Number(&units::STRETCH, |d, _| &mut d.stretch)),
    column(
        "needle_diameter_mm",
        &["needle size"],
        "0.9",
        "/machine/needle_diameter_mm",
        Takes::Plain(&units::NEEDLE_DIAMETER, |d| &mut d.needle_diameter),
    ),
    column("needles", &["number of needles"], "12", "/machine/needles", Takes::Count(&units::NEEDLES, |d| &mut d.needles)),
    column("method", &[], "best", "/method", Takes::Word(METHODS)),
    column(
        "relative_tolerance",
        &["relative error asked for"],
        "0.001",
        "/relative_tolerance",
        Takes::Plain(&units::RELATIVE_TOLERANCE, |d| &mut d.relative_tolerance),
    ),
    column(
        "quantity",
        &["pieces", "number of pieces", "order quantity"],
        "120",
        "/quantity",
        Takes::Count(&units::PIECES, |d| &mut d.quantity),
    ),
    column("heads", &["number of heads", "machine heads"], "4", "/production/heads", Takes::Count(&units::HEADS, |d| &mut d.order.heads)),
    column(
        "pieces_per_frame",
        &["pieces in a frame"],
        "",
        "/production/pieces_per_frame",
        Takes::Count(&units::PIECES_PER_FRAME, |d| &mut d.pieces_per_frame),
    ),
    column("currency", &["currency code"], "EUR", "/production/currency", Takes::Code(|d| &mut d.order.currency)),
    column("exchange_rate", &[], "", "/production/exchange_rate", Takes::Plain(&units::EXCHANGE_RATE, |d| &mut d.exchange_rate)),
    column(
        "decorative_stitches",
        &["stitches that decorate"],
        "",
        "/production/decorative_stitches",
        Takes::Count(&units::DECORATIVE_STITCHES, |d| &mut d.decorative_stitches),
    ),
    column("boards", &["number of boards"], "", "/production/boards", Takes::Count(&units::BOARDS, |d| &mut d.boards)),
    column("jig", &[], "no", "/production/jig", Takes::Word(JIGS)),
    column(
        "material_per_piece",
        &["material for each piece"],
        "3.80",
        "/production/material_per_piece",
        Takes::Plain(&units::MATERIAL_PER_PIECE, |d| &mut d.material_per_piece),
    ),
];
