//! How a capacitance is to be computed, as every question and every piece may say it.

use serde::Deserialize;
use toile_model::electrostatics::{Aim, Choice};
use utoipa::ToSchema;

use super::number::RelativeTolerance;

/// How a capacitance is computed.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum MethodChoice {
    /// The cheapest method whose error bound meets the tolerance.
    Best,
    /// The formula a practitioner checks by hand, whatever its bound.
    ClosedForm,
    /// The layered field solved.
    Field,
}

impl From<MethodChoice> for Choice {
    fn from(method: MethodChoice) -> Self {
        match method {
            MethodChoice::Best => Self::Best,
            MethodChoice::ClosedForm => Self::ClosedForm,
            MethodChoice::Field => Self::Field,
        }
    }
}

/// Method and tolerance together; what is left out is the best method, good to 0.1 %.
pub fn aim(method: Option<MethodChoice>, relative_tolerance: Option<RelativeTolerance>) -> Aim {
    Aim {
        choice: method.map_or(Aim::USUAL.choice, Into::into),
        relative_tolerance: relative_tolerance.map_or(Aim::USUAL.relative_tolerance, |n| n.0),
    }
}
