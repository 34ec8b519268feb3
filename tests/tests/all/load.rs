//! More to do than can be done, slow clients, and a stop: who is let in, who is told to come back, who is cut off.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use toile::config::Limits;
use toile_tests::{Answer, Process, Service, demo, limits, round_pad, wait_for, with};

use super::access::key_add;

/// A question that takes long enough for others to queue behind it: solved anew for every `k`.
fn heavy(k: usize) -> Value {
    let cover = 0.5 + k as f64 * 1e-4;
    json!({
        "ground": "sheet",
        "base": [{"thickness_mm": 3.0, "relative_permittivity": 1.4}],
        "overlay": [{"thickness_mm": cover, "relative_permittivity": 1.4}],
        "conductors": [
            {"name": "a", "plane": "stitched", "shape": {"kind": "rectangle", "width_mm": 20.0, "length_mm": 20.0, "corner_radius_mm": 3.0}, "centre_mm": [0.0, 0.0]},
            {"name": "b", "plane": "stitched", "shape": {"kind": "rectangle", "width_mm": 20.0, "length_mm": 20.0, "corner_radius_mm": 3.0}, "centre_mm": [24.0, 0.0]}
        ],
        "method": "field", "relative_tolerance": 0.001
    })
}

#[track_caller]
fn is_told_to_come_back(answer: &Answer) {
    assert_eq!(answer.status, 503, "{}", answer.text());
    let after: u64 = answer.header("retry-after").parse().expect("seconds");
    assert!((1..=60).contains(&after), "{after}");
    answer.problem();
}

#[test]
fn a_full_line_sheds_and_what_is_let_in_is_answered() {
    let own = Service::start(Limits { most_waiting: 1, longest_wait: Duration::from_secs(20), ..limits() });
    let done = AtomicBool::new(false);
    let (answers, saw_full) = std::thread::scope(|scope| {
        let ready = scope.spawn(|| {
            let mut saw_full = false;
            while !done.load(Ordering::Relaxed) {
                let answer = own.get("/health/ready");
                saw_full |= answer.status == 503 && answer.text().contains("line: it is full");
            }
            saw_full
        });
        let asking: Vec<_> = (0..24)
            .map(|k| {
                scope.spawn({
                    let own = &own;
                    move || own.post("/api/v1/solve/capacitance", &heavy(k))
                })
            })
            .collect();
        let answers: Vec<Answer> = asking.into_iter().map(|one| one.join().expect("an answer")).collect();
        done.store(true, Ordering::Relaxed);
        (answers, ready.join().expect("a lookout"))
    });
    let (served, shed): (Vec<_>, Vec<_>) = answers.iter().partition(|answer| answer.status == 200);
    assert!(!served.is_empty() && !shed.is_empty(), "{} served, {} shed", served.len(), shed.len());
    shed.into_iter().for_each(is_told_to_come_back);
    assert!(saw_full, "readiness told of the full line");
    // Nothing is left of it.
    wait_for(|| (own.get("/health/ready").status == 200).then_some(()));
    own.post("/api/v1/solve/capacitance", &heavy(100)).ok();
}

#[test]
fn estimates_that_need_no_heavy_work_go_on_meanwhile() {
    let own = Service::start(Limits { most_waiting: 1, ..limits() });
    let quick = with(round_pad(), "/method", json!("closed_form"));
    std::thread::scope(|scope| {
        let asking: Vec<_> = (0..12)
            .map(|k| {
                scope.spawn({
                    let own = &own;
                    move || own.post("/api/v1/solve/capacitance", &heavy(200 + k))
                })
            })
            .collect();
        for _ in 0..20 {
            own.estimate(&quick);
        }
        asking.into_iter().for_each(|one| drop(one.join().expect("an answer")));
    });
}

/// The head of a request, and as much of it as is wanted.
fn say(address: SocketAddr, text: &str) -> TcpStream {
    let mut stream = TcpStream::connect(address).expect("the service answers");
    stream.set_read_timeout(Some(Duration::from_secs(60))).expect("a timeout");
    stream.write_all(text.as_bytes()).expect("taken");
    stream
}

/// Everything until the service ends the connection.
fn rest(mut stream: TcpStream) -> String {
    let mut bytes = Vec::new();
    // A connection that is reset ends as well.
    let _ = stream.read_to_end(&mut bytes);
    String::from_utf8_lossy(&bytes).into_owned()
}

const LIVE: &str = "GET /health/live HTTP/1.1\r\nHost: localhost\r\n\r\n";

