//! Rows of lights: against 30-digit solutions, against Kirchhoff, and at the limits that need no solver.

use proptest::prelude::*;
use toile_model::lights::{Break, Diode, Feed, LightRow, LitRow, Run, light_row, thermal_voltage_v};

use crate::reference::{close, drawn, rows};

/// The reference carries 12 digits; this is what is asked of every current and voltage.
const AGAINST_REFERENCE: f64 = 1e-9;

/// Currents into a node, as a share of what the supply gives: sums of some hundred rounded terms.
const BALANCE: f64 = 1e-12;

fn run(segment_ohm: f64) -> Run {
    Run { segment_ohm, ..Default::default() }
}

fn solved(row: &LightRow<'_>) -> LitRow {
    light_row(row).unwrap_or_else(|_| panic!("not settled: {row:?}"))
}

/// G6: node voltages and currents by Newton's method in 30 digits.
#[test]
fn rows_of_lights_as_in_thirty_digits() {
    for table in rows("circuit/g6_lightrow.csv", 10) {
        let id = table.text("id");
        let numbers = |column: &str| -> Vec<f64> { table.text(column).split(' ').map(|t| t.parse().expect("a number")).collect() };
        let row = LightRow {
            lights: table.number("n_led") as usize,
            feed: if table.text("feed") == "same" { Feed::Same } else { Feed::Opposite },
            supply_v: table.number("supply_V"),
            source_ohm: table.number("R_source_ohm"),
            feed_run: run(table.number("seg_feed_ohm")),
            return_run: run(table.number("seg_return_ohm")),
            light: Diode {
                saturation_current_a: table.number("Is_A"),
                emission_voltage_v: table.number("n") * thermal_voltage_v(300.15),
                series_ohm: table.number("R_series_ohm"),
            },
            broken: &[],
        };
        let lit = solved(&row);
        for (what, got, expected) in [
            ("feed", &lit.feed_v, numbers("feed_V")),
            ("return", &lit.return_v, numbers("return_V")),
            ("current", &lit.current_a, numbers("I_led_A")),
        ] {
            assert_eq!(got.len(), expected.len());
            for (k, (g, e)) in got.iter().zip(&expected).enumerate() {
                // The table's return terminal hangs on 1e-20 ohm; here it is the zero itself.
                if e.abs() > 1e-15 {
                    close(&format!("{id} {what} {k}"), *g, *e, AGAINST_REFERENCE);
                } else {
                    assert_eq!(*g, 0.0, "{id} {what} {k}");
                }
            }
        }
        close(id, lit.supply_a, table.number("I_total_A"), AGAINST_REFERENCE);
        close(id, lit.min_over_max(), table.number("min_over_max"), AGAINST_REFERENCE);
        assert_eq!(
            (lit.dimmest() + 1, lit.brightest() + 1),
            (table.number("index_of_min") as usize, table.number("index_of_max") as usize)
        );
        assert!(lit.rounds <= 12, "{id}: {} rounds", lit.rounds);
        assert!(lit.relative_error < AGAINST_REFERENCE, "{id}: {}", lit.relative_error);
    }
}

/// What a drawn row is made of.
#[derive(Debug, Clone)]
struct Drawn {
    row: LightRow<'static>,
    broken: Vec<Break>,
}

impl Drawn {
    fn row(&self) -> LightRow<'_> {
        LightRow { broken: &self.broken, ..self.row }
    }
}

/// A number between two others on a logarithmic scale.
fn log(low: f64, high: f64) -> impl Strategy<Value = f64> {
    (low.ln()..high.ln()).prop_map(f64::exp)
}

/// A run, sometimes without any resistance.
fn any_run() -> impl Strategy<Value = Run> {
    (log(1e-3, 300.0), log(1e-2, 300.0), log(1e-2, 300.0), 0..4u8).prop_map(|(segment_ohm, near_ohm, far_ohm, kind)| match kind {
        0 => Run { segment_ohm, near_ohm, far_ohm },
        1 => Run::default(),
        _ => run(segment_ohm),
    })
}

