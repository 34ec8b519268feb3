//! Charging a load through a source and a distributed line.

use serde::{Deserialize, Serialize};
use toile_model::conduction::{ChargingLine, largest_charge_frequency_hz, longest_run};
use utoipa::ToSchema;

use super::pf;
use crate::api::number::{
    PlainLoadPf, PlainPadOhm, PlainRunCapacitancePf, PlainRunResistanceOhm, PlainSampleTimeUs, PlainSettledPercent, PlainSourceOhm,
};
use crate::api::read::Readable;

/// A unit step behind a source, a uniform line and a load at its far end.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SettlingQuestion {
    /// Resistance of the whole line.
    pub run_resistance_ohm: PlainRunResistanceOhm,
    /// Capacitance of the whole line.
    pub run_capacitance_pf: PlainRunCapacitancePf,
    /// Capacitance at its far end.
    pub load_pf: PlainLoadPf,
    /// Resistance of the source.
    pub source_ohm: PlainSourceOhm,
    /// Time of the sample after the step.
    pub sample_time_us: PlainSampleTimeUs,
    /// From the end of the line into the load, the pad's own resistance; 0 where nothing is given.
    pub pad_ohm: Option<PlainPadOhm>,
    /// Share of the final charge that counts as settled; 99 where nothing is given.
    pub settled_percent: Option<PlainSettledPercent>,
}

/// How the far end settles.
#[derive(Debug, Serialize, ToSchema)]
pub struct SettlingAnswer {
    /// When the voltage of the load is within 1 % of its end.
    pub time_to_1_percent_us: f64,
    /// When it is within 0.1 %.
    pub time_to_0_1_percent_us: f64,
    /// Voltage of the load at the sample, as a fraction of its end.
    pub reached_at_sample: f64,
    /// Charge drawn from the source by the sample, as a fraction of all that will be drawn.
    pub charge_fraction_at_sample: f64,
    /// First moment of the step response of the load.
    pub elmore_us: f64,
    /// Charge drawn by the sample, for each volt of the step.
    pub charge_drawn_pc_per_v: f64,
    /// Largest frequency at which the load still takes the settled share of its charge in each half period; null where
    /// nothing slows it.
    pub largest_charge_frequency_khz: Option<f64>,
    /// How many times as long the line may be and still take the settled share of its charge by the sample; null where no
    /// line at all is too slow already, or nothing limits it.
    pub longest_run_times: Option<f64>,
}

impl From<SettlingQuestion> for SettlingAnswer {
    fn from(q: SettlingQuestion) -> Self {
        let line = ChargingLine {
            source_ohm: q.source_ohm.0,
            run_ohm: q.run_resistance_ohm.0,
            run_f: q.run_capacitance_pf.0,
            pad_ohm: q.pad_ohm.map_or(0.0, |n| n.0),
            load_f: q.load_pf.0,
        };
        let settled = q.settled_percent.map_or(0.99, |n| n.0);
        let at_sample = line.settling(q.sample_time_us.0);
        Self {
            time_to_1_percent_us: line.time_to_within_s(0.01) * 1e6,
            time_to_0_1_percent_us: line.time_to_within_s(0.001) * 1e6,
            reached_at_sample: at_sample.reached,
            charge_fraction_at_sample: at_sample.charge_fraction,
            elmore_us: line.elmore_s() * 1e6,
            charge_drawn_pc_per_v: pf(line.run_f + line.load_f) * at_sample.charge_fraction,
            largest_charge_frequency_khz: largest_charge_frequency_hz(&line, settled).map(|hz| hz / 1e3),
            longest_run_times: longest_run(&line, q.sample_time_us.0, settled),
        }
    }
}

impl Readable for SettlingQuestion {
    const SCHEMA: &'static str = "SettlingQuestion";
}
