//! Light rows of a piece: what is asked of them, what is assumed, how each is worked out and judged.
//!
//! Every row is worked out beside the other features, with inputs of its own ([`super::Place::LightRow`]). Its runs are
//! sewn as those of pads are: the same stitches, thread in use, washing, stretch and terminals.

mod assumed;
mod chain;
mod change;
mod checks;
mod coupon;
mod piece;
mod sewn;
mod working;

pub(super) use change::{RowChoice, choose, rows_of, scale_row};
pub(super) use checks::light_rows;
pub use checks::{BrokenRow, LightRowResult};
pub(super) use coupon::{coupon, coupon_measures};
pub use piece::{LightChoice, LightRow, MOST_LIGHT_ROWS, MOST_LIGHTS_OF_PIECE, PlacedBy, SupplyChoice, SupplyKind, points_in_words};
pub(super) use sewn::stitched_row;
pub(super) use working::light_row_steps;
