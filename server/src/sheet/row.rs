//! One row to one piece: a pad with its run or another feature, every fault in the words of the sheet.

mod electrode;
mod feature;
mod laid_wire;
mod light_row;

use super::cell::{self, CellFault, Mark};
use super::columns::{COLUMNS, MOST_LAYERS, ShapeKind, Shelf, StitchKind, Takes, Word};
use super::fault::RowFault;
use super::header::{Header, Input, LONGEST_NAME, same_words};
use super::unit::Unit;
use electrode::ElectrodeDraft;
pub(super) use feature::{FeatureKind, TextureKind};
use laid_wire::LaidDraft;
use light_row::LightDraft;
use toile_model::electrostatics::{Aim, Choice};
use toile_model::materials::Library;
use toile_model::money::decimal;
use toile_model::units::{self, Quantity};
use toile_model::{
    Bobbin, ControllerChoice, Fault, Fill, GroundKind, Guard, Held, LayerChoice, Machine, Measured, Order, Pad, Piece, Run, Shape, Stack,
    Stitch, Terminal, TerminalKind, ThreadChoice, Touch, TouchCase,
};

/// Stitch length of a fill where the sheet gives its row spacing only, mm.
const FILL_STITCH_MM: f64 = 3.0;

/// What the cells of a row say, before it is known whether they make a piece. SI.
#[derive(Debug, Default)]
pub(super) struct Draft {
    pub(super) name: Option<String>,
    pub(super) feature: Option<FeatureKind>,
    pub(super) light: LightDraft,
    pub(super) laid: LaidDraft,
    pub(super) electrode: ElectrodeDraft,
    pub(super) ground: Option<GroundKind>,
    pub(super) base: [LayerChoice; MOST_LAYERS],
    pub(super) overlay: [LayerChoice; MOST_LAYERS],
    pub(super) opening_diameter: Option<Measured>,
    pub(super) sewn_thickness: Option<Measured>,
    pub(super) shape: Option<ShapeKind>,
    pub(super) diameter: Option<Measured>,
    pub(super) width: Option<Measured>,
    pub(super) length: Option<Measured>,
    pub(super) corner_radius: Option<Measured>,
    pub(super) inner_diameter: Option<Measured>,
    pub(super) outer_diameter: Option<Measured>,
    pub(super) row_spacing: Option<Measured>,
    pub(super) fill_stitch_length: Option<Measured>,
    pub(super) guard_gap: Option<Measured>,
    pub(super) guard_width: Option<Measured>,
    pub(super) guard_held: Option<Held>,
    pub(super) thread: ThreadChoice,
    pub(super) run_length: Option<Measured>,
    pub(super) passes: Option<u32>,
    pub(super) stitch: Option<StitchKind>,
    pub(super) stitch_length: Option<Measured>,
    pub(super) column_width: Option<Measured>,
    pub(super) density: Option<Measured>,
    pub(super) bobbin: Option<Bobbin>,
    pub(super) contact_resistance: Option<Measured>,
    pub(super) row_contact: Option<Measured>,
    pub(super) sheet_resistance: Option<Measured>,
    pub(super) stitch_contact: Option<Measured>,
    pub(super) passes_joined: Option<bool>,
    pub(super) terminal_kind: Option<TerminalKind>,
    pub(super) terminal_pitch: Option<Measured>,
    pub(super) terminal_hole: Option<Measured>,
    pub(super) after_washes: Option<u32>,
    pub(super) stretch: Option<Measured>,
    pub(super) needle_diameter: Option<f64>,
    pub(super) controller: ControllerChoice,
    pub(super) touch_case: Option<TouchCase>,
    pub(super) fingertip_diameter: Option<Measured>,
    pub(super) off_centre: Option<Measured>,
    pub(super) body_to_earth: Option<Measured>,
    pub(super) supply_to_earth: Option<Measured>,
    pub(super) body_to_supply: Option<Measured>,
    pub(super) temperature: Option<Measured>,
    pub(super) needles: Option<u32>,
    pub(super) method: Option<Choice>,
    pub(super) relative_tolerance: Option<f64>,
    pub(super) quantity: Option<u32>,
    pub(super) pieces_per_frame: Option<u32>,
    pub(super) decorative_stitches: Option<u32>,
    pub(super) boards: Option<u32>,
    pub(super) exchange_rate: Option<f64>,
    pub(super) material_per_piece: Option<f64>,
    /// What stands in an order as it is given.
    pub(super) order: Order,
}

