//! The log: structured, told apart by request and trace, and without what customers wrote.

use serde_json::{Value, json};
use toile_tests::{Process, demo, with};

/// Marks that stand in everything that is sent below and must stand nowhere in the log.
const MARKS: [&str; 6] = ["MARKED-NAME", "MARKED-PAD", "MARKED-KEY", "MARKED-NOTE", "MARKED-QUERY", "MARKED-FIELD"];

#[test]
fn the_log_holds_neither_secrets_nor_what_customers_wrote() {
    // As much as can be asked for, of everything.
    let process = Process::start(&["serve", "--listen", "127.0.0.1:0", "--log", "trace"], &[]);
    let service = process.service();
    let piece = with(with(demo(), "/name", json!("MARKED-NAME")), "/pads/0/name", json!("MARKED-PAD"));
    service.estimate(&piece);
    let with_key = |path: &str, body: Value| {
        let asked = service.request("POST", path).header("authorization", "Bearer MARKED-KEY").header("content-type", "application/json");
        service.send(asked.body(body.to_string())).status
    };
    with_key("/api/v1/estimates", piece.clone());
    with_key("/api/v1/estimates?working=MARKED-QUERY", piece.clone());
    with_key("/api/v1/estimates", with(piece.clone(), "/pads/0/MARKED-FIELD", json!("MARKED-NOTE")));
    with_key("/api/v1/estimates", json!({"name": "MARKED-NOTE"}));
    with_key("/api/v1/quotes", json!({"customer_reference": "MARKED-NAME", "terms": "MARKED-NOTE", "piece": piece}));
    service.batch("part,note,diameter_mm\nMARKED-PAD,MARKED-NOTE,20\n");
    service.batch("MARKED-NOTE\n\"MARKED-NAME");
    service.get("/MARKED-QUERY?q=MARKED-QUERY");
    service.get("/health/ready").ok();
    let log = process.log();
    assert!(log.lines().count() >= 9, "{log}");
    for mark in MARKS {
        let line = log.lines().find(|line| line.contains(mark));
        assert!(line.is_none(), "{mark} is logged: {line:?}");
    }
}

#[test]
fn a_line_is_found_by_request_and_by_trace() {
    let process = Process::on_free_port();
    let service = process.service();
    // The example of the standard (W3C Trace Context, level 1, 3.2.1).
    let asked = service
        .request("POST", "/api/v1/estimates")
        .header("x-request-id", "call-42")
        .header("traceparent", "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01")
        .header("content-type", "application/json")
        .body(demo().to_string());
    let answer = service.send(asked);
    assert_eq!(answer.status, 200);
    let told = answer.header("traceparent");
    assert!(told.starts_with("00-4bf92f3577b34da6a3ce929d0e0e4736-") && !told.contains("00f067aa0ba902b7"), "{told}");
    let log = process.log();
    let line: Value =
        log.lines().find(|line| line.contains("call-42")).map(|line| serde_json::from_str(line).expect("JSON lines")).expect("a line");
    assert_eq!((&line["id"], &line["trace"]), (&json!("call-42"), &json!("4bf92f3577b34da6a3ce929d0e0e4736")), "{line}");
    assert_eq!((&line["route"], &line["status"]), (&json!("/api/v1/estimates"), &json!(200)), "{line}");
    assert!(line["role"].is_string() && line["timestamp"].is_string() && line["level"] == "INFO", "{line}");
}
