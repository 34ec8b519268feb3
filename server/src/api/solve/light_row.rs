//! Lights in parallel along a feed and a return run.

use serde::{Deserialize, Serialize};
use toile_model::lights::{Break, Diode, Feed, ForwardPoint, LightRow, LitRow, MOST_LIGHTS, Run, battery_life_s, thermal_voltage_v};
use toile_model::{Faults, Inspector, points_in_words, units};
use utoipa::ToSchema;

use crate::api::number::{
    EmissionCoefficient, FarLeadOhm, FeedSegmentOhm, PlainCapacityMah, PlainCurrentMa, PlainForwardV, PlainLightSeriesOhm, PlainSupplyOhm,
    PlainSupplyV, PlainUsableShare, ReturnSegmentOhm, SaturationCurrentA, ThermalVoltageV,
};
use crate::api::read::Readable;

/// Temperature of a light of which nothing is said, K: 27 degrees Celsius.
const USUAL_K: f64 = 300.15;

/// Part of a battery that can be drawn where nothing is said.
const USUAL_SHARE: f64 = 1.0;

/// A row of equal lights with its runs and its supply.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LightRowQuestion {
    /// Lights in the row.
    #[schema(minimum = 1, maximum = 500)]
    pub lights: u32,
    /// Where the supply is tied to the runs.
    pub feed: FeedWord,
    /// Voltage of the supply without load.
    pub supply_v: PlainSupplyV,
    /// Resistance of the supply.
    pub source_ohm: PlainSupplyOhm,
    /// Feed from one light to the next.
    pub feed_segment_ohm: FeedSegmentOhm,
    /// Return from one light to the next.
    pub return_segment_ohm: ReturnSegmentOhm,
    /// Resistor in series with each light.
    pub series_ohm: PlainLightSeriesOhm,
    /// Saturation current of a light; or its two forward voltages.
    pub saturation_current_a: Option<SaturationCurrentA>,
    /// Emission coefficient of a light; with forward voltages, the rest of their rise is resistance inside the light.
    pub emission_coefficient: Option<EmissionCoefficient>,
    /// Thermal voltage; that of 27 degrees Celsius, 25.865 mV, where nothing is given.
    pub thermal_voltage_v: Option<ThermalVoltageV>,
    /// Forward voltages at two currents, as a datasheet lists them, in place of a saturation current.
    #[schema(min_items = 2, max_items = 2)]
    pub forward: Option<[ForwardNumbers; 2]>,
    /// Lead of the feed to the last light, where the row is fed from both ends; 0 where nothing is given.
    pub far_feed_ohm: Option<FarLeadOhm>,
    /// Lead of the return to the last light, where the row is fed from both ends; 0 where nothing is given.
    pub far_return_ohm: Option<FarLeadOhm>,
    /// Broken segment of the feed, counted from 1: segment 1 lies between lights 1 and 2.
    #[schema(minimum = 1, maximum = 499)]
    pub broken_feed_segment: Option<u32>,
    /// Broken segment of the return, counted as those of the feed.
    #[schema(minimum = 1, maximum = 499)]
    pub broken_return_segment: Option<u32>,
    /// Rated capacity of a battery.
    pub capacity_mah: Option<PlainCapacityMah>,
    /// Part of the capacity that can be drawn; all of it where nothing is given.
    pub usable_share: Option<PlainUsableShare>,
}

/// Where the supply is tied to the runs.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FeedWord {
    /// Feed and return at the first light.
    Same,
    /// Feed at the first light, return at the last.
    Opposite,
    /// Both runs at both ends.
    BothEnds,
}

impl From<FeedWord> for Feed {
    fn from(word: FeedWord) -> Self {
        match word {
            FeedWord::Same => Self::Same,
            FeedWord::Opposite => Self::Opposite,
            FeedWord::BothEnds => Self::BothEnds,
        }
    }
}

