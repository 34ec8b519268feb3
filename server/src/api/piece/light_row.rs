//! A light row of a piece on the wire, and its conversion to the model's.

use serde::Deserialize;
use toile_model::lights::Feed;
use toile_model::{self as model, MOST_LIGHT_ROWS, MOST_LIGHTS_OF_PIECE};
use utoipa::ToSchema;

use super::warmth::{SupplyKind, Warmth};
use super::{Run, Thread};
use crate::api::number::{
    CapacityMah, EmptySupplyV, FarLengthMm, HighCurrentMa, HighForwardV, LeastBrightnessPercent, LeastCurrentMa, LightContactOhm,
    LightEmissionCoefficient, LightPitchMm, LightSaturationCurrentA, LightSeriesOhm, LowCurrentMa, LowForwardV, MaxSupplyMa, MostCurrentMa,
    NeededLifeH, SourceOhm, SupplyV, UsableShare,
};
use crate::api::solve::FeedWord;

/// Equal lights in parallel along a feed and a return.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LightRow {
    /// What it is called; `light row 1` and so on where nothing is given.
    #[schema(max_length = 200)]
    name: Option<String>,
    /// Lights in the row.
    #[schema(minimum = 1, maximum = 500)]
    lights: u32,
    /// From one light to the next.
    pitch_mm: LightPitchMm,
    /// Where the supply is tied to the runs; same where nothing is given.
    feed: Option<FeedWord>,
    /// One light: two forward voltages as a datasheet lists them, or saturation current and emission coefficient.
    light: Light,
    /// Resistor of each light; 0 for none.
    series_ohm: LightSeriesOhm,
    /// Both contacts of a light together; a range is assumed where nothing is given.
    light_contact_ohm: Option<LightContactOhm>,
    /// Who puts the lights on; the machine where nothing is given.
    placed_by: Option<PlacedBy>,
    /// Thread of the feed, and of the return where it has none of its own.
    thread: Thread,
    /// Thread of the return.
    return_thread: Option<Thread>,
    /// How feed and return are sewn; its length is that from the terminal to the first light.
    run: Run,
    /// Times the return is sewn; as often as the feed where nothing is given.
    #[schema(minimum = 1, maximum = 50)]
    return_passes: Option<u32>,
    /// From the terminal to the last light, where a run is tied there; along the row where nothing is given.
    far_length_mm: Option<FarLengthMm>,
    /// What feeds it.
    supply: LightSupply,
    /// Least current of a light beside the most; 70 where nothing is given.
    least_brightness_percent: Option<LeastBrightnessPercent>,
    /// Least current of a light; 1 where nothing is given.
    least_current_ma: Option<LeastCurrentMa>,
    /// Most that a light bears; not looked at where nothing is given.
    most_current_ma: Option<MostCurrentMa>,
    /// How warm the thread may become.
    warmth: Option<Warmth>,
}

/// One light: forward voltages at two currents, or a saturation current with its emission coefficient.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Light {
    /// Lower test current.
    low_current_ma: Option<LowCurrentMa>,
    /// Forward voltage at it.
    low_forward_v: Option<LowForwardV>,
    /// Higher test current.
    high_current_ma: Option<HighCurrentMa>,
    /// Forward voltage at it.
    high_forward_v: Option<HighForwardV>,
    /// Saturation current, in place of forward voltages.
    saturation_current_a: Option<LightSaturationCurrentA>,
    /// Emission coefficient; with forward voltages, the rest of their rise is resistance inside the light.
    emission_coefficient: Option<LightEmissionCoefficient>,
}

/// Who puts the lights on.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PlacedBy {
    /// The machine, from a carrier.
    Machine,
    /// A person.
    Hand,
}

/// What feeds a row.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LightSupply {
    /// What it is; a battery where nothing is given.
    kind: Option<SupplyKind>,
    /// Voltage without load.
    supply_v: SupplyV,
    /// Voltage when it is nearly empty; the headroom is held against it.
    empty_supply_v: Option<EmptySupplyV>,
    /// Resistance; a range is assumed where nothing is given.
    source_ohm: Option<SourceOhm>,
    /// Most that it may give; not looked at where nothing is given.
    max_supply_ma: Option<MaxSupplyMa>,
    /// Rated capacity of a battery.
    capacity_mah: Option<CapacityMah>,
    /// Part of it that can be drawn; a range is assumed where nothing is given.
    usable_share: Option<UsableShare>,
    /// Time that it must last; not looked at where nothing is given.
    needed_life_h: Option<NeededLifeH>,
}

// The limits in the schemas are literals, because the schema macro takes no other; this holds them to the model.
const _: () = assert!(MOST_LIGHT_ROWS == 32 && MOST_LIGHTS_OF_PIECE == 2000 && model::lights::MOST_LIGHTS == 500);

impl From<LightRow> for model::LightRow {
    fn from(wire: LightRow) -> Self {
        Self {
            name: wire.name,
            lights: wire.lights,
            pitch_m: wire.pitch_mm.0,
            feed: wire.feed.map_or(Feed::Same, Into::into),
            light: wire.light.into(),
            series_ohm: wire.series_ohm.0,
            light_contact_ohm: wire.light_contact_ohm.map(|n| n.0),
            placed_by: match wire.placed_by {
                Some(PlacedBy::Hand) => model::PlacedBy::Hand,
                Some(PlacedBy::Machine) | None => model::PlacedBy::Machine,
            },
            thread: wire.thread.into(),
            return_thread: wire.return_thread.map(Into::into),
            run: wire.run.into(),
            return_passes: wire.return_passes,
            far_length_m: wire.far_length_mm.map(|n| n.0),
            supply: wire.supply.into(),
            least_brightness: wire.least_brightness_percent.map(|n| n.0),
            least_current_a: wire.least_current_ma.map(|n| n.0),
            most_current_a: wire.most_current_ma.map(|n| n.0),
            warmth: wire.warmth.map(Into::into).unwrap_or_default(),
        }
    }
}

impl From<Light> for model::LightChoice {
    fn from(wire: Light) -> Self {
        Self {
            low_current_a: wire.low_current_ma.map(|n| n.0),
            low_forward_v: wire.low_forward_v.map(|n| n.0),
            high_current_a: wire.high_current_ma.map(|n| n.0),
            high_forward_v: wire.high_forward_v.map(|n| n.0),
            saturation_current_a: wire.saturation_current_a.map(|n| n.0),
            emission_coefficient: wire.emission_coefficient.map(|n| n.0),
        }
    }
}

impl From<LightSupply> for model::SupplyChoice {
    fn from(wire: LightSupply) -> Self {
        Self {
            kind: wire.kind.map(Into::into).unwrap_or_default(),
            voltage_v: wire.supply_v.0,
            empty_v: wire.empty_supply_v.map(|n| n.0),
            source_ohm: wire.source_ohm.map(|n| n.0),
            max_a: wire.max_supply_ma.map(|n| n.0),
            capacity_c: wire.capacity_mah.map(|n| n.0),
            usable_share: wire.usable_share.map(|n| n.0),
            needed_life_s: wire.needed_life_h.map(|n| n.0),
        }
    }
}
