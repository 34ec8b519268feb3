//! What the columns of a sheet mean: forgiving about spelling, strict about sense.
//!
//! Case, spaces, punctuation, the order of the words and the place of the unit do not matter. A header that only
//! comes near a known name is left to its owner, and the near name is reported: a column read wrongly in silence
//! costs more than one not read.

use super::cell;
use super::columns::{COLUMNS, Column, RESULT_COLUMNS, Takes};
use super::fault::SheetFault;
use super::unit::Unit;
use std::sync::LazyLock;
use toile_model::units::Quantity;

/// How like a known name a header must be to be reported as a near miss (1 for equal).
const NEAR: f64 = 0.75;

/// Cells of a row that are looked at to tell whether it is a header.
const MOST_LOOKED_AT: usize = 500;

/// Longer texts are no names, nor near any; comparing them would only cost time.
pub(super) const LONGEST_NAME: usize = 100;

/// The columns of one sheet and what they mean.
#[derive(Debug)]
pub struct Header {
    /// Headers as written.
    names: Vec<String>,
    slots: Vec<Slot>,
    readings: Vec<ColumnReading>,
}

/// One column of a sheet, as it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct ColumnReading {
    /// Header as written.
    pub header: String,
    /// What it was understood as.
    pub understood: Understood,
}

/// What a column was understood as.
#[derive(Debug, Clone, PartialEq)]
pub enum Understood {
    /// A field of the piece, by its canonical name, and the unit of its bare numbers (empty where it has none).
    Field {
        /// Canonical name.
        name: String,
        /// Unit.
        unit: &'static str,
    },
    /// A result of an earlier answer, written anew in its place.
    Result(&'static str),
    /// The owner's own column, kept as it is; with the field that its name comes near, if any.
    Own {
        /// Canonical name of that field.
        guess: Option<String>,
    },
}

/// What is done with the cells of a column.
#[derive(Debug, Clone, Copy)]
pub(super) enum Slot {
    Input(Input),
    Result(usize),
    Own,
}

/// A column that is read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Input {
    pub(super) column: &'static Column,
    pub(super) layer: usize,
    pub(super) unit: Option<Unit>,
}

impl Header {
    /// Understands a header row.
    ///
    /// # Errors
    /// [`SheetFault`]: no name is known, two mean the same, or a needed one is missing.
    pub fn read(names: &[&str]) -> Result<Self, SheetFault> {
        let slots: Vec<Slot> = names.iter().map(|name| NAMES.slot(name)).collect();
        let readings: Vec<ColumnReading> = names
            .iter()
            .zip(&slots)
            .map(|(name, slot)| ColumnReading { header: (*name).into(), understood: NAMES.understood(name, slot) })
            .collect();
        let header = Self { names: names.iter().map(|n| (*n).trim().to_owned()).collect(), slots, readings };
        header.refuse_nothing_known()?;
        header.refuse_same_field()?;
        header.refuse_missing()?;
        Ok(header)
    }

    /// How many names of a header row are known.
    pub(super) fn recognised(names: &[&str]) -> usize {
        names.iter().take(MOST_LOOKED_AT).filter(|n| !matches!(NAMES.slot(n), Slot::Own)).count()
    }

    /// Whether a name is that of a column of results.
    pub(super) fn is_result(name: &str) -> bool {
        RESULT_COLUMNS.iter().any(|r| r.eq_ignore_ascii_case(name.trim()))
    }

    /// Every column with what it was understood as, in order.
    pub fn readings(&self) -> &[ColumnReading] {
        &self.readings
    }

    pub(super) fn slots(&self) -> &[Slot] {
        &self.slots
    }

    /// The columns that are read, with their place.
    pub(super) fn inputs(&self) -> impl Iterator<Item = (usize, &Input)> {
        self.slots.iter().enumerate().filter_map(|(k, slot)| if let Slot::Input(input) = slot { Some((k, input)) } else { None })
    }

