//! A row of a sheet that is a light row.

use super::{Draft, Reader};
use toile_model::lights::Feed;
use toile_model::units;
use toile_model::{LightChoice, LightRow, Measured, PlacedBy, Run, SupplyChoice, SupplyKind, ThreadChoice, WarmthChoice};

/// What the cells of a light row say. SI.
#[derive(Debug, Default)]
pub(in super::super) struct LightDraft {
    pub(in super::super) lights: Option<u32>,
    pub(in super::super) pitch: Option<Measured>,
    pub(in super::super) feed: Option<Feed>,
    pub(in super::super) light: LightChoice,
    pub(in super::super) series: Option<Measured>,
    pub(in super::super) contact: Option<Measured>,
    pub(in super::super) placed_by: Option<PlacedBy>,
    pub(in super::super) return_passes: Option<u32>,
    pub(in super::super) far_length: Option<Measured>,
    pub(in super::super) supply_kind: Option<SupplyKind>,
    pub(in super::super) supply_v: Option<Measured>,
    pub(in super::super) empty_v: Option<Measured>,
    pub(in super::super) source: Option<Measured>,
    pub(in super::super) max_supply: Option<Measured>,
    pub(in super::super) capacity: Option<Measured>,
    pub(in super::super) usable_share: Option<Measured>,
    pub(in super::super) needed_life: Option<Measured>,
    pub(in super::super) least_brightness: Option<Measured>,
    pub(in super::super) least_current: Option<Measured>,
    pub(in super::super) most_current: Option<Measured>,
    pub(in super::super) max_temperature: Option<Measured>,
}

impl Reader<'_> {
    /// The light row of a row; its thread and run are read already.
    pub(super) fn light_row(&mut self, draft: &mut Draft, thread: ThreadChoice, run: Run) -> LightRow {
        let d = std::mem::take(&mut draft.light);
        if d.lights.is_none() {
            self.refuse("lights", 0, "A light row needs this number, and the row gives none.", units::LIGHTS.allowed());
        }
        let row = "A light row";
        LightRow {
            name: draft.name.take(),
            lights: d.lights.unwrap_or(1),
            pitch_m: self.needed(d.pitch, "light_pitch_mm", &units::PITCH, row),
            feed: d.feed.unwrap_or(Feed::Same),
            light: d.light,
            series_ohm: self.needed(d.series, "light_series_ohm", &units::LIGHT_SERIES, row),
            light_contact_ohm: d.contact,
            placed_by: d.placed_by.unwrap_or_default(),
            thread,
            return_thread: None,
            run,
            return_passes: d.return_passes,
            far_length_m: d.far_length,
            supply: SupplyChoice {
                kind: d.supply_kind.unwrap_or_default(),
                voltage_v: self.needed(d.supply_v, "supply_voltage_v", &units::SUPPLY_VOLTAGE, row),
                empty_v: d.empty_v,
                source_ohm: d.source,
                max_a: d.max_supply,
                capacity_c: d.capacity,
                usable_share: d.usable_share,
                needed_life_s: d.needed_life,
            },
            least_brightness: d.least_brightness,
            least_current_a: d.least_current,
            most_current_a: d.most_current,
            warmth: WarmthChoice { max_temperature_k: d.max_temperature, ..Default::default() },
        }
    }
}
