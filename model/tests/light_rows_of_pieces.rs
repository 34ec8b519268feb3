//! Light rows as part of a piece: estimates against the plain physics, verdicts, breaks, changes, cautions, faults.

use proptest::prelude::*;
use toile_model::conduction::{End, SewnPass, run_resistance};
use toile_model::heat::{HeatPath, Surroundings, temperature_rise};
use toile_model::lights::{Break, Diode, Feed, ForwardPoint, LightRow as Row, Run as RowRun, light_row};
use toile_model::verdict::CheckKind;
use toile_model::{
    Bobbin, Check, Estimate, Feature, LIBRARY, LightRow, LightRowResult, Measured, Piece, PlacedBy, SupplyKind, Verdict, cautions,
    estimate, examples, smallest_changes, stitched, working,
};

use crate::reference::{close, drawn};

/// The estimate calls the same functions with the same numbers; only the order of additions may differ.
const SAME: f64 = 1e-12;

/// Power in equals power out: sums of some hundred rounded terms.
const BALANCE: f64 = 1e-12;

fn estimated(piece: &Piece) -> Estimate {
    estimate(piece, &LIBRARY).unwrap_or_else(|faults| panic!("{faults}"))
}

fn check(of: &Estimate, kind: CheckKind) -> &Check {
    of.checks.iter().find(|c| c.kind == kind).unwrap_or_else(|| panic!("no check {kind:?}"))
}

fn with(lights: u32, change: impl FnOnce(&mut LightRow)) -> Piece {
    let mut piece = examples::light_row(lights);
    change(&mut piece.light_rows[0]);
    piece
}

fn result(piece: &Piece) -> LightRowResult {
    estimated(piece).light_rows[0].clone()
}

fn exact(x: f64) -> Option<Measured> {
    Some(Measured::exact(x))
}

/// Everything given, nothing assumed: the row is what the plain functions say of runs, lights and warmth.
#[test]
fn predictions_are_those_of_the_plain_physics() {
    let mut piece = with(6, |row| {
        row.feed = Feed::Opposite;
        row.thread.linear_resistance_ohm_per_m = exact(120.0);
        row.thread.diameter_m = exact(0.25e-3);
        row.thread.temperature_coefficient_per_k = exact(0.0);
        row.run.interlace_fraction = exact(0.75);
        row.run.contact_resistance_ohm = exact(0.5);
        row.return_passes = Some(1);
        row.far_length_m = exact(0.25);
        row.light_contact_ohm = exact(1.0);
        row.supply.source_ohm = exact(3.0);
        row.supply.empty_v = exact(4.0);
        row.supply.capacity_c = exact(3600.0);
        row.supply.usable_share = exact(0.8);
        row.supply.needed_life_s = exact(3600.0);
        row.least_current_a = exact(1e-3);
        row.most_current_a = exact(20e-3);
        row.supply.max_a = exact(50e-3);
        row.warmth.free_sides = Some(2);
        row.warmth.cover_m2k_per_w = Some(0.0);
    });
    piece.stack.sewn_thickness_m = exact(1e-3);
    let e = estimated(&piece);
    let found = &e.light_rows[0];
    // 25 mm are 10 stitches of 2.5 mm, each with two legs of 0.75 mm; the lead of 100 mm 40 of them, that of 250 mm 100.
    let ohm = |length_m: f64, stitches: u32, passes: u32| {
        let top_thread_m = length_m + 2.0 * 0.75e-3 * f64::from(stitches);
        run_resistance(&SewnPass { stitches, strands: 1, top_thread_m, bobbin_thread_m: None }, 120.0, 0.0, [End::Top; 2], passes).run_ohm
    };
    let points = [ForwardPoint { current_a: 1e-3, voltage_v: 2.65 }, ForwardPoint { current_a: 5e-3, voltage_v: 2.85 }];
    let light = Diode::through(points, None).expect("a diode");
    let row = |supply_v: f64| Row {
        lights: 6,
        feed: Feed::Opposite,
        supply_v,
        source_ohm: 3.0,
        feed_run: RowRun { segment_ohm: ohm(0.025, 10, 2), near_ohm: ohm(0.1, 40, 2) + 0.5, far_ohm: 0.0 },
        return_run: RowRun { segment_ohm: ohm(0.025, 10, 1), near_ohm: 0.0, far_ohm: ohm(0.25, 100, 1) + 0.5 },
        light: Diode { series_ohm: light.series_ohm + 680.0 + 1.0, ..light },
        broken: &[],
    };
    let lit = light_row(&row(4.5)).expect("settled");
    let empty = light_row(&row(4.0)).expect("settled");
    close("feed segment", found.feed_segment_ohm, row(4.5).feed_run.segment_ohm, SAME);
    close("return segment", found.return_segment_ohm, row(4.5).return_run.segment_ohm, SAME);
    for (k, (got, expected)) in found.current_a.iter().zip(&lit.current_a).enumerate() {
        close(&format!("light {k}"), *got, *expected, 1e-10);
    }
    close("spread", check(&e, CheckKind::LightSpread).predicted, lit.min_over_max(), 1e-10);
    let least_v = empty.feed_v.iter().zip(&empty.return_v).map(|(f, r)| f - r).fold(f64::INFINITY, f64::min);
    close("light", check(&e, CheckKind::Headroom).predicted, least_v, 1e-10);
    close("needed", check(&e, CheckKind::Headroom).needed, 2.65 + 0.681, 1e-10);
    close("supply", check(&e, CheckKind::SupplyCurrent).predicted, lit.supply_a, 1e-10);
    close("life", check(&e, CheckKind::BatteryLife).predicted, 3600.0 * 0.8 / lit.supply_a, 1e-10);
    // The return, of one pass, carries all of the current past the last light.
    let power = lit.supply_a.powi(2) * row(4.5).return_run.segment_ohm / 0.025;
    close("heat", found.power_w_per_m, power, 1e-10);
    let cloth = Surroundings::Cloth { thickness_m: 1e-3, row_spacing_m: None, free_sides: 2, cover_m2k_per_w: 0.0 };
    let rise = temperature_rise(&HeatPath { power_w_per_m: power, diameter_m: 0.25e-3, ambient_k: 296.15, surroundings: cloth });
    close("warmth", check(&e, CheckKind::Warmth).predicted, 296.15 + rise.high_k, 1e-9);
}