fn any_row(most: usize) -> impl Strategy<Value = Drawn> {
    let feed = prop_oneof![Just(Feed::Same), Just(Feed::Opposite), Just(Feed::BothEnds)];
    let light = (log(1e-32, 1e-6), 0.02..0.3, prop_oneof![Just(0.0), log(1e-3, 1e5)]);
    let breaks = prop::collection::vec((1..most, any::<bool>()), 0..3);
    (1..=most, feed, 0.3..60.0, prop_oneof![Just(0.0), log(1e-3, 1e3)], any_run(), any_run(), light, breaks).prop_map(
        |(lights, feed, supply_v, source_ohm, feed_run, return_run, (saturation_current_a, emission_voltage_v, series_ohm), breaks)| {
            // Something has to hold the current back.
            let series_ohm = if source_ohm == 0.0 && series_ohm == 0.0 { 1.0 } else { series_ohm };
            let light = Diode { saturation_current_a, emission_voltage_v, series_ohm };
            let broken = breaks.into_iter().map(|(k, feed)| if feed { Break::Feed(k) } else { Break::Return(k) }).collect();
            Drawn { row: LightRow { lights, feed, supply_v, source_ohm, feed_run, return_run, light, broken: &[] }, broken }
        },
    )
}

/// Kirchhoff's two laws and the diode equation, from what the answer says; together they leave one solution only.
fn check_laws(row: &LightRow<'_>, lit: &LitRow) {
    let n = row.lights;
    let scale = lit.current_a.iter().fold(lit.supply_a.abs(), |m, i| m.max(i.abs()));
    // Currents into every node. The ends get theirs from the leads, what is left over.
    let balance = BALANCE * scale;
    let (near_a, far_a) = leads(row, lit);
    for k in 0..n {
        let [from_left, to_right] =
            [k.checked_sub(1).map_or(near_a[0], |i| lit.feed_segment_a[i]), if k + 1 < n { lit.feed_segment_a[k] } else { far_a[0] }];
        assert!((from_left - to_right - lit.current_a[k]).abs() <= balance, "feed {k}: {from_left} {to_right} {}", lit.current_a[k]);
        let [from_left, to_right] =
            [k.checked_sub(1).map_or(near_a[1], |i| lit.return_segment_a[i]), if k + 1 < n { lit.return_segment_a[k] } else { far_a[1] }];
        assert!((from_left - to_right + lit.current_a[k]).abs() <= balance, "return {k}: {from_left} {to_right} {}", lit.current_a[k]);
    }
    // Voltages along every segment that is whole, and no current in one that is not.
    let volts = 1e-12 * row.supply_v;
    for k in 1..n {
        for (run, v, a, broken) in [
            (&row.feed_run, &lit.feed_v, &lit.feed_segment_a, Break::Feed(k)),
            (&row.return_run, &lit.return_v, &lit.return_segment_a, Break::Return(k)),
        ] {
            if row.broken.contains(&broken) {
                assert_eq!(a[k - 1], 0.0, "{broken:?} carries current");
            } else if lit.current_a[k - 1] != 0.0 && lit.current_a[k] != 0.0 {
                // A part that is cut off has no voltage of its own.
                let off = v[k - 1] - v[k] - run.segment_ohm * a[k - 1];
                assert!(off.abs() <= volts, "segment {k}: {off:e} V is left over");
            }
        }
    }
    // Lights: the current that belongs to the voltage, to what a voltage is known to. Cut off, they are dark.
    for k in 0..n {
        let of_voltage = row.light.current_a(lit.feed_v[k] - lit.return_v[k]);
        let slack = volts / row.light.slope_ohm(of_voltage) + lit.relative_error * scale;
        assert!((of_voltage - lit.current_a[k]).abs() <= slack, "light {k}: {} for {of_voltage}", lit.current_a[k]);
        assert!(lit.current_a[k].is_finite() && lit.feed_v[k].is_finite() && lit.return_v[k].is_finite());
    }
    // Power in is power out.
    let lights_w = lit.lights_w();
    let given_w = row.supply_v * lit.supply_a;
    let spent_w = lights_w + lit.run_loss_w + lit.source_loss_w;
    let slack = (BALANCE * n as f64 + lit.relative_error) * row.supply_v * scale;
    assert!((given_w - spent_w).abs() <= slack, "{given_w} W given, {spent_w} W spent");
    // Lights of the trade have some ohm in series at least; those are known well.
    if row.light.series_ohm >= 1.0 {
        assert!(lit.relative_error <= AGAINST_REFERENCE, "{}", lit.relative_error);
    }
    assert!(lit.rounds <= 60, "{} rounds", lit.rounds);
}

