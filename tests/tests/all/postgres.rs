//! What needs a PostgreSQL server. On request only: `cargo test -p toile-tests -- --ignored postgres`.

use std::time::{Duration, Instant};

use toile_tests::{Database, Postgres, Process, Worker};

use super::jobs::{check_result, good_sheet, look, send, wait_for};
use super::webhooks::sending_is_shared;

#[test]
#[ignore = "needs PostgreSQL"]
fn every_test_has_an_empty_database_that_survives_a_crash_of_the_server() {
    let server = Postgres::start();
    let (mine, other) = (server.database(), server.database());
    mine.ask("create table seen (value bigint)");
    mine.ask("insert into seen values (7)");
    assert_eq!(other.ask("select count(*) from pg_tables where tablename = 'seen'"), "0");
    assert_eq!(mine.ask("show fsync"), "on");
    server.crash();
    server.resume();
    assert_eq!(mine.ask("select value from seen"), "7");
}

/// A service that only takes jobs in.
fn front(database: &Database) -> Process {
    Process::start(&["serve", "--listen", "127.0.0.1:0", "--workers", "0", "--database", &database.url()], &[])
}

/// A worker as on another machine: nothing in common but the database.
fn worker(database: &Database, lease_s: &str) -> Worker {
    Worker::start(&["--workers", "1", "--lease-s", lease_s, "--database", &database.url()], &[])
}

#[test]
#[ignore = "needs PostgreSQL"]
fn workers_of_several_machines_share_a_job() {
    let database = Postgres::shared().database();
    let toile = front(&database);
    let workers: Vec<Worker> = (0..3).map(|_| worker(&database, "5")).collect();
    let sheet = good_sheet(20_000, 10_000);
    let id = send(toile.service(), sheet.clone());
    check_result(toile.service(), &id, sheet.as_bytes());
    assert_ne!(database.ask("select count(distinct worker) from job_chunks"), "1");
    // Nothing was claimed twice, since nobody died.
    assert_eq!(database.ask("select max(attempts) from job_chunks"), "1");
    assert_eq!(database.ask("select count(*) from job_texts"), "0");
    for worker in workers {
        assert_eq!(worker.stop(), Some(0));
    }
    let gone = toile.service().send(toile.service().request("DELETE", &format!("/api/v1/jobs/{id}")));
    assert_eq!(gone.status, 200);
}

/// Kills workers of a job at random until so many are dead, each one replaced at once; then looks at every row.
///
/// The aim of a million rows and 50 kills takes minutes, and a release build:
/// `TOILE_KILL_ROWS=1000000 TOILE_KILLS=50 TOILE_KILL_PAUSE_MS=1200 TOILE_KILL_LEASE_S=5 cargo test --release -p toile-tests -- --ignored --nocapture postgres::no_row`.
#[test]
#[ignore = "needs PostgreSQL"]
fn no_row_is_lost_or_done_twice_when_workers_are_killed() {
    let setting = |name: &str, usual: u64| std::env::var(name).map_or(usual, |text| text.parse().expect("a whole number"));
    let (rows, kills) = (setting("TOILE_KILL_ROWS", 20_000) as usize, setting("TOILE_KILLS", 6));
    let pause = Duration::from_millis(setting("TOILE_KILL_PAUSE_MS", 500));
    let lease = setting("TOILE_KILL_LEASE_S", 2).to_string();
    let database = Postgres::shared().database();
    let toile = front(&database);
    let sheet = good_sheet(rows, rows);
    let mut workers: Vec<Worker> = (0..3).map(|_| worker(&database, &lease)).collect();
    let started = Instant::now();
    let id = send(toile.service(), sheet.clone());
    println!("sent after {:.1} s", started.elapsed().as_secs_f64());
    // Fixed is the order in which workers die; the moment no test can repeat.
    let mut random = 0x2545_f491_4f6c_dd1d_u64;
    for killed in 0..kills {
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        std::thread::sleep(pause.mul_f64(0.5 + (random >> 32) as f64 / f64::from(u32::MAX)));
        let job = look(toile.service(), &id);
        assert_eq!(job["state"], "running", "the job ended after {killed} kills of {kills}: {job}");
        let victim = (random % 3) as usize;
        workers[victim].kill();
        workers[victim] = worker(&database, &lease);
    }
    let job = wait_for(toile.service(), &id);
    println!("{rows} rows, {kills} kills, {:.1} s in all: {job}", started.elapsed().as_secs_f64());
    // Every row once and in its place.
    check_result(toile.service(), &id, sheet.as_bytes());
    assert_eq!(database.ask("select count(*) from job_answers where place >= 0"), database.ask("select chunks_all from jobs"));
    let claims = database.ask("select attempts, count(*) from job_chunks group by 1 order by 1");
    println!("claims of a chunk, and how many had so many: {}", claims.replace('\n', ", "));
    assert_ne!(database.ask("select max(attempts) from job_chunks"), "1", "no kill hit a chunk; this run shows nothing");
}

