//! What a light row is held against, and how well it stands.

use super::chain::{LightRowChain, light_row_chain};
use super::piece::LightRow;
use crate::estimate::checks::{Inputs, check, closest_stitch_limit, weakest};
use crate::estimate::pad::PieceChain;
use crate::estimate::piece::Inspector;
use crate::estimate::{Check, Faults, Feature, Input};
use crate::lights::{Break, Feed, light_row};
use crate::uncertainty::Linear;
use crate::units::{self, Quantity};
use crate::verdict::{Bound, CheckKind, Verdict};

/// What is predicted for one light row, SI, at the best estimates.
#[derive(Debug, Clone, PartialEq)]
pub struct LightRowResult {
    /// Its name.
    pub name: String,
    /// That of its weakest check.
    pub verdict: Verdict,
    /// The lowest chance of its checks.
    pub chance: f64,
    /// The weakest of its checks, a number in `Estimate::checks`.
    pub weakest: usize,
    /// Current of each light, A.
    pub current_a: Vec<f64>,
    /// The dimmest light, counted from 0.
    pub dimmest: usize,
    /// The brightest light, counted from 0.
    pub brightest: usize,
    /// Current of the dimmest light over that of the brightest.
    pub min_over_max: f64,
    /// Voltage that the dimmest light with its resistor gets, from the empty supply where one is told, V.
    pub light_v: f64,
    /// What it takes for its least current, V.
    pub needed_v: f64,
    /// Drawn from the supply, A.
    pub supply_a: f64,
    /// Drawn from the supply, W.
    pub supply_w: f64,
    /// Lost in feed and return, W.
    pub run_loss_w: f64,
    /// Lost in the supply, W.
    pub source_loss_w: f64,
    /// Arriving at the lights, resistors included, W.
    pub lights_w: f64,
    /// Feed from light to light, ohm.
    pub feed_segment_ohm: f64,
    /// Return from light to light, ohm.
    pub return_segment_ohm: f64,
    /// Leads with their terminals: of the feed near and far, of the return near and far, ohm; 0 where there is none.
    pub lead_ohm: [f64; 4],
    /// Time that the battery lasts, s; `None` without a capacity.
    pub life_s: Option<f64>,
    /// Heat per length at the warmest place, W/m.
    pub power_w_per_m: f64,
    /// Temperature of the surroundings, K.
    pub ambient_k: f64,
    /// Bounds on how much warmer the thread is there, K.
    pub rise_k: [f64; 2],
    /// What a break does, feed then return; empty where it was not asked for.
    pub broken: Vec<BrokenRow>,
}

/// What breaks in one of the runs do to a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BrokenRow {
    /// `feed` or `return`.
    pub run: &'static str,
    /// A whole segment, ohm.
    pub segment_ohm: f64,
    /// A segment with one stitch of its top thread broken, ohm; `None` where that opens it.
    pub broken_stitch_ohm: Option<f64>,
    /// The segment that hurts most when the run is cut through there, counted from 1; `None` for a single light.
    pub segment: Option<usize>,
    /// Lights that go out then; with a single light, when its lead is cut.
    pub dark: usize,
    /// Lights of the row.
    pub lights: usize,
    /// Current of the dimmest light that still burns, A; `None` where none does.
    pub dimmest_a: Option<f64>,
}

impl BrokenRow {
    /// What a break does, in a plain sentence.
    pub fn sentence(&self) -> String {
        let stitch = match self.broken_stitch_ohm {
            Some(ohm) => format!(
                "One broken stitch of the {} raises its segment from {} to {} ohm",
                self.run,
                units::short(self.segment_ohm),
                units::short(ohm)
            ),
            None => format!("One broken stitch of the {} cuts it", self.run),
        };
        let place = self.segment.map_or_else(|| "at its lead".to_owned(), |k| format!("between lights {k} and {}", k + 1));
        let rest = match self.dimmest_a {
            None => "puts out the whole row".to_owned(),
            Some(a) => {
                let out = if self.dark == 0 { "puts out none".to_owned() } else { format!("puts out {}", self.dark) };
                let left = if self.lights - self.dark == 1 { "the one that is left" } else { "the dimmest of the others" };
                format!("{out} of {} lights; {left} gets {}", self.lights, units::CURRENT.print(a))
            }
        };
        format!("{stitch}; cut through {place} it {rest}.")
    }
}