#[test]
fn a_connection_too_many_is_told_so() {
    let own = Service::start(Limits { connections: 3, ..limits() });
    let held: Vec<TcpStream> = (0..3)
        .map(|_| {
            let mut stream = say(own.address(), LIVE);
            let count = stream.read(&mut [0; 1024]).expect("an answer");
            assert!(count > 0, "it is open");
            stream
        })
        .collect();
    let told = rest(say(own.address(), LIVE)).to_lowercase();
    assert!(told.starts_with("http/1.1 503") && told.contains("retry-after: 1") && told.contains("connection: close"), "{told}");
    assert!(told.contains("application/problem+json"), "{told}");
    drop(held);
    wait_for(|| {
        rest(say(own.address(), "GET /health/live HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"))
            .starts_with("HTTP/1.1 200")
            .then_some(())
    });
}

#[test]
fn a_client_that_says_nothing_is_cut_off() {
    let own = Service::start(Limits { silence: Duration::from_millis(300), ..limits() });
    for (what, said, answered) in
        [("nothing", "", false), ("half a head", "POST /api/v1/estimates HTTP/1.1\r\nHos", false), ("nothing more", LIVE, true)]
    {
        let heard = rest(say(own.address(), said));
        assert_eq!(heard.starts_with("HTTP/1.1 200"), answered, "{what}: {heard}");
    }
    // One who keeps talking is not, however long his answer takes.
    own.post("/api/v1/solve/capacitance", &heavy(300)).ok();
}

#[test]
fn an_upload_that_drips_is_cut_off() {
    let own = Service::start(Limits { timeout: Duration::from_secs(1), ..limits() });
    let head = "POST /api/v1/batches HTTP/1.1\r\nHost: localhost\r\nContent-Type: text/csv\r\nContent-Length: 100000\r\n\r\n";
    let mut stream = say(own.address(), head);
    // Never silent for long, and never done.
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(30) && stream.write_all(b"x").is_ok() {
        std::thread::sleep(Duration::from_millis(100));
        stream.set_read_timeout(Some(Duration::from_millis(1))).expect("a timeout");
        if matches!(stream.peek(&mut [0; 1]), Ok(count) if count > 0) {
            break;
        }
    }
    let mut heard = [0; 4096];
    stream.set_read_timeout(Some(Duration::from_secs(20))).expect("a timeout");
    let count = stream.read(&mut heard).expect("an answer");
    let heard = String::from_utf8_lossy(&heard[..count]).into_owned();
    assert!(heard.starts_with("HTTP/1.1 400") && heard.contains("application/problem+json"), "{heard}");
}

#[test]
fn a_client_that_takes_nothing_of_its_answer_is_cut_off() {
    let own = Service::start(Limits { silence: Duration::from_millis(500), ..limits() });
    // More than the buffers on the way hold.
    let row = format!("p,wool-felt,3,wool-felt,24,silver-polyamide-40-tex,180,patient-input,{}\n", "a long note ".repeat(500));
    let rows = 6_000;
    let sheet = "part,base_1,base_1_thickness_mm,overlay_1,diameter_mm,thread,run_length_mm,controller,note\n".to_owned()
        + row.repeat(rows).as_str();
    let head =
        format!("POST /api/v1/batches HTTP/1.1\r\nHost: localhost\r\nContent-Type: text/csv\r\nContent-Length: {}\r\n\r\n", sheet.len());
    let mut stream = say(own.address(), &head);
    stream.write_all(sheet.as_bytes()).expect("all of it is taken before a byte is read");
    // What is said into a connection that was given up comes back as a reset.
    wait_for(|| {
        std::thread::sleep(Duration::from_millis(100));
        stream.write_all(b"\r\n").err()
    });
    let heard = rest(stream);
    assert!(heard.len() < sheet.len(), "{} of {} bytes", heard.len(), sheet.len());
    own.get("/health/live").ok();
}

#[test]
fn bodies_in_memory_are_bounded() {
    let own = Service::start(Limits { body_bytes: 64 * 1024, ..limits() });
    let head = "POST /api/v1/estimates HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 65536\r\n\r\n{";
    // There is room for 64 of them: once one of the others has been refused, there is none for anybody.
    let held: Vec<TcpStream> = (0..72).map(|_| say(own.address(), head)).collect();
    for one in &held {
        one.set_nonblocking(true).expect("a socket option");
    }
    wait_for(|| held.iter().any(|one| one.peek(&mut [0]).is_ok_and(|bytes| bytes > 0)).then_some(()));
    is_told_to_come_back(&own.post("/api/v1/estimates", &demo()));
    drop(held);
    wait_for(|| (own.post("/api/v1/estimates", &demo()).status == 200).then_some(()));
}