/// Conservation (first law): what the supply gives arrives at the lights, in the runs and in the supply itself.
#[test]
fn power_in_is_power_out() {
    for feed in [Feed::Same, Feed::Opposite, Feed::BothEnds] {
        for lights in [1, 2, 6, 24, 100] {
            let found = result(&with(lights, |row| row.feed = feed));
            close(&format!("{feed:?} {lights}"), found.supply_w, found.lights_w + found.run_loss_w + found.source_loss_w, BALANCE);
            close("currents", found.current_a.iter().sum(), found.supply_a, BALANCE);
        }
    }
}

/// Limits that need no solver: a single light is even and gets what the loop leaves; runs of nothing make all lights alike;
/// contacts without end put them out.
#[test]
fn limits_are_met() {
    let one = result(&with(1, |_| {}));
    assert_eq!((one.min_over_max, one.current_a.len(), one.dimmest, one.brightest), (1.0, 1, 0, 0));
    close("one light", one.supply_a, one.current_a[0], SAME);
    // Runs that resist nothing to speak of: 100 mm and 5 segments of 25 mm of 1 milliohm/m.
    let even = result(&with(6, |row| {
        row.thread.linear_resistance_ohm_per_m = exact(1e-3);
        row.run.contact_resistance_ohm = exact(0.0);
    }));
    assert!(1.0 - even.min_over_max < 1e-5, "{}", even.min_over_max);
    // A contact of 0 leaves the light its resistor; 10 kilo-ohm, the most that may be given, dims it about as 10.7 to 0.7.
    let current = |ohm: f64| result(&with(1, |row| row.light_contact_ohm = exact(ohm))).current_a[0];
    assert!(current(0.0) > current(1.0) && current(1.0) > 10.0 * current(1e4));
    // No current to speak of through runs of a megohm per metre.
    let dark = result(&with(6, |row| row.thread.linear_resistance_ohm_per_m = exact(1e6)));
    assert!(dark.supply_a < 50e-6, "{}", dark.supply_a);
}