const NOTES: [&str; 2] = [
    "lights count as equal and at one temperature; those of one bag differ by some tenths of a volt, which a resistor evens out",
    "light follows current nearly in proportion; the eye forgives a third between neighbours",
];

/// Works out every light row of a piece; adds their checks, inputs and notes to those of the estimate. What a break does is
/// left out where it is not asked for.
///
/// # Errors
/// A row whose currents could not be found.
pub(in super::super) fn light_rows(
    chain: &PieceChain<'_>,
    with_breaks: bool,
    checks: &mut Vec<Check>,
    inputs: &mut Vec<Input>,
    notes: &mut Vec<String>,
) -> Result<Vec<LightRowResult>, Faults> {
    let rows = &chain.piece.light_rows;
    notes.extend(NOTES.iter().filter(|_| !rows.is_empty()).map(|text| (*text).to_owned()));
    rows.iter().enumerate().map(|(k, row)| one(chain, k, row, with_breaks, checks, inputs)).collect()
}

fn one(
    chain: &PieceChain<'_>,
    k: usize,
    row: &LightRow,
    with_breaks: bool,
    checks: &mut Vec<Check>,
    inputs: &mut Vec<Input>,
) -> Result<LightRowResult, Faults> {
    let worked = light_row_chain(chain, k, row).map_err(|_| not_found(k))?;
    let first = checks.len();
    let of = Inputs { shared: &chain.inputs, own: &worked.inputs, first_own: inputs.len() };
    let feature = Some(Feature::LightRow(k));
    let mut add = |kind, quantity: &'static Quantity, bound, predicted: &Linear, needed: &Linear| {
        checks.push(check(kind, feature, quantity, bound, predicted, needed, &of));
    };
    let l = &worked.limits;
    add(CheckKind::LightSpread, &units::LEAST_BRIGHTNESS, Bound::AtLeast, &worked.spread, &l.least_brightness);
    add(CheckKind::Headroom, &units::LIGHT_VOLTAGE, Bound::AtLeast, &worked.light_v, &worked.needed_v);
    if let Some(most) = &l.most_current_a {
        add(CheckKind::LightCurrent, &units::CURRENT, Bound::AtMost, &worked.brightest_a, most);
    }
    if let Some(most) = &l.max_supply_a {
        add(CheckKind::SupplyCurrent, &units::CURRENT, Bound::AtMost, &worked.supply_a, most);
    }
    if let (Some(life), Some(needed)) = (&worked.life_s, &l.needed_life_s) {
        add(CheckKind::BatteryLife, &units::NEEDED_LIFE, Bound::AtLeast, life, needed);
    }
    add(CheckKind::Warmth, &units::MAX_TEMPERATURE, Bound::AtMost, &worked.warm_k, &l.max_temperature_k);
    let (limit, quantity, bound, predicted, needed) = closest_stitch_limit(&worked.stitch);
    add(CheckKind::Stitchable(limit), quantity, bound, &predicted, &needed);
    if let Some(free_m) = &worked.terminal.free_m {
        add(CheckKind::TerminalPitch, &units::CLEARANCE, Bound::AtLeast, free_m, &Linear::exact(chain.piece.machine.clearance_m));
    }
    if let Some([hole_m, needed_m]) = &worked.terminal.hole_m {
        add(CheckKind::TerminalHole, &units::HOLE, Bound::AtLeast, hole_m, needed_m);
    }
    let weakest = weakest(checks, first);
    inputs.extend_from_slice(&worked.inputs);
    Ok(result(k, row, &worked, &checks[weakest], weakest, with_breaks))
}