/// A forward voltage at a current.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ForwardNumbers {
    /// Current.
    pub current_ma: PlainCurrentMa,
    /// Forward voltage at it.
    pub forward_v: PlainForwardV,
}

impl LightRowQuestion {
    /// One light, and the broken segments.
    ///
    /// # Errors
    /// Numbers that make no light, nothing that holds the current back, and segments that the row does not have.
    pub fn to_model(&self) -> Result<(Diode, Vec<Break>), Faults> {
        const { assert!(MOST_LIGHTS == 500) };
        let mut inspect = Inspector::new();
        let light = self.light(&mut inspect);
        if self.series_ohm.0 == 0.0 && self.source_ohm.0 == 0.0 {
            let allowed = "a resistor of each light or a resistance of the supply above 0";
            inspect.refuse("/series_ohm".into(), "0 ohm", "Nothing holds the current of the first light back.", allowed);
        }
        let both = matches!(self.feed, FeedWord::BothEnds);
        for (field, lead) in [("far_feed_ohm", self.far_feed_ohm), ("far_return_ohm", self.far_return_ohm)] {
            if lead.is_some() && !both {
                inspect.refuse(
                    format!("/{field}"),
                    "a lead to the last light",
                    "Only a row fed from both ends has it.",
                    "leave it out, or the feed both_ends",
                );
            }
        }
        if self.usable_share.is_some() && self.capacity_mah.is_none() {
            inspect.refuse(
                "/usable_share".into(),
                "a share",
                "There is no capacity to draw a share of.",
                "give capacity_mah, or leave it out",
            );
        }
        let mut broken = Vec::new();
        for (field, segment, kind) in [
            ("broken_feed_segment", self.broken_feed_segment, Break::Feed as fn(usize) -> Break),
            ("broken_return_segment", self.broken_return_segment, Break::Return),
        ] {
            let Some(segment) = segment else { continue };
            if segment >= self.lights {
                let allowed = if self.lights > 1 { format!("1 to {}", self.lights - 1) } else { "none, with one light".into() };
                inspect.refuse(format!("/{field}"), segment.to_string(), "The row has no such segment.", allowed);
            }
            broken.push(kind(segment as usize));
        }
        inspect.finish()?;
        Ok((light.expect("a fault was noted otherwise"), broken))
    }

    fn light(&self, inspect: &mut Inspector) -> Option<Diode> {
        let thermal = self.thermal_voltage_v.map_or_else(|| thermal_voltage_v(USUAL_K), |v| v.0);
        let emission_voltage_v = self.emission_coefficient.map(|n| n.0 * thermal);
        match (self.saturation_current_a, &self.forward) {
            (Some(_), Some(_)) => {
                let allowed = "saturation_current_a with emission_coefficient, or forward";
                inspect.refuse("/forward".into(), "two points beside a saturation current", "The light is told twice.", allowed);
                None
            }
            (None, None) => {
                let allowed = "saturation_current_a with emission_coefficient, or forward with two points";
                inspect.refuse("/saturation_current_a".into(), "nothing", "The light is not told.", allowed);
                None
            }
            (Some(saturation), None) => {
                let Some(emission_voltage_v) = emission_voltage_v else {
                    let allowed = units::EMISSION_COEFFICIENT.allowed();
                    inspect.refuse("/emission_coefficient".into(), "nothing", "A saturation current needs it.", allowed);
                    return None;
                };
                Some(Diode { saturation_current_a: saturation.0, emission_voltage_v, series_ohm: self.series_ohm.0 })
            }
            (None, Some(points)) => {
                let points = points.map(|p| ForwardPoint { current_a: p.current_ma.0, voltage_v: p.forward_v.0 });
                match Diode::through(points, emission_voltage_v) {
                    Ok(light) => Some(Diode { series_ohm: light.series_ohm + self.series_ohm.0, ..light }),
                    Err(fault) => {
                        inspect.refuse("/forward".into(), points_in_words(&points), fault.message(), fault.allowed());
                        None
                    }
                }
            }
        }
    }