#[test]
fn another_protocol_is_turned_down() {
    let own = Service::start(Limits { silence: Duration::from_millis(500), ..limits() });
    for said in ["PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", "\u{16}\u{3}\u{1}\u{2}\u{0}\u{1}", "GET / HTTP/9.9\r\n\r\n"] {
        let heard = rest(say(own.address(), said));
        assert!(heard.is_empty() || heard.starts_with("HTTP/1.1 4") || heard.starts_with("HTTP/1.1 5"), "{said:?}: {heard}");
    }
    own.get("/health/live").ok();
}

#[test]
fn a_stop_is_told_by_readiness_before_the_port_closes() {
    let mut process = Process::start(&["serve", "--listen", "127.0.0.1:0", "--stop-notice-s", "3"], &[]);
    let service = Service::at(process.service().address());
    service.get("/health/ready").ok();
    process.ask_to_stop();
    let told = wait_for(|| Some(service.get("/health/ready")).filter(|answer| answer.status == 503));
    is_told_to_come_back(&told);
    assert!(told.text().contains("running: the service is stopping"), "{}", told.text());
    // What comes meanwhile is still answered.
    service.get("/health/live").ok();
    service.estimate(&demo());
    assert_eq!(process.wait(), Some(0), "{}", process.log());
}

#[test]
fn the_metrics_tell_what_is_waiting() {
    let own = Service::start(limits());
    own.estimate(&demo());
    let answer = own.get("/metrics");
    for line in [
        "toile_build_info{version=\"",
        "toile_line_places{line=\"heavy\"} ",
        "toile_line_waiting{line=\"batch\"} ",
        "toile_line_turned_away_total{line=\"heavy\"} ",
        "toile_line_flooded{line=\"heavy\"} ",
        "toile_wait_seconds_bucket{line=\"heavy\",le=\"0.001\"} ",
        "toile_connections ",
        "toile_connections_refused_total ",
        "toile_database_up ",
        "toile_database_connections{state=\"idle\"} ",
        "toile_jobs{state=\"running\"} ",
        "toile_job_chunks{state=\"open\"} ",
        "toile_webhook_deliveries{state=\"parked\"} ",
        "toile_resident_bytes ",
        "toile_stopping ",
    ] {
        assert!(answer.text().contains(line), "{line} is not in\n{}", answer.text());
    }
    // Nothing that was sent is a label.
    assert!(!answer.text().contains("Bellweather"));
}

#[test]
fn a_caller_who_floods_leaves_room_for_another() {
    let process = Process::start(&["serve", "--listen", "127.0.0.1:0", "--waiting", "8", "--wait-ms", "20000"], &[]);
    let [greedy, modest] = ["estimator", "estimator"].map(|role| key_add(&process, role, &[]));
    let service = process.service();
    let ask = |key: &str, k: usize| {
        let asked = service.request("POST", "/api/v1/solve/capacitance").header("authorization", format!("Bearer {key}"));
        service.send(asked.header("content-type", "application/json").body(heavy(k).to_string())).status
    };
    let done = AtomicBool::new(false);
    std::thread::scope(|scope| {
        // Twice as many as there is room for, all the time.
        let flood: Vec<_> = (0..16)
            .map(|one| {
                let (ask, done, greedy) = (&ask, &done, &greedy);
                scope.spawn(move || {
                    let (mut served, mut shed) = (0, 0);
                    for k in 0.. {
                        match ask(greedy, 1000 * (one + 1) + k) {
                            200 => served += 1,
                            503 => shed += 1,
                            other => panic!("status {other}"),
                        }
                        if done.load(Ordering::Relaxed) {
                            break;
                        }
                        std::thread::sleep(Duration::from_millis(5));
                    }
                    (served, shed)
                })
            })
            .collect();
        std::thread::sleep(Duration::from_millis(500));
        // The one who asks for little is never turned away, whoever else stands there.
        let statuses: Vec<u16> = (0..6).map(|k| ask(&modest, 30_000 + k)).collect();
        done.store(true, Ordering::Relaxed);
        let (served, shed) = flood.into_iter().map(|one| one.join().expect("a flood")).fold((0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
        assert!(served > 0 && shed > 0, "a flood: {served} served, {shed} shed");
        assert_eq!(statuses, [200; 6], "{served} and {shed} of the other");
    });
    // Who asked how is a label, which key is not.
    let metrics = service.send(service.request("GET", "/metrics").header("authorization", format!("Bearer {modest}")));
    assert!(metrics.text().contains("role=\"estimator\""), "{}", metrics.text());
    assert!(!metrics.text().contains(&greedy[..16]), "{}", metrics.text());
}