/// Turns the cells of one row into a piece.
///
/// `cells` stand in the order of the header, quotes taken off. The piece is the one that the same values in JSON
/// make, number for number, so its estimate is the same to the last bit.
///
/// # Errors
/// Every [`RowFault`] found: cells that cannot be read, values out of range, and needed ones that are missing.
pub fn row_to_piece(header: &Header, cells: &[&str], mark: Mark, library: &Library) -> Result<Piece, Vec<RowFault>> {
    let mut reader = Reader { header, cells, mark, library, faults: Vec::new(), faulty: Vec::new() };
    let draft = reader.read();
    let (piece, layers) = reader.assemble(draft);
    // A piece with stand-ins is checked too, so that one reading names every fault of the row.
    if let Err(faults) = piece.check(library) {
        for fault in faults.0 {
            reader.translate(fault, &layers);
        }
    }
    if reader.faults.is_empty() { Ok(piece) } else { Err(reader.faults) }
}

/// Which layers of the sheet stand in the piece, in its order.
struct Layers {
    base: Vec<usize>,
    overlay: Vec<usize>,
}

struct Reader<'a> {
    header: &'a Header,
    cells: &'a [&'a str],
    mark: Mark,
    library: &'a Library,
    faults: Vec<RowFault>,
    /// Columns that have a fault already; a stand-in takes their place.
    faulty: Vec<(&'static str, usize)>,
}

