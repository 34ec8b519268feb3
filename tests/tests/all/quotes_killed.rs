//! The service killed again and again while quotes are written: none that was acknowledged is lost, none is half there, and a
//! request that is sent again with its key is done once.
//!
//! The number of kills is a setting: `TOILE_KILLS=200 cargo test -p toile-tests -- --ignored quotes_killed`.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use serde_json::Value;
use toile_tests::{Postgres, Process, spare_folder};

use crate::quotes::draft;

const WRITERS: usize = 4;

#[test]
#[ignore = "kills the service many times; run by .ci/run"]
fn no_acknowledged_quote_is_lost_and_none_is_half_there() {
    let folder = spare_folder();
    killed(kills(), &[("TOILE_DATA", folder.path().to_str().expect("a path in UTF-8"))]);
}

#[test]
#[ignore = "needs PostgreSQL"]
fn no_acknowledged_quote_is_lost_on_postgres() {
    let database = Postgres::shared().database();
    killed(kills(), &[("TOILE_DATABASE", &database.url())]);
}

fn kills() -> u32 {
    std::env::var("TOILE_KILLS").map_or(10, |count| count.parse().expect("TOILE_KILLS is a number"))
}

/// Kills a service with these settings so many times while it writes quotes.
fn killed(kills: u32, environment: &[(&str, &str)]) {
    let start = || Process::start(&["serve", "--listen", "127.0.0.1:0", "--log", "error"], environment);
    let begun = Instant::now();
    // What was acknowledged, by key; what was asked for without an answer, to be asked for again.
    let mut acknowledged: BTreeMap<String, Value> = BTreeMap::new();
    let mut unanswered: Vec<String> = Vec::new();
    let (mut repeated, mut done_before) = (0, 0);
    let next = AtomicUsize::new(0);
    for kill in 0..kills {
        let process = start();
        let address = process.service().address();
        // Requests whose answer got lost come again first: with the same key they are done once, now or before the kill.
        for key in std::mem::take(&mut unanswered) {
            let before = process.service().get(&format!("/api/v1/quotes?customer_reference={key}")).ok();
            let before = before["quotes"].as_array().expect("a list").len();
            assert!(before <= 1, "{key} was kept {before} times");
            let (status, body) = keep(address, &key).expect("the service answers");
            assert_eq!(status, 201, "{body}");
            acknowledged.insert(key, body);
            repeated += 1;
            done_before += before;
        }
        let stop = AtomicBool::new(false);
        let (told, lost) = std::thread::scope(|scope| {
            let writers: Vec<_> = (0..WRITERS)
                .map(|_| {
                    scope.spawn(|| {
                        let (mut told, mut lost) = (Vec::new(), Vec::new());
                        while !stop.load(Ordering::Relaxed) {
                            let key = format!("k{}", next.fetch_add(1, Ordering::Relaxed));
                            match keep(address, &key) {
                                Some((201, body)) => told.push((key, body)),
                                Some((status, body)) => assert_eq!(status, 503, "{body}"),
                                None => lost.push(key),
                            }
                        }
                        (told, lost)
                    })
                })
                .collect();
            // Another moment each time, spread evenly over the first 150 ms by the golden ratio.
            let share = (f64::from(kill) * 0.618_033_988_75).fract();
            std::thread::sleep(Duration::from_secs_f64(0.02 + 0.13 * share));
            // Dropping it kills it (SIGKILL) and waits for its end.
            drop(process);
            stop.store(true, Ordering::Relaxed);
            let ends = writers.into_iter().map(|writer| writer.join().expect("a writer that does not panic"));
            ends.fold((Vec::new(), Vec::new()), |(mut told, mut lost), (t, l)| {
                told.extend(t);
                lost.extend(l);
                (told, lost)
            })
        });
        acknowledged.extend(told);
        unanswered.extend(lost);
    }
    let process = start();
    let mut kept: BTreeMap<String, Value> = BTreeMap::new();
    let mut after = String::new();
    loop {
        let page = process.service().get(&format!("/api/v1/quotes?limit=200&revisions=true{after}")).ok();
        for quote in page["quotes"].as_array().expect("a list") {
            let key = quote["customer_reference"].as_str().expect("a text").to_owned();
            assert!(kept.insert(key.clone(), quote.clone()).is_none(), "{key} was kept twice");
        }
        match page["next"].as_str() {
            Some(next) => after = format!("&after={next}"),
            None => break,
        }
    }
    for (key, told) in &acknowledged {
        assert_eq!(kept.get(key), Some(told), "{key} was acknowledged");
    }
    let mut numbers: Vec<&str> = kept.values().map(|quote| quote["number"].as_str().expect("a number")).collect();
    numbers.sort_unstable();
    let count = numbers.len();
    numbers.dedup();
    assert_eq!(numbers.len(), count, "a number was given out twice");
    // Whole: the estimate of every stored quote is read to its end, and it prints.
    for quote in kept.values() {
        let id = quote["id"].as_str().expect("an id");
        let whole = process.service().get(&format!("/api/v1/quotes/{id}")).ok();
        assert_eq!(whole["estimate"]["verdict"], quote["verdict"]);
        assert_eq!(whole["piece"], draft("")["piece"]);
    }
    assert!(kept.len() > kills as usize / 2, "{} quotes in {kills} kills are too few to tell anything", kept.len());
    println!(
        "{kills} kills in {:.0} s: {count} quotes kept, {} acknowledged, {repeated} sent again of which {done_before} had been kept before the kill",
        begun.elapsed().as_secs_f64(),
        acknowledged.len()
    );
}

/// Sends one request with its key as it is; nothing where the answer does not come whole.
fn keep(address: std::net::SocketAddr, key: &str) -> Option<(u16, Value)> {
    let client = reqwest::blocking::Client::builder().no_proxy().timeout(Duration::from_secs(30)).build().expect("a plain client");
    let request = client.post(format!("http://{address}/api/v1/quotes")).header("idempotency-key", key).json(&draft(key));
    let response = request.send().ok()?;
    let status = response.status().as_u16();
    let body = response.bytes().ok()?;
    Some((status, serde_json::from_slice(&body).ok()?))
}
