//! The service around the answers: health, metrics, headers, limits, the page's files, starting, stopping, the command
//! line.

use std::collections::BTreeSet;
use std::fs;
use std::io::{Read, Write};
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::path::Path;
use std::process::Output;
use std::time::{Duration, Instant};

use clap::{CommandFactory, Parser};
use serde_json::Value;
use toile::config::{Cli, Command, Limits};
use toile_tests::{
    Answer, Process, Service, batch_command, demo, files_under, limits, raw_exchange, read_text, root, round_pad, run, service,
    spare_folder,
};

/// A small good sheet: header, then rows.
const HEADER: &str = "part,base_1,base_1_thickness_mm,overlay_1,diameter_mm,thread,run_length_mm,controller,note\n";

fn sheet(rows: usize, note: &str) -> String {
    let row = |k: usize| format!("p{k},wool-felt,3,wool-felt,{},silver-polyamide-40-tex,180,patient-input,{note}\n", 20 + k % 7);
    std::iter::once(HEADER.to_owned()).chain((0..rows).map(row)).collect()
}

#[test]
fn health_is_told() {
    for path in ["/health/live", "/health/ready"] {
        assert_eq!(service().get(path).ok(), serde_json::json!({"status": "ok"}));
    }
}

#[test]
fn metrics_count_what_was_asked() {
    let count = |text: &str| -> f64 {
        let wanted = ["toile_requests_total{", "method=\"POST\"", "route=\"/api/v1/solve/rows\"", "status=\"422\""];
        let line = text.lines().find(|line| wanted.iter().all(|w| line.contains(w)));
        line.and_then(|l| l.rsplit(' ').next()).map_or(0.0, |n| n.parse().expect("a count"))
    };
    let metrics = || {
        let answer = service().get("/metrics");
        assert_eq!(answer.status, 200);
        assert!(answer.header("content-type").starts_with("text/plain; version=0.0.4"), "{}", answer.header("content-type"));
        answer.text().to_owned()
    };
    let before = count(&metrics());
    assert_eq!(service().post("/api/v1/solve/rows", &serde_json::json!({})).status, 422);
    // Other tests ask the same router meanwhile, so the count may have grown by more.
    let after = metrics();
    assert!(count(&after) >= before + 1.0, "{before} then {}", count(&after));
    assert!(after.contains("toile_request_seconds_bucket{route=\"/api/v1/solve/rows\",le=\"0.001\"}"), "{after}");
    // Made-up addresses and methods make no new series.
    let nowhere = service().send(service().request("BREW", "/a-made-up-address"));
    assert_eq!(nowhere.status, 404, "{}", nowhere.text());
    let text = metrics();
    assert!(!text.contains("a-made-up-address") && !text.contains("BREW"), "{text}");
}

#[test]
fn a_request_has_an_id() {
    let with_id =
        |id: &str| service().send(service().request("GET", "/health/live").header("x-request-id", id)).header("x-request-id").to_owned();
    assert_eq!(with_id("call-17.b_3"), "call-17.b_3");
    let made = service().get("/health/live").header("x-request-id").to_owned();
    assert!(made.len() == 36 && made.chars().all(|c| c.is_ascii_hexdigit() || c == '-'), "{made}");
    assert_ne!(made, service().get("/health/live").header("x-request-id"));
    for odd in ["with space", "x\"y", "a/b", &"x".repeat(65)] {
        let id = with_id(odd);
        assert!(id != odd && id.len() == 36, "{odd} came back as {id}");
    }
    // Refusals have one too: it is what a caller quotes.
    assert!(!service().get("/nothing").header("x-request-id").is_empty());
}

#[test]
fn every_answer_keeps_the_browser_to_what_is_needed() {
    for answer in
        [service().get("/"), service().get("/api/v1/threads"), service().get("/nothing"), service().post("/api/v1/estimates", &Value::Null)]
    {
        let policy = answer.header("content-security-policy");
        for part in [
            "default-src 'none'",
            "script-src 'self'",
            "connect-src 'self'",
            "base-uri 'none'",
            "frame-ancestors 'none'",
            "form-action 'self'",
        ] {
            assert!(policy.split("; ").any(|p| p == part), "{part} in {policy}");
        }
        assert!(!policy.contains("unsafe") && !policy.contains('*') && !policy.contains("http"), "{policy}");
        for (name, value) in [
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "no-referrer"),
            ("cross-origin-opener-policy", "same-origin"),
            ("cross-origin-resource-policy", "same-origin"),
        ] {
            assert_eq!(answer.header(name), value, "{name}");
        }
        assert!(answer.header("permissions-policy").contains("camera=()"));
        assert!(answer.header("server").is_empty(), "the answer names its software");
    }
    // The reference is a library's page; it may style itself and nothing more.
    let policy = service().get("/reference/").header("content-security-policy").to_owned();
    assert!(policy.contains("script-src 'self'; style-src 'self' 'unsafe-inline'; "), "{policy}");
    assert_eq!(policy.matches("unsafe").count(), 1, "{policy}");
}