impl Reader<'_> {
    fn read(&mut self) -> Draft {
        let mut draft = Draft::default();
        let header = self.header;
        for (place, input) in header.inputs() {
            let text = self.cells.get(place).map_or("", |t| t.trim());
            if text.is_empty() {
                continue;
            }
            if let Err(fault) = self.put(&mut draft, input, text) {
                self.refuse(input.column.name, input.layer, fault.message, fault.allowed);
            }
        }
        if header.place("feature", 0).is_some() && !self.is_faulty("feature", 0) {
            self.refuse_strays(draft.feature.unwrap_or_default());
        }
        draft
    }

    /// Cells that belong to another feature than the row's.
    fn refuse_strays(&mut self, feature: FeatureKind) {
        let header = self.header;
        for (place, input) in header.inputs() {
            let filled = self.cells.get(place).is_some_and(|text| !text.trim().is_empty());
            if let Some(why) = feature::stray(input.column, feature).filter(|_| filled) {
                self.refuse(input.column.name, input.layer, why, "an empty cell");
            }
        }
    }

    fn put(&self, draft: &mut Draft, input: &Input, text: &str) -> Result<(), CellFault> {
        match input.column.takes {
            Takes::Name => draft.name = Some(text.into()),
            Takes::Word(words) => (word(words, text)?.put)(draft),
            Takes::Entry(shelf, put) => put(draft, input.layer, entry(self.library, shelf, text)?),
            Takes::Number(quantity, put) => {
                let unit = input.unit.unwrap_or(Unit::own(quantity));
                *put(draft, input.layer) = Some(cell::measured(text, self.mark, quantity, unit)?);
            }
            Takes::Plain(quantity, put) => {
                let unit = input.unit.unwrap_or(Unit::own(quantity));
                *put(draft) = Some(cell::plain(text, self.mark, quantity, unit)?);
            }
            Takes::Code(put) => *put(draft) = Some(text.to_uppercase()),
            Takes::Count(quantity, put) => *put(draft) = Some(cell::count(text, self.mark, quantity)?),
        }
        Ok(())
    }

    fn refuse(&mut self, column: &'static str, layer: usize, message: impl Into<String>, allowed: impl Into<String>) {
        if self.is_faulty(column, layer) {
            return;
        }
        self.faulty.push((column, layer));
        let place = self.header.place(column, layer);
        let known = COLUMNS.iter().find(|c| c.name == column);
        let name = place.map_or_else(|| known.map_or_else(|| column.into(), |c| c.name_of(layer)), |k| self.header.name(k).into());
        let given = place.and_then(|k| self.cells.get(k)).map_or("", |t| t.trim());
        self.faults.push(RowFault { column: name, given: given.into(), message: message.into(), allowed: allowed.into() });
    }

    fn is_faulty(&self, column: &str, layer: usize) -> bool {
        self.faulty.iter().any(|(c, k)| *c == column && *k == layer)
    }

    /// A number that the row must give. Without it, a stand-in within the range lets the rest be checked.
    fn needed(&mut self, given: Option<Measured>, column: &'static str, quantity: &Quantity, why: &str) -> Measured {
        given.unwrap_or_else(|| {
            self.refuse(column, 0, format!("{why} needs this number, and the row gives none."), quantity.allowed());
            Measured::exact(quantity.to_si(quantity.high))
        })
    }

    /// A number that has no place in this row.
    fn not_here(&mut self, given: bool, column: &'static str, why: &str) {
        if given {
            self.refuse(column, 0, why, "an empty cell");
        }
    }

    fn assemble(&mut self, mut draft: Draft) -> (Piece, Layers) {
        let base = ["base_#", "base_#_thickness_mm", "base_#_permittivity", "base_#_water_fraction"];
        let base = self.layers(std::mem::take(&mut draft.base), base);
        let overlay = ["overlay_#", "overlay_#_thickness_mm", "overlay_#_permittivity", "overlay_#_water_fraction"];
        let overlay = self.layers(std::mem::take(&mut draft.overlay), overlay);
        let feature = draft.feature.unwrap_or_default();
        let pad = feature == FeatureKind::Pad;
        if pad && base.0.is_empty() {
            let entries = listed(self.library.fabrics.iter().map(|f| f.id));
            self.refuse("base_#", 0, "The row names no base layer.", format!("{entries}, or thickness and permittivity"));
        }
        let drawn = pad.then(|| (self.shape(&draft), self.fill(&draft), self.guard(&draft)));
        let sewn = feature != FeatureKind::LaidWire;
        let run = sewn.then(|| self.run(&draft));
        if sewn && draft.thread == ThreadChoice::default() {
            let entries = listed(self.library.threads.iter().map(|t| t.id));
            self.refuse(
                "thread",
                0,
                "The row names no thread.",
                format!("{entries}, or its numbers (thread_resistance_ohm_per_m, thread_diameter_mm)"),
            );
        }
        if pad && draft.controller == ControllerChoice::default() {
            let entries = listed(self.library.controllers.iter().map(|c| c.id));
            self.refuse("controller", 0, "The row names no controller.", format!("{entries}, or all of its six numbers"));
        }
        // Where an entry is in doubt, any entry lets the rest be checked.
        if self.is_faulty("thread", 0) {
            draft.thread.library = self.library.threads.first().map(|t| t.id.into());
        }
        if self.is_faulty("controller", 0) {
            draft.controller.library = self.library.controllers.first().map(|c| c.id.into());
        }
        let machine = Machine::default();
        let production = order(&mut draft);
        let thread = std::mem::take(&mut draft.thread);
        let (mut pads, mut electrodes, mut light_rows, mut laid_wires) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        match (feature, run, drawn) {
            (FeatureKind::Electrode, Some(run), _) => electrodes.push(self.electrode(&mut draft, thread, run)),
            (FeatureKind::LightRow, Some(run), _) => light_rows.push(self.light_row(&mut draft, thread, run)),
            (FeatureKind::Pad, Some(run), Some((shape, fill, guard))) => pads.push(Pad {
                name: draft.name,
                shape,
                centre_m: None,
                rotation_rad: 0.0,
                thread,
                fill,
                sheet_resistance_ohm_sq: draft.sheet_resistance,
                run,
                guard,
            }),
            _ => laid_wires.push(self.laid_wire(&mut draft)),
        }
        let piece = Piece {
            name: None,
            quantity: draft.quantity.unwrap_or(1),
            stack: Stack {
                ground: draft.ground.unwrap_or(GroundKind::Sheet),
                base: base.0,
                overlay: overlay.0,
                sewn_thickness_m: draft.sewn_thickness,
                opening_diameter_m: draft.opening_diameter,
            },
            pads,
            electrodes,
            light_rows,
            laid_wires,
            controller: draft.controller,
            touch: Touch {
                case: draft.touch_case.unwrap_or(TouchCase::Battery),
                fingertip_diameter_m: draft.fingertip_diameter,
                body_to_earth_f: draft.body_to_earth,
                supply_to_earth_f: draft.supply_to_earth,
                body_to_supply_f: draft.body_to_supply,
                off_centre_m: draft.off_centre,
            },
            temperature_k: draft.temperature,
            after_washes: draft.after_washes.unwrap_or(0),
            stretch: draft.stretch,
            machine: Machine {
                needles: draft.needles.unwrap_or(machine.needles),
                needle_diameter_m: draft.needle_diameter.unwrap_or(machine.needle_diameter_m),
                ..machine
            },
            aim: Aim {
                choice: draft.method.unwrap_or(Aim::USUAL.choice),
                relative_tolerance: draft.relative_tolerance.unwrap_or(Aim::USUAL.relative_tolerance),
            },
            production,
        };
        (piece, Layers { base: base.1, overlay: overlay.1 })
    }

    /// The run of a pad, or the way of a light row's runs.
    fn run(&mut self, draft: &Draft) -> Run {
        let stitch = self.stitch(draft);
        Run {
            length_m: self.needed(draft.run_length, "run_length_mm", &units::RUN_LENGTH, "Every run"),
            passes: draft.passes.unwrap_or(1),
            stitch,
            bobbin: draft.bobbin.unwrap_or(Bobbin::Plain),
            interlace_fraction: None,
            stitch_contact_ohm: draft.stitch_contact,
            passes_joined: draft.passes_joined.unwrap_or(true),
            contact_resistance_ohm: draft.contact_resistance,
            terminal: Terminal { kind: draft.terminal_kind, pitch_m: draft.terminal_pitch, hole_diameter_m: draft.terminal_hole },
        }
    }

    /// The layers that the row fills in, upwards, and their numbers in the sheet.
    fn layers(&mut self, drafts: [LayerChoice; MOST_LAYERS], columns: [&'static str; 4]) -> (Vec<LayerChoice>, Vec<usize>) {
        let [entry, thickness, permittivity, _] = columns;
        let mut layers = Vec::with_capacity(MOST_LAYERS);
        let mut numbers = Vec::with_capacity(MOST_LAYERS);
        for (k, mut layer) in drafts.into_iter().enumerate() {
            if layer == LayerChoice::default() && !columns.iter().any(|c| self.is_faulty(c, k)) {
                continue;
            }
            let lacks = |given: Option<Measured>, column| given.is_none() && !self.is_faulty(column, k);
            if layer.library.is_none() && (lacks(layer.thickness_m, thickness) || lacks(layer.relative_permittivity, permittivity)) {
                let entries = listed(self.library.fabrics.iter().map(|f| f.id));
                self.refuse(entry, k, "The layer names no fabric; without one it needs both thickness and permittivity.", entries);
            }
            // As for the thread: any entry lets the rest be checked.
            if layer.library.is_none() && columns.iter().any(|c| self.is_faulty(c, k)) {
                layer.library = self.library.fabrics.first().map(|f| f.id.into());
            }
            layers.push(layer);
            numbers.push(k);
        }
        (layers, numbers)
    }

    fn shape(&mut self, draft: &Draft) -> Shape {
        let there = |reader: &Self, given: Option<Measured>, column| given.is_some() || reader.is_faulty(column, 0);
        let what = draft.feature.unwrap_or_default().word();
        let round = there(self, draft.diameter, "diameter_mm");
        let rectangle = there(self, draft.width, "width_mm") || there(self, draft.length, "length_mm");
        let ring = there(self, draft.inner_diameter, "inner_diameter_mm") || there(self, draft.outer_diameter, "outer_diameter_mm");
        let corner = draft.corner_radius.is_some();
        let kind = draft.shape.unwrap_or_else(|| match (round, rectangle, ring) {
            (true, false, false) => ShapeKind::Round,
            (false, true, false) => ShapeKind::Rectangle,
            (false, false, true) => ShapeKind::Ring,
            (false, false, false) => {
                self.refuse(
                    "diameter_mm",
                    0,
                    format!("The row gives no size of the {what}."),
                    "a diameter, or width and length, or inner and outer diameter",
                );
                ShapeKind::Round
            }
            _ => {
                self.refuse(
                    "shape",
                    0,
                    "The row gives measures of more than one shape.",
                    "the word round, rectangle or ring, and only its measures",
                );
                ShapeKind::Round
            }
        });
        // Where the shape itself is in doubt, its measures are not held against it.
        if !self.is_faulty("shape", 0) {
            self.not_here(round && kind != ShapeKind::Round, "diameter_mm", "A diameter belongs to a round shape.");
            if kind != ShapeKind::Rectangle {
                self.not_here(draft.width.is_some(), "width_mm", "A width belongs to a rectangle.");
                self.not_here(draft.length.is_some(), "length_mm", "A length belongs to a rectangle.");
                self.not_here(corner, "corner_radius_mm", "A corner radius belongs to a rectangle.");
            }
            if kind != ShapeKind::Ring {
                self.not_here(draft.inner_diameter.is_some(), "inner_diameter_mm", "An inner diameter belongs to a ring.");
                self.not_here(draft.outer_diameter.is_some(), "outer_diameter_mm", "An outer diameter belongs to a ring.");
            }
        } else {
            return Shape::Round { diameter_m: draft.diameter.unwrap_or(Measured::exact(units::DIAMETER.to_si(units::DIAMETER.high))) };
        }
        match kind {
            ShapeKind::Round => Shape::Round { diameter_m: self.needed(draft.diameter, "diameter_mm", &units::DIAMETER, "A round shape") },
            ShapeKind::Rectangle => Shape::Rectangle {
                width_m: self.needed(draft.width, "width_mm", &units::WIDTH, "A rectangle"),
                length_m: self.needed(draft.length, "length_mm", &units::LENGTH, "A rectangle"),
                corner_radius_m: draft.corner_radius.unwrap_or(Measured::exact(0.0)),
            },
            ShapeKind::Ring => {
                let outer_diameter_m = self.needed(draft.outer_diameter, "outer_diameter_mm", &units::OUTER_DIAMETER, "A ring");
                let inner = draft.inner_diameter;
                if inner.is_none() {
                    self.needed(inner, "inner_diameter_mm", &units::INNER_DIAMETER, "A ring");
                }
                Shape::Ring {
                    inner_diameter_m: inner.unwrap_or(Measured::exact(units::INNER_DIAMETER.to_si(units::INNER_DIAMETER.low))),
                    outer_diameter_m,
                }
            }
        }
    }

    fn fill(&mut self, draft: &Draft) -> Option<Fill> {
        let Some(row_spacing_m) = draft.row_spacing else {
            let alone = draft.fill_stitch_length.is_some() && !self.is_faulty("row_spacing_mm", 0);
            let contact = draft.row_contact.is_some() && !self.is_faulty("row_spacing_mm", 0);
            self.not_here(contact, "row_contact_ohm", "A contact between rows needs the row spacing beside it.");
            self.not_here(alone, "fill_stitch_length_mm", "A stitch length of the fill needs the row spacing beside it.");
            return None;
        };
        let stitch_length_m = draft.fill_stitch_length.unwrap_or(Measured::exact(units::STITCH_LENGTH.to_si(FILL_STITCH_MM)));
        Some(Fill { row_spacing_m, stitch_length_m, row_contact_ohm: draft.row_contact })
    }

    /// The guard that a row names by any of its columns; then it must name it whole.
    fn guard(&mut self, draft: &Draft) -> Option<Guard> {
        let columns = ["guard_gap_mm", "guard_width_mm", "guard_held"];
        let given = draft.guard_gap.is_some() || draft.guard_width.is_some() || draft.guard_held.is_some();
        if !given && !columns.iter().any(|c| self.is_faulty(c, 0)) {
            return None;
        }
        if draft.guard_held.is_none() {
            self.refuse("guard_held", 0, "A guard needs this word, and the row gives none.", "ground, driven");
        }
        Some(Guard {
            gap_m: self.needed(draft.guard_gap, "guard_gap_mm", &units::GUARD_GAP, "A guard"),
            width_m: self.needed(draft.guard_width, "guard_width_mm", &units::GUARD_WIDTH, "A guard"),
            held: draft.guard_held.unwrap_or(Held::Ground),
        })
    }

    fn stitch(&mut self, draft: &Draft) -> Option<Stitch> {
        let kind = draft.stitch.unwrap_or(StitchKind::Running);
        if !self.is_faulty("stitch", 0) {
            if kind == StitchKind::Satin {
                self.not_here(
                    draft.stitch_length.is_some(),
                    "stitch_length_mm",
                    "A satin column has a density in place of a stitch length.",
                );
            } else {
                self.not_here(draft.column_width.is_some(), "column_width_mm", "A column width belongs to the stitch satin.");
                self.not_here(draft.density.is_some(), "density_mm", "A density belongs to the stitch satin.");
            }
        }
        let stitch_length_m = draft.stitch_length.unwrap_or(Stitch::USUAL_LENGTH_M);
        if draft.stitch.is_none() && draft.stitch_length.is_none() {
            return None;
        }
        Some(match kind {
            StitchKind::Running => Stitch::Running { stitch_length_m },
            StitchKind::Back => Stitch::Back { stitch_length_m },
            StitchKind::Satin => Stitch::Satin {
                column_width_m: self.needed(draft.column_width, "column_width_mm", &units::COLUMN_WIDTH, "A satin column"),
                density_m: self.needed(draft.density, "density_mm", &units::SATIN_DENSITY, "A satin column"),
            },
        })
    }

    /// Puts a fault of the model into the words of the sheet.
    fn translate(&mut self, fault: Fault, layers: &Layers) {
        if fault.pointer == "/stack/base" && self.is_faulty("base_#", 0) {
            return;
        }
        let (pattern, layer) = layer_of(&fault.pointer, layers);
        let pattern = feature::in_the_table(&pattern, |pointer| COLUMNS.iter().any(|c| c.pointer == pointer));
        let Some(column) = COLUMNS.iter().find(|c| c.pointer == pattern) else {
            self.faults.push(RowFault { column: fault.pointer, given: fault.given, message: fault.message, allowed: fault.allowed });
            return;
        };
        let allowed = match fault.allowed.split_once(", or `library`") {
            Some((number, _)) => format!("{number}, or an entry of the library in place of all numbers"),
            None => fault.allowed,
        };
        self.refuse(column.name, layer, fault.message, allowed);
    }
}

