//! The features of a piece: what kinds there are, and where each one stands. Numbers count from 0; no unit.
//!
//! A piece consists of any features. What is said of the finger, the controller and the layers belongs to the pads and
//! is asked for only where there are pads.
//!
//! Example: the second pad stands at `/pads/1` and is called `pad 2` where it has no name.

/// One feature of a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Feature {
    /// A touch pad with its run.
    Pad(usize),
    /// Lights along a feed and a return.
    LightRow(usize),
    /// A stitched area on skin.
    Electrode(usize),
    /// A wire, tube or roving fixed by a zigzag.
    LaidWire(usize),
}

impl Feature {
    /// The lists of a piece that hold features, as an edge names them.
    pub const LISTS: &[&str] = &["pads", "electrodes", "light_rows", "laid_wires"];

    /// Its kind in words.
    pub const fn kind(self) -> &'static str {
        match self {
            Self::Pad(_) => "pad",
            Self::LightRow(_) => "light row",
            Self::Electrode(_) => "electrode",
            Self::LaidWire(_) => "laid wire",
        }
    }

    /// The list of the piece that it stands in.
    pub const fn list(self) -> &'static str {
        match self {
            Self::Pad(_) => "pads",
            Self::LightRow(_) => "light_rows",
            Self::Electrode(_) => "electrodes",
            Self::LaidWire(_) => "laid_wires",
        }
    }

    /// Its number in that list.
    pub const fn number(self) -> usize {
        match self {
            Self::Pad(k) | Self::LightRow(k) | Self::Electrode(k) | Self::LaidWire(k) => k,
        }
    }

    /// JSON pointer of it.
    ///
    /// ```
    /// assert_eq!(toile_model::Feature::Pad(1).pointer(), "/pads/1");
    /// ```
    pub fn pointer(self) -> String {
        format!("/{}/{}", self.list(), self.number())
    }

    /// What it is called: its own name, or its kind with its number.
    pub fn called(self, name: Option<&str>) -> String {
        name.map_or_else(|| format!("{} {}", self.kind(), self.number() + 1), str::to_owned)
    }
}
