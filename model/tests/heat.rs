//! Warm threads: the correlations against published values, the limits that need no correlation, order and monotony.

use proptest::prelude::*;
use toile_model::heat::{
    CLOTH_LIMITS, CONTACT_LIMITS, HOTTEST_K, HeatPath, LONG_CONTACT, Surroundings, nusselt_cylinder, nusselt_face_down, nusselt_face_up,
    temperature_rise,
};
use toile_model::materials::Status;

use crate::reference::{close, drawn};

/// Worked examples of public code and textbooks: the cylinder at Pr 0.69, Gr 2.63e9 (Bergman and others, Introduction to
/// Heat Transfer, 6th edition, example 9.2), the level plate by McAdams.
#[test]
fn correlations_give_published_values() {
    close("cylinder", nusselt_cylinder(0.69 * 2.63e9, 0.69), 139.134_939_700_735_97, 1e-12);
    close("face up", nusselt_face_up(5.54 * 3.21e8), 181.731_212_743_844_57, 1e-12);
    close("face up, laminar", nusselt_face_up(0.01 * 3.21e8), 22.857_041_558_492_334, 1e-12);
    close("face down", nusselt_face_down(5.54 * 3.21e8), 55.445_647_993_628_29, 1e-12);
    close("face down", nusselt_face_down(0.01 * 3.21e8), 11.428_520_779_246_167, 1e-12);
}

/// Morgan's correlation of the same measurements in decades (1975, as published code has it): the two differ by what
/// measurements scatter, for thin wires too.
#[test]
fn thin_wires_agree_with_another_correlation() {
    for (grashof, morgan) in [(1e-2, 0.513_629), (1e2, 1.985_309), (1e4, 4.707_784), (1e7, 26.290_683)] {
        let nusselt = nusselt_cylinder(0.9 * grashof, 0.9);
        // A quarter: thin wires scatter most.
        close(&format!("Gr {grashof:e}"), nusselt, morgan, 0.25);
    }
}

fn path(power_w_per_m: f64, surroundings: Surroundings) -> HeatPath {
    HeatPath { power_w_per_m, diameter_m: 0.25e-3, ambient_k: 296.15, surroundings }
}

fn cloth(row_spacing_m: Option<f64>) -> Surroundings {
    Surroundings::Cloth { thickness_m: 2e-3, row_spacing_m, free_sides: 2, cover_m2k_per_w: 0.0 }
}

/// Without power nothing warms; with more than cloth could bear the answer says as much and stays finite.
#[test]
fn nothing_warms_without_power_and_nothing_passes_the_end() {
    for surroundings in [Surroundings::Air, cloth(None), cloth(Some(5e-3))] {
        let rise = temperature_rise(&path(0.0, surroundings));
        assert!(rise.low_k < 1e-9 && rise.high_k < 1e-9, "{rise:?}");
        let rise = temperature_rise(&path(1e6, surroundings));
        assert_eq!((rise.low_k, rise.high_k), (HOTTEST_K, HOTTEST_K));
    }
}

/// Rows so narrow that the cloth is warmed evenly: power per area over what two faces give off. At 100 W/m2 a level
/// cloth in a room gives off some 8 to 14 W/(m2 K) each side, half of it radiation, as heating engineers reckon.
#[test]
fn narrow_rows_warm_a_cloth_evenly() {
    let power_w_per_m2 = 100.0;
    let rise = |spacing_m: f64| temperature_rise(&path(power_w_per_m2 * spacing_m, cloth(Some(spacing_m))));
    let even = rise(0.5e-3);
    let per_side = |k: f64| power_w_per_m2 / 2.0 / k;
    assert!(per_side(even.high_k) > 5.0 && per_side(even.low_k) < 20.0, "{even:?}");
    // Wider rows of the same power per area are warmer at the thread.
    assert!(rise(5e-3).high_k > even.high_k && rise(20e-3).high_k > rise(5e-3).high_k);
    // Rows far apart are single runs.
    let (far, single) = (temperature_rise(&path(1.0, cloth(Some(2.0)))), temperature_rise(&path(1.0, cloth(None))));
    // The width by which faces are judged differs, which moves the free convection by a quarter power.
    assert!((far.high_k / single.high_k - 1.0).abs() < 0.5 && (far.low_k / single.low_k - 1.0).abs() < 0.5, "{far:?} {single:?}");
}

/// Limits carry their source; the one for long contact is the lowest of its list and says that it is from memory.
#[test]
fn limits_say_where_they_come_from() {
    for limit in CONTACT_LIMITS.iter().chain(&CLOTH_LIMITS) {
        assert!(limit.source.len() > 20 && (300.0..500.0).contains(&limit.temperature_k), "{limit:?}");
    }
    assert!(CONTACT_LIMITS.windows(2).all(|w| w[0].temperature_k > w[1].temperature_k));
    assert_eq!((LONG_CONTACT.temperature_k, LONG_CONTACT.status), (316.15, Status::FromMemory));
}

fn any_path() -> impl Strategy<Value = HeatPath> {
    let on_cloth = (0.1e-3..20e-3, prop_oneof![Just(None), (0.5e-3..0.1).prop_map(Some)], 1..=2u8, prop_oneof![Just(0.0), 0.0..0.5])
        .prop_map(|(thickness_m, row_spacing_m, free_sides, cover_m2k_per_w)| Surroundings::Cloth {
            thickness_m,
            row_spacing_m,
            free_sides,
            cover_m2k_per_w,
        });
    (1e-3..50.0, 0.05e-3..3e-3, 250.0..330.0, prop_oneof![Just(Surroundings::Air), on_cloth])
        .prop_map(|(power_w_per_m, diameter_m, ambient_k, surroundings)| HeatPath { power_w_per_m, diameter_m, ambient_k, surroundings })
}

proptest! {
    #![proptest_config(drawn(1000))]

    /// Lower below upper bound; more power, a cover or one side less is never cooler.
    #[test]
    fn bounds_are_in_order_and_follow_what_warms(path in any_path(), factor in 1.05..3.0) {
        let rise = temperature_rise(&path);
        prop_assert!(0.0 <= rise.low_k && rise.low_k <= rise.high_k * (1.0 + 1e-12) && rise.high_k <= HOTTEST_K, "{rise:?}");
        let more = temperature_rise(&HeatPath { power_w_per_m: path.power_w_per_m * factor, ..path });
        prop_assert!(more.low_k >= rise.low_k && more.high_k >= rise.high_k);
        if let Surroundings::Cloth { thickness_m, row_spacing_m, cover_m2k_per_w, .. } = path.surroundings {
            let covered = |free_sides: u8, cover_m2k_per_w: f64| {
                let surroundings = Surroundings::Cloth { thickness_m, row_spacing_m, free_sides, cover_m2k_per_w };
                temperature_rise(&HeatPath { surroundings, ..path })
            };
            let (open, one, under) = (covered(2, cover_m2k_per_w), covered(1, cover_m2k_per_w), covered(1, cover_m2k_per_w + 0.1));
            // Halving the interval leaves a hair.
            prop_assert!(open.low_k <= one.low_k + 1e-9 && one.low_k <= under.low_k + 1e-9);
            prop_assert!(open.high_k <= one.high_k + 1e-9 && one.high_k <= under.high_k + 1e-9);
        }
    }
}