#[test]
fn the_page_comes_from_the_binary_with_tags() {
    // Pictures are for the README and not part of the page.
    let files: Vec<_> = files_under("web").into_iter().filter(|f| !f.starts_with("web/pictures")).collect();
    assert!(files.len() > 20, "{files:?}");
    for file in files {
        let name = file.strip_prefix("web").expect("under web").to_string_lossy().into_owned();
        let answer = service().get(&format!("/{name}"));
        assert_eq!(answer.status, 200, "{name}");
        assert_eq!(answer.body, fs::read(root().join(&file)).expect("the file"), "{name}");
        let media_type = match file.extension().and_then(|e| e.to_str()) {
            Some("html") => "text/html; charset=utf-8",
            Some("css") => "text/css; charset=utf-8",
            Some("js") => "text/javascript; charset=utf-8",
            Some("json") => "application/json",
            Some("svg") => "image/svg+xml",
            other => panic!("{other:?} has no media type"),
        };
        assert_eq!(answer.header("content-type"), media_type, "{name}");
        let tag = answer.header("etag").to_owned();
        assert!(tag.len() > 10 && tag.starts_with('"'), "{name}: {tag}");
        let again = |tag: &str| service().send(service().request("GET", &format!("/{name}")).header("if-none-match", tag));
        let fresh = again(&tag);
        assert_eq!((fresh.status, fresh.body.len(), fresh.header("etag")), (304, 0, tag.as_str()), "{name}");
        assert_eq!(again("\"other\"").status, 200, "{name}");
    }
    assert_eq!(service().get("/").body, service().get("/index.html").body);
    assert_eq!(service().get("/pictures/demo.png").status, 404);
}

#[test]
fn a_tag_is_compared_as_caches_send_it() {
    let tag = service().get("/style.css").header("etag").to_owned();
    for sent in [format!("W/{tag}"), format!("\"other\", {tag}"), "*".to_owned()] {
        let answer = service().send(service().request("GET", "/style.css").header("if-none-match", &sent));
        assert_eq!(answer.status, 304, "{sent}");
    }
}

#[test]
fn head_is_get_without_a_body() {
    for path in ["/", "/js/main.js", "/api/v1/threads", "/health/live"] {
        let (get, head) = (service().get(path), service().send(service().request("HEAD", path)));
        assert_eq!((head.status, head.body.len()), (200, 0), "{path}");
        assert_eq!(head.header("content-type"), get.header("content-type"), "{path}");
    }
}

#[test]
fn the_reference_comes_from_the_binary_alone() {
    let bare = service().get("/reference");
    assert!([301, 302, 303, 307, 308].contains(&bare.status) || bare.status == 200, "{}", bare.status);
    let page = service().get("/reference/");
    assert_eq!(page.status, 200);
    assert!(page.header("content-type").starts_with("text/html"));
    let mut found = 0;
    for (_, rest) in page.text().match_indices("=\"").map(|(at, m)| (at, &page.text()[at + m.len()..])) {
        let address = rest.split('"').next().unwrap_or_default();
        assert!(!address.starts_with("http") && !address.starts_with("//"), "{address} lies elsewhere");
        if let Some(file) = address.strip_prefix("./").filter(|a| a.ends_with(".js") || a.ends_with(".css")) {
            assert_eq!(service().get(&format!("/reference/{file}")).status, 200, "{file}");
            found += 1;
        }
    }
    assert!(found >= 3, "{found} files");
    assert!(service().get("/reference/swagger-initializer.js").text().contains("/api/v1/openapi.json"));
}

