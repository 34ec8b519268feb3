//! How fast and how far a run may be used: the largest charge frequency and the longest run that still settle.
//!
//! Gives a frequency (Hz) and a multiple of the run's length.
//! Inputs: a [`ChargingLine`]; fractions between 0 and 1; times above 0, s.
//! Assumptions: in each period the pad is charged in one half and discharged in the other, through the same resistances;
//! a longer run has resistance and capacitance in proportion to its length.
//! Source: own; definition of the period.
//! Accuracy: that of [`ChargingLine`]; the longest run to 1e-9.
//! Errors: `None` where nothing limits, or nothing is short or slow enough.
//! Example: charged to 99 % in 207.9 ns means 2.40 MHz at the most.

use super::settling::ChargingLine;

/// Longest multiple of a run that is looked for.
const LONGEST: f64 = 1e6;

/// The largest frequency at which the pad still takes `fraction` of its charge in each half period, Hz; `None` where no
/// resistance slows it.
pub fn largest_charge_frequency_hz(line: &ChargingLine, fraction: f64) -> Option<f64> {
    let time_s = line.time_to_charge_s(fraction);
    (time_s > 0.0).then(|| 0.5 / time_s)
}

/// How many times as long the run may be and still let the pad draw `fraction` of its charge within `time_s`; `None`
/// where even no run at all is too slow, or where a run a million times as long is still fast enough.
///
/// ```
/// use toile_model::conduction::{ChargingLine, longest_run};
/// let line = ChargingLine { source_ohm: 1000.0, run_ohm: 1000.0, run_f: 20e-12, pad_ohm: 0.0, load_f: 10e-12 };
/// let times = longest_run(&line, 1e-6, 0.99).unwrap();
/// let longer = ChargingLine { run_ohm: times * 1000.0, run_f: times * 20e-12, ..line };
/// assert!((longer.settling(1e-6).charge_fraction - 0.99).abs() < 1e-9);
/// ```
pub fn longest_run(line: &ChargingLine, time_s: f64, fraction: f64) -> Option<f64> {
    let settles = |times: f64| {
        let longer = ChargingLine { run_ohm: times * line.run_ohm, run_f: times * line.run_f, ..*line };
        longer.settling(time_s).charge_fraction >= fraction
    };
    if !settles(0.0) || settles(LONGEST) {
        return None;
    }
    let (mut low, mut high) = (0.0, 1.0);
    while settles(high) {
        (low, high) = (high, 4.0 * high);
    }
    while high - low > 1e-10 * high {
        let middle = 0.5 * (low + high);
        if settles(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(low)
}
