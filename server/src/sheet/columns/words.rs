//! The words that the cells of a column may hold, with what each does to the draft of a row.

use super::super::row::{Draft, FeatureKind, TextureKind};
use super::{ShapeKind, StitchKind, Word};
use toile_model::electrostatics::Choice;
use toile_model::lights::Feed;
use toile_model::materials::{BodySignal, Skin};
use toile_model::{Bobbin, ElectrodeKind, GroundKind, Held, LaidKind, PlacedBy, SupplyKind, TerminalKind, TouchCase};

const fn word(word: &'static str, also: &'static [&'static str], put: fn(&mut Draft)) -> Word {
    Word { word, also, put }
}

pub(super) const FEATURES: &[Word] = &[
    word("pad", &["touch pad"], |d| d.feature = Some(FeatureKind::Pad)),
    word("light_row", &["lights", "row of lights"], |d| d.feature = Some(FeatureKind::LightRow)),
    word("laid_wire", &["wire", "tube", "roving"], |d| d.feature = Some(FeatureKind::LaidWire)),
    word("electrode", &["skin electrode"], |d| d.feature = Some(FeatureKind::Electrode)),
];

pub(super) const FEEDS: &[Word] = &[
    word("same", &["same end"], |d| d.light.feed = Some(Feed::Same)),
    word("opposite", &["opposite ends"], |d| d.light.feed = Some(Feed::Opposite)),
    word("both_ends", &["both"], |d| d.light.feed = Some(Feed::BothEnds)),
];

pub(super) const PLACERS: &[Word] = &[
    word("machine", &["by machine"], |d| d.light.placed_by = Some(PlacedBy::Machine)),
    word("hand", &["by hand"], |d| d.light.placed_by = Some(PlacedBy::Hand)),
];

pub(super) const SUPPLIES: &[Word] = &[
    word("battery", &["cell", "cells"], |d| d.light.supply_kind = Some(SupplyKind::Battery)),
    word("mains", &["power unit"], |d| d.light.supply_kind = Some(SupplyKind::Mains)),
];

pub(super) const LAID: &[Word] = &[
    word("wire", &["strand"], |d| d.laid.kind = Some(LaidKind::Wire)),
    word("tube", &["hose"], |d| d.laid.kind = Some(LaidKind::Tube)),
    word("roving", &["cord"], |d| d.laid.kind = Some(LaidKind::Roving)),
];

pub(super) const GROUNDS: &[Word] = &[
    word("sheet", &["ground sheet", "conductive sheet", "conductive cloth"], |d| d.ground = Some(GroundKind::Sheet)),
    word("metal", &["metal frame", "frame"], |d| d.ground = Some(GroundKind::Metal)),
    word("body", &["wearer"], |d| d.ground = Some(GroundKind::Body)),
    word("none", &["nothing", "no ground"], |d| d.ground = Some(GroundKind::None)),
];

pub(super) const SHAPES: &[Word] = &[
    word("round", &["circle", "circular", "disc", "disk"], |d| d.shape = Some(ShapeKind::Round)),
    word("rectangle", &["rectangular", "rect"], |d| d.shape = Some(ShapeKind::Rectangle)),
    word("ring", &["annulus"], |d| d.shape = Some(ShapeKind::Ring)),
];

pub(super) const STITCHES: &[Word] = &[
    word("running", &["running stitch", "run stitch", "straight", "straight stitch"], |d| d.stitch = Some(StitchKind::Running)),
    word("back", &["backstitch"], |d| d.stitch = Some(StitchKind::Back)),
    word("satin", &["satin stitch", "satin column", "zigzag"], |d| d.stitch = Some(StitchKind::Satin)),
];

pub(super) const BOBBINS: &[Word] = &[
    word("plain", &["plain thread", "not conductive", "non-conductive"], |d| d.bobbin = Some(Bobbin::Plain)),
    word("same_thread", &["same", "same as top", "conductive"], |d| d.bobbin = Some(Bobbin::SameThread)),
];

pub(super) const JOINED: &[Word] = &[
    word("joined", &["yes", "true", "touching", "sewn over"], |d| d.passes_joined = Some(true)),
    word("apart", &["no", "false", "not joined", "beside"], |d| d.passes_joined = Some(false)),
];

pub(super) const TERMINALS: &[Word] = &[
    word("board", &["circuit board", "pcb"], |d| d.terminal_kind = Some(TerminalKind::Board)),
    word("snap", &["press stud", "stud"], |d| d.terminal_kind = Some(TerminalKind::Snap)),
    word("crimp", &["crimped"], |d| d.terminal_kind = Some(TerminalKind::Crimp)),
];

pub(super) const CASES: &[Word] = &[
    word("battery", &["isolated"], |d| d.touch_case = Some(TouchCase::Battery)),
    word("earthed", &["earth", "grounded", "mains earth"], |d| d.touch_case = Some(TouchCase::Earthed)),
    word("worn", &["worn on the body"], |d| d.touch_case = Some(TouchCase::Worn)),
];

pub(super) const HOLDS: &[Word] = &[
    word("ground", &["grounded", "circuit ground"], |d| d.guard_held = Some(Held::Ground)),
    word("driven", &["follows the pad"], |d| d.guard_held = Some(Held::Driven)),
];

pub(super) const JIGS: &[Word] =
    &[word("no", &["without", "false"], |d| d.order.jig = false), word("yes", &["jig", "with", "true"], |d| d.order.jig = true)];

pub(super) const METHODS: &[Word] = &[
    word("best", &[], |d| d.method = Some(Choice::Best)),
    word("closed_form", &["formula"], |d| d.method = Some(Choice::ClosedForm)),
    word("field", &["solved field", "solved"], |d| d.method = Some(Choice::Field)),
];

pub(super) const USES: &[Word] = &[
    word("reads", &["reading", "read"], |d| d.electrode.kind = Some(ElectrodeKind::Reads)),
    word("stimulates", &["stimulating", "stimulation"], |d| d.electrode.kind = Some(ElectrodeKind::Stimulates)),
];

pub(super) const TEXTURES: &[Word] = &[
    word("fill", &["flat", "filled"], |d| d.electrode.texture = Some(TextureKind::Fill)),
    word("loop_pile", &["loops", "pile"], |d| d.electrode.texture = Some(TextureKind::LoopPile)),
];

pub(super) const SKINS: &[Word] = &[
    word("gel", &["gelled", "soaked with saline"], |d| d.electrode.skin = Some(Skin::Gel)),
    word("damp", &["moist", "sweat"], |d| d.electrode.skin = Some(Skin::Damp)),
    word("dry", &["nothing"], |d| d.electrode.skin = Some(Skin::Dry)),
];

pub(super) const SIGNALS: &[Word] = &[
    word("heart", &["of the heart"], |d| d.electrode.signal = Some(BodySignal::Heart)),
    word("muscle", &["of a muscle"], |d| d.electrode.signal = Some(BodySignal::Muscle)),
];
