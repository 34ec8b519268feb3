//! A value with its spread, as a person or the library gives it.

use crate::units::COVERAGE_95;

/// What is known of the distribution of a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spread {
    /// Taken as exact.
    Exact,
    /// Normal; given as a 95 % interval about the value.
    Normal,
    /// Anywhere between two limits with equal chance.
    Uniform,
}

impl Spread {
    /// The word for it on every surface.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Exact => "exact",
            Self::Normal => "normal",
            Self::Uniform => "uniform",
        }
    }
}

/// A value, its standard uncertainty (same unit) and the kind of spread behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// Best estimate.
    pub value: f64,
    /// Standard uncertainty (GUM 2.3.1), same unit as the value.
    pub standard_uncertainty: f64,
    /// Kind of spread.
    pub spread: Spread,
}

impl Measured {
    /// A value taken as exact.
    pub const fn exact(value: f64) -> Self {
        Self { value, standard_uncertainty: 0.0, spread: Spread::Exact }
    }

    /// A normal spread given by the half width of its 95 % interval.
    pub const fn normal(value: f64, plus_minus: f64) -> Self {
        Self { value, standard_uncertainty: plus_minus / COVERAGE_95, spread: Spread::Normal }
    }

    /// A uniform spread between two limits; standard uncertainty width / sqrt(12) (GUM 4.3.7).
    ///
    /// ```
    /// let felt = toile_model::Measured::uniform(1.0, 1.6);
    /// assert!((felt.value - 1.3).abs() < 1e-15 && (felt.standard_uncertainty - 0.173_205).abs() < 1e-6);
    /// ```
    pub const fn uniform(low: f64, high: f64) -> Self {
        const SQRT_12: f64 = 3.464_101_615_137_754_6;
        Self { value: (low + high) / 2.0, standard_uncertainty: (high - low) / SQRT_12, spread: Spread::Uniform }
    }

    /// The interval that holds the value with a chance of 95 % (for a uniform spread: its middle 95 %).
    pub fn interval_95(&self) -> (f64, f64) {
        let half = match self.spread {
            Spread::Exact => 0.0,
            Spread::Normal => COVERAGE_95 * self.standard_uncertainty,
            Spread::Uniform => 0.95 * 3f64.sqrt() * self.standard_uncertainty,
        };
        (self.value - half, self.value + half)
    }

    /// The lowest and highest value that the giver named: the limits of a uniform spread, the 95 % interval of a normal one.
    pub fn named_limits(&self) -> (f64, f64) {
        match self.spread {
            Spread::Uniform => {
                let half = 3f64.sqrt() * self.standard_uncertainty;
                (self.value - half, self.value + half)
            }
            Spread::Exact | Spread::Normal => self.interval_95(),
        }
    }

    /// The same spread in another unit: value and width divided by `per_si` after adding `offset` to the value.
    pub const fn rescaled(self, offset: f64, per_si: f64) -> Self {
        Self { value: (self.value + offset) / per_si, standard_uncertainty: self.standard_uncertainty / per_si, spread: self.spread }
    }
}

impl From<f64> for Measured {
    fn from(value: f64) -> Self {
        Self::exact(value)
    }
}
