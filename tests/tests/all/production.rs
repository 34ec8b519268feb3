//! Time and price through the service: a question of counted work, a piece, a shop's settings.

use serde_json::{Value, json};
use toile_tests::{Process, demo, round_pad, run, service, spare_folder, with};

const PRODUCTION: &str = "/api/v1/solve/production";

/// Work of 10000 plain stitches at 800 a minute without any stop but the exchange of frames, 300 s each: the trade's worked
/// example of output, 4000 stitches of stops.
fn worked_example() -> Value {
    let mut rates = json!({
        "plain_stitches_per_min": 800, "frame_exchange_s": 300, "yield_percent": 100, "plain_stitches_per_break": 1e8, "sample_tries": 1,
    });
    for field in [
        "trim_s",
        "colour_change_s",
        "bobbin_change_s",
        "break_repair_s",
        "hooping_s",
        "finishing_s",
        "set_up_min",
        "threading_s",
        "design_min",
        "attendance_percent",
        "thread_allowance_percent",
    ] {
        rates[field] = json!(0);
    }
    json!({"sewing": {"plain_stitches": 10_000}, "quantity": 7, "production": {"heads": 1, "rates": rates}})
}

fn money(text: &Value) -> i128 {
    let text = text.as_str().unwrap_or_else(|| panic!("money is text: {text}"));
    text.replace('.', "").parse().unwrap_or_else(|_| panic!("{text} is no amount"))
}

/// The lines sum to the total, and the total is the unit price times the quantity, in whole minor units.
#[track_caller]
fn adds_up(cost: &Value) {
    let lines = cost["lines"].as_array().expect("lines");
    assert_eq!(lines.iter().map(|line| money(&line["amount"])).sum::<i128>(), money(&cost["total"]), "{cost}");
    let quantity = i128::from(cost["quantity"].as_u64().expect("a quantity"));
    assert_eq!(money(&cost["unit_price"]) * quantity, money(&cost["total"]), "{cost}");
    for name in ["unit_price", "total"] {
        let ends = cost[format!("{name}_interval_95")].as_array().expect("an interval");
        assert!(money(&ends[0]) <= money(&cost[name]) && money(&cost[name]) <= money(&ends[1]), "{name}: {cost}");
    }
    let minutes = cost["minutes"].as_object().expect("minutes");
    let sum = |names: &[&str]| names.iter().map(|name| minutes[*name].as_f64().expect("minutes")).sum::<f64>();
    let stops = ["set_up", "bobbins", "thread_breaks", "frames"];
    let machine = sum(&stops) + sum(&["sewing", "trims", "colour_changes", "lights"]);
    let people = sum(&stops) + sum(&["hooping", "bench", "finishing", "attendance", "jig_making"]);
    // Each part is rounded to six digits.
    assert!((machine / cost["machine_minutes"].as_f64().expect("minutes") - 1.0).abs() < 1e-5, "{cost}");
    assert!((people / cost["labour_minutes"].as_f64().expect("minutes") - 1.0).abs() < 1e-5, "{cost}");
}

#[test]
fn the_trades_worked_example_comes_out() {
    let answer = service().post(PRODUCTION, &worked_example()).ok();
    let series = &answer["series"];
    assert_eq!((&series["stitches_per_min"], &series["set_up_stitches"]), (&json!(800.0), &json!(4000.0)));
    assert_eq!(series["pieces_per_hour"], json!(3.42857));
    assert_eq!(series["machine_minutes"], json!(122.5));
}

#[test]
fn counted_work_is_priced_line_by_line() {
    let question = json!({
        "sewing": {
            "plain_stitches": 4200, "conductive_stitches": 1380, "trims": 6, "terminals": 4, "lights": 6,
            "threads": [{"library": "silver-polyamide-40-tex", "needle_m": {"low": 7.2, "high": 9.4}, "bobbin_m": 2.5}, {"needle_m": 1}],
            "plain_needle_m": 21, "plain_bobbin_m": 17.5, "laid_m": 0.4, "laid_stitches": 160
        },
        "quantity": 120,
        "production": {"heads": 6, "quantities": [10, 500], "boards": 1, "jig": true, "material_per_piece": 3.8,
            "rates": {"thread_per_m": {"silver-polyamide-40-tex": 0.21}, "margin_percent": 25, "labour_per_hour": 40.5}}
    });
    let answer = service().post(PRODUCTION, &question).ok();
    for cost in [&answer["sample"], &answer["series"]] {
        adds_up(cost);
    }
    assert_eq!(answer["needles"], json!(3.0));
    let quantities: Vec<_> = answer["price_breaks"].as_array().expect("breaks").iter().map(|b| b["quantity"].clone()).collect();
    assert_eq!(quantities, [json!(10), json!(120), json!(500)]);
    let named = |what: &str| {
        let lines = answer["series"]["lines"].as_array().expect("lines");
        lines.iter().find(|line| line["what"] == what).unwrap_or_else(|| panic!("no line for {what}")).clone()
    };
    assert_eq!(named("silver-coated polyamide, 40 tex")["rate"], "0.21");
    assert_eq!(named("conductive thread")["rate"], "0.09");
    assert_eq!(named("labour")["rate"], "40.50");
    // 120 good pieces of 94 % on average are 127.6596 made.
    assert_eq!(named("lights")["quantity"], "765.9574");
    assert_eq!(named("material for each piece")["quantity"], "127.6596");
    // A quarter of the price: a third of what it costs.
    let before: i128 =
        money(&answer["series"]["total"]) - money(&named("margin")["amount"]) - money(&named("rounding to a whole unit price")["amount"]);
    assert!((3 * money(&named("margin")["amount"]) - before).abs() <= 1);
    let shares = answer["series"]["shares"].as_array().expect("shares");
    assert!(shares.iter().filter_map(|s| s["share"].as_f64()).sum::<f64>() <= 1.0 + 1e-5);
}