    /// The place of a field's column.
    pub(super) fn place(&self, column: &str, layer: usize) -> Option<usize> {
        self.inputs().find(|(_, input)| input.column.name == column && input.layer == layer).map(|(k, _)| k)
    }

    /// The header of a column as the user wrote it.
    pub(super) fn name(&self, place: usize) -> &str {
        &self.names[place]
    }

    fn has(&self, column: &str) -> bool {
        self.place(column, 0).is_some()
    }

    /// What every row should say of columns that were nearly understood; empty where there are none.
    pub(super) fn remark(&self) -> String {
        let nearly = |(header, guess): &(String, String)| {
            format!("The column \"{}\" was not read; perhaps {guess} is meant.", super::fault::clipped(header))
        };
        self.guesses().iter().map(nearly).collect::<Vec<_>>().join(" ")
    }

    fn guesses(&self) -> Vec<(String, String)> {
        self.readings
            .iter()
            .filter_map(|r| {
                if let Understood::Own { guess: Some(guess) } = &r.understood { Some((r.header.clone(), guess.clone())) } else { None }
            })
            .collect()
    }

    fn refuse_nothing_known(&self) -> Result<(), SheetFault> {
        if self.inputs().next().is_some() {
            return Ok(());
        }
        let found: Vec<String> = self.names.iter().filter(|n| !n.is_empty()).cloned().collect();
        if !found.is_empty() && found.iter().all(|n| cell::is_harmless_number(n)) {
            return Err(SheetFault::NoHeader { found });
        }
        Err(SheetFault::NoKnownColumn { found, guesses: self.guesses() })
    }

    fn refuse_same_field(&self) -> Result<(), SheetFault> {
        for (k, reading) in self.readings.iter().enumerate() {
            let field = match &reading.understood {
                Understood::Field { name, .. } => name.as_str(),
                Understood::Result(name) => name,
                Understood::Own { .. } => continue,
            };
            let same = |other: &&ColumnReading| match &other.understood {
                Understood::Field { name, .. } => name == field,
                Understood::Result(name) => *name == field,
                Understood::Own { .. } => false,
            };
            if let Some(other) = self.readings[..k].iter().find(same) {
                return Err(SheetFault::SameField { field: field.into(), headers: [other.header.clone(), reading.header.clone()] });
            }
        }
        Ok(())
    }

    /// What every pad needs; where rows may be other features, each row says itself what it lacks.
    fn refuse_missing(&self) -> Result<(), SheetFault> {
        if self.has("feature") {
            return Ok(());
        }
        let all = |columns: &[&str]| columns.iter().all(|c| self.has(c));
        let measured_layer = |k| self.place("base_#_thickness_mm", k).is_some() && self.place("base_#_permittivity", k).is_some();
        let base = (0..super::columns::MOST_LAYERS).any(|k| self.place("base_#", k).is_some() || measured_layer(k));
        let controller =
            ["charge_time_us", "series_resistance_ohm", "max_standing_pf", "needed_signal_pf", "max_run_ohm", "settled_percent"];
        let needs = [
            (
                all(&["diameter_mm"]) || all(&["width_mm", "length_mm"]) || all(&["inner_diameter_mm", "outer_diameter_mm"]),
                "the size of the pad (diameter_mm, or width_mm and length_mm, or inner_diameter_mm and outer_diameter_mm)",
            ),
            (base, "a base layer (base_1, or base_1_thickness_mm and base_1_permittivity)"),
            (
                all(&["thread"]) || all(&["thread_resistance_ohm_per_m", "thread_diameter_mm"]),
                "the thread (thread, or thread_resistance_ohm_per_m and thread_diameter_mm)",
            ),
            (all(&["run_length_mm"]), "the length of the run (run_length_mm)"),
            (all(&["controller"]) || all(&controller), "the controller (controller, or all of its six numbers)"),
        ];
        let missing: Vec<String> = needs.iter().filter(|(there, _)| !there).map(|(_, what)| (*what).into()).collect();
        if missing.is_empty() { Ok(()) } else { Err(SheetFault::MissingColumns { missing, guesses: self.guesses() }) }
    }
}

