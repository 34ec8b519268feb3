//! Time and price: the trade's published figures, money that adds up, and spreads held against draws.

use toile_model::conduction::{StitchKind, stitching};
use toile_model::materials::{GivenRates, Price, Rate, Rates, Status};
use toile_model::money::{Currency, Decimal, decimal, nearly};
use toile_model::production::{Item, pieces_per_hour};
use toile_model::uncertainty::Spread;
use toile_model::{Cause, Costing, Estimate, LIBRARY, Measured, Order, Piece, Production, Run, estimate, examples, produce};

use crate::reference::{close, rows};

/// The article's worked example is printed with three digits: half a unit of the last one.
const PRINTED_OUTPUT: f64 = 0.005;

/// Rules of thumb for thread are round numbers.
const RULE_OF_THUMB: f64 = 1e-12;

/// How far roundings may move two totals against each other, in minor units: some ten lines each, by half a unit, and the
/// unit prices of all pieces likewise.
fn roundings(pieces: u32) -> f64 {
    10.0 + f64::from(pieces)
}

/// Numbers in a text, in order.
fn numbers(text: &str) -> Vec<f64> {
    text.split(|c: char| !c.is_ascii_digit() && c != '.').filter_map(|word| word.parse().ok()).collect()
}

/// G11, the rows that were read: the article's worked example, and the speeds and stops that are built in.
#[test]
fn the_articles_figures() {
    let (mut read, mut practice) = (0, 0);
    for row in rows("circuit/published_g11_production.csv", 14) {
        let id = row.text("id");
        let demo = Rates::DEMO;
        let built_in = |rate: Rate| {
            let known = demo.rate(rate);
            let (low, high) = known.measured.named_limits();
            let q = rate.quantity();
            ([q.from_si(low), q.from_si(high)], known.status)
        };
        let is = |rate: Rate, status: Status| {
            let (limits, found) = built_in(rate);
            let value = numbers(row.text("value"));
            assert_eq!(found, status, "{id}");
            close(id, limits[0], value[0], RULE_OF_THUMB);
            close(id, limits[1], value[1], RULE_OF_THUMB);
        };
        if row.text("status") == "read" {
            read += 1;
            match id {
                "g11p-02" => is(Rate::PlainSpeed, Status::Published),
                "g11p-04" => {
                    is(Rate::Trim, Status::Published);
                    is(Rate::ColourChange, Status::Published);
                }
                "g11p-06" => {
                    let [speed, stitches, set_up, heads, output] = numbers(row.text("conditions"))[..] else { panic!("{id}") };
                    let found = pieces_per_hour(speed, heads, stitches, set_up);
                    assert!((found - output).abs() <= PRINTED_OUTPUT, "{found} against {output}");
                    close(id, found, 24.0 / 7.0, RULE_OF_THUMB);
                }
                // Ranges of machines and designs that no rate stands for: the built-in speeds lie inside the widest.
                "g11p-01" => {
                    let (limits, _) = built_in(Rate::PlainSpeed);
                    let value = numbers(row.text("value"));
                    assert!(limits[0] >= value[0] && limits[1] <= value[1]);
                }
                "g11p-03" | "g11p-05" => {}
                other => panic!("a row that nothing is held against: {other}"),
            }
        } else {
            // For orientation only, and told as such.
            assert_eq!(row.text("status"), "practice");
            practice += 1;
            match id {
                "g11p-07" => is(Rate::ConductiveSpeed, Status::CommonPractice),
                "g11p-10" => is(Rate::Threading, Status::CommonPractice),
                "g11p-11" => is(Rate::Hooping, Status::CommonPractice),
                "g11p-12" => is(Rate::BreakRepair, Status::CommonPractice),
                "g11p-13" => is(Rate::BobbinChange, Status::CommonPractice),
                "g11p-14" => is(Rate::SetUp, Status::CommonPractice),
                _ => {}
            }
        }
    }
    assert_eq!((read, practice), (6, 8));
}