/// Currents of the leads to the first and from the last light, feed and return, by what the nodes beside them lack.
fn leads(row: &LightRow<'_>, lit: &LitRow) -> ([f64; 2], [f64; 2]) {
    let n = row.lights;
    let after = |a: &[f64]| a.first().copied();
    let total: f64 = lit.current_a.iter().sum();
    match row.feed {
        Feed::Same => ([lit.supply_a, -lit.supply_a], [0.0, 0.0]),
        Feed::Opposite => ([lit.supply_a, 0.0], [0.0, lit.supply_a]),
        Feed::BothEnds => {
            // With rings of resistance the leads follow from Ohm's law; without a lead's resistance from the balance.
            let near = [
                after(&lit.feed_segment_a).unwrap_or(0.0) + lit.current_a[0],
                after(&lit.return_segment_a).unwrap_or(0.0) - lit.current_a[0],
            ];
            let near = if n == 1 { [total, -total] } else { near };
            let far = [
                lit.feed_segment_a.last().copied().unwrap_or(near[0]) - lit.current_a[n - 1],
                lit.return_segment_a.last().copied().unwrap_or(near[1]) + lit.current_a[n - 1],
            ];
            let far = if n == 1 { [0.0, 0.0] } else { far };
            assert!((near[0] - far[0] - lit.supply_a).abs() <= BALANCE * lit.supply_a.abs(), "what the leads bring is what is drawn");
            (near, far)
        }
    }
}

proptest! {
    #![proptest_config(drawn(3000))]

    #[test]
    fn every_row_settles_and_obeys_kirchhoff(drawn in any_row(40)) {
        let row = drawn.row();
        check_laws(&row, &solved(&row));
    }
}

/// A row of the trade: red lights at 3.3 V on silver-coated thread.
fn usual() -> LightRow<'static> {
    LightRow {
        lights: 6,
        feed: Feed::Same,
        supply_v: 3.3,
        source_ohm: 0.5,
        feed_run: run(2.0),
        return_run: run(3.0),
        light: Diode { saturation_current_a: 1e-18, emission_voltage_v: 0.0517, series_ohm: 100.0 },
        broken: &[],
    }
}

/// One light has no run between lights: the loop is the supply, the resistances and the diode, and the diode equation
/// with all of them in series gives the current.
#[test]
fn one_light_is_a_loop() {
    for feed in [Feed::Same, Feed::Opposite, Feed::BothEnds] {
        let row = LightRow { lights: 1, feed, ..usual() };
        let lit = solved(&row);
        let alone = Diode { series_ohm: 100.5, ..row.light }.current_a(3.3);
        close("current", lit.current_a[0], alone, 1e-13);
        assert_eq!((lit.min_over_max(), lit.run_loss_w), (1.0, 0.0));
    }
}

/// Without resistance in the runs all lights get the same, and it is what one light with N times the source gets.
#[test]
fn without_resistance_in_the_runs_all_lights_are_alike() {
    for feed in [Feed::Same, Feed::Opposite, Feed::BothEnds] {
        let row = LightRow { feed, feed_run: run(0.0), return_run: run(0.0), ..usual() };
        let lit = solved(&row);
        let alone = Diode { series_ohm: 100.0 + 6.0 * 0.5, ..row.light }.current_a(3.3);
        for current in &lit.current_a {
            close("current", *current, alone, 1e-12);
        }
        close("spread", lit.min_over_max(), 1.0, 1e-12);
    }
}