/// Every known name.
static NAMES: LazyLock<Names> = LazyLock::new(Names::new);

/// Every known name, prepared for comparison.
struct Names {
    names: Vec<Name>,
}

struct Name {
    column: &'static Column,
    layer: usize,
    key: Key,
    spelling: Spelling,
    /// Canonical name or its stem without the unit.
    canonical: bool,
}

/// A name without what does not matter: words in order, and words sorted.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Key {
    in_order: String,
    sorted: String,
}

impl Key {
    fn of(words: &[&str]) -> Self {
        let mut words: Vec<String> = words.iter().map(|w| usual_word(w)).filter(|w| !matches!(w.as_str(), "of" | "the")).collect();
        let in_order = words.concat();
        words.sort();
        Self { in_order, sorted: words.concat() }
    }

    fn same(&self, other: &Self) -> bool {
        self.in_order == other.in_order || self.sorted == other.sorted
    }
}

/// A text to be compared with others letter by letter, and how often each letter stands in it.
struct Spelling {
    text: String,
    characters: usize,
    /// Of a to z, and of all other characters together.
    letters: [u16; 27],
}

impl Spelling {
    fn of(text: String) -> Self {
        let mut letters = [0_u16; 27];
        for letter in text.chars() {
            let place = if letter.is_ascii_lowercase() { letter as usize - 'a' as usize } else { 26 };
            letters[place] = letters[place].saturating_add(1);
        }
        Self { characters: text.chars().count(), text, letters }
    }

    /// How like another it is, 0 to 1; 0 where that is less than [`NEAR`].
    ///
    /// The comparison takes as many steps as the product of both lengths, and a sheet may have hundreds of headers to be compared
    /// with hundreds of names. Most are told apart by their letters: no edit brings in more than one letter, or takes out more
    /// than one.
    fn likeness(&self, other: &Self) -> f64 {
        let (mut only_here, mut only_there) = (0, 0);
        for (here, there) in self.letters.iter().zip(&other.letters) {
            only_here += usize::from(here.saturating_sub(*there));
            only_there += usize::from(there.saturating_sub(*here));
        }
        let least_edits = only_here.max(only_there) as f64;
        if least_edits > (1.0 - NEAR) * self.characters.max(other.characters) as f64 {
            return 0.0;
        }
        Some(strsim::normalized_damerau_levenshtein(&self.text, &other.text)).filter(|near| *near >= NEAR).unwrap_or(0.0)
    }
}

/// One word for the shortenings that people use.
fn usual_word(word: &str) -> String {
    let word = word.to_lowercase();
    match word.as_str() {
        "dia" | "diam" | "ø" | "⌀" => "diameter".into(),
        "thk" | "thick" => "thickness".into(),
        "len" => "length".into(),
        "maximum" => "max".into(),
        "minimum" => "min".into(),
        "rel" => "relative".into(),
        _ => word,
    }
}

impl Names {
    fn new() -> Self {
        let mut names = Vec::new();
        for column in &COLUMNS {
            for layer in 0..column.layers() {
                let number = (layer + 1).to_string();
                // The first layer needs no number: "base" is base_1.
                let numbers = if column.layers() > 1 && layer == 0 { vec![number.as_str(), ""] } else { vec![number.as_str()] };
                for number in numbers {
                    let mut add = |words: &[&str], canonical| {
                        let key = Key::of(words);
                        let spelling = Spelling::of(key.in_order.clone());
                        names.push(Name { column, layer, key, spelling, canonical });
                    };
                    let canonical = column.name.replace('#', number);
                    let words = words(&canonical);
                    let unit = column.quantity().and_then(|q| {
                        (1..=3.min(words.len() - 1)).rev().find(|n| Unit::find(q, &words[words.len() - n..].join(" ")).is_some())
                    });
                    add(&words[..words.len() - unit.unwrap_or(0)], true);
                    for synonym in column.synonyms {
                        add(&self::words(&synonym.replace('#', number)), false);
                    }
                }
            }
        }
        Self { names }
    }