/// The same output from a whole order: 10000 stitches, no spread, stops of 4000 stitches.
#[test]
fn an_order_gives_the_articles_output() {
    let mut values: Vec<(Rate, Measured)> = Rate::all().map(|rate| (rate, Measured::exact(0.0))).collect();
    for (rate, edge) in [
        (Rate::PlainSpeed, 800.0),
        (Rate::ConductiveSpeed, 800.0),
        (Rate::LaidSpeed, 800.0),
        (Rate::PlainBreak, 1e8),
        (Rate::ConductiveBreak, 1e8),
        (Rate::PlainBobbin, 1e4),
        (Rate::ConductiveBobbin, 1e4),
        (Rate::Yield, 100.0),
        (Rate::SampleTries, 1.0),
        // 4000 stitches at 800 a minute.
        (Rate::FrameExchange, 300.0),
    ] {
        values[rate as usize].1 = Measured::exact(rate.quantity().to_si(edge));
    }
    let order =
        Order { heads: Some(1), decorative_stitches: 10_000, rates: GivenRates { values, ..Default::default() }, ..Order::default() };
    let made = produce(toile_model::Job::of(&[], 0, &order), &order, 12, &Rates::DEMO).expect("a small price");
    let output = made.costing().output(&made.job).expect("something is sewn");
    close("speed", output.stitches_per_min, 800.0, 1e-12);
    close("stops", output.set_up_stitches, 4000.0, 1e-9);
    close("output", output.pieces_per_hour, 24.0 / 7.0, 1e-9);
    close("minutes", made.costing().machine_s.0 / 60.0, 12.0 * 17.5, 1e-9);
}

/// G2, published rules: 5 m of needle thread and 3 to 3.5 m of bobbin thread for a thousand embroidery stitches. Stitches
/// of 3 mm through 1 mm give them with the interlacing point at the back, and three quarters deep.
#[test]
fn thread_of_a_thousand_stitches() {
    let table = rows("circuit/published_g2_thread_length.csv", 14);
    let value = |id: &str| {
        let row = table.iter().find(|row| row.text("id") == id).expect("a row");
        assert_eq!(row.text("status"), "read", "{id}");
        numbers(row.text("value"))
    };
    let seam = |f: f64| stitching(&StitchKind::Running { length_m: 3.0, stitch_length_m: 3e-3, passes: 1 }, 1e-3, f);
    assert_eq!(seam(1.0).stitches, 1000.0);
    close("needle", seam(1.0).top_thread_m, value("g2p-07")[0], RULE_OF_THUMB);
    close("bobbin, at the back", seam(1.0).bobbin_thread_m, value("g2p-08")[0], RULE_OF_THUMB);
    close("bobbin, three quarters deep", seam(0.75).bobbin_thread_m, value("g2p-08")[1], RULE_OF_THUMB);
    // The same rules are what decorative stitches are counted by, and the allowance is the trade's.
    let order = Order { decorative_stitches: 1000, ..Order::default() };
    let job = toile_model::Job::of(&[], 0, &order);
    close("decorative needle", job.plain_needle_m.value, value("g2p-07")[0], RULE_OF_THUMB);
    close("decorative bobbin", job.plain_bobbin_m.value, value("g2p-08").iter().sum::<f64>() / 2.0, RULE_OF_THUMB);
    let (low, high) = Rates::DEMO.rate(Rate::ThreadAllowance).measured.named_limits();
    close("allowance", low * 100.0, value("g2p-06")[0], RULE_OF_THUMB);
    close("allowance", high * 100.0, value("g2p-06")[1], RULE_OF_THUMB);
}

fn four_pads() -> Piece {
    let mut piece = examples::round_pad(24.0);
    let pad = piece.pads[0].clone();
    piece.pads = (0..4)
        .map(|k| {
            let run = Run { length_m: Measured::exact(0.14 + 0.04 * f64::from(k)), ..pad.run.clone() };
            toile_model::Pad { run, ..pad.clone() }
        })
        .collect();
    piece.production.decorative_stitches = 2500;
    piece.production.material_per_piece = Some(Decimal::new(385, 2));
    piece
}

fn production(piece: &Piece) -> Production {
    let Estimate { production, .. } = estimate(piece, &LIBRARY).expect("a good piece");
    production.expect("an estimate ends in a price")
}

