//! A row of a sheet that is a laid wire.

use super::{Draft, Reader};
use toile_model::units;
use toile_model::{ConductorChoice, CourseChoice, HoldChoice, LaidKind, LaidWire, Measured, WarmthChoice};

/// What the cells of a laid wire say. SI.
#[derive(Debug, Default)]
pub(in super::super) struct LaidDraft {
    pub(in super::super) kind: Option<LaidKind>,
    pub(in super::super) conductor: ConductorChoice,
    pub(in super::super) gauge: Option<u32>,
    pub(in super::super) outer_diameter: Option<Measured>,
    pub(in super::super) linear_mass: Option<Measured>,
    pub(in super::super) length: Option<Measured>,
    pub(in super::super) meander_width: Option<Measured>,
    pub(in super::super) meander_height: Option<Measured>,
    pub(in super::super) meander_spacing: Option<Measured>,
    pub(in super::super) hold: HoldChoice,
    pub(in super::super) min_bend_radius: Option<Measured>,
    pub(in super::super) current: Option<Measured>,
    pub(in super::super) needed_power: Option<Measured>,
    pub(in super::super) max_resistance: Option<Measured>,
}

impl Reader<'_> {
    /// The laid wire of a row.
    pub(super) fn laid_wire(&mut self, draft: &mut Draft) -> LaidWire {
        let d = std::mem::take(&mut draft.laid);
        let power = std::mem::take(&mut draft.light);
        let conductor = ConductorChoice { gauge: d.gauge.map(|n| n as i32), ..d.conductor };
        LaidWire {
            name: draft.name.take(),
            kind: d.kind.unwrap_or(LaidKind::Wire),
            conductor: (conductor != ConductorChoice::default()).then_some(conductor),
            outer_diameter_m: d.outer_diameter,
            linear_mass_kg_per_m: d.linear_mass,
            course: self.course(d.length, [d.meander_width, d.meander_height, d.meander_spacing]),
            hold: d.hold,
            min_bend_radius_m: d.min_bend_radius,
            supply_v: power.supply_v,
            current_a: d.current,
            supply_kind: power.supply_kind.unwrap_or_default(),
            needed_power_w: d.needed_power,
            max_resistance_ohm: d.max_resistance,
            warmth: WarmthChoice { max_temperature_k: power.max_temperature, ..Default::default() },
        }
    }

    /// A length, or a meander.
    fn course(&mut self, length: Option<Measured>, [width, height, spacing]: [Option<Measured>; 3]) -> CourseChoice {
        let columns = ["meander_width_mm", "meander_height_mm", "meander_spacing_mm"];
        let meander = width.is_some() || height.is_some() || spacing.is_some() || columns.iter().any(|c| self.is_faulty(c, 0));
        if meander {
            self.not_here(length.is_some(), "laid_length_mm", "A meander tells the length already.");
            let why = "A meander";
            return CourseChoice::Meander {
                width_m: self.needed(width, columns[0], &units::MEANDER_WIDTH, why),
                height_m: self.needed(height, columns[1], &units::MEANDER_HEIGHT, why),
                spacing_m: self.needed(spacing, columns[2], &units::MEANDER_SPACING, why),
            };
        }
        CourseChoice::Straight { length_m: self.needed(length, "laid_length_mm", &units::RUN_LENGTH, "What is laid") }
    }
}