#[test]
fn garbage_is_answered_and_harms_nobody() {
    let lines = [
        "GET /% HTTP/1.1".to_owned(),
        "GET /%zz%00%ff HTTP/1.1".into(),
        "GET //////.. HTTP/1.1".into(),
        "GET /../../../etc/passwd HTTP/1.1".into(),
        "GET /js/..%2f..%2fCargo.toml HTTP/1.1".into(),
        format!("GET /{} HTTP/1.1", "a".repeat(60_000)),
        format!("GET /?{} HTTP/1.1", "working=".repeat(5_000)),
        "GET /reference/../../x HTTP/1.1".into(),
        "GET /reference/%2e%2e/x HTTP/1.1".into(),
        "FOO!BAR / HTTP/1.1".into(),
        "POST /api/v1/estimates?%ff=%fe HTTP/1.1".into(),
        "OPTIONS * HTTP/1.1".into(),
        "nonsense".into(),
    ];
    for line in lines {
        let (head, body) = raw_exchange(service().address(), &format!("{line}\r\nHost: localhost\r\nConnection: close\r\n\r\n"));
        let status: u16 = head.split(' ').nth(1).and_then(|s| s.parse().ok()).expect("a status");
        assert!((200..500).contains(&status), "{}: {head}\n{}", &line[..line.len().min(80)], String::from_utf8_lossy(&body));
        assert!(!String::from_utf8_lossy(&body).contains("[workspace]"), "{line} reached a file outside the page");
    }
    service().get("/health/live").ok();
}

#[test]
fn an_answer_that_takes_too_long_is_ended() {
    let hasty = Service::start(Limits { timeout: Duration::from_millis(300), ..limits() });
    let body = demo().to_string();
    // Half of a body, and then silence.
    for (path, media_type, status) in [("/api/v1/estimates", "application/json", 503), ("/api/v1/batches", "text/csv", 400)] {
        let mut stream = TcpStream::connect(hasty.address()).expect("the service answers");
        stream.set_read_timeout(Some(Duration::from_secs(20))).expect("a timeout");
        let head =
            format!("POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: {media_type}\r\nContent-Length: {}\r\n\r\n", body.len());
        stream.write_all(head.as_bytes()).expect("taken");
        stream.write_all(&body.as_bytes()[..200]).expect("taken");
        let mut answer = vec![0; 4096];
        let count = stream.read(&mut answer).expect("an answer");
        let text = String::from_utf8_lossy(&answer[..count]).to_lowercase();
        assert!(text.starts_with(&format!("http/1.1 {status}")), "{path}: {text}");
        assert!(text.contains("application/problem+json"), "{text}");
        assert_eq!(text.contains("retry-after: "), status == 503, "{text}");
    }
    hasty.get("/health/live").ok();
}

#[test]
fn a_sheet_may_be_as_large_as_the_setting_says() {
    let small = Service::start(Limits { sheet_bytes: 20_000, ..limits() });
    assert_eq!(small.batch(sheet(20, "fits")).status, 200);
    let refused = small.batch(sheet(20, &"x".repeat(2000)));
    assert_eq!(refused.status, 413, "{}", refused.text());
    assert!(refused.problem().words().contains("--sheet-mib"));
}

#[test]
fn no_more_batches_run_than_the_machine_takes() {
    let own = Service::start(limits());
    let cores = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
    let body = sheet(3, "held");
    // Some more than there are places: a question asked below may take one before all of these have come.
    let held: Vec<TcpStream> = (0..cores + 4)
        .map(|_| {
            let mut stream = TcpStream::connect(own.address()).expect("the service answers");
            let head = format!(
                "POST /api/v1/batches HTTP/1.1\r\nHost: localhost\r\nContent-Type: text/csv\r\nContent-Length: {}\r\n\r\n",
                body.len()
            );
            stream.write_all(head.as_bytes()).expect("taken");
            stream.write_all(&body.as_bytes()[..50]).expect("taken");
            stream
        })
        .collect();
    let refused = wait_for(|| Some(own.batch(body.clone())).filter(|a| a.status != 200));
    assert_eq!(refused.status, 503, "{}", refused.text());
    assert!(!refused.header("retry-after").is_empty());
    refused.problem();
    // Estimates go on meanwhile.
    own.estimate(&round_pad());
    drop(held);
    // Under load a connection may be turned away; what counts is that the places come free.
    let ask = || own.request("POST", "/api/v1/batches").header("content-type", "text/csv").body(body.clone());
    wait_for(|| ask().send().ok().filter(|answer| answer.status() == 200));
}

