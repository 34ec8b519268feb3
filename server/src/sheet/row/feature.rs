//! Which feature a row is, and which columns belong to it.

use super::super::columns::Column;

/// What one row of a sheet holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(in super::super) enum FeatureKind {
    /// A pad with its run.
    #[default]
    Pad,
    /// Lights along a feed and a return.
    LightRow,
    /// A wire, tube or roving under a zigzag.
    LaidWire,
    /// A stitched area on skin with its run.
    Electrode,
}

/// Texture of an electrode named by a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in super::super) enum TextureKind {
    Fill,
    LoopPile,
}

impl FeatureKind {
    const ALL: [Self; 4] = [Self::Pad, Self::LightRow, Self::LaidWire, Self::Electrode];

    /// The word for it with its article.
    fn a_word(self) -> String {
        format!("{} {}", if self == Self::Electrode { "an" } else { "a" }, self.word())
    }

    /// The word for it in a cell.
    pub(super) const fn word(self) -> &'static str {
        match self {
            Self::Pad => "pad",
            Self::LightRow => "light_row",
            Self::LaidWire => "laid_wire",
            Self::Electrode => "electrode",
        }
    }

    /// Where its fields stand in a piece.
    const fn prefix(self) -> &'static str {
        match self {
            Self::Pad => "/pads/0",
            Self::LightRow => "/light_rows/0",
            Self::LaidWire => "/laid_wires/0",
            Self::Electrode => "/electrodes/0",
        }
    }
}

/// Columns of the table of pads whose cells say the same of a light row or an electrode: its thread, how its runs are sewn.
const OF_RUNS: [&str; 2] = ["/pads/0/thread/", "/pads/0/run/"];

/// Columns of the table of pads whose cells say the same of an electrode.
const OF_OUTLINE: &str = "/pads/0/shape/";

/// Columns of the table of pads whose cells say the same of an electrode, and where that has them.
const OF_TEXTURE: [(&str, &str); 2] = [
    ("/pads/0/fill/row_spacing_mm", "/electrodes/0/texture/row_spacing_mm"),
    ("/pads/0/fill/stitch_length_mm", "/electrodes/0/texture/stitch_length_mm"),
];

/// Columns of the table of light rows whose cells say the same of a laid wire, and where that has them.
const OF_POWER: [(&str, &str); 3] = [
    ("/light_rows/0/supply/supply_v", "/laid_wires/0/supply_v"),
    ("/light_rows/0/supply/kind", "/laid_wires/0/supply_kind"),
    ("/light_rows/0/warmth/max_temperature_c", "/laid_wires/0/warmth/max_temperature_c"),
];

/// Why a filled cell has no place in a row of this feature; nothing where it has one. What is said of the whole piece, of
/// the finger and of the controller may stand in any row.
pub(super) fn stray(column: &Column, feature: FeatureKind) -> Option<String> {
    let owner =
        FeatureKind::ALL.into_iter().find(|kind| column.pointer.strip_prefix(kind.prefix()).is_some_and(|rest| rest.starts_with('/')))?;
    let of_runs = OF_RUNS.iter().any(|shared| column.pointer.starts_with(shared));
    let shared = match feature {
        FeatureKind::LightRow => of_runs,
        FeatureKind::Electrode => {
            of_runs || column.pointer.starts_with(OF_OUTLINE) || OF_TEXTURE.iter().any(|(shared, _)| column.pointer == *shared)
        }
        FeatureKind::LaidWire => OF_POWER.iter().any(|(shared, _)| column.pointer == *shared),
        FeatureKind::Pad => false,
    };
    let fits = owner == feature || shared || column.pointer == "/pads/0/name";
    (!fits).then(|| format!("This column belongs to {}, and the row is {}.", owner.a_word(), feature.a_word()))
}

/// The pointer that the table of columns has for a field of a piece.
pub(super) fn in_the_table(pointer: &str, known: impl Fn(&str) -> bool) -> String {
    if known(pointer) {
        return pointer.to_owned();
    }
    if let Some((shared, _)) = OF_POWER.iter().chain(&OF_TEXTURE).find(|(_, own)| *own == pointer) {
        return (*shared).to_owned();
    }
    let rest = FeatureKind::ALL.iter().find_map(|kind| pointer.strip_prefix(kind.prefix()));
    rest.map_or_else(|| pointer.to_owned(), |rest| format!("{}{rest}", FeatureKind::Pad.prefix()))
}
