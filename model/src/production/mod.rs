//! Making a piece: how long machine and people take, and what it costs.
//!
//! Plain numbers in SI and money in exact decimals; no spreads. [`course()`] tells the times, [`quote()`] the price,
//! [`pieces_per_hour`] is the trade's own formula for the output of a machine.

mod course;
mod output;
mod pace;
mod quote;

pub use course::{Course, Terms, Work, course};
pub use output::pieces_per_hour;
pub use pace::Pace;
pub use quote::{Asked, Item, Line, Quote, quote};
