//! Laid wires as part of a piece: estimates against the plain physics, verdicts, changes, cautions, faults.

use toile_model::heat::{HeatPath, Surroundings, temperature_rise};
use toile_model::materials::{COPPER_RESISTIVITY, ConductorClass, Status};
use toile_model::verdict::CheckKind;
use toile_model::{
    Check, ConductorChoice, CourseChoice, Estimate, Feature, LIBRARY, LaidKind, LaidWire, Measured, Piece, SupplyKind, Verdict, cautions,
    estimate, examples, smallest_changes, stitched, working,
};

use crate::reference::close;

/// The estimate calls the same functions with the same numbers; only the order of additions may differ.
const SAME: f64 = 1e-12;

fn estimated(piece: &Piece) -> Estimate {
    estimate(piece, &LIBRARY).unwrap_or_else(|faults| panic!("{faults}"))
}

fn check(of: &Estimate, kind: CheckKind) -> &Check {
    of.checks.iter().find(|c| c.kind == kind).unwrap_or_else(|| panic!("no check {kind:?}"))
}

fn with(change: impl FnOnce(&mut LaidWire)) -> Piece {
    let mut piece = examples::heating_wire();
    change(&mut piece.laid_wires[0]);
    piece
}

fn exact(x: f64) -> Option<Measured> {
    Some(Measured::exact(x))
}

fn copper(area_mm2: f64) -> Option<ConductorChoice> {
    Some(ConductorChoice { metal: Some("copper".into()), area_m2: exact(area_mm2 * 1e-6), ..Default::default() })
}

/// Length, resistance, power and warmth by hand.
#[test]
fn predictions_are_those_of_the_plain_physics() {
    let mut piece = with(|wire| {
        wire.conductor =
            Some(ConductorChoice { linear_resistance_ohm_per_m: exact(10.0), diameter_m: exact(0.3e-3), ..Default::default() });
        wire.needed_power_w = exact(1.0);
        wire.max_resistance_ohm = exact(20.0);
        wire.warmth.free_sides = Some(2);
        wire.warmth.cover_m2k_per_w = Some(0.03);
    });
    piece.stack.sewn_thickness_m = exact(2e-3);
    let e = estimated(&piece);
    let found = &e.laid_wires[0];
    // Seven rows of 200 mm, joined by six half circles of 10 mm that take 20 mm off and add pi times 10 mm.
    let length = 7.0 * 0.2 + 6.0 * 0.02 * (std::f64::consts::FRAC_PI_2 - 1.0);
    let wire = found.wire.as_ref().expect("a wire");
    let heating = wire.heating.expect("heat");
    close("length", found.length_m, length, SAME);
    close("resistance", wire.ohm, 10.0 * length, SAME);
    close("power", heating.power_w, 9.0 / (10.0 * length), SAME);
    close("power per area", heating.power_w_per_m2.expect("a meander"), heating.power_w / (0.2 * 7.0 * 0.02), SAME);
    close("power check", check(&e, CheckKind::HeatingPower).predicted, heating.power_w, SAME);
    close("resistance check", check(&e, CheckKind::WireResistance).predicted, wire.ohm, SAME);
    close("bend", check(&e, CheckKind::BendRadius).predicted, 0.01, SAME);
    let cloth = Surroundings::Cloth { thickness_m: 2e-3, row_spacing_m: Some(0.02), free_sides: 2, cover_m2k_per_w: 0.03 };
    let path = HeatPath { power_w_per_m: heating.power_w / length, diameter_m: 0.3e-3, ambient_k: 296.15, surroundings: cloth };
    close("warmth", check(&e, CheckKind::Warmth).predicted, 296.15 + temperature_rise(&path).high_k, SAME);
}