/// Symmetry: with the same thread in feed and return, a row fed from opposite ends is its own mirror image.
#[test]
fn an_opposite_feed_is_symmetric_and_evener() {
    let opposite = result(&with(12, |row| row.feed = Feed::Opposite));
    for k in 0..6 {
        close(&format!("light {k}"), opposite.current_a[k], opposite.current_a[11 - k], 1e-9);
    }
    let same = result(&with(12, |_| {}));
    let both = result(&with(12, |row| row.feed = Feed::BothEnds));
    assert!(same.min_over_max < both.min_over_max && both.min_over_max < 1.0);
    assert!(same.min_over_max < opposite.min_over_max);
    assert_eq!((same.dimmest, same.brightest), (11, 0));
}

proptest! {
    #![proptest_config(drawn(24))]

    /// More passes never make a row less even, nor leave the dimmest light less; more length never does the other.
    #[test]
    fn monotone_in_passes_and_length(lights in 2u32..30, passes in 1u32..5, pitch_mm in 10.0f64..60.0, feed in 0usize..3) {
        let feed = [Feed::Same, Feed::Opposite, Feed::BothEnds][feed];
        let row = |passes: u32, pitch_mm: f64, lead_mm: f64| result(&with(lights, |row| {
            row.feed = feed;
            row.run.passes = passes;
            row.pitch_m = Measured::exact(pitch_mm / 1e3);
            row.run.length_m = Measured::exact(lead_mm / 1e3);
        }));
        let now = row(passes, pitch_mm, 100.0);
        // Rounding, where currents hardly differ.
        let slack = 1e-9;
        let more = row(passes + 1, pitch_mm, 100.0);
        prop_assert!(more.light_v >= now.light_v - slack);
        let longer = row(passes, 1.3 * pitch_mm, 100.0);
        prop_assert!(longer.light_v <= now.light_v + slack);
        // Fed from one end, the leads carry all of the current whatever the lights share.
        if feed == Feed::Same {
            prop_assert!(more.min_over_max >= now.min_over_max - slack);
            prop_assert!(longer.min_over_max <= now.min_over_max + slack);
        }
        let farther = row(passes, pitch_mm, 200.0);
        prop_assert!(farther.light_v <= now.light_v + slack && farther.supply_a <= now.supply_a + slack);
    }

    /// First-order spreads against the spread of draws (JCGM 101) of the inputs that matter.
    #[test]
    fn spreads_are_those_of_small_changes(series in 200.0f64..2000.0, pitch in 0.01f64..0.05) {
        let piece = |delta_v: f64| with(8, |row| {
            row.series_ohm = Measured::exact(series);
            row.pitch_m = Measured::exact(pitch);
            row.supply.voltage_v = Measured { spread: toile_model::uncertainty::Spread::Normal, standard_uncertainty: 0.05, value: 4.5 + delta_v };
            row.supply.source_ohm = exact(1.0);
            row.light_contact_ohm = exact(1.0);
            row.light.low_forward_v = exact(2.65);
            row.light.high_forward_v = exact(2.85);
            row.thread.linear_resistance_ohm_per_m = exact(120.0);
            row.thread.temperature_coefficient_per_k = exact(0.0);
            row.run.interlace_fraction = exact(0.75);
            row.run.contact_resistance_ohm = exact(0.5);
        });
        let mut base = piece(0.0);
        base.stack.sewn_thickness_m = exact(1e-3);
        let e = estimated(&base);
        let (mut up, mut down) = (piece(0.01), piece(-0.01));
        up.stack.sewn_thickness_m = exact(1e-3);
        down.stack.sewn_thickness_m = exact(1e-3);
        let slope = (result(&up).light_v - result(&down).light_v) / 0.02;
        let found = check(&e, CheckKind::Headroom).standard_uncertainty;
        prop_assert!((found / (slope * 0.05) - 1.0).abs() < 1e-3, "{found} for {}", slope * 0.05);
    }
}