#[test]
fn currencies_have_their_own_minor_units() {
    for (code, rate, decimals) in [("JPY", json!(171.23), 0), ("KWD", json!(0.3457), 3), ("EUR", Value::Null, 2), ("CHF", json!(0.9312), 2)]
    {
        let order = json!({"currency": code, "exchange_rate": rate, "quantities": [3, 7, 999]});
        let answer = service().estimate(&with(with(demo(), "/production", order), "/quantity", json!(41)));
        let production = &answer["production"];
        assert_eq!(production["currency"], code);
        for cost in [&production["sample"], &production["series"]] {
            adds_up(cost);
            let text = cost["total"].as_str().expect("money");
            assert_eq!(text.split_once('.').map_or(0, |(_, minor)| minor.len()), decimals, "{text} {code}");
        }
        for step in production["price_breaks"].as_array().expect("breaks") {
            let quantity = i128::from(step["quantity"].as_u64().expect("a quantity"));
            assert_eq!(money(&step["unit_price"]) * quantity, money(&step["total"]), "{step}");
        }
    }
}

#[test]
fn the_estimate_of_a_piece_ends_in_stitches_thread_minutes_and_money() {
    let answer = service().post("/api/v1/estimates?inputs=true", &demo()).ok();
    let production = &answer["production"];
    for cost in [&production["sample"], &production["series"]] {
        adds_up(cost);
    }
    let parts = production["parts"].as_array().expect("parts");
    let sum = |name: &str| parts.iter().filter_map(|part| part[name].as_f64()).sum::<f64>();
    assert!(parts.iter().all(|part| answer["pads"].as_array().expect("pads").iter().any(|pad| pad["pointer"] == part["pointer"])
        || part["pointer"].as_str().is_some_and(|p| !p.starts_with("/pads/"))));
    let needles = production["threads"].as_array().expect("threads").iter().filter_map(|t| t["needle_m"].as_f64()).sum::<f64>();
    let plain = production["plain_needle_m"].as_f64().expect("metres");
    let decorative = demo()["production"]["decorative_stitches"].as_f64().unwrap_or(0.0);
    assert!((sum("needle_m") + 0.005 * decorative - needles - plain).abs() < 1e-4, "{production}");
    assert!((sum("stitches") + decorative - production["stitches"].as_f64().expect("stitches")).abs() < 1e-6);
    // Every rate is shown with what it is.
    let assumptions = &production["assumptions"];
    for list in ["rates", "prices"] {
        for entry in assumptions[list].as_array().expect("a list") {
            assert!(entry["source"].as_str().is_some_and(|s| !s.is_empty()) && entry["status"].is_string(), "{entry}");
        }
    }
    let invented = assumptions["prices"].as_array().expect("prices").iter().filter(|p| p["status"] == "invented").count();
    assert!(invented > 5, "{assumptions}");
    let plain = service().estimate(&demo());
    assert!(plain["production"].get("assumptions").is_none() && plain["production"]["series"].get("shares").is_none());
}