    fn slot(&self, header: &str) -> Slot {
        if header.len() > LONGEST_NAME {
            return Slot::Own;
        }
        // Results are known by their exact name only: "Signal (pF)" may well be the owner's own measurement.
        if let Some(k) = RESULT_COLUMNS.iter().position(|r| r.eq_ignore_ascii_case(header.trim())) {
            return Slot::Result(k);
        }
        self.input(header).map_or(Slot::Own, Slot::Input)
    }

    fn input(&self, header: &str) -> Option<Input> {
        let (outside, bracket) = without_bracket(header)?;
        let outside = spelled_out(outside);
        let words = words(&outside);
        if words.is_empty() {
            return None;
        }
        let bracket = bracket.map(spelled_out);
        let whole = Key::of(&words);
        let stems = stems(&words);
        let glued = words.concat();
        for name in &self.names {
            let found = |unit| Some(Input { column: name.column, layer: name.layer, unit });
            let fits = name.key.same(&whole);
            let (Takes::Number(quantity, _) | Takes::Plain(quantity, _)) = name.column.takes else {
                if fits && bracket.is_none() {
                    return found(None);
                }
                continue;
            };
            let behind = stems
                .iter()
                .filter(|(_, stem)| name.key.same(stem))
                .find_map(|(unit, _)| Unit::find(quantity, unit))
                .or_else(|| glued_unit(name, &glued, quantity));
            if !fits && behind.is_none() {
                continue;
            }
            let in_bracket = match &bracket {
                Some(text) => Some(Unit::find(quantity, text)?),
                None => None,
            };
            return match (behind, in_bracket) {
                // A unit behind the name and another one in brackets: one of them is wrong.
                (Some(a), Some(b)) if a != b => None,
                (unit, None) | (None, unit) | (unit, Some(_)) => found(Some(unit.unwrap_or(Unit::own(quantity)))),
            };
        }
        None
    }

    fn understood(&self, header: &str, slot: &Slot) -> Understood {
        match slot {
            Slot::Input(input) => Understood::Field { name: input.column.name_of(input.layer), unit: input.unit.map_or("", |u| u.name) },
            Slot::Result(k) => Understood::Result(RESULT_COLUMNS[*k]),
            Slot::Own => Understood::Own { guess: self.guess(header) },
        }
    }

    /// The known name that a header comes nearest, if near enough.
    fn guess(&self, header: &str) -> Option<String> {
        if header.len() > LONGEST_NAME {
            return None;
        }
        let outside = spelled_out(without_bracket(header).map_or(header, |(outside, _)| outside));
        let words = words(&outside);
        if words.is_empty() {
            return None;
        }
        // With and without a last word that may be a unit, which is a short one.
        let unit = words.len() > 1 && words.last().is_some_and(|w| w.len() <= 4);
        let spellings: Vec<Spelling> = (0..=usize::from(unit)).map(|n| Spelling::of(Key::of(&words[..words.len() - n]).in_order)).collect();
        let mut best: Option<(f64, &Name)> = None;
        for name in &self.names {
            let near = spellings.iter().map(|s| s.likeness(&name.spelling)).fold(0.0, f64::max);
            // Among equals the canonical spelling and then the earlier column win.
            if near >= NEAR && best.is_none_or(|(b, n)| near > b || (near == b && name.canonical && !n.canonical)) {
                best = Some((near, name));
            }
        }
        best.map(|(_, name)| name.column.name_of(name.layer))
    }
}