/// Runs alike, fed from opposite ends: what light k gets from the left, light N + 1 - k gets from the right. Tied at
/// both ends with leads alike: the same.
#[test]
fn rows_that_look_alike_from_both_ends_are_lit_alike_from_both_ends() {
    let leads = Run { segment_ohm: 3.0, near_ohm: 1.5, far_ohm: 1.5 };
    for feed in [Feed::Opposite, Feed::BothEnds] {
        for lights in [2, 5, 24] {
            let lit = solved(&LightRow { lights, feed, feed_run: leads, return_run: leads, ..usual() });
            for k in 0..lights {
                close("mirrored", lit.current_a[k], lit.current_a[lights - 1 - k], 1e-11);
            }
        }
    }
    // Fed at one end alone, feed and return change places without any light noticing.
    let swapped = solved(&LightRow { feed_run: usual().return_run, return_run: usual().feed_run, ..usual() });
    for (a, b) in swapped.current_a.iter().zip(&solved(&usual()).current_a) {
        close("swapped", *a, *b, 1e-12);
    }
}

/// A ring whose far leads are endless is a row fed at one end; one that is cut in the middle of the feed is fed from
/// both sides like two rows with one return.
#[test]
fn a_ring_between_its_limits() {
    let far = |far_ohm: f64| {
        let with = |segment_ohm: f64| Run { segment_ohm, near_ohm: 0.0, far_ohm };
        solved(&LightRow { feed: Feed::BothEnds, feed_run: with(2.0), return_run: with(3.0), ..usual() })
    };
    let (same, endless) = (solved(&usual()), far(1e12));
    for (a, b) in endless.current_a.iter().zip(&same.current_a) {
        close("endless leads", *a, *b, 1e-9);
    }
    assert!(far(0.0).min_over_max() > far(10.0).min_over_max() && far(10.0).min_over_max() > same.min_over_max());
}

/// Fed at one end, a break leaves the row that ends before it, whichever run it is in.
#[test]
fn a_break_shortens_a_row_fed_at_one_end() {
    for k in 1..6 {
        let short = solved(&LightRow { lights: k, ..usual() });
        for broken in [[Break::Feed(k)], [Break::Return(k)]] {
            let lit = solved(&LightRow { broken: &broken, ..usual() });
            for (i, current) in lit.current_a.iter().enumerate() {
                close("lit or dark", *current, short.current_a.get(i).copied().unwrap_or(0.0), 1e-12);
            }
            assert_eq!(lit.min_over_max(), 0.0);
        }
    }
    // From opposite ends a break in the feed leaves the lights before it, one in the return those behind it.
    let dark = |broken: Break| -> Vec<bool> {
        solved(&LightRow { feed: Feed::Opposite, broken: &[broken], ..usual() }).current_a.iter().map(|i| *i == 0.0).collect()
    };
    assert_eq!(dark(Break::Feed(2)), [false, false, true, true, true, true]);
    assert_eq!(dark(Break::Return(2)), [true, true, false, false, false, false]);
    // A ring bears one break in each run.
    let ring = solved(&LightRow { feed: Feed::BothEnds, broken: &[Break::Feed(2), Break::Return(4)], ..usual() });
    assert!(ring.min_over_max() > 0.5, "{ring:?}");
    // A break that the row does not have is none.
    assert_eq!(solved(&LightRow { broken: &[Break::Feed(0), Break::Return(6)], ..usual() }), solved(&usual()));
}

proptest! {
    #![proptest_config(drawn(300))]

    /// More resistance in a run dims the row as a whole, and fed at one end its dimmest light.
    #[test]
    fn more_run_means_less_light(drawn in any_row(24), factor in 1.01..5.0) {
        let row = LightRow { broken: &[], ..drawn.row };
        let more = |run: Run| Run { segment_ohm: run.segment_ohm * factor, near_ohm: run.near_ohm * factor, far_ohm: run.far_ohm * factor };
        let worse = LightRow { feed_run: more(row.feed_run), return_run: more(row.return_run), ..row };
        let (before, after) = (solved(&row), solved(&worse));
        // Rounding and the stated bound of either.
        let slack = 1e-12 + before.relative_error + after.relative_error;
        prop_assert!(after.supply_a <= before.supply_a * (1.0 + slack));
        if row.feed == Feed::Same {
            prop_assert!(after.min_over_max() <= before.min_over_max() * (1.0 + 2.0 * slack));
        }
        // More voltage, more current in every light of a row without breaks, fed at one end.
        let stronger = solved(&LightRow { supply_v: row.supply_v * factor, ..row });
        prop_assert!(stronger.supply_a >= before.supply_a * (1.0 - slack));
    }
}
