//! Making a piece: how long machine and people take, and what it costs. Plain numbers in SI, money in exact decimals.

mod pace;

pub use pace::Pace;
