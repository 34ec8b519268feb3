//! What a touch adds: finger, pad and the way back to circuit ground.

mod signal;

pub use signal::{Signal, WayBack, signal, signal_over_body};
