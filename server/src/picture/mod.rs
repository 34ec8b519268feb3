//! Drawings made on the server, as SVG: for what takes too many numbers to be sent and drawn elsewhere.
//!
//! A drawing holds no script and no style sheet, tells its content in a title and a description, and keeps its meaning
//! in grey.

mod charge;
mod scale;
mod text;

pub use charge::charge_svg;
