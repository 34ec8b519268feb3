//! Quantities of runs, fills, ageing and terminals.

use super::Quantity;

/// Resistance of the top thread per metre of run, take-up included.
pub const TOP_RESISTANCE: Quantity = Quantity::new("top_ohm_per_m", "top thread per metre of run", "ohm/m", 1.0, 1e-4, 1e7);
/// Resistance of the bobbin thread per metre of run, take-up included.
pub const BOBBIN_RESISTANCE: Quantity = Quantity::new("bobbin_ohm_per_m", "bobbin thread per metre of run", "ohm/m", 1.0, 1e-4, 1e7);
/// Resistance of the thread of a fill per metre of row, take-up included.
pub const FILL_THREAD: Quantity = Quantity::new("thread_ohm_per_m", "thread per metre of row", "ohm/m", 1.0, 1e-4, 1e7);
/// Contact between two threads at a penetration.
pub const CONTACT: Quantity = Quantity::new("contact_ohm", "contact resistance", "ohm", 1.0, 0.0, 1e9);
/// Resistance of a whole run, in a single-part question.
pub const WHOLE_RUN: Quantity = Quantity::new("run_resistance_ohm", "resistance of the run", "ohm", 1.0, 0.0, 1e9);
/// Capacitance of a whole run, in a single-part question.
pub const WHOLE_RUN_CAPACITANCE: Quantity = Quantity::new("run_capacitance_pf", "capacitance of the run", "pF", 1e12, 0.0, 1e9);
/// Capacitance at the end of a run.
pub const LOAD: Quantity = Quantity::new("load_pf", "capacitance at the end of the run", "pF", 1e12, 0.0, 1e9);
/// Resistance of what drives a run.
pub const SOURCE: Quantity = Quantity::new("source_ohm", "resistance of the source", "ohm", 1.0, 0.0, 1e9);
/// Resistance from the end of a run into a pad.
pub const PAD_RESISTANCE: Quantity = Quantity::new("pad_ohm", "resistance of the pad", "ohm", 1.0, 0.0, 1e9);
/// Time of a sample after the step.
pub const SAMPLE_TIME: Quantity = Quantity::new("sample_time_us", "sample time", "us", 1e6, 1e-6, 1e9);