/// The ways to part the words into a name and a unit behind it, the longest unit first.
fn stems(words: &[&str]) -> Vec<(String, Key)> {
    let part = |n: usize| {
        let (mut stem, unit) = words.split_at(words.len() - n);
        if let [before @ .., "in"] = stem {
            stem = before;
        }
        (!stem.is_empty()).then(|| (unit.join(" "), Key::of(stem)))
    };
    (1..=3.min(words.len() - 1)).rev().filter_map(part).collect()
}

/// A unit written without a gap behind the name.
fn glued_unit(name: &Name, glued: &str, quantity: &Quantity) -> Option<Unit> {
    let (start, unit) = glued.split_at_checked(name.key.in_order.len())?;
    if unit.is_empty() || !start.eq_ignore_ascii_case(&name.key.in_order) {
        return None;
    }
    Unit::find(quantity, unit)
}

/// A header's text before a bracket at its end, and what the bracket holds; `None` where brackets do not match.
fn without_bracket(header: &str) -> Option<(&str, Option<&str>)> {
    let header = header.trim();
    let Some(open) = header.find(['(', '[', '{']) else { return Some((header, None)) };
    let inside = header[open + 1..].strip_suffix([')', ']', '}'])?;
    Some((&header[..open], Some(inside).filter(|t| !t.trim().is_empty())))
}

/// Signs that stand for words, spelled out.
fn spelled_out(text: &str) -> String {
    text.replace('%', " percent ").replace(['"', '″', '”'], " inch ").replace(['Ø', '⌀', '∅'], " Ø ")
}

/// Words and numbers of a text.
fn words(text: &str) -> Vec<&str> {
    let mut words = Vec::new();
    for run in text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()) {
        let mut start = 0;
        let mut digit = None;
        for (at, c) in run.char_indices() {
            if digit.is_some_and(|d| d != c.is_ascii_digit()) {
                words.push(&run[start..at]);
                start = at;
            }
            digit = Some(c.is_ascii_digit());
        }
        words.push(&run[start..]);
    }
    words
}