/// How the piece of a row is to be made.
fn order(draft: &mut Draft) -> Order {
    let usual = std::mem::take(&mut draft.order);
    // Cells hold finite numbers in a range; every one of them has a decimal.
    Order {
        pieces_per_frame: draft.pieces_per_frame.unwrap_or(usual.pieces_per_frame),
        decorative_stitches: draft.decorative_stitches.unwrap_or(usual.decorative_stitches),
        boards: draft.boards.unwrap_or(usual.boards),
        exchange_rate: draft.exchange_rate.and_then(decimal),
        material_per_piece: draft.material_per_piece.and_then(decimal),
        ..usual
    }
}

/// The pointer as the table of columns has it, and the layer of the sheet.
fn layer_of(pointer: &str, layers: &Layers) -> (String, usize) {
    for (side, numbers) in [("/stack/base/", &layers.base), ("/stack/overlay/", &layers.overlay)] {
        let Some((number, field)) = pointer.strip_prefix(side).and_then(|rest| rest.split_once('/')) else { continue };
        if let Some(layer) = number.parse().ok().and_then(|k: usize| numbers.get(k)) {
            return (format!("{side}#/{field}"), *layer);
        }
    }
    (pointer.to_owned(), 0)
}

pub(super) fn word(words: &'static [Word], text: &str) -> Result<&'static Word, CellFault> {
    words.iter().find(|w| same_words(w.word, text) || w.also.iter().any(|a| same_words(a, text))).ok_or_else(|| CellFault {
        message: "This word is not known here.".into(),
        allowed: words.iter().map(|w| w.word).collect::<Vec<_>>().join(", "),
    })
}

/// The entry of the library with this id or generic name.
pub(super) fn entry(library: &Library, shelf: Shelf, text: &str) -> Result<&'static str, CellFault> {
    match shelf {
        Shelf::Fabrics => entry_of(library.fabrics.iter().map(|e| (e.id, e.name)), text),
        Shelf::Threads => entry_of(library.threads.iter().map(|e| (e.id, e.name)), text),
        Shelf::Metals => entry_of(library.metals.iter().map(|e| (e.id, e.name)), text),
        Shelf::Controllers => entry_of(library.controllers.iter().map(|e| (e.id, e.name)), text),
    }
}

fn entry_of(entries: impl Iterator<Item = (&'static str, &'static str)> + Clone, text: &str) -> Result<&'static str, CellFault> {
    let exact = entries.clone().find(|(id, _)| *id == text);
    if let Some((id, _)) = exact.or_else(|| entries.clone().find(|(id, name)| same_words(id, text) || same_words(name, text))) {
        return Ok(id);
    }
    // Named for help only; a near miss is never read.
    let near = |id: &str| if text.len() <= LONGEST_NAME { strsim::normalized_damerau_levenshtein(&text.to_lowercase(), id) } else { 0.0 };
    let nearest = entries.clone().map(|(id, _)| (near(id), id)).max_by(|a, b| a.0.total_cmp(&b.0)).filter(|(near, _)| *near >= 0.6);
    let hint = nearest.map_or_else(String::new, |(_, id)| format!(" The nearest is {id}."));
    Err(CellFault { message: format!("The library has no such entry.{hint}"), allowed: listed(entries.map(|(id, _)| id)) })
}

fn listed(ids: impl Iterator<Item = &'static str>) -> String {
    format!("one of {}", ids.collect::<Vec<_>>().join(", "))
}
