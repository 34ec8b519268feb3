//! Measured values and how their spreads reach a result. Knows no physics: it takes closures.
//!
//! First order, after JCGM 100:2008 (GUM), clause 5.1.2. Every stage of a calculation is a plain function of
//! numbers; [`propagate`] runs it at the values, and once more beside each argument that carries a spread,
//! and chains the slopes. A chain of cheap stages therefore costs far less than differencing the whole.

mod linear;
mod measured;

pub use linear::{Linear, Share, normal_chance, propagate, propagate_by_whole_steps, propagate_inputs};
pub use measured::{Measured, Spread};
