//! The model against the world outside it: reference tables, textbook limits, and properties that must always hold.
//!
//! One binary. Tolerances with their reasons stand in `tolerances`; every check names its source.

mod accuracy;
mod conduction;
mod electrode;
mod electrode_piece;
mod electrostatics;
mod estimate;
mod field_bodies;
mod field_lines;
mod field_rect;
mod field_round;
mod heat;
mod laid_wire;
mod laid_wires_of_pieces;
mod library;
mod light_rows_of_pieces;
mod lights;
mod measured;
mod outlines;
mod production;
mod properties;
mod published;
mod reference;
mod runs;
mod runs_of_pads;
mod tolerances;
mod trade;
mod uncertainty;
