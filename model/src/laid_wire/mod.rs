//! Wires, tubes and rovings that are too thick for a needle and are fixed by a zigzag over them. SI, plain numbers.
//!
//! `conductor` is the wire itself (section, resistance, mass), `course` the way it takes over the cloth, `hold` the
//! stitches that keep it there. A tube or a roving has a course, a mass and stitches, and no resistance.

mod conductor;
mod course;
mod hold;

pub use conductor::{Section, insulation_kg_per_m, wire_kg_per_m};
pub use course::{Course, CourseFault, Laid, MOST_POINTS, meander_length_m};
pub use hold::{Hold, held};
