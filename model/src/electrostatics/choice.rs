//! Which method answers, and how exactly.

/// How a capacitance is to be computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Choice {
    /// The cheapest method whose bound meets the tolerance; the best there is where none does.
    #[default]
    Best,
    /// The closed form, whatever its bound.
    ClosedForm,
    /// The solved field.
    Field,
}

impl Choice {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Best => "best",
            Self::ClosedForm => "closed_form",
            Self::Field => "field",
        }
    }
}

/// A method and the error that is asked of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Aim {
    /// How to compute.
    pub choice: Choice,
    /// Relative error that is asked for, [`Aim::TIGHTEST`] to 1.
    pub relative_tolerance: f64,
}

impl Aim {
    /// The smallest tolerance that may be asked for.
    pub const TIGHTEST: f64 = 1e-9;

    /// The cheapest method good to 0.1 %: far inside what thicknesses and permittivities are known to.
    pub const USUAL: Self = Self { choice: Choice::Best, relative_tolerance: 1e-3 };
}

impl Default for Aim {
    fn default() -> Self {
        Self::USUAL
    }
}