/// A text of words compared as headers are: used for library entries and the words of a cell.
pub(super) fn same_words(a: &str, b: &str) -> bool {
    fn letters(text: &str) -> impl Iterator<Item = char> + '_ {
        text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase)
    }
    a == b || letters(a).eq(letters(b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(header: &str, expected: &str) {
        let got = match Names::new().slot(header) {
            Slot::Input(i) => {
                let unit = i.unit.map_or("", |u| u.name);
                format!("{} {unit}", i.column.name_of(i.layer)).trim_end().to_owned()
            }
            Slot::Result(k) => format!("result {}", RESULT_COLUMNS[k]),
            Slot::Own => "own".into(),
        };
        assert_eq!(got, expected, "{header}");
    }

    proptest::proptest! {
        /// Telling most texts apart by their letters changes nothing of what is found near.
        #[test]
        fn letters_tell_apart_only_what_is_far(a in "[abcé]{0,12}", b in "[abcé]{0,12}") {
            let near = strsim::normalized_damerau_levenshtein(&a, &b);
            let likeness = Spelling::of(a).likeness(&Spelling::of(b));
            proptest::prop_assert_eq!(likeness, if near >= NEAR { near } else { 0.0 });
        }
    }

    #[test]
    fn canonical_names_and_their_results() {
        for column in &COLUMNS {
            for layer in 0..column.layers() {
                let name = column.name_of(layer);
                let unit = match column.takes {
                    Takes::Number(q, _) | Takes::Plain(q, _) => q.unit,
                    _ => "",
                };
                check(&name, format!("{name} {unit}").trim_end());
                check(&name.to_uppercase().replace('_', " "), format!("{name} {unit}").trim_end());
            }
        }
        for name in RESULT_COLUMNS {
            check(name, &format!("result {name}"));
        }
    }

    #[test]
    fn no_name_belongs_to_two_columns() {
        let names = Names::new().names;
        for (k, a) in names.iter().enumerate() {
            for b in &names[..k] {
                let same = a.column.name == b.column.name && a.layer == b.layer;
                assert!(same || !a.key.same(&b.key), "{} and {}: {:?}", a.column.name, b.column.name, a.key);
            }
        }
    }

    #[test]
    fn headers_as_people_write_them() {
        for (header, expected) in [
            ("Pad Diameter (mm)", "diameter_mm mm"),
            ("pad-diameter [cm]", "diameter_mm cm"),
            ("PadDiameter", "diameter_mm mm"),
            ("DIAMETER", "diameter_mm mm"),
            ("diameterMM", "diameter_mm mm"),
            ("Diameter, mm", "diameter_mm mm"),
            ("diameter in mm", "diameter_mm mm"),
            ("diameter_in", "diameter_mm in"),
            ("diameter (inch)", "diameter_mm in"),
            ("diameter \"", "diameter_mm in"),
            ("diameter / µm", "diameter_mm um"),
            ("Ø", "diameter_mm mm"),
            ("Ø pad [mm]", "diameter_mm mm"),
            ("pad Ø (cm)", "diameter_mm cm"),
            ("dia. (mm)", "diameter_mm mm"),
            ("Diameter of the pad", "diameter_mm mm"),
            ("inner dia", "inner_diameter_mm mm"),
            ("base", "base_1"),
            ("Base 2", "base_2"),
            ("base2", "base_2"),
            ("base thickness", "base_1_thickness_mm mm"),
            ("base 3 thickness (cm)", "base_3_thickness_mm cm"),
            ("thickness base 3", "base_3_thickness_mm mm"),
            ("thickness of overlay 1", "overlay_1_thickness_mm mm"),
            ("cover thk mm", "overlay_1_thickness_mm mm"),
            ("base_1_εr", "own"),
            ("base 1 epsilon_r", "base_1_permittivity"),
            ("thread resistance (Ω/m)", "thread_resistance_ohm_per_m ohm/m"),
            ("thread resistance ohm/cm", "thread_resistance_ohm_per_m ohm/cm"),
            ("linear_resistance_ohm_per_m", "thread_resistance_ohm_per_m ohm/m"),
            ("Run length [m]", "run_length_mm m"),
            ("length of run", "run_length_mm mm"),
            ("length", "length_mm mm"),
            ("series resistance kΩ", "series_resistance_ohm kohm"),
            ("series resistance MOhm", "series_resistance_ohm Mohm"),
            ("series_resistance_kohm", "series_resistance_ohm kohm"),
            ("charge time (ns)", "charge_time_us ns"),
            ("charge time µs", "charge_time_us us"),
            ("charge time ms", "charge_time_us ms"),
            ("maximum standing capacitance nF", "max_standing_pf nF"),
            ("settled %", "settled_percent %"),
            ("temperature °C", "temperature_c degrees C"),
            ("temperature (K)", "temperature_c K"),
            ("number of passes", "passes"),
            ("Signal (pF)", "own"),
            ("signal pf", "own"),
            (" Signal_PF ", "result signal_pf"),
            ("run resistance ohm", "own"),
            ("diameter (kg)", "own"),
            ("diameter_mm (cm)", "own"),
            ("diameter_mm (mm)", "diameter_mm mm"),
            ("thread (top)", "own"),
            ("thickness", "own"),
            ("order number", "own"),
            ("", "own"),
            ("(mm)", "own"),
            ("diameter (mm", "own"),
        ] {
            check(header, expected);
        }
    }

    #[test]
    fn near_misses_are_reported_and_not_read() {
        for (header, guess) in [
            ("diametr_mm", Some("diameter_mm")),
            ("run lenght", Some("run_length_mm")),
            ("treads", None),
            ("thraed", Some("thread")),
            ("contoller", Some("controller")),
            ("diameter (kg)", Some("diameter_mm")),
            ("colour", None),
            ("price", None),
        ] {
            let names = Names::new();
            assert!(matches!(names.slot(header), Slot::Own), "{header}");
            assert_eq!(names.guess(header).as_deref(), guess, "{header}");
        }
    }
}