#[test]
fn the_rates_that_hold_are_listed() {
    let rates = service().get("/api/v1/rates").ok();
    assert_eq!(
        (&rates["shop"], &rates["currency"], &rates["currency_decimals"]),
        (&json!("Harrow Lane Stitch Room"), &json!("EUR"), &json!(2))
    );
    let estimate = service().post("/api/v1/estimates?inputs=true", &round_pad()).ok();
    assert_eq!(estimate["production"]["assumptions"], rates);
    // What is listed may be given back, and changes nothing but where it comes from.
    let mut given = json!({});
    for price in rates["prices"].as_array().expect("prices") {
        given[price["field"].as_str().expect("a field")] = price["amount"].as_str().and_then(|a| a.parse().ok()).expect("a number");
    }
    for rate in rates["rates"].as_array().expect("rates") {
        given[rate["field"].as_str().expect("a field")] = rate["value"].clone();
    }
    let again = service().post("/api/v1/estimates?inputs=true", &with(round_pad(), "/production/rates", given)).ok();
    for cost in ["sample", "series"] {
        assert_eq!(again["production"][cost]["lines"], estimate["production"][cost]["lines"]);
    }
    assert!(again["production"]["assumptions"]["prices"].as_array().expect("prices").iter().all(|p| p["status"] == "given"));
}

#[test]
fn null_leaves_a_rate_as_it_is() {
    let plain = service().estimate(&round_pad());
    for order in
        [json!(null), json!({}), json!({"rates": null}), json!({"rates": {"trim_s": null, "labour_per_hour": null, "thread_per_m": null}})]
    {
        assert_eq!(service().estimate(&with(round_pad(), "/production", order.clone())), plain, "{order}");
    }
}

const SETTINGS: &str = "shop = \"Nowhere Stitches\"\ncurrency = \"SEK\"\nheads = 6\n\n[rates]\nlabour_per_hour = 415.5\nmachine_per_head_hour = 70\n\
    trim_s = { low = 5, high = 8 }\n\n[rates.thread_per_m]\nsilver-polyamide-40-tex = 1.25\n";

#[test]
fn a_shop_serves_with_its_own_rates() {
    let folder = spare_folder();
    let file = folder.path().join("shop.toml");
    std::fs::write(&file, SETTINGS).expect("a file");
    let path = file.to_str().expect("a plain path");
    let served = [
        Process::start(&["serve", "--listen", "127.0.0.1:0", "--rates", path], &[]),
        Process::start(&["serve", "--listen", "127.0.0.1:0"], &[("TOILE_RATES", path)]),
    ];
    for process in &served {
        let rates = process.service().get("/api/v1/rates").ok();
        assert_eq!((&rates["shop"], &rates["currency"], &rates["heads"]), (&json!("Nowhere Stitches"), &json!("SEK"), &json!(6)));
        let production = process.service().estimate(&with(round_pad(), "/quantity", json!(50)))["production"].clone();
        assert_eq!((&production["currency"], &production["series"]["heads"]), (&json!("SEK"), &json!(6)));
        adds_up(&production["series"]);
        let line = |what: &str| production["series"]["lines"].as_array().expect("lines").iter().find(|l| l["what"] == what).cloned();
        assert_eq!(line("labour").expect("labour is charged")["rate"], "415.50");
        assert_eq!(line("silver-coated polyamide, 40 tex").expect("thread is charged")["rate"], "1.25");
        // What the shop does not charge is not made up.
        assert!(line("terminals and patches").is_none() && line("margin").is_none(), "{production}");
        // Another currency is another shop's: the euro now needs an exchange rate.
        let euro = with(round_pad(), "/production/currency", json!("EUR"));
        assert_eq!(process.service().post("/api/v1/estimates", &euro).problem().pointers(), ["/production/exchange_rate"]);
    }
}

#[test]
fn settings_with_faults_stop_the_start_and_name_every_fault() {
    let folder = spare_folder();
    let write = |name: &str, text: &str| {
        let file = folder.path().join(name);
        std::fs::write(&file, text).expect("a file");
        file.to_str().expect("a plain path").to_owned()
    };
    let missing = folder.path().join("none.toml").to_str().expect("a plain path").to_owned();
    for (path, words) in [
        (missing, vec!["none.toml"]),
        (write("broken.toml", "currency = "), vec!["TOML"]),
        (write("empty.json", "{}"), vec!["/currency", "missing"]),
        (write("list.json", "[1]"), vec!["a list"]),
        (
            write("faulty.toml", "currency = \"EUR\"\nheads = 0\n[rates]\ntrim = 7\nlabour_per_hour = -1"),
            vec!["/heads", "/rates/trim", "/rates/labour_per_hour", "0 to 1000000"],
        ),
        (write("coin.json", "{\"currency\": \"XYZ\"}"), vec!["/currency", "ISO 4217"]),
    ] {
        for command in [&["serve", "--listen", "127.0.0.1:0"][..], &["batch", "-", "-o", "-"]] {
            let arguments: Vec<&str> = command.iter().copied().chain(["--rates", &path]).collect();
            let output = run(&arguments, &[]);
            let told = String::from_utf8_lossy(&output.stderr);
            assert_eq!(output.status.code(), Some(1), "{path}: {told}");
            for word in &words {
                assert!(told.contains(word), "{word}: {told}");
            }
        }
    }
}
