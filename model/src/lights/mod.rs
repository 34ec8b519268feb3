//! Lights in parallel along a feed and a return run: what each one gets, and what the runs keep. SI, plain numbers.
//!
//! `diode` is one light, `row` the lights with their runs, `battery` how long a cell lasts.

mod battery;
mod diode;
mod row;

pub use battery::battery_life_s;
pub use diode::{Diode, ForwardPoint, PointsFault, thermal_voltage_v};
pub use row::{Break, Feed, LightRow, LitRow, MOST_LIGHTS, NotSettled, Run, light_row};