/// 0.5 mm2 of annealed copper, 1/58 ohm mm2/m and up to 2 % more (IEC 60028, second-hand): 34.8 milliohm/m in the middle; IEC
/// 60228 allows a flexible conductor of that section 39 milliohm/m (second-hand).
#[test]
fn copper_of_a_class_is_told_with_the_standard() {
    let e = estimated(&with(|wire| {
        wire.conductor = copper(0.5).map(|c| ConductorChoice { class: Some(ConductorClass::Flexible), ..c });
        wire.outer_diameter_m = exact(1.8e-3);
        wire.supply_v = None;
    }));
    let wire = e.laid_wires[0].wire.as_ref().expect("a wire");
    close("ohm per metre", wire.ohm_per_m, 1.01 * COPPER_RESISTIVITY / 0.5e-6, SAME);
    let (most, status) = wire.standard_ohm.expect("a class");
    close("standard", most, 0.039 * e.laid_wires[0].length_m, SAME);
    assert_eq!(status, Status::Published);
    assert!(wire.heating.is_none() && !e.checks.iter().any(|c| c.kind == CheckKind::Warmth));
    // 4.445 g of copper a metre and the covering about it.
    let metal = 0.5e-6 * 8890.0 * e.laid_wires[0].length_m;
    assert!(e.laid_wires[0].mass_kg.expect("a mass") > metal);
}

#[test]
fn tubes_and_rovings_have_length_stitches_and_mass_alone() {
    for kind in [LaidKind::Tube, LaidKind::Roving] {
        let piece = with(|wire| {
            wire.kind = kind;
            wire.conductor = None;
            wire.supply_v = None;
            wire.outer_diameter_m = exact(3e-3);
            wire.linear_mass_kg_per_m = exact(5e-3);
            wire.course = CourseChoice::Straight { length_m: Measured::exact(0.4) };
        });
        let e = estimated(&piece);
        let found = &e.laid_wires[0];
        assert!(found.wire.is_none() && found.bend_radius_m.is_none());
        close("mass", found.mass_kg.expect("told"), 2e-3, SAME);
        assert_eq!(found.stitches, 200.0);
        assert!(e.checks.iter().all(|c| !matches!(c.kind, CheckKind::Warmth | CheckKind::BendRadius | CheckKind::WireResistance)));
    }
}

#[test]
fn bends_and_needles_are_held_against_the_wire() {
    // Rows of 20 mm bend a wire of 4 mm with 10 mm: 2.5 of its diameters, and it bears 4 to 6.
    let tight = with(|wire| {
        wire.conductor = copper(4.0);
        wire.outer_diameter_m = exact(4e-3);
        wire.supply_v = None;
    });
    let e = estimated(&tight);
    assert_eq!(check(&e, CheckKind::BendRadius).verdict, Verdict::OutOfReach);
    let changes = smallest_changes(&tight, &LIBRARY, &e);
    assert!(changes.iter().any(|c| c.what == "a wider spacing of the laid rows" && c.verdict == Verdict::Comfortable), "{changes:?}");
    // A needle of 0.9 mm is half inside a wire that it passes by 0.2 mm.
    let pierced = with(|wire| wire.hold.clearance_m = exact(0.2e-3));
    let e = estimated(&pierced);
    let needle = check(&e, CheckKind::NeedleClearance);
    assert_eq!((needle.verdict, needle.needed), (Verdict::OutOfReach, 0.45e-3));
    assert!(smallest_changes(&pierced, &LIBRARY, &e).iter().any(|c| c.what == "the needle further beside the wire"));
    // Rows that lie so close that the needle meets the next one: 3 mm less 2 mm of wire leave 1 mm, less 0.65 mm.
    let close_rows = with(|wire| {
        wire.course =
            CourseChoice::Meander { width_m: Measured::exact(0.2), height_m: Measured::exact(0.03), spacing_m: Measured::exact(3e-3) };
        wire.outer_diameter_m = exact(2e-3);
        wire.min_bend_radius_m = exact(1e-3);
        wire.hold.clearance_m = exact(0.65e-3);
    });
    close("next row", check(&estimated(&close_rows), CheckKind::NeedleClearance).predicted, 0.35e-3, 1e-9);
}

#[test]
fn a_hot_wire_is_out_of_reach_and_less_voltage_helps() {
    let hot = with(|wire| wire.supply_v = exact(24.0));
    let e = estimated(&hot);
    assert_eq!(check(&e, CheckKind::Warmth).verdict, Verdict::OutOfReach);
    let changes = smallest_changes(&hot, &LIBRARY, &e);
    assert!(changes.iter().any(|c| c.what == "a lower voltage across the wire" && c.verdict == Verdict::Comfortable), "{changes:?}");
}

