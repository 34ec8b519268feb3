//! Webhooks: who is told what happens, signed, again and again until it is taken or given up, and never inside.

use std::collections::BTreeSet;
use std::io::Write;
use std::net::TcpListener;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use hmac::{Hmac, KeyInit, Mac};
use serde_json::{Value, json};
use sha2::Sha256;
use toile::config::Portal;
use toile::webhook::Sending;
use toile_tests::{Heard, Process, Receiver, Service, free_port, limits, reply, spare_folder, stall};

/// Longest wait for what a service does on its own. All of it comes within seconds; a busy machine gets more.
const PATIENCE: Duration = Duration::from_secs(40);

/// A service that may call this machine, gives up a try after half a second and a delivery after three.
fn teller() -> &'static Service {
    static SERVICE: OnceLock<Service> = OnceLock::new();
    SERVICE.get_or_init(|| {
        let sending = Sending { allow_private: true, limit: Duration::from_millis(500), first_wait: Duration::from_millis(20), tries: 3 };
        Service::start_beside(limits(), Portal { allow_private_webhooks: true, ..Portal::default() }, Some(sending))
    })
}

/// Id and secret of a new webhook.
#[track_caller]
fn webhook_at(service: &Service, url: &str) -> (String, String) {
    let made = service.post("/api/v1/webhooks", &json!({"url": url, "events": ["quote.sent"]})).ok();
    let text = |value: &Value| value.as_str().expect("a text").to_owned();
    (text(&made["webhook"]["id"]), text(&made["secret"]))
}

/// Puts a test event in line.
#[track_caller]
fn ping(service: &Service, id: &str) -> String {
    let answer = service.post_bytes(&format!("/api/v1/webhooks/{id}/ping"), "application/json", "");
    answer.ok()["delivery_id"].as_str().expect("an id").to_owned()
}

#[track_caller]
fn look(service: &Service, id: &str) -> Value {
    service.get(&format!("/api/v1/webhooks/{id}")).ok()
}

#[track_caller]
fn deliveries(service: &Service, id: &str) -> Vec<Value> {
    let list = service.get(&format!("/api/v1/webhooks/{id}/deliveries")).ok();
    list["deliveries"].as_array().expect("a list").clone()
}