#[test]
#[ignore = "needs PostgreSQL"]
fn the_rows_of_a_dead_worker_are_taken_over_within_ten_seconds() {
    let database = Postgres::shared().database();
    let toile = front(&database);
    let sheet = good_sheet(6000, 6000);
    let mut first = worker(&database, "5");
    let id = send(toile.service(), sheet.clone());
    let held = "select count(*) from job_chunks where done = 0 and lease <> ''";
    let until = Instant::now() + Duration::from_secs(30);
    while database.ask(held) == "0" {
        assert!(Instant::now() < until, "{}", first.log());
    }
    first.kill();
    let died = Instant::now();
    assert_eq!(database.ask(held), "1", "the worker died between two chunks");
    let _second = worker(&database, "5");
    while database.ask("select count(*) from job_chunks where attempts > 1") == "0" {
        assert!(died.elapsed() < Duration::from_secs(10), "not taken over");
        std::thread::sleep(Duration::from_millis(50));
    }
    println!("taken over after {:.1} s", died.elapsed().as_secs_f64());
    check_result(toile.service(), &id, sheet.as_bytes());
}

#[test]
#[ignore = "needs PostgreSQL"]
fn a_job_goes_on_when_the_database_comes_back() {
    let server = Postgres::start();
    let database = server.database();
    let toile = front(&database);
    let workers: Vec<Worker> = (0..2).map(|_| worker(&database, "2")).collect();
    let sheet = good_sheet(30_000, 30_000);
    let id = send(toile.service(), sheet.clone());
    for crash in [false, true] {
        let until = Instant::now() + Duration::from_secs(60);
        let before = look(toile.service(), &id)["rows_done"].as_u64().expect("a number");
        while look(toile.service(), &id)["rows_done"].as_u64() == Some(before) {
            assert!(Instant::now() < until, "{}", workers[0].log());
            std::thread::sleep(Duration::from_millis(20));
        }
        if crash {
            server.crash()
        } else {
            server.stop()
        }
        let away = toile.service().get(&format!("/api/v1/jobs/{id}"));
        assert_eq!((away.status, away.header("retry-after").is_empty()), (503, false), "{}", away.text());
        let refused = toile.service().post_bytes("/api/v1/jobs", "text/csv", good_sheet(10, 3));
        assert_eq!(refused.status, 503, "{}", refused.text());
        server.resume();
    }
    check_result(toile.service(), &id, sheet.as_bytes());
    for worker in workers {
        assert_eq!(worker.stop(), Some(0));
    }
}

/// Something in its rows ends whoever works on a chunk. Here somebody else does, as often as it takes.
#[test]
#[ignore = "needs PostgreSQL"]
fn a_chunk_that_ends_its_workers_is_given_up_in_words() {
    let database = Postgres::shared().database();
    let toile = front(&database);
    let sheet = good_sheet(4500, 30);
    let id = send(toile.service(), sheet);
    // As five workers leave it that claimed the second chunk and died.
    database.ask("update job_chunks set attempts = 5 where place = 1");
    let _worker = worker(&database, "2");
    let job = wait_for(toile.service(), &id);
    assert_eq!((&job["state"], &job["counts"]["problems"]), (&"finished".into(), &2000.into()), "{job}");
    let answer = toile.service().get(&format!("/api/v1/jobs/{id}/result"));
    let text = answer.text();
    let refused: Vec<&str> = text.lines().filter(|line| line.contains("broke off again and again")).collect();
    assert_eq!((refused.len(), text.lines().count()), (2000, 4501));
    assert!(refused[0].starts_with("2000;") && refused[1999].starts_with("3999;"), "{} {}", refused[0], refused[1999]);
}

#[test]
#[ignore = "needs PostgreSQL"]
fn two_machines_share_the_sending_of_events() {
    let database = Postgres::shared().database();
    let start = || {
        Process::start(
            &["serve", "--listen", "127.0.0.1:0", "--workers", "0", "--allow-private-webhooks", "--database", &database.url()],
            &[],
        )
    };
    sending_is_shared([start(), start()]);
    assert_eq!(database.ask("select max(attempts) from deliveries"), "1");
}