#[test]
fn what_is_laid_is_sewn_at_the_pace_of_laid_wire() {
    let piece = examples::heating_wire();
    let parts = stitched(&piece, &LIBRARY);
    assert_eq!(parts.len(), 1);
    let part = &parts[0];
    assert_eq!((part.what.as_str(), part.feature, part.trims, part.hand_parts), ("zigzag over laid wire 1", Feature::LaidWire(0), 1, 2));
    close("laid", part.laid_m.value, estimated(&piece).laid_wires[0].length_m, SAME);
    assert_eq!(part.stitches, estimated(&piece).laid_wires[0].stitches);
    let production = estimated(&piece).production.expect("a price");
    assert_eq!(production.job.work.stitches, [0.0, 0.0, part.stitches]);
    assert!(production.job.laid_m.value > 1.4 && production.job.plain_needle_m.value > 0.0);
}

#[test]
fn cautions_and_working_belong_to_the_wire() {
    let piece = examples::heating_wire();
    let subjects: Vec<_> = cautions(&piece).iter().map(|c| c.subject).collect();
    for subject in ["warm textiles", "heat", "mains", "pierced wires and tubes"] {
        assert!(subjects.contains(&subject), "{subject} in {subjects:?}");
    }
    let quiet = with(|wire| {
        wire.supply_v = None;
        wire.supply_kind = SupplyKind::Battery;
    });
    assert!(!cautions(&quiet).iter().any(|c| matches!(c.subject, "warm textiles" | "mains" | "battery")));
    let symbols: Vec<&str> =
        working(&piece, &LIBRARY).iter().filter(|s| s.feature == Some(Feature::LaidWire(0))).map(|s| s.symbol).collect();
    assert_eq!(symbols, ["L", "n_z", "m", "R", "P", "T_wire"]);
}

#[test]
fn every_fault_of_a_wire_is_told_with_its_place() {
    let refused = |change: fn(&mut LaidWire)| {
        let faults = estimate(&with(change), &LIBRARY).expect_err("faults").0;
        faults.into_iter().map(|f| f.pointer.replace("/laid_wires/0/", "")).collect::<Vec<_>>()
    };
    assert_eq!(refused(|w| w.conductor = None)[0], "conductor");
    assert_eq!(refused(|w| w.kind = LaidKind::Tube), ["conductor", "supply_v"]);
    assert_eq!(refused(|w| w.current_a = exact(0.1)), ["current_ma"]);
    assert_eq!(
        refused(|w| {
            w.supply_v = None;
            w.needed_power_w = exact(1.0);
        }),
        ["needed_power_w"]
    );
    let conductor = |change: fn(&mut ConductorChoice)| {
        let piece = with(|w| change(w.conductor.as_mut().expect("there is one")));
        let faults = estimate(&piece, &LIBRARY).expect_err("faults").0;
        faults.into_iter().map(|f| f.pointer.replace("/laid_wires/0/conductor/", "")).collect::<Vec<_>>()
    };
    assert_eq!(conductor(|c| c.metal = Some("unobtainium".into())), ["metal"]);
    assert_eq!(conductor(|c| c.metal = None), ["metal"]);
    assert_eq!(conductor(|c| c.gauge = Some(30)), ["gauge"]);
    assert_eq!(conductor(|c| c.linear_resistance_ohm_per_m = exact(1.0)), ["linear_resistance_ohm_per_m"]);
    assert_eq!(conductor(|c| c.coated = Some(true)), ["coated"]);
    assert_eq!(conductor(|c| c.class = Some(ConductorClass::Flexible)), ["class"]);
    assert_eq!(refused(|w| w.outer_diameter_m = exact(0.1e-3)), ["outer_diameter_mm"]);
    assert_eq!(refused(|w| w.course = CourseChoice::Path { points_m: vec![[0.0, 0.0]] }), ["course/points_mm"]);
    assert_eq!(
        refused(|w| {
            let spacing_m = Measured::exact(0.3);
            w.course = CourseChoice::Meander { width_m: Measured::exact(0.2), height_m: Measured::exact(0.9), spacing_m };
        }),
        ["course/width_mm"]
    );
    assert_eq!(
        refused(|w| {
            let ten = Measured::exact(10.0);
            w.course = CourseChoice::Meander { width_m: ten, height_m: ten, spacing_m: Measured::exact(0.5e-3) };
        }),
        ["course"]
    );
    let mut many = examples::heating_wire();
    many.laid_wires = vec![many.laid_wires[0].clone(); 65];
    assert!(estimate(&many, &LIBRARY).is_err());
}
