//! What may be changed about laid wires.

use super::super::change::{Edit, scaled};
use super::assumed;
use super::piece::CourseChoice;
use crate::estimate::{Check, Feature, Piece};
use crate::uncertainty::Measured;
use crate::units::{self, Quantity};

/// The wires that these checks belong to.
pub(in super::super) fn wires_of<'c>(checks: impl Iterator<Item = &'c Check>) -> Vec<usize> {
    let mut found = Vec::new();
    for check in checks {
        if let Some(Feature::LaidWire(k)) = check.feature
            && !found.contains(&k)
        {
            found.push(k);
        }
    }
    found
}

/// Scales one number of the wires, where they have it.
pub(in super::super) fn scale_wire(piece: &mut Piece, which: &[usize], quantity: &'static Quantity, factor: f64, edits: &mut Vec<Edit>) {
    for &k in which {
        let wire = &mut piece.laid_wires[k];
        let at = |part: &str| format!("/laid_wires/{k}{part}");
        let mut scale = |number: &mut Measured, part: &str| scaled(number, quantity, factor, at(part), edits);
        if *quantity == units::MEANDER_SPACING
            && let CourseChoice::Meander { spacing_m, .. } = &mut wire.course
        {
            scale(spacing_m, "/course");
        } else if *quantity == units::NEEDLE_CLEARANCE {
            let mut clearance = wire.hold.clearance_m.unwrap_or(assumed::CLEARANCE.measured);
            scale(&mut clearance, "/hold");
            wire.hold.clearance_m = Some(clearance);
        } else if *quantity == units::SECTION
            && let Some(conductor) = &mut wire.conductor
            && conductor.class.is_none()
        {
            // Of a class of the standard only nominal sections are to be had.
            match (&mut conductor.area_m2, &mut conductor.diameter_m) {
                (Some(area), _) => scale(area, "/conductor"),
                (None, Some(diameter)) => {
                    scaled(diameter, &units::METAL_DIAMETER, factor.sqrt(), at("/conductor"), edits);
                }
                (None, None) => {}
            }
        } else if *quantity == units::SUPPLY_VOLTAGE
            && let Some(voltage) = &mut wire.supply_v
        {
            scale(voltage, "");
        } else if *quantity == units::WIRE_CURRENT
            && let Some(current) = &mut wire.current_a
        {
            scale(current, "");
        }
    }
}
