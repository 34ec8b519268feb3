//! What is predicted for a light row, on the wire.

use serde::Serialize;
use toile_model as model;
use toile_model::units;
use utoipa::ToSchema;

use super::{VerdictWord, out};
use crate::api::solve::{LimitAnswer, limits_at};

/// What is predicted for one light row.
#[derive(Serialize, ToSchema)]
pub struct LightRowResultAnswer<'a> {
    /// Its name.
    name: &'a str,
    /// Its place in the piece.
    pointer: String,
    /// That of its weakest check.
    verdict: VerdictWord,
    /// The lowest chance of its checks.
    chance: f64,
    /// Current of each light, in the order of the row.
    current_ma: Vec<f64>,
    /// The dimmest light, counted from 1.
    dimmest: usize,
    /// The brightest light, counted from 1.
    brightest: usize,
    /// Current of the dimmest light beside that of the brightest.
    light_spread_percent: f64,
    /// Voltage that the dimmest light with its resistor gets, from the empty supply where one is told.
    light_v: f64,
    /// What it takes for its least current.
    needed_v: f64,
    /// What is left of it.
    headroom_v: f64,
    /// Current drawn from the supply.
    supply_ma: f64,
    /// Power drawn from the supply.
    supply_mw: f64,
    /// Power lost in feed and return.
    run_loss_mw: f64,
    /// Power lost in the supply.
    source_loss_mw: f64,
    /// Power that arrives at the lights, resistors included.
    lights_mw: f64,
    /// Feed from light to light.
    feed_segment_ohm: f64,
    /// Return from light to light.
    return_segment_ohm: f64,
    /// Leads with their terminals: feed near, feed far, return near, return far; 0 where there is none.
    lead_ohm: [f64; 4],
    /// Time that the battery lasts; null without a capacity.
    battery_life_h: Option<f64>,
    /// The thread where it is warmest.
    warmth: WarmthAnswer,
    /// What a break does to the row, feed then return.
    broken: Vec<BrokenRowAnswer>,
}

/// How warm something becomes that carries current.
#[derive(Serialize, ToSchema)]
pub struct WarmthAnswer {
    /// Heat per length.
    power_w_per_m: f64,
    /// How much warmer than its surroundings it settles in still air, no less and no more.
    rise_k: [f64; 2],
    /// Its temperature, no less and no more.
    temperature_c: [f64; 2],
    /// What bears how much.
    limits: Vec<LimitAnswer>,
}

impl WarmthAnswer {
    /// The bounds of a rise above the surroundings.
    pub fn new(power_w_per_m: f64, ambient_k: f64, [low_k, high_k]: [f64; 2]) -> Self {
        Self {
            power_w_per_m: out(power_w_per_m),
            rise_k: [out(low_k), out(high_k)],
            temperature_c: [low_k, high_k].map(|k| out(units::AMBIENT.from_si(ambient_k + k))),
            limits: limits_at(ambient_k + low_k, ambient_k + high_k),
        }
    }
}

/// What a break in one of the runs does to a row.
#[derive(Serialize, ToSchema)]
pub struct BrokenRowAnswer {
    /// feed or return.
    run: &'static str,
    /// A whole segment.
    segment_ohm: f64,
    /// A segment with one stitch of its top thread broken; null where that cuts the run through.
    broken_stitch_ohm: Option<f64>,
    /// The segment that hurts most when the run is cut through there, counted from 1; null for a single light.
    segment: Option<usize>,
    /// Lights that go out then.
    dark: usize,
    /// Current of the dimmest light that still burns; null where none does.
    dimmest_ma: Option<f64>,
    /// All of it in a plain sentence.
    sentence: String,
}

impl<'a> LightRowResultAnswer<'a> {
    /// Puts the result of row `k` on the wire.
    pub(super) fn new(k: usize, row: &'a model::LightRowResult) -> Self {
        let ma = |a: f64| out(units::CURRENT.from_si(a));
        let mw = |w: f64| out(w * 1e3);
        Self {
            name: &row.name,
            pointer: model::Feature::LightRow(k).pointer(),
            verdict: row.verdict.into(),
            chance: out(row.chance),
            current_ma: row.current_a.iter().map(|a| ma(*a)).collect(),
            dimmest: row.dimmest + 1,
            brightest: row.brightest + 1,
            light_spread_percent: out(units::LEAST_BRIGHTNESS.from_si(row.min_over_max)),
            light_v: out(row.light_v),
            needed_v: out(row.needed_v),
            headroom_v: out(row.light_v - row.needed_v),
            supply_ma: ma(row.supply_a),
            supply_mw: mw(row.supply_w),
            run_loss_mw: mw(row.run_loss_w),
            source_loss_mw: mw(row.source_loss_w),
            lights_mw: mw(row.lights_w),
            feed_segment_ohm: out(row.feed_segment_ohm),
            return_segment_ohm: out(row.return_segment_ohm),
            lead_ohm: row.lead_ohm.map(out),
            battery_life_h: row.life_s.map(|s| out(units::NEEDED_LIFE.from_si(s))),
            warmth: WarmthAnswer::new(row.power_w_per_m, row.ambient_k, row.rise_k),
            broken: row.broken.iter().map(BrokenRowAnswer::new).collect(),
        }
    }
}

impl BrokenRowAnswer {
    fn new(broken: &model::BrokenRow) -> Self {
        Self {
            run: broken.run,
            segment_ohm: out(broken.segment_ohm),
            broken_stitch_ohm: broken.broken_stitch_ohm.map(out),
            segment: broken.segment,
            dark: broken.dark,
            dimmest_ma: broken.dimmest_a.map(|a| out(units::CURRENT.from_si(a))),
            sentence: broken.sentence(),
        }
    }
}