    /// The row for the model.
    pub fn row<'a>(&self, light: Diode, broken: &'a [Break]) -> LightRow<'a> {
        let run = |segment_ohm: f64, far: Option<FarLeadOhm>| Run { segment_ohm, near_ohm: 0.0, far_ohm: far.map_or(0.0, |n| n.0) };
        LightRow {
            lights: self.lights as usize,
            feed: self.feed.into(),
            supply_v: self.supply_v.0,
            source_ohm: self.source_ohm.0,
            feed_run: run(self.feed_segment_ohm.0, self.far_feed_ohm),
            return_run: run(self.return_segment_ohm.0, self.far_return_ohm),
            light,
            broken,
        }
    }
}

/// What a row of lights gets.
#[derive(Debug, Serialize, ToSchema)]
pub struct LightRowAnswer {
    /// Feed at each light, against the supply's negative terminal; where a break has cut it off, that of the return.
    pub feed_v: Vec<f64>,
    /// Return at each light.
    pub return_v: Vec<f64>,
    /// Current through each light; 0 where a break has cut it off.
    pub current_a: Vec<f64>,
    /// Current of the dimmest light over that of the brightest.
    pub min_over_max: f64,
    /// The dimmest light, counted from 1.
    pub dimmest: usize,
    /// The brightest light, counted from 1.
    pub brightest: usize,
    /// Current drawn from the supply.
    pub supply_current_a: f64,
    /// Power drawn from the supply.
    pub supply_power_w: f64,
    /// Power lost in the feed and the return.
    pub run_loss_w: f64,
    /// Power lost in the supply.
    pub source_loss_w: f64,
    /// Power that arrives at the lights, resistors included.
    pub lights_power_w: f64,
    /// How long the battery lasts; null without a capacity, or where nothing is drawn.
    pub battery_life_h: Option<f64>,
    /// Saturation current that was used.
    pub saturation_current_a: f64,
    /// Emission coefficient times thermal voltage that was used.
    pub emission_voltage_v: f64,
    /// All that lies in series with each diode.
    pub light_series_ohm: f64,
    /// Bound on the relative error of the currents.
    pub relative_error: f64,
}

impl LightRowAnswer {
    /// What is answered in place of a row whose currents were not found.
    pub fn not_found() -> Faults {
        let mut inspect = Inspector::new();
        let allowed = "numbers nearer to those of lights and runs as they are sewn";
        inspect.refuse(String::new(), "the row", "The currents of this row could not be found.", allowed);
        inspect.finish().expect_err("a fault was just noted")
    }

    /// Puts a lit row on the wire.
    pub fn new(question: &LightRowQuestion, row: &LightRow<'_>, lit: LitRow) -> Self {
        let supply_power_w = row.supply_v * lit.supply_a;
        let share = question.usable_share.map_or(USUAL_SHARE, |n| n.0);
        let life_s = question.capacity_mah.and_then(|charge| battery_life_s(charge.0, share, lit.supply_a));
        Self {
            min_over_max: lit.min_over_max(),
            dimmest: lit.dimmest() + 1,
            brightest: lit.brightest() + 1,
            supply_current_a: lit.supply_a,
            supply_power_w,
            run_loss_w: lit.run_loss_w,
            source_loss_w: lit.source_loss_w,
            lights_power_w: lit.lights_w(),
            battery_life_h: life_s.map(|s| s / 3600.0),
            saturation_current_a: row.light.saturation_current_a,
            emission_voltage_v: row.light.emission_voltage_v,
            light_series_ohm: row.light.series_ohm,
            relative_error: lit.relative_error,
            feed_v: lit.feed_v,
            return_v: lit.return_v,
            current_a: lit.current_a,
        }
    }
}

impl Readable for LightRowQuestion {
    const SCHEMA: &'static str = "LightRowQuestion";
}