/// An amount in minor units; fails where it has a fraction of one.
#[track_caller]
fn minor(amount: Decimal, currency: &Currency) -> i128 {
    assert_eq!(amount.scale(), currency.decimals, "{amount} {}", currency.code);
    amount.mantissa()
}

/// Quantity times rate in whole numbers, half a minor unit away from zero: the rule as it is told, by other means.
fn by_hand(quantity: Decimal, rate: Decimal, currency: &Currency) -> i128 {
    let product = quantity.mantissa() * rate.mantissa();
    let one = 10i128.pow(quantity.scale() + rate.scale());
    let scaled = product * 10i128.pow(currency.decimals);
    (2 * scaled + one * scaled.signum()) / (2 * one)
}

/// Everything that must hold of one price.
#[track_caller]
fn adds_up(cost: &Costing, currency: &Currency) {
    let quote = &cost.quote;
    let pieces = i128::from(cost.terms.pieces);
    let total = minor(quote.total, currency);
    let unit = minor(quote.unit_price, currency);
    assert_eq!(quote.lines.iter().map(|line| minor(line.amount, currency)).sum::<i128>(), total, "lines and total");
    assert_eq!(unit * pieces, total, "unit price times quantity");
    let mut before_margin = 0;
    for line in &quote.lines {
        let amount = minor(line.amount, currency);
        match (line.item, line.of) {
            (Item::Margin, None) => {
                // A fifth of the price is a quarter of what it costs.
                assert_eq!(amount, (2 * before_margin + 4) / 8, "margin of {before_margin}");
            }
            (Item::Rounding, None) => assert!(2 * amount.abs() <= pieces, "rounding {amount} for {pieces} pieces"),
            (_, Some((quantity, rate))) => {
                assert_eq!(amount, by_hand(quantity, rate, currency), "{:?}", line);
                before_margin += amount;
            }
            (item, None) => panic!("{item:?} of nothing"),
        }
    }
}

/// Money adds up to the minor unit for every quantity from 1 to 10,000, with two, none and three decimals.
#[test]
fn money_adds_up_for_every_quantity() {
    for (code, exchange) in [("EUR", None), ("JPY", Some("171.23")), ("KWD", Some("0.3457"))] {
        let currency = Currency::of(code).expect("a currency");
        let mut piece = four_pads();
        piece.production.currency = Some(code.into());
        piece.production.exchange_rate = exchange.map(|text| text.parse().expect("a decimal"));
        let made = production(&piece);
        adds_up(&made.sample, currency);
        let mut last = 0.0;
        for quantity in 1..=10_000 {
            let made = produce(made.job.clone(), &piece.production, quantity, &LIBRARY.rates).expect("a price that can be counted");
            let cost = made.costing();
            assert_eq!(cost.terms.pieces, quantity);
            adds_up(cost, currency);
            // More pieces never cost less in all, but for roundings.
            let total = nearly(cost.quote.total) * 10f64.powi(currency.decimals as i32);
            assert!(total >= last - roundings(quantity), "{code}, {quantity}: {total} after {last}");
            last = total;
        }
    }
}

/// Prices of several quantities in one answer are those of each alone, in order and each once.
#[test]
fn price_breaks_are_the_prices_of_their_quantities() {
    let mut piece = four_pads();
    piece.quantity = 120;
    piece.production.quantities = vec![500, 10, 120, 10];
    let made = production(&piece);
    let quantities: Vec<u32> = made.series.iter().map(|c| c.terms.pieces).collect();
    assert_eq!((quantities, made.asked), (vec![10, 120, 500], 1));
    for cost in &made.series {
        let alone = Piece {
            quantity: cost.terms.pieces,
            production: Order { quantities: Vec::new(), ..piece.production.clone() },
            ..piece.clone()
        };
        assert_eq!(production(&alone).costing(), cost);
    }
    // Setting up is shared out: on a machine that is filled, more pieces are cheaper each.
    let unit: Vec<Decimal> = made.series.iter().map(|c| c.quote.unit_price).collect();
    assert!(unit[0] > unit[1] && unit[1] > unit[2], "{unit:?}");
}

