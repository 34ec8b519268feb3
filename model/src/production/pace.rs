//! How fast a feature may be sewn, as a kind; the speeds themselves are the shop's rates.

/// What slows a machine down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Pace {
    /// Plain thread, at the machine's usual speed.
    Plain,
    /// Conductive thread, slowed against breaks.
    Conductive,
    /// A zigzag over a wire that is laid along.
    Laid,
}

impl Pace {
    /// All of them, in the order in which [`Pace::number`] counts.
    pub const ALL: [Self; 3] = [Self::Plain, Self::Conductive, Self::Laid];

    /// Its place in a list of one entry for each pace.
    pub const fn number(self) -> usize {
        self as usize
    }
}