/// Waits until the newest delivery of a webhook is in a state.
#[track_caller]
fn until(service: &Service, webhook: &str, state: &str) -> Value {
    let end = Instant::now() + PATIENCE;
    loop {
        let newest = deliveries(service, webhook).into_iter().next().expect("a delivery");
        if newest["state"] == state {
            return newest;
        }
        assert!(Instant::now() < end, "never {state}: {newest}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// The signature by the open scheme, by other code than the service's.
fn signature(secret: &str, id: &str, timestamp: &str, body: &str) -> String {
    let key = STANDARD.decode(secret.strip_prefix("whsec_").expect("the prefix")).expect("base64");
    let mut mac = Hmac::<Sha256>::new_from_slice(&key).expect("any length will do");
    mac.update(format!("{id}.{timestamp}.{body}").as_bytes());
    format!("v1,{}", STANDARD.encode(mac.finalize().into_bytes()))
}

#[track_caller]
fn is_signed(heard: &Heard, secret: &str) {
    let own = signature(secret, heard.header("webhook-id"), heard.header("webhook-timestamp"), &heard.body);
    assert!(heard.header("webhook-signature").split(' ').any(|one| one == own), "{heard:?}");
    let now = SystemTime::now().duration_since(UNIX_EPOCH).expect("after 1970").as_secs();
    let sent: u64 = heard.header("webhook-timestamp").parse().expect("seconds");
    assert!(now.abs_diff(sent) < 300, "sent at {sent}, now {now}");
}

#[test]
fn our_own_check_of_signatures_is_that_of_the_scheme() {
    // Standard Webhooks 1.0.0: the example that its libraries are tested with (from memory; the value is Python's hmac's, too).
    let made = signature("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "msg_p5jXN8AQM9LWM0D4loKWxJek", "1614265330", r#"{"test": 2432232314}"#);
    assert_eq!(made, "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=");
}

#[test]
fn an_event_is_posted_signed_and_recorded() {
    let receiver = Receiver::taking();
    let (webhook, secret) = webhook_at(teller(), &receiver.url());
    let delivery = ping(teller(), &webhook);
    let heard = receiver.wait_for(1).remove(0);
    assert_eq!(heard.line, "POST /told");
    assert_eq!(heard.header("content-type"), "application/json");
    is_signed(&heard, &secret);
    let body: Value = serde_json::from_str(&heard.body).expect("JSON");
    assert_eq!((&body["type"], &body["data"]), (&json!("webhook.ping"), &json!({"webhook": webhook})));
    assert!(body["timestamp"].as_str().is_some_and(|t| t.ends_with('Z') && t.contains('T')), "{body}");
    let told = until(teller(), &webhook, "delivered");
    assert_eq!((&told["id"], &told["attempts"], &told["last_status"]), (&json!(delivery), &json!(1), &json!(204)));
    assert_eq!((&told["event"], &told["event_id"]), (&json!("webhook.ping"), &json!(heard.header("webhook-id"))));
    assert!(told["last_error"].is_null() && told["next_at_ms"].is_null(), "{told}");
    // The secret is told once and never again.
    let (list, one) = (teller().get("/api/v1/webhooks"), look(teller(), &webhook).to_string());
    assert!(list.text().contains(&webhook) && !list.text().contains(&secret) && !list.text().contains("whsec_") && !one.contains("whsec_"));
}

#[test]
fn what_is_refused_is_sent_again_with_the_same_id_and_body() {
    let receiver = Receiver::start(|turn, stream| reply(stream, if turn == 0 { "500 Internal Server Error" } else { "200 OK" }));
    let (webhook, secret) = webhook_at(teller(), &receiver.url());
    ping(teller(), &webhook);
    let heard = receiver.wait_for(2);
    assert_eq!((heard[0].header("webhook-id"), &heard[0].body), (heard[1].header("webhook-id"), &heard[1].body));
    heard.iter().for_each(|one| is_signed(one, &secret));
    let told = until(teller(), &webhook, "delivered");
    assert_eq!((&told["attempts"], &told["last_status"]), (&json!(2), &json!(200)));
    assert!(told["last_error"].is_null());
}

#[test]
fn what_is_never_taken_is_parked_and_may_be_sent_again() {
    let refusing = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(true));
    let so = refusing.clone();
    let receiver =
        Receiver::start(move |_, stream| reply(stream, if so.load(Ordering::Relaxed) { "503 Service Unavailable" } else { "200 OK" }));
    let (webhook, _) = webhook_at(teller(), &receiver.url());
    let delivery = ping(teller(), &webhook);
    let parked = until(teller(), &webhook, "parked");
    assert_eq!((&parked["attempts"], &parked["last_status"]), (&json!(3), &json!(503)));
    assert_eq!(parked["last_error"], "The receiver answered 503 Service Unavailable.");
    assert_eq!(look(teller(), &webhook)["parked"], 1);
    let listed = |state: &str| {
        let list = teller().get(&format!("/api/v1/webhooks/{webhook}/deliveries?state={state}")).ok();
        list["deliveries"].as_array().expect("a list").len()
    };
    assert_eq!((listed("parked"), listed("delivered"), listed("pending")), (1, 0, 0));
    refusing.store(false, Ordering::Relaxed);
    let id = &webhook;
    let again = format!("/api/v1/webhooks/{id}/deliveries/{delivery}/resend");
    assert_eq!(teller().post_bytes(&again, "application/json", "").ok()["state"], "pending");
    until(teller(), &webhook, "delivered");
    let heard = receiver.wait_for(4);
    assert_eq!(heard.iter().map(|one| one.header("webhook-id")).collect::<BTreeSet<_>>().len(), 1, "a resent event keeps its id");
}

#[test]
fn a_receiver_that_stalls_is_left_and_holds_up_nobody() {
    let slow = Receiver::start(|_, stream| stall(stream));
    let (stalled, _) = webhook_at(teller(), &slow.url());
    for _ in 0..6 {
        ping(teller(), &stalled);
    }
    slow.wait_for(4);
    let quick = Receiver::taking();
    let (webhook, _) = webhook_at(teller(), &quick.url());
    ping(teller(), &webhook);
    until(teller(), &webhook, "delivered");
    let parked = until(teller(), &stalled, "parked");
    assert_eq!((&parked["last_error"], &parked["last_status"]), (&json!("No answer came in time."), &Value::Null));
}

#[test]
fn a_status_counts_and_what_follows_it_does_not() {
    type Answer = fn(usize, &mut std::net::TcpStream);
    let liars: [(&str, Answer); 4] = [
        ("less than it says", |_, stream| {
            let _ = stream.write_all(b"HTTP/1.1 200 OK\r\ncontent-length: 1000\r\n\r\nshort");
        }),
        ("more than it says", |_, stream| {
            let _ = stream.write_all(b"HTTP/1.1 200 OK\r\ncontent-length: 2\r\n\r\nmuch longer than that");
        }),
        ("a broken stream", |_, stream| {
            let _ = stream.write_all(b"HTTP/1.1 200 OK\r\ntransfer-encoding: chunked\r\n\r\nZZ\r\n");
        }),
        ("a body that stalls", |_, stream| {
            let _ = stream.write_all(b"HTTP/1.1 200 OK\r\ncontent-length: 10\r\n\r\n");
            stall(stream);
        }),
    ];
    for (name, answer) in liars {
        let receiver = Receiver::start(answer);
        let (webhook, _) = webhook_at(teller(), &receiver.url());
        ping(teller(), &webhook);
        let told = until(teller(), &webhook, "delivered");
        assert_eq!((&told["attempts"], &told["last_status"]), (&json!(1), &json!(200)), "{name}");
    }
}

#[test]
fn an_endless_answer_is_cut_off() {
    static WRITTEN: AtomicUsize = AtomicUsize::new(0);
    static CUT: AtomicUsize = AtomicUsize::new(0);
    let receiver = Receiver::start(|_, stream| {
        let _ = stream.write_all(b"HTTP/1.1 200 OK\r\n\r\n");
        while stream.write_all(&[b'x'; 16 * 1024]).is_ok() {
            WRITTEN.fetch_add(16 * 1024, Ordering::Relaxed);
        }
        CUT.fetch_add(1, Ordering::Relaxed);
    });
    let (webhook, _) = webhook_at(teller(), &receiver.url());
    ping(teller(), &webhook);
    assert_eq!(until(teller(), &webhook, "delivered")["attempts"], 1);
    let end = Instant::now() + PATIENCE;
    while CUT.load(Ordering::Relaxed) == 0 {
        assert!(Instant::now() < end, "the service still reads after {} bytes", WRITTEN.load(Ordering::Relaxed));
        std::thread::sleep(Duration::from_millis(10));
    }
    // What the buffers of two sockets hold, and no more: the body itself is read up to 4 KiB.
    assert!(WRITTEN.load(Ordering::Relaxed) < 32 << 20, "{} bytes", WRITTEN.load(Ordering::Relaxed));
}

#[test]
fn headers_without_end_and_garbage_are_no_answer() {
    type Answer = fn(usize, &mut std::net::TcpStream);
    let odd: [Answer; 3] = [
        |_, stream| {
            let _ = stream.write_all(b"HTTP/1.1 200 OK\r\n");
            while stream.write_all(b"x-more: and more of it, without end\r\n").is_ok() {}
        },
        |_, stream| {
            let _ = stream.write_all(b"what is this\r\n\r\n");
        },
        |_, _| {},
    ];
    for answer in odd {
        let receiver = Receiver::start(answer);
        let (webhook, _) = webhook_at(teller(), &receiver.url());
        ping(teller(), &webhook);
        let parked = until(teller(), &webhook, "parked");
        assert!(parked["last_status"].is_null() && parked["last_error"].as_str().is_some_and(|why| why.len() > 10), "{parked}");
    }
}

#[test]
fn a_redirect_is_not_followed() {
    let inside = Receiver::taking();
    let to = format!("302 Found\r\nlocation: {}", inside.url());
    let receiver = Receiver::start(move |_, stream| reply(stream, &to));
    let (webhook, _) = webhook_at(teller(), &receiver.url());
    ping(teller(), &webhook);
    let parked = until(teller(), &webhook, "parked");
    assert_eq!(parked["last_error"], "The receiver answered 302 Found; redirects are not followed.");
    assert!(inside.heard().is_empty());
}

#[test]
fn a_receiver_that_is_gone_is_asked_no_more() {
    let receiver = Receiver::start(|_, stream| reply(stream, "410 Gone"));
    let (webhook, _) = webhook_at(teller(), &receiver.url());
    ping(teller(), &webhook);
    let parked = until(teller(), &webhook, "parked");
    assert_eq!((&parked["attempts"], &parked["last_status"]), (&json!(1), &json!(410)));
    let end = Instant::now() + PATIENCE;
    while look(teller(), &webhook)["active"] == true {
        assert!(Instant::now() < end, "it is still active");
        std::thread::sleep(Duration::from_millis(20));
    }
}

#[test]
fn a_paused_webhook_keeps_what_waits_until_it_is_resumed() {
    let receiver = Receiver::taking();
    let (webhook, _) = webhook_at(teller(), &receiver.url());
    let change = |edit: Value| {
        let path = format!("/api/v1/webhooks/{webhook}");
        teller().send(teller().request("PATCH", &path).header("content-type", "application/json").body(edit.to_string())).ok()
    };
    assert_eq!(change(json!({"active": false}))["active"], false);
    ping(teller(), &webhook);
    std::thread::sleep(Duration::from_secs(2));
    assert!(receiver.heard().is_empty(), "a paused webhook was called");
    assert_eq!(deliveries(teller(), &webhook)[0]["attempts"], 0);
    let changed = change(json!({"active": true, "events": ["job.failed", "quote.created", "job.failed"], "note": "again"}));
    assert_eq!(changed["events"], json!(["quote.created", "job.failed"]));
    assert_eq!((&changed["note"], &changed["url"]), (&json!("again"), &json!(receiver.url())));
    until(teller(), &webhook, "delivered");
    assert_eq!(receiver.heard().len(), 1);
}

#[test]
fn while_a_secret_is_changed_deliveries_carry_both_signatures() {
    let receiver = Receiver::taking();
    let (webhook, old) = webhook_at(teller(), &receiver.url());
    let id = &webhook;
    let made = teller().post_bytes(&format!("/api/v1/webhooks/{id}/secret"), "application/json", "").ok();
    let new = made["secret"].as_str().expect("a secret");
    assert_ne!(old, new);
    assert!(made["webhook"]["old_secret_until_ms"].is_i64());
    ping(teller(), &webhook);
    let heard = receiver.wait_for(1).remove(0);
    assert_eq!(heard.header("webhook-signature").split(' ').count(), 2);
    is_signed(&heard, &old);
    is_signed(&heard, new);
}

#[test]
fn a_deleted_webhook_is_gone_with_its_deliveries() {
    let receiver = Receiver::taking();
    let (webhook, _) = webhook_at(teller(), &receiver.url());
    ping(teller(), &webhook);
    until(teller(), &webhook, "delivered");
    let path = format!("/api/v1/webhooks/{webhook}");
    let delete = || teller().send(teller().request("DELETE", &path));
    assert_eq!(delete().ok(), json!({"deleted": webhook}));
    assert_eq!(delete().status, 404);
    for path in [path.clone(), format!("{path}/deliveries")] {
        let gone = teller().get(&path);
        assert_eq!(gone.status, 404);
        gone.problem();
    }
    for more in ["ping", "secret", "deliveries/x/resend"] {
        assert_eq!(teller().post_bytes(&format!("{path}/{more}"), "application/json", "").status, 404, "{more}");
    }
}

#[test]
fn the_list_of_deliveries_comes_in_pages() {
    let receiver = Receiver::taking();
    let (webhook, _) = webhook_at(teller(), &receiver.url());
    let mut made: Vec<String> = (0..5).map(|_| ping(teller(), &webhook)).collect();
    made.reverse();
    let page = |before: &str| teller().get(&format!("/api/v1/webhooks/{webhook}/deliveries?most=2{before}")).ok();
    let (mut seen, mut before) = (Vec::new(), String::new());
    loop {
        let page = page(&before);
        seen.extend(page["deliveries"].as_array().expect("a list").iter().map(|d| d["id"].as_str().expect("an id").to_owned()));
        let Some(next) = page["next"].as_str() else { break };
        before = format!("&before={next}");
    }
    assert_eq!(seen, made);
    let refused = teller().get(&format!("/api/v1/webhooks/{webhook}/deliveries?state=lost"));
    assert_eq!(refused.status, 422);
    refused.problem();
}

/// A service as it starts without any setting: nothing inside is called.
fn careful() -> &'static Service {
    static SERVICE: OnceLock<Service> = OnceLock::new();
    SERVICE.get_or_init(|| {
        let sending = Sending { limit: Duration::from_secs(5), first_wait: Duration::from_millis(20), tries: 1, ..Sending::USUAL };
        Service::start_beside(limits(), Portal::default(), Some(sending))
    })
}

#[test]
fn an_address_inside_is_refused_when_it_is_given() {
    for url in [
        "https://127.0.0.1/",
        "https://localhost.localdomain.:0x1/",
        "https://10.1.2.3/x",
        "https://[::1]/",
        "https://[::ffff:192.168.0.1]/",
        "https://169.254.169.254/latest/meta-data",
        "https://2130706433/",
        "https://0177.1/",
        "http://portal.example/",
        "gopher://x/",
        "nonsense",
    ] {
        let refused = careful().post("/api/v1/webhooks", &json!({"url": url, "events": ["quote.sent"]}));
        assert_eq!(refused.status, 422, "{url}: {}", refused.text());
        assert_eq!(refused.problem().pointers(), ["/url"], "{url}");
    }
    let refused = careful().post("/api/v1/webhooks", &json!({"url": 7, "events": ["quote.eaten"], "evens": []}));
    assert_eq!(refused.status, 422);
    let problem = refused.problem();
    assert!(problem.pointers().contains(&"/events/0") && problem.pointers().contains(&"/evens"), "{problem:?}");
    let none = careful().post("/api/v1/webhooks", &json!({"url": "https://portal.example/", "events": []}));
    assert_eq!(none.problem().pointers(), ["/events"]);
}

#[test]
fn a_name_that_leads_inside_is_refused_where_it_is_called() {
    // Nothing is wrong with the name when it is given; where it leads is looked at when it is called, each time.
    let receiver = Receiver::taking();
    let url = format!("https://localhost:{}/told", receiver.address().port());
    let (webhook, _) = webhook_at(careful(), &url);
    ping(careful(), &webhook);
    let parked = until(careful(), &webhook, "parked");
    let why = parked["last_error"].as_str().expect("a reason");
    assert!(why.contains("is a private, local or reserved address"), "{why}");
    assert!(receiver.heard().is_empty());
}

#[test]
fn there_are_only_so_many_webhooks() {
    let service = Service::start_beside(limits(), Portal { allow_private_webhooks: true, ..Portal::default() }, None);
    for _ in 0..32 {
        webhook_at(&service, "http://127.0.0.1:9/");
    }
    let refused = service.post("/api/v1/webhooks", &json!({"url": "http://127.0.0.1:9/", "events": ["quote.sent"]}));
    assert_eq!(refused.status, 409, "{}", refused.text());
    assert!(refused.problem().words().contains("32"));
    assert_eq!(service.get("/api/v1/webhooks").ok()["webhooks"].as_array().map(Vec::len), Some(32));
}

fn start(folder: &std::path::Path) -> Process {
    let data = folder.to_str().expect("a path in UTF-8");
    Process::start(&["serve", "--listen", "127.0.0.1:0", "--data", data, "--allow-private-webhooks", "--webhook-timeout-s", "1"], &[])
}

#[test]
fn an_event_outlives_the_death_of_the_service() {
    let folder = spare_folder();
    // Nobody answers at this port yet, and who does then stalls at first.
    let port = free_port();
    let service = start(folder.path());
    let (webhook, secret) = webhook_at(service.service(), &format!("http://127.0.0.1:{port}/told"));
    let first = ping(service.service(), &webhook);
    service.kill();

    let listener = TcpListener::bind(("127.0.0.1", port)).expect("the port is still free");
    let receiver = Receiver::start_at(listener, |turn, stream| if turn == 0 { stall(stream) } else { reply(stream, "200 OK") });
    let service = start(folder.path());
    receiver.wait_for(1);
    // Killed in mid-try: its claim runs out, and the next one tries again.
    service.kill();
    let service = start(folder.path());
    let told = until(service.service(), &webhook, "delivered");
    assert_eq!(told["id"], first.as_str());
    let heard = receiver.wait_for(2);
    heard.iter().for_each(|one| is_signed(one, &secret));
    assert_eq!(heard.iter().map(|one| one.header("webhook-id")).collect::<BTreeSet<_>>().len(), 1, "at least once, with one id");
}

#[test]
fn what_becomes_of_a_quote_is_told_once_and_without_its_words() {
    let receiver = Receiver::taking();
    let service = Service::start_beside(
        limits(),
        Portal { allow_private_webhooks: true, ..Portal::default() },
        Some(Sending { allow_private: true, ..Sending::USUAL }),
    );
    let events = ["quote.created", "quote.revised", "quote.sent", "quote.accepted", "quote.withdrawn"];
    service.post("/api/v1/webhooks", &json!({"url": receiver.url(), "events": events})).ok();
    let body = super::quotes::draft("Customer of the test");
    let keep = || service.send(service.request("POST", "/api/v1/quotes").header("idempotency-key", "once").json(&body));
    let (kept, again) = (keep(), keep());
    assert_eq!((kept.status, again.status), (201, 201), "{}", kept.text());
    let (id, tag) = (kept.json()["id"].as_str().expect("an id").to_owned(), kept.header("etag").to_owned());
    let post = |path: &str, tag: &str, body: &Value| {
        service.send(service.request("POST", &format!("/api/v1/quotes/{path}")).header("if-match", tag).json(body))
    };
    // What is refused did not happen, and is not told.
    assert_eq!(post(&format!("{id}/state"), "\"other\"", &json!({"state": "sent"})).status, 412);
    let sent = post(&format!("{id}/state"), &tag, &json!({"state": "sent"}));
    sent.ok();
    let revised = post(&format!("{id}/revisions"), sent.header("etag"), &body);
    assert_eq!(revised.status, 201, "{}", revised.text());
    let next = revised.json()["id"].as_str().expect("an id").to_owned();
    post(&format!("{next}/state"), revised.header("etag"), &json!({"state": "sent"})).ok();
    let heard = receiver.wait_for(5);
    assert!(heard.iter().all(|one| !one.body.contains("Customer") && !one.body.contains("Armrest")), "{heard:?}");
    let bodies: Vec<Value> = heard.iter().map(|one| serde_json::from_str(&one.body).expect("JSON")).collect();
    let told: BTreeSet<(String, String, String)> = bodies
        .iter()
        .map(|body| (body["type"].to_string(), body["data"]["id"].to_string(), body["data"]["revision"].to_string()))
        .collect();
    let expected = [
        ("quote.created", &id, 1),
        ("quote.sent", &id, 1),
        ("quote.revised", &next, 2),
        ("quote.sent", &next, 2),
        ("quote.withdrawn", &id, 1),
    ];
    let expected = expected.map(|(kind, id, revision)| (json!(kind).to_string(), json!(id).to_string(), json!(revision).to_string()));
    assert_eq!(told, BTreeSet::from(expected));
    assert!(bodies.iter().all(|body| body["data"]["number"] == kept.json()["number"]), "{bodies:?}");
    std::thread::sleep(Duration::from_secs(1));
    assert_eq!(receiver.heard().len(), 5);
}

#[test]
fn the_end_of_a_job_is_told() {
    let folder = spare_folder();
    let (receiver, other) = (Receiver::taking(), Receiver::taking());
    let service = start(folder.path());
    let made = service.service().post("/api/v1/webhooks", &json!({"url": receiver.url(), "events": ["job.finished", "job.cancelled"]}));
    let secret = made.ok()["secret"].as_str().expect("a secret").to_owned();
    webhook_at(service.service(), &other.url());
    let id = super::jobs::send(service.service(), super::jobs::good_sheet(10, 3));
    let heard = receiver.wait_for(1).remove(0);
    is_signed(&heard, &secret);
    let body: Value = serde_json::from_str(&heard.body).expect("JSON");
    assert_eq!((&body["type"], &body["data"]), (&json!("job.finished"), &json!({"id": id, "state": "finished"})));
    assert!(other.heard().is_empty(), "who asked for quotes is told of quotes only");
}

#[test]
fn the_metrics_count_deliveries_by_state() {
    let folder = spare_folder();
    let service = start(folder.path());
    let counts = || {
        let metrics = service.service().get("/metrics");
        ["pending", "delivered", "parked"].map(|state| {
            let start = format!("toile_webhook_deliveries{{state=\"{state}\"}} ");
            let count = metrics.text().lines().find_map(|line| line.strip_prefix(&start));
            count.unwrap_or_else(|| panic!("{start} is not in\n{}", metrics.text())).parse::<f64>().expect("a count")
        })
    };
    assert_eq!(counts(), [0.0; 3], "states of nothing are told, too");
    let (taking, gone) = (Receiver::taking(), Receiver::start(|_, stream| reply(stream, "410 Gone")));
    let [(taken, _), (refused, _), (paused, _)] = [taking.url(), gone.url(), taking.url()].map(|url| webhook_at(service.service(), &url));
    for _ in 0..3 {
        ping(service.service(), &taken);
    }
    ping(service.service(), &refused);
    let pause = service.service().request("PATCH", &format!("/api/v1/webhooks/{paused}")).json(&json!({"active": false}));
    service.service().send(pause).ok();
    ping(service.service(), &paused);
    ping(service.service(), &paused);
    let end = Instant::now() + PATIENCE;
    while counts() != [2.0, 3.0, 1.0] {
        assert!(Instant::now() < end, "two wait, three were taken, one is parked; the metrics say {:?}", counts());
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn two_services_on_one_database_share_the_sending() {
    let folder = spare_folder();
    sending_is_shared([start(folder.path()), start(folder.path())]);
}

/// Events of two services on one database: each is told, by whichever comes first, and none twice while nobody dies.
pub fn sending_is_shared(services: [Process; 2]) {
    let receiver = Receiver::taking();
    let (webhook, _) = webhook_at(services[0].service(), &receiver.url());
    for turn in 0..20 {
        ping(services[turn % 2].service(), &webhook);
    }
    receiver.wait_for(20);
    let end = Instant::now() + PATIENCE;
    while look(services[0].service(), &webhook)["pending"] != 0 {
        assert!(Instant::now() < end, "some deliveries are still pending");
        std::thread::sleep(Duration::from_millis(50));
    }
    let heard = receiver.heard();
    let ids: BTreeSet<&str> = heard.iter().map(|one| one.header("webhook-id")).collect();
    assert_eq!((ids.len(), heard.len()), (20, 20), "nobody died: each event is sent once");
}

#[test]
fn the_document_tells_the_bodies_that_are_sent() {
    let document = teller().get("/api/v1/openapi.json").ok();
    let told: BTreeSet<&str> = document["webhooks"].as_object().expect("webhooks").keys().map(String::as_str).collect();
    let asked = document["components"]["schemas"]["EventName"]["enum"].as_array().expect("names");
    let mut names: BTreeSet<&str> = asked.iter().filter_map(Value::as_str).collect();
    names.insert("webhook.ping");
    assert_eq!(told, names);
}