/// Asks again until there is an answer, for a while.
#[track_caller]
fn wait_for<T>(mut ask: impl FnMut() -> Option<T>) -> T {
    let until = Instant::now() + Duration::from_secs(20);
    loop {
        if let Some(found) = ask() {
            return found;
        }
        assert!(Instant::now() < until, "nothing has changed for too long");
        std::thread::sleep(Duration::from_millis(20));
    }
}

#[test]
fn a_client_that_sends_all_before_it_reads_is_answered() {
    // Far more than the buffers of both ends hold; the answer is longer than the question.
    let rows = 30_000;
    let body = sheet(rows, &"a long note of the shop ".repeat(85));
    assert!(body.len() > 60_000_000, "{}", body.len());
    let address = service().address();
    let (done, waiting) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        let mut stream = TcpStream::connect(address).expect("the service answers");
        let head =
            format!("POST /api/v1/batches HTTP/1.0\r\nHost: localhost\r\nContent-Type: text/csv\r\nContent-Length: {}\r\n\r\n", body.len());
        stream.write_all(head.as_bytes()).expect("taken");
        stream.write_all(body.as_bytes()).expect("all of it is taken before a byte is read");
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).expect("the answer ends");
        let _ = done.send(answer);
    });
    // It takes some seconds unoptimised on a busy machine; a deadlock takes for ever.
    let answer = waiting.recv_timeout(Duration::from_secs(150)).expect("both sides would wait for each other");
    let text = String::from_utf8_lossy(&answer);
    assert!(text.starts_with("HTTP/1.0 200"), "{}", &text[..500.min(text.len())]);
    let answered = text.lines().filter(|line| line.starts_with('p') && line.contains("comfortable")).count();
    assert_eq!(answered, rows);
}

// From here on: the real binary.

#[test]
fn the_binary_tells_its_address_and_logs_requests() {
    let process = Process::on_free_port();
    assert_eq!(process.announcement, format!("Toile answers at http://{}/", process.service().address()));
    assert_eq!(process.service().estimate(&demo()), service().estimate(&demo()));
    process.service().send(process.service().request("GET", "/health/live").header("x-request-id", "find-me"));
    let line: Value =
        wait_for(|| process.log().lines().find(|l| l.contains("find-me")).map(|l| serde_json::from_str(l).expect("JSON lines")));
    for (name, value) in [("route", Value::from("/health/live")), ("status", 200.into()), ("method", "GET".into())] {
        assert_eq!(line[name], value, "{line}");
    }
    assert!(line["microseconds"].is_number(), "{line}");
}

#[test]
fn settings_come_from_the_environment_too() {
    for arguments in [&[][..], &["serve"]] {
        let environment = [("TOILE_LISTEN", "127.0.0.1:0"), ("TOILE_BODY_KIB", "1"), ("TOILE_LOG", "error"), ("TOILE_LOG_FORMAT", "text")];
        let process = Process::start(arguments, &environment);
        assert_eq!(process.service().post_bytes("/api/v1/estimates", "application/json", " ".repeat(2000)).status, 413);
        assert_eq!(process.log(), "");
    }
}

#[test]
fn a_flag_before_the_command_is_not_lost() {
    let parsed = Cli::try_parse_from(["toile", "--listen", "127.0.0.1:9", "serve"]);
    let kept = match &parsed {
        Ok(Cli { command: Some(Command::Serve(serve)), .. }) => serve.listen.port() == 9,
        Ok(_) => false,
        // Refused with words is as good.
        Err(_) => true,
    };
    assert!(kept, "{parsed:?}");
}

#[test]
fn it_listens_on_this_machine_only_unless_told() {
    let cli = Cli::try_parse_from(["toile"]).expect("no argument is needed");
    assert_eq!(cli.serve.listen, "127.0.0.1:8460".parse::<SocketAddr>().expect("an address"));
    assert!(cli.serve.listen.ip().is_loopback());
}