/// A cut of the feed at its start leaves one light of a row fed from one end, and none goes out when it is fed from both.
#[test]
fn breaks_are_told() {
    let same = result(&with(6, |_| {}));
    let [feed, back] = [&same.broken[0], &same.broken[1]];
    assert_eq!((feed.run, feed.segment, feed.dark, back.run, back.dark), ("feed", Some(1), 5, "return", 5));
    assert!(feed.sentence().contains("puts out 5 of 6 lights"), "{}", feed.sentence());
    let opposite = result(&with(6, |row| row.feed = Feed::Opposite));
    assert_eq!((opposite.broken[0].segment, opposite.broken[1].segment), (Some(1), Some(5)));
    assert_eq!((opposite.broken[0].dark, opposite.broken[1].dark), (5, 5));
    let both = result(&with(6, |row| row.feed = Feed::BothEnds));
    assert!(both.broken.iter().all(|b| b.dark == 0 && b.dimmest_a.is_some_and(|a| a < both.current_a.iter().copied().fold(1.0, f64::min))));
    // Two passes: a broken stitch leaves the other pass, twice the resistance. One pass: the run is cut.
    close("broken", feed.broken_stitch_ohm.expect("two passes"), 2.0 * feed.segment_ohm, 1e-12);
    let single = result(&with(6, |row| row.run.passes = 1));
    assert_eq!(single.broken[0].broken_stitch_ohm, None);
    assert!(single.broken[0].sentence().starts_with("One broken stitch of the feed cuts it"));
    // A conductive bobbin bridges the gap.
    let bridged = result(&with(6, |row| {
        row.run.passes = 1;
        row.run.bobbin = Bobbin::SameThread;
    }));
    assert!(bridged.broken[0].broken_stitch_ohm.is_some_and(|ohm| ohm > bridged.feed_segment_ohm));
    let one = result(&with(1, |_| {}));
    assert_eq!((one.broken[0].segment, one.broken[0].dark, one.broken[0].dimmest_a), (None, 1, None));
}

/// The search for the worst cut looks at the ends of the runs: no cut in between puts out more lights.
#[test]
fn no_cut_is_worse_than_the_one_told() {
    for feed in [Feed::Same, Feed::Opposite, Feed::BothEnds] {
        let piece = with(9, |row| row.feed = feed);
        let found = result(&piece);
        let [feed_near, feed_far, return_near, return_far] = found.lead_ohm;
        let row = |broken: &[Break]| {
            let points = [ForwardPoint { current_a: 1e-3, voltage_v: 2.65 }, ForwardPoint { current_a: 5e-3, voltage_v: 2.85 }];
            let light = Diode::through(points, None).expect("a diode");
            light_row(&Row {
                lights: 9,
                feed,
                supply_v: 4.5,
                source_ohm: 1.025,
                feed_run: RowRun { segment_ohm: found.feed_segment_ohm, near_ohm: feed_near, far_ohm: feed_far },
                return_run: RowRun { segment_ohm: found.return_segment_ohm, near_ohm: return_near, far_ohm: return_far },
                light: Diode { series_ohm: light.series_ohm + 680.0 + 2.1, ..light },
                broken,
            })
            .expect("settled")
        };
        for (told, kind) in found.broken.iter().zip([Break::Feed as fn(usize) -> Break, Break::Return]) {
            for k in 1..9 {
                let lit = row(&[kind(k)]);
                let dark = lit.current_a.iter().filter(|a| **a <= 0.0).count();
                let dimmest = lit.current_a.iter().copied().filter(|a| *a > 0.0).fold(f64::INFINITY, f64::min);
                assert!(dark <= told.dark, "{feed:?} {} {k}", told.run);
                if dark == told.dark {
                    assert!(dimmest >= told.dimmest_a.expect("some burn") * (1.0 - 1e-9), "{feed:?} {} {k}", told.run);
                }
            }
        }
    }
}

