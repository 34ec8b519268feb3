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

/// Growth of a thread's resistance in one wash cycle.
pub const GROWTH_PER_WASH: Quantity = Quantity::new("growth_per_wash_percent", "growth of resistance per wash", "%", 100.0, 0.0, 100.0);
/// Growth of a thread's resistance as a multiple of its stretch.
pub const STRETCH_FACTOR: Quantity = Quantity::new("stretch_factor", "growth of resistance per stretch", "", 1.0, 0.0, 100.0);
/// Stretch of the piece in use, as part of its length.
pub const STRETCH: Quantity = Quantity::new("stretch_percent", "stretch in use", "%", 100.0, 0.0, 100.0);
/// Wash cycles behind the piece.
pub const AFTER_WASHES: Quantity = Quantity::new("after_washes", "number of washes", "", 1.0, 0.0, 1000.0);
/// Contact between top and bobbin thread at one stitch.
pub const STITCH_CONTACT: Quantity = Quantity::new("stitch_contact_ohm", "contact resistance of a stitch", "ohm", 1.0, 0.0, 1e6);
/// Contact between facing penetrations of neighbouring rows of a fill.
pub const ROW_CONTACT: Quantity = Quantity::new("row_contact_ohm", "contact resistance between rows", "ohm", 1.0, 1e-6, 1e6);
/// Sheet resistance of the conductive cloth of a solid pad: of a square of any size.
pub const SHEET_RESISTANCE: Quantity = Quantity::new("sheet_resistance_ohm_sq", "sheet resistance of the cloth", "ohm", 1.0, 1e-4, 1e6);
/// Distance between the middles of neighbouring contacts of a terminal.
pub const TERMINAL_PITCH: Quantity = Quantity::new("pitch_mm", "pitch of the terminal", "mm", 1e3, 0.2, 100.0);
/// Hole of a board that the needle goes through.
pub const HOLE: Quantity = Quantity::new("hole_diameter_mm", "hole of the board", "mm", 1e3, 0.2, 20.0);
/// Blade of the needle.
pub const NEEDLE_DIAMETER: Quantity = Quantity::new("needle_diameter_mm", "needle diameter", "mm", 1e3, 0.3, 3.0);