#[test]
fn a_stop_lets_an_answer_under_way_end() {
    let mut process = Process::on_free_port();
    let body = demo().to_string();
    let mut stream = TcpStream::connect(process.service().address()).expect("the service answers");
    stream.set_read_timeout(Some(Duration::from_secs(20))).expect("a timeout");
    let head = format!(
        "POST /api/v1/estimates HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n",
        body.len()
    );
    stream.write_all(head.as_bytes()).expect("taken");
    stream.write_all(&body.as_bytes()[..100]).expect("taken");
    // A second connection shows that the first has been taken up.
    process.service().get("/health/live").ok();
    process.ask_to_stop();
    wait_for(|| process.log().contains("stopping").then_some(()));
    wait_for(|| TcpStream::connect(process.service().address()).err());
    stream.write_all(&body.as_bytes()[100..]).expect("still taken");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("the answer ends, and the connection with it");
    assert!(answer.starts_with("HTTP/1.1 200") && answer.ends_with('}'), "{answer}");
    assert_eq!(process.wait(), Some(0), "{}", process.log());
}

#[test]
fn a_stop_does_not_wait_for_idle_connections_nor_for_ever() {
    let mut idle = Process::on_free_port();
    idle.service().get("/health/live").ok();
    let _silent = TcpStream::connect(idle.service().address()).expect("the service answers");
    idle.ask_to_stop();
    assert_eq!(idle.wait(), Some(0), "{}", idle.log());

    let mut stuck = Process::on_free_port();
    let mut stream = TcpStream::connect(stuck.service().address()).expect("the service answers");
    stream
        .write_all(b"POST /api/v1/estimates HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 10\r\n\r\n{")
        .expect("taken");
    stuck.service().get("/health/live").ok();
    stuck.ask_to_stop();
    assert_eq!(stuck.wait(), Some(1));
    assert!(stuck.log().contains("were cut off"), "{}", stuck.log());
}

fn words(output: &Output) -> String {
    format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr))
}

#[test]
fn a_start_that_cannot_be_says_why() {
    let taken = TcpListener::bind("127.0.0.1:0").expect("a free port");
    let address = taken.local_addr().expect("an address").to_string();
    for (arguments, wanted) in [
        (&["serve", "--listen", address.as_str()][..], address.as_str()),
        (&["--listen", address.as_str()], address.as_str()),
        (&["serve", "--listen", "localhost"], "--listen"),
        (&["serve", "--listen", "127.0.0.1:0", "--log", "loud=="], "loud"),
        (&["serve", "--body-kib", "0"], "--body-kib"),
        (&["serve", "--no-such-flag"], "--no-such-flag"),
        (&["no-such-command"], "no-such-command"),
    ] {
        let output = run(arguments, &[]);
        assert!(!output.status.success(), "{arguments:?}");
        assert!(words(&output).contains(wanted), "{arguments:?}: {}", words(&output));
        assert!(!words(&output).contains("panicked"), "{arguments:?}: {}", words(&output));
    }
}

#[test]
fn help_tells_every_command_and_setting() {
    for (name, arguments) in [("help", &["--help"][..]), ("help_of_serve", &["serve", "--help"]), ("help_of_batch", &["batch", "--help"])] {
        let output = run(arguments, &[]);
        assert!(output.status.success());
        insta::assert_snapshot!(name, String::from_utf8(output.stdout).expect("help is UTF-8"));
    }
    let told = format!("{}{}", words(&run(&["--help"], &[])), words(&run(&["serve", "--help"], &[])));
    let known: BTreeSet<String> =
        Cli::command().get_arguments().filter_map(|a| a.get_env()).map(|name| name.to_string_lossy().into_owned()).collect();
    assert!(known.len() >= 7, "{known:?}");
    for name in known {
        assert!(name.starts_with("TOILE_"), "{name}");
        // A setting that may hold a password is told without what it is set to.
        let count = |end: &str| told.matches(&format!("[env: {name}{end}")).count();
        assert_eq!(count("=") + count("]"), 2, "{name}");
    }
    assert!(words(&run(&["--version"], &[])).contains(env!("CARGO_PKG_VERSION")));
}

fn in_folder(folder: &Path, name: &str) -> String {
    folder.join(name).to_string_lossy().into_owned()
}