#[test]
fn verdicts_follow_the_row_and_changes_turn_them() {
    let good = estimated(&examples::light_row(6));
    assert_eq!(good.verdict, Verdict::Comfortable, "{}", good.sentence());
    let far = examples::light_row(8);
    let e = estimated(&far);
    assert!(e.verdict > Verdict::Comfortable, "{}", e.sentence());
    let changes = smallest_changes(&far, &LIBRARY, &e);
    assert!(!changes.is_empty() && changes.iter().all(|c| c.verdict == Verdict::Comfortable), "{changes:?}");
    let what: Vec<&str> = changes.iter().map(|c| c.what).collect();
    for wanted in ["the row fed another way", "more passes of the run"] {
        assert!(what.contains(&wanted), "{wanted} in {what:?}");
    }
    assert!(changes.iter().flat_map(|c| &c.edits).all(|edit| edit.pointer.starts_with("/light_rows/0/")));
}

#[test]
fn an_unmeasured_number_that_decides_is_measured_first() {
    let open = with(6, |row| {
        row.light.low_forward_v = Some(Measured::uniform(2.2, 3.2));
        row.light.high_forward_v = Some(Measured::uniform(3.25, 3.3));
        row.least_current_a = exact(1.5e-3);
        row.thread.linear_resistance_ohm_per_m = exact(165.0);
        row.run.interlace_fraction = exact(0.75);
        row.light_contact_ohm = exact(2.0);
    });
    let e = estimated(&open);
    let headroom = check(&e, CheckKind::Headroom);
    assert_eq!(headroom.verdict, Verdict::MeasureFirst, "{}", headroom.sentence());
    let input = &e.inputs[headroom.measure.expect("an input")];
    assert!(input.coupon().contains("Measure ten lights"), "{}", input.coupon());
    assert!(e.sentence().contains("light row 1"), "{}", e.sentence());
}

#[test]
fn washing_and_warmth_reach_the_row() {
    let new = result(&examples::light_row(12));
    let mut washed = examples::light_row(12);
    washed.after_washes = 30;
    let after = result(&washed);
    assert!(after.feed_segment_ohm > 1.1 * new.feed_segment_ohm && after.min_over_max < new.min_over_max);
}

#[test]
fn lights_are_counted_where_they_are_put_on() {
    let piece = examples::light_row(6);
    let parts = stitched(&piece, &LIBRARY);
    let names: Vec<&str> = parts.iter().map(|p| p.what.as_str()).collect();
    assert_eq!(names, ["feed of light row 1", "return of light row 1"]);
    // 100 mm in 40 stitches and five segments of 10, two passes.
    assert_eq!(parts.iter().map(|p| p.stitches).collect::<Vec<_>>(), [180.0, 180.0]);
    assert_eq!((parts[0].machine_parts, parts[0].hand_parts, parts[1].machine_parts, parts[1].hand_parts), (6, 1, 0, 1));
    let by_hand = with(6, |row| {
        row.placed_by = PlacedBy::Hand;
        row.feed = Feed::BothEnds;
    });
    let parts = stitched(&by_hand, &LIBRARY);
    // The lead to the far end goes along the row: 225 mm in 90 stitches, two passes.
    assert_eq!((parts[0].machine_parts, parts[0].hand_parts, parts[0].stitches), (0, 8, 360.0));
    let e = estimated(&piece);
    let production = e.production.expect("a price");
    assert_eq!((production.job.work.machine_parts, production.job.work.hand_parts), (6.0, 2.0));
    assert!(production.parts.iter().all(|part| part.feature == Feature::LightRow(0)));
}

#[test]
fn cautions_name_what_can_hurt() {
    let subjects = |piece: &Piece| cautions(piece).iter().map(|c| c.subject).collect::<Vec<_>>();
    let battery = subjects(&examples::light_row(6));
    for subject in ["not a safety light", "warm textiles", "heat", "battery"] {
        assert!(battery.contains(&subject), "{subject} in {battery:?}");
    }
    assert!(!battery.contains(&"mains") && !battery.contains(&"not a safety function"));
    let mains = subjects(&with(6, |row| row.supply.kind = SupplyKind::Mains));
    assert!(mains.contains(&"mains") && !mains.contains(&"battery"));
}