fn not_found(k: usize) -> Faults {
    let mut inspect = Inspector::new();
    let allowed = "numbers nearer to those of lights and runs as they are sewn";
    inspect.refuse(format!("/light_rows/{k}"), "the row", "The currents of this row could not be found.", allowed);
    inspect.finish().expect_err("a fault was just noted")
}

fn result(k: usize, row: &LightRow, worked: &LightRowChain, weakest_check: &Check, weakest: usize, with_breaks: bool) -> LightRowResult {
    let (d, lit) = (&worked.details, &worked.details.lit);
    let (feed, back) = (&d.values.feed, &d.values.back);
    LightRowResult {
        name: Feature::LightRow(k).called(row.name.as_deref()),
        verdict: weakest_check.verdict,
        chance: weakest_check.chance,
        weakest,
        dimmest: lit.dimmest(),
        brightest: lit.brightest(),
        min_over_max: lit.min_over_max(),
        light_v: worked.light_v.value,
        needed_v: worked.needed_v.value,
        supply_a: lit.supply_a,
        supply_w: d.values.supply_v * lit.supply_a,
        run_loss_w: lit.run_loss_w,
        source_loss_w: lit.source_loss_w,
        lights_w: lit.lights_w(),
        current_a: lit.current_a.clone(),
        feed_segment_ohm: feed.segment_ohm,
        return_segment_ohm: back.segment_ohm,
        lead_ohm: [feed.near_ohm, feed.far_ohm, back.near_ohm, back.far_ohm],
        life_s: d.life.and_then(|life| life.life_s),
        power_w_per_m: d.heat.power_w_per_m,
        ambient_k: d.heat.ambient_k,
        rise_k: [d.heat.rise.low_k, d.heat.rise.high_k],
        broken: if with_breaks { broken(row, worked) } else { Vec::new() },
    }
}

/// A run of the row by name, and its cut segment as a break.
type Cut = (&'static str, fn(usize) -> Break);

/// What a break of feed and of return does. A cut hurts most at one end of a run or the other, where it takes most lights
/// from the supply, or leaves them the longest way.
fn broken(row: &LightRow, worked: &LightRowChain) -> Vec<BrokenRow> {
    let d = &worked.details;
    let n = row.lights as usize;
    let kinds: [Cut; 2] = [("feed", Break::Feed), ("return", Break::Return)];
    let ohm = [d.values.feed.segment_ohm, d.values.back.segment_ohm];
    kinds
        .iter()
        .zip(ohm)
        .zip(d.broken_stitch_ohm())
        .map(|(((run, cut), segment_ohm), broken_stitch_ohm)| {
            let whole = BrokenRow {
                run,
                segment_ohm,
                broken_stitch_ohm,
                segment: None,
                // Without segments only the leads can be cut.
                dark: if row.feed == Feed::BothEnds { 0 } else { n },
                lights: n,
                dimmest_a: (row.feed == Feed::BothEnds).then_some(d.lit.current_a[0]),
            };
            let mut ends = vec![1, n.saturating_sub(1)];
            ends.dedup();
            let cuts = ends.into_iter().filter(|k| (1..n).contains(k)).filter_map(|k| {
                let lit = light_row(&d.values.row(row, &[cut(k)])).ok()?;
                let burning = || lit.current_a.iter().copied().filter(|a| *a > 0.0);
                let dimmest_a = burning().reduce(f64::min);
                Some(BrokenRow { segment: Some(k), dark: n - burning().count(), dimmest_a, ..whole })
            });
            let worse = |a: &BrokenRow, b: &BrokenRow| {
                b.dark > a.dark || (b.dark == a.dark && b.dimmest_a.unwrap_or(0.0) < a.dimmest_a.unwrap_or(0.0))
            };
            cuts.reduce(|a, b| if worse(&a, &b) { b } else { a }).unwrap_or(whole)
        })
        .collect()
}