/// What a folder holds, by name.
fn listed(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        fs::read_dir(folder).expect("a folder").map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

#[test]
fn a_batch_tells_by_its_exit_how_it_went() {
    let folder = spare_folder();
    let [good, mixed, answered] = ["good.csv", "mixed.csv", "answered.csv"].map(|n| in_folder(folder.path(), n));
    fs::write(&good, sheet(3, "fine")).expect("room");
    fs::write(&mixed, sheet(2, "fine") + "p9,velvet,3,wool-felt,20,silver-polyamide-40-tex,180,patient-input,odd\n").expect("room");

    let output = run(&["batch", &good, "-o", &answered], &[]);
    assert_eq!(output.status.code(), Some(0), "{}", words(&output));
    assert!(output.stdout.is_empty(), "{}", words(&output));
    assert!(String::from_utf8_lossy(&output.stderr).contains('3'), "how many rows were answered: {}", words(&output));
    assert_eq!(read_text(Path::new(&answered)).matches("comfortable").count(), 3);

    let output = run(&["batch", &mixed, "-o", &answered], &[]);
    assert_eq!(output.status.code(), Some(3), "{}", words(&output));
    let table = read_text(Path::new(&answered));
    assert!(table.contains("velvet") && table.matches(",comfortable,").count() == 2, "{table}");
    assert_eq!(listed(folder.path()), ["answered.csv", "good.csv", "mixed.csv"]);

    // Asking for the same file as input and output is one way of working, too.
    let output = run(&["batch", &good, "-o", &good], &[]);
    assert_eq!(output.status.code(), Some(0), "{}", words(&output));
    assert_eq!(read_text(Path::new(&good)).matches("comfortable").count(), 3);
}

#[test]
fn a_batch_that_cannot_be_leaves_nothing_half_done() {
    let folder = spare_folder();
    let [empty, broken, answered, missing] =
        ["empty.csv", "broken.csv", "answered.csv", "missing.csv"].map(|n| in_folder(folder.path(), n));
    fs::write(&empty, "").expect("room");
    // The quote that never closes is found long after the first rows were answered.
    fs::write(&broken, sheet(20_000, "fine") + "\"p,and no end").expect("room");
    fs::write(&answered, "the answer of yesterday").expect("room");
    let before = listed(folder.path());
    for (input, output, wanted) in [
        (&missing, &answered, "missing.csv"),
        (&empty, &answered, "empty"),
        (&broken, &answered, "quote"),
        (&empty, &in_folder(folder.path(), "no-such-folder/answered.csv"), "no-such-folder"),
    ] {
        let ran = run(&["batch", input, "-o", output], &[]);
        assert_eq!(ran.status.code(), Some(1), "{input}: {}", words(&ran));
        assert!(words(&ran).contains(wanted), "{wanted}: {}", words(&ran));
        assert_eq!(read_text(Path::new(&answered)), "the answer of yesterday", "{input}");
        assert_eq!(listed(folder.path()), before, "{input}");
    }
    assert_eq!(run(&["batch", &empty], &[]).status.code(), Some(2), "the output must be named");
}

#[test]
fn a_batch_goes_through_standard_input_and_output() {
    let output = batch_command(sheet(4, "piped").as_bytes());
    assert_eq!(output.status.code(), Some(0), "{}", words(&output));
    let table = String::from_utf8(output.stdout).expect("UTF-8");
    assert_eq!(table.lines().count(), 5, "{table}");
    assert!(table.lines().skip(1).all(|line| line.contains(",piped,comfortable,")), "{table}");
}

#[test]
fn the_answer_of_a_batch_is_a_file_to_save() {
    let answer: Answer = service().batch(sheet(2, "saved"));
    assert_eq!(answer.status, 200, "{}", answer.text());
    assert!(answer.header("content-type").starts_with("text/csv"), "{}", answer.header("content-type"));
    assert!(answer.header("content-disposition").starts_with("attachment; filename="), "{}", answer.header("content-disposition"));
}

#[test]
fn a_client_that_leaves_early_frees_its_place() {
    let own = Service::start(limits());
    let body = sheet(2000, &"x".repeat(500));
    for _ in 0..20 {
        let mut stream = TcpStream::connect(own.address()).expect("the service answers");
        let head =
            format!("POST /api/v1/batches HTTP/1.1\r\nHost: localhost\r\nContent-Type: text/csv\r\nContent-Length: {}\r\n\r\n", body.len());
        stream.write_all(head.as_bytes()).expect("taken");
        let _ = stream.write_all(&body.as_bytes()[..body.len() / 2]);
        let _ = stream.shutdown(Shutdown::Both);
    }
    // Under load a connection may be turned away; what counts is that the places come free.
    let ask = || own.request("POST", "/api/v1/batches").header("content-type", "text/csv").body(body.clone());
    wait_for(|| ask().send().ok().filter(|answer| answer.status() == 200));
}