/// The numbers that a reader would ask for first, by hand.
#[test]
fn stitches_and_thread_of_a_piece() {
    let piece = four_pads();
    let made = production(&piece);
    // 30 turns and 198 stitches of fill, runs of 140 to 260 mm in stitches of 2.5 mm, twice.
    let runs: f64 = [140.0_f64, 180.0, 220.0, 260.0].iter().map(|mm| 2.0 * (mm / 2.5).ceil()).sum();
    let fills: f64 = made.parts.iter().filter(|p| p.what.starts_with("fill")).map(|p| p.stitches).sum();
    assert_eq!(made.parts.iter().map(|p| p.stitches).sum::<f64>(), runs + fills);
    assert!((4.0 * 228.0..=4.0 * 236.0).contains(&fills), "{fills}: turns at the poles are longer than a stitch");
    assert_eq!(made.job.stitches(), runs + fills + 2500.0);
    assert_eq!((made.job.work.needles, made.job.work.bobbins, made.job.work.trims), (2.0, 1.0, 5.0));
    assert_eq!(made.job.threads.len(), 1);
    // Needle thread: more than what is sewn, less than with rectangular stitches through all of the felt.
    let sewn = 2.0 * (0.14 + 0.18 + 0.22 + 0.26) + 4.0 * 0.5619;
    let needle = made.job.threads[0].needle_m;
    let most = sewn + 4.0 * 31.0 * 0.006 + (runs + fills) * 2.0 * 0.003;
    assert!(needle.value > sewn && needle.value < most, "{} between {sewn} and {most}", needle.value);
    let [low, high] = needle.interval_95();
    assert!(low < needle.value && needle.value < high && low > 0.8 * sewn);
}

/// Share of the draws that an interval of 95 % must hold. A normal interval over uniform rates and, to first order, over
/// speeds that range from half to full is off by up to some 2 %: measured were 95.8 % for the price and 93.2 % for the
/// machine's time. Chance adds 0.35 % with 4000 draws.
const COVERAGE: std::ops::RangeInclusive<f64> = 0.92..=0.995;

/// First-order intervals against draws of every rate from its range.
#[test]
fn the_interval_of_a_price_holds_what_draws_give() {
    let piece = Piece { quantity: 120, ..four_pads() };
    let made = production(&piece);
    let cost = made.costing();
    let [low, high] = cost.unit_interval.map(nearly);
    let (minutes, [least, most]) = cost.machine_s;
    assert!(least < minutes && minutes < most);
    let mut state = 20_261_125_u64;
    let mut draw = || {
        // Numerical Recipes' linear congruence; the upper bits are even enough for ranges.
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1u64 << 53) as f64
    };
    let (mut prices_inside, mut times_inside) = (0, 0);
    const DRAWS: u32 = 4000;
    for _ in 0..DRAWS {
        let values = Rate::all()
            .map(|rate| {
                let measured = LIBRARY.rates.rate(rate).measured;
                assert_eq!(measured.spread, Spread::Uniform);
                let (low, high) = measured.named_limits();
                (rate, Measured::exact(low + (high - low) * draw()))
            })
            .collect();
        let order = Order { rates: GivenRates { values, ..Default::default() }, ..piece.production.clone() };
        let drawn = produce(made.job.clone(), &order, 120, &LIBRARY.rates).expect("a small price");
        let drawn = drawn.costing();
        prices_inside += u32::from((low..=high).contains(&nearly(drawn.quote.unit_price)));
        times_inside += u32::from((least..=most).contains(&drawn.machine_s.0));
    }
    let share = |inside: u32| f64::from(inside) / f64::from(DRAWS);
    assert!(COVERAGE.contains(&share(prices_inside)), "prices: {}", share(prices_inside));
    assert!(COVERAGE.contains(&share(times_inside)), "times: {}", share(times_inside));
    // What drives it is told, and makes up most of the variance.
    let told: f64 = cost.shares.iter().map(|(_, share)| share).sum();
    assert!(told > 0.9 && cost.shares.windows(2).all(|pair| pair[0].1 >= pair[1].1), "{:?}", cost.shares);
}