#[test]
fn the_working_is_told_row_by_row() {
    let steps = working(&examples::light_row(6), &LIBRARY);
    let of_row: Vec<&str> = steps.iter().filter(|s| s.feature == Some(Feature::LightRow(0))).map(|s| s.symbol).collect();
    for symbol in ["R_feed", "R_return", "U(I)", "I_min", "I_max", "I_min/I_max", "U_min", "P", "P'", "T"] {
        assert!(of_row.contains(&symbol), "{symbol} in {of_row:?}");
    }
}

#[test]
fn every_fault_of_a_row_is_told_with_its_place() {
    let mut piece = with(6, |row| {
        row.name = Some("x".repeat(201));
        row.lights = 0;
        row.pitch_m = Measured::exact(1e-4);
        row.light.high_current_a = None;
        row.series_ohm = Measured::exact(0.0);
        row.supply.source_ohm = exact(0.0);
        row.thread.library = Some("gold".into());
        row.return_passes = Some(99);
        row.far_length_m = exact(0.3);
        row.supply.voltage_v = Measured::exact(230.0);
        row.supply.empty_v = exact(300.0);
        row.supply.usable_share = exact(0.5);
        row.least_current_a = exact(5e-3);
        row.most_current_a = exact(1e-3);
        row.least_brightness = exact(2.0);
        row.warmth.max_temperature_k = exact(1000.0);
        row.warmth.free_sides = Some(3);
        row.warmth.cover_m2k_per_w = Some(-1.0);
    });
    piece.light_rows[0].run.length_m = Measured::exact(0.0);
    let faults = estimate(&piece, &LIBRARY).expect_err("faults").0;
    let pointers: Vec<&str> = faults.iter().map(|f| f.pointer.strip_prefix("/light_rows/0").unwrap_or(&f.pointer)).collect();
    for pointer in [
        "/name",
        "/lights",
        "/pitch_mm",
        "/light/high_current_ma",
        "/series_ohm",
        "/thread/library",
        "/run/length_mm",
        "/return_passes",
        "/far_length_mm",
        "/supply/supply_v",
        "/supply/empty_supply_v",
        "/supply/usable_share",
        "/least_current_ma",
        "/least_brightness_percent",
        "/warmth/max_temperature_c",
        "/warmth/free_sides",
        "/warmth/cover_m2k_per_w",
    ] {
        assert!(pointers.contains(&pointer), "{pointer} in {pointers:?}");
    }
}

#[test]
fn a_light_told_twice_or_by_no_diode_is_refused() {
    let refused = |change: fn(&mut LightRow)| {
        let faults = estimate(&with(6, change), &LIBRARY).expect_err("faults").0;
        faults.into_iter().map(|f| f.pointer.replace("/light_rows/0/light/", "")).collect::<Vec<_>>()
    };
    let twice = refused(|row| {
        row.light.saturation_current_a = exact(1e-18);
        row.light.emission_coefficient = exact(2.0);
    });
    assert_eq!(twice, ["low_current_ma", "low_forward_v", "high_current_ma", "high_forward_v"]);
    assert_eq!(refused(|row| row.light = Default::default()).len(), 4);
    assert_eq!(refused(|row| row.light.high_forward_v = exact(2.0)), ["high_forward_v"]);
    assert_eq!(refused(|row| row.light.high_current_a = exact(1e-3)), ["high_current_ma"]);
    assert_eq!(refused(|row| row.light.high_current_a = exact(1e-4)), ["low_current_ma"]);
    assert_eq!(
        refused(|row| {
            row.light = Default::default();
            row.light.saturation_current_a = exact(1e-18);
        }),
        ["emission_coefficient"]
    );
}

/// What grows is bounded.
#[test]
fn rows_and_lights_are_bounded() {
    let many = |rows: usize, lights: u32| {
        let mut piece = examples::light_row(lights);
        piece.light_rows = vec![piece.light_rows[0].clone(); rows];
        estimate(&piece, &LIBRARY).map(|_| ())
    };
    assert!(many(32, 2).is_ok());
    assert!(many(33, 2).is_err());
    assert!(many(5, 500).expect_err("too many lights").to_string().contains("lights in all rows"));
}