/// What is left of an interval with exact rates: the thread taken up, which was measured at a fifth here, and luck.
const WITH_KNOWN_RATES: f64 = 0.3;

/// Rates that are better known make the interval smaller.
#[test]
fn known_rates_leave_little_spread() {
    let mut piece = Piece { quantity: 120, ..four_pads() };
    let width = |made: &Production| {
        let [low, high] = made.costing().unit_interval.map(nearly);
        high - low
    };
    let wide = width(&production(&piece));
    piece.production.rates.values = Rate::all().map(|rate| (rate, Measured::exact(LIBRARY.rates.rate(rate).measured.value))).collect();
    let narrow = production(&piece);
    assert!(width(&narrow) < WITH_KNOWN_RATES * wide, "{} of {wide}", width(&narrow));
    let causes = &narrow.costing().shares;
    assert!(causes.iter().all(|(cause, _)| !matches!(cause, Cause::Rate(_))), "{causes:?}");
    assert_eq!(narrow.costing().quote, production(&Piece { quantity: 120, ..four_pads() }).costing().quote);
}

/// A shop that charges nothing has a price of nothing, and one line for nothing.
#[test]
fn without_prices_there_is_nothing_to_pay() {
    let mut piece = four_pads();
    piece.production.material_per_piece = None;
    piece.production.rates.prices = Price::all().map(|price| (price, Decimal::ZERO)).collect();
    let made = production(&piece);
    assert!(made.costing().quote.lines.is_empty());
    assert_eq!(made.costing().quote.total.to_string(), "0.00");
    assert_eq!(made.costing().unit_interval.map(|d| d.to_string()), ["0.00", "0.00"]);
}

/// Prices of threads of their own, prices given with the piece, and a currency of its own: all as told.
#[test]
fn prices_come_from_where_they_are_known_best() {
    let mut piece = four_pads();
    let rate_of = |piece: &Piece, item: Item| {
        let made = production(piece);
        made.costing().quote.lines.iter().find(|line| line.item == item).and_then(|line| line.of).expect("a line").1
    };
    assert_eq!(rate_of(&piece, Item::ConductiveThread(0)), Decimal::new(900, 4));
    piece.production.rates.thread_prices = vec![("silver-polyamide-40-tex".into(), Decimal::new(21, 2))];
    assert_eq!(rate_of(&piece, Item::ConductiveThread(0)), Decimal::new(21, 2));
    piece.production.currency = Some("SEK".into());
    piece.production.exchange_rate = decimal(11.5);
    // The shop's labour is exchanged; what the piece gives is in its own currency already.
    assert_eq!(rate_of(&piece, Item::Labour), Decimal::from(414));
    assert_eq!(rate_of(&piece, Item::ConductiveThread(0)), Decimal::new(21, 2));
    assert_eq!(rate_of(&piece, Item::Material), Decimal::new(385, 2));
}

/// The largest piece and order that the checks let through either has a price or says that it has none.
#[test]
fn absurd_orders_do_not_break_the_counting() {
    let mut piece = four_pads();
    piece.quantity = 10_000_000;
    piece.production.heads = Some(100);
    piece.production.decorative_stitches = 10_000_000;
    piece.production.currency = Some("IDR".into());
    piece.production.exchange_rate = decimal(1e6);
    piece.production.rates.prices = Price::all().map(|price| (price, decimal(price.quantity().high).expect("a decimal"))).collect();
    let told = estimate(&piece, &LIBRARY).expect("a price that can be counted").production.expect("a price");
    assert!(told.costing().quote.total > Decimal::from(10_000_000));
    // Ten times as much at every step: at some point no decimal holds it, and that is what is said.
    let mut job = told.job.clone();
    for _ in 0..30 {
        job.work.stitches[0] *= 10.0;
        match produce(job.clone(), &piece.production, piece.quantity, &LIBRARY.rates) {
            Ok(_) => {}
            Err(faults) => {
                assert_eq!(faults.0[0].pointer, "/production");
                return;
            }
        }
    }
    panic!("no amount was ever too large");
}
