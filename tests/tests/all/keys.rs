//! Keys over their life, what is noted of them, and who is let in where there are none.

use serde_json::{Value, json};
use toile::config::Doors;
use toile_tests::{Process, Service, limits, raw_exchange, round_pad, run};

use crate::access::{key_add, prefix, until};

fn keyless(doors: Doors) -> Service {
    Service::start_with(limits(), doors)
}

const AT_HOME: Doors = Doors { loopback: true, everyone: false, origins: Vec::new() };

#[test]
fn a_key_is_made_used_listed_and_revoked_over_the_api() {
    let service = keyless(AT_HOME);
    let made = service.post("/api/v1/keys", &json!({"name": " front desk ", "role": "admin", "expires_in_days": 30, "per_minute": 1000}));
    assert_eq!((made.status, made.header("cache-control")), (201, "no-store"), "{}", made.text());
    let made = made.json();
    let secret = made["secret"].as_str().expect("the key").to_owned();
    assert_eq!(made["key"]["name"], "front desk");
    assert_eq!(made["key"]["created_by"], "this machine");
    assert_eq!(made["key"]["prefix"], prefix(&secret));

    // From now on nobody gets in without one.
    assert_eq!(service.get("/api/v1/keys").status, 401);
    let admin = service.keyed(&secret);
    let other = admin.post("/api/v1/keys", &json!({"name": "portal", "role": "estimator"})).json();
    let portal = service.keyed(other["secret"].as_str().expect("the key"));
    assert_eq!(portal.post("/api/v1/estimates", &round_pad()).status, 200);
    assert_eq!(portal.get("/api/v1/keys").status, 403);

    let listed = admin.get("/api/v1/keys").ok();
    let names: Vec<&str> = listed["keys"].as_array().expect("keys").iter().filter_map(|k| k["name"].as_str()).collect();
    assert_eq!(names, ["portal", "front desk"]);
    assert!(!listed.to_string().contains(secret.rsplit('_').next().expect("a secret")));
    until(|| admin.get("/api/v1/keys").ok()["keys"].as_array().expect("keys").iter().all(|k| k["last_used_at"].is_string()));

    let id = other["key"]["id"].as_str().expect("an id");
    let gone = admin.send(admin.request("DELETE", &format!("/api/v1/keys/{id}"))).ok();
    assert!(gone["revoked_at"].is_string());
    // The process that revoked it takes it no more from that moment.
    assert_eq!(portal.get("/api/v1/threads").status, 401);
    // Twice is the same as once, and what is not there cannot be revoked.
    assert_eq!(admin.send(admin.request("DELETE", &format!("/api/v1/keys/{id}"))).ok(), gone);
    assert_eq!(admin.send(admin.request("DELETE", "/api/v1/keys/none")).status, 404);
    // Nobody saws off the branch they sit on.
    let own = admin.send(admin.request("DELETE", &format!("/api/v1/keys/{}", prefix(&secret))));
    assert_eq!((own.status, admin.get("/api/v1/keys").status), (409, 200), "{}", own.text());

    let log = admin.get("/api/v1/audit").ok();
    let done: Vec<(&str, &str, &Value)> = log["entries"]
        .as_array()
        .expect("entries")
        .iter()
        .map(|e| (e["action"].as_str().expect("an action"), e["actor"].as_str().expect("an actor"), &e["actor_name"]))
        .collect();
    let admin_id = made["key"]["id"].as_str().expect("an id");
    let by_name = Value::from("front desk");
    assert_eq!(
        done,
        [("key_revoke", admin_id, &by_name), ("key_create", admin_id, &by_name), ("key_create", "this machine", &Value::Null)]
    );
    assert!(log["entries"].as_array().expect("entries").iter().any(|e| e["subject"] == id));
}

#[test]
fn a_job_tells_the_name_of_the_key_that_sent_it() {
    let service = keyless(AT_HOME);
    let before = super::jobs::send(&service, super::jobs::good_sheet(1, 1));
    let made = service.post("/api/v1/keys", &json!({"name": "front desk", "role": "admin"})).json();
    let admin = service.keyed(made["secret"].as_str().expect("a key"));
    let portal = admin.post("/api/v1/keys", &json!({"name": "portal", "role": "estimator"})).json();
    let asking = admin.keyed(portal["secret"].as_str().expect("a key"));
    let told = asking.post_bytes("/api/v1/jobs", "text/csv", super::jobs::good_sheet(2, 2)).ok();
    assert_eq!(told["owner"], "portal", "{told}");
    // A name outlives the key.
    let id = portal["key"]["id"].as_str().expect("an id");
    admin.send(admin.request("DELETE", &format!("/api/v1/keys/{id}"))).ok();
    let job = admin.get(&format!("/api/v1/jobs/{}", told["id"].as_str().expect("an id"))).ok();
    assert_eq!(job["owner"], "portal", "{job}");
    let listed = admin.get("/api/v1/jobs").ok();
    let owners: Vec<_> = listed["jobs"].as_array().expect("jobs").iter().map(|job| job["owner"].clone()).collect();
    assert_eq!(owners, ["portal", "this machine"]);
    assert_eq!(admin.get(&format!("/api/v1/jobs/{before}")).ok()["owner"], "this machine");
}

#[test]
fn lists_come_in_pages() {
    let service = keyless(AT_HOME);
    let secret = service.post("/api/v1/keys", &json!({"name": "0", "role": "admin"})).json()["secret"].as_str().expect("a key").to_owned();
    let admin = service.keyed(&secret);
    for k in 1..5 {
        assert_eq!(admin.post("/api/v1/keys", &json!({"name": k.to_string(), "role": "reader"})).status, 201);
    }
    for (path, list) in [("/api/v1/keys", "keys"), ("/api/v1/audit", "entries")] {
        let (mut seen, mut address) = (Vec::new(), format!("{path}?most=2"));
        loop {
            let page = admin.get(&address).ok();
            seen.extend(page[list].as_array().expect("a list").iter().map(|e| e["id"].as_str().expect("an id").to_owned()));
            let Some(next) = page["next"].as_str() else { break };
            address = format!("{path}?most=2&before={next}");
        }
        assert_eq!(seen.len(), 5);
        assert!(seen.windows(2).all(|two| two[0] > two[1]), "{seen:?}");
        for query in ["most=0", "most=201", "most=x", "page=2", &format!("before={}", "0".repeat(65)), "before=%00"] {
            let problem = admin.get(&format!("{path}?{query}"));
            assert_eq!(problem.status, 422, "{query}");
            assert!(problem.problem().faults[0].allowed.contains("most"), "{query}");
        }
    }
}

#[test]
fn a_wish_for_a_key_that_cannot_be_is_told_with_every_fault() {
    let service = keyless(AT_HOME);
    let long = "x".repeat(101);
    for (wish, pointers) in [
        (json!({"role": "admin"}), vec!["/name"]),
        (json!({"name": "a", "role": "king"}), vec!["/role"]),
        (json!({"name": "a", "role": "admin", "expires_in_days": 0, "per_minute": 0}), vec!["/expires_in_days", "/per_minute"]),
        (json!({"name": "a", "role": "admin", "expires_in_days": 4000}), vec!["/expires_in_days"]),
        (json!({"name": "a", "role": "admin", "secret": "mine"}), vec!["/secret"]),
        (json!({"name": " ", "role": "admin"}), vec!["/name"]),
        (json!({"name": "a\nb", "role": "admin"}), vec!["/name"]),
        (json!({"name": long, "role": "admin"}), vec!["/name"]),
    ] {
        let answer = service.post("/api/v1/keys", &wish);
        assert_eq!(answer.status, 422, "{wish}: {}", answer.text());
        assert_eq!(answer.problem().pointers(), pointers, "{wish}");
    }
    assert_eq!(service.get("/api/v1/keys").ok()["keys"], json!([]));
}

#[test]
fn requests_beyond_the_limit_of_a_key_wait_and_others_do_not() {
    let service = keyless(AT_HOME);
    let key = |wish: Value, who: &Service| who.post("/api/v1/keys", &wish).json()["secret"].as_str().expect("a key").to_owned();
    let admin = service.keyed(&key(json!({"name": "a", "role": "admin"}), &service));
    let slow = service.keyed(&key(json!({"name": "slow", "role": "reader", "per_minute": 3}), &admin));
    for _ in 0..3 {
        assert_eq!(slow.get("/api/v1/threads").status, 200);
    }
    let refused = slow.get("/api/v1/threads");
    assert_eq!(refused.status, 429, "{}", refused.text());
    let wait: u64 = refused.header("retry-after").parse().expect("seconds");
    // Three a minute is one in 20 s.
    assert!((1..=20).contains(&wait), "{wait}");
    assert!(refused.problem().detail.contains("3 requests in a minute"), "{}", refused.text());
    assert_eq!(admin.get("/api/v1/threads").status, 200);
    // A look at the keys, such as another one being made, does not begin the count anew.
    key(json!({"name": "b", "role": "reader"}), &admin);
    assert_eq!(slow.get("/api/v1/threads").status, 429);
}

#[test]
fn keys_of_the_command_line_hold_and_end_for_a_process_that_runs() {
    let process = Process::on_free_port();
    let data = process.data().to_str().expect("a plain path").to_owned();
    assert_eq!(process.service().get("/api/v1/threads").status, 200);
    let key = key_add(&process, "estimator", &["--per-minute", "600"]);
    let holder = process.service().keyed(&key);
    until(|| process.service().get("/api/v1/threads").status == 401);
    until(|| holder.get("/api/v1/threads").status == 200);
    assert_eq!(holder.get("/api/v1/keys").status, 403);

    let list = || String::from_utf8(run(&["key", "list", "--data", &data], &[]).stdout).expect("plain text");
    let line = list().lines().find(|line| line.contains(prefix(&key))).expect("the key is listed").to_owned();
    for word in ["estimator", "in use", "600", "the estimator's"] {
        assert!(line.contains(word), "{line}");
    }
    let revoked = run(&["key", "revoke", prefix(&key), "--data", &data], &[]);
    assert!(revoked.status.success(), "{}", String::from_utf8_lossy(&revoked.stderr));
    until(|| holder.get("/api/v1/threads").status == 401);
    assert!(list().contains("revoked"));
    // The last key is gone; the door stays shut all the same.
    assert_eq!(process.service().get("/api/v1/threads").status, 401);

    for (arguments, why) in [
        (&["key", "revoke", "none"][..], "no key with the id"),
        (&["key", "add", "x", "--role", "king"], "a role is one of"),
        (&["key", "add", "x", "--role", "admin", "--expires", "2001-01-01"], "opens nothing"),
        (&["key", "add", "x", "--role", "admin", "--expires", "0"], "1 to 3660"),
        (&["key", "add", "x", "--role", "admin", "--expires", "soon"], "neither"),
        (&["key", "add", "", "--role", "admin"], "1 to 100 characters"),
    ] {
        let refused = run(&[arguments, &["--data", &data]].concat(), &[]);
        let told = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert!(!refused.status.success() && told.contains(why), "{arguments:?}: {told}");
    }
}

#[test]
fn a_secret_is_neither_logged_nor_stored() {
    let process = Process::start(&["serve", "--listen", "127.0.0.1:0", "--log", "trace"], &[]);
    let admin_key = key_add(&process, "admin", &[]);
    let admin = process.service().keyed(&admin_key);
    until(|| admin.get("/api/v1/threads").status == 200);
    let made = admin.post("/api/v1/keys", &json!({"name": "second", "role": "reader"})).json();
    let second = made["secret"].as_str().expect("a key").to_owned();
    assert_eq!(process.service().keyed(&second).get("/api/v1/threads").status, 200);
    let wrong = format!("{}_{}", prefix(&second), "ab".repeat(32));
    assert_eq!(process.service().keyed(&wrong).get("/api/v1/threads").status, 401);
    assert_eq!(admin.send(admin.request("DELETE", &format!("/api/v1/keys/{}", prefix(&second)))).status, 200);
    until(|| process.log().contains("/api/v1/keys/{id}"));

    let mut looked_at = 0;
    for entry in std::fs::read_dir(process.data()).expect("the data can be listed") {
        let path = entry.expect("an entry").path();
        let bytes = std::fs::read(&path).expect("a file");
        let text = String::from_utf8_lossy(&bytes);
        for key in [&admin_key, &second, &wrong] {
            let secret = key.rsplit('_').next().expect("a secret");
            assert!(!text.contains(secret), "{} holds a secret", path.display());
        }
        looked_at += usize::from(text.contains(prefix(&second)));
    }
    assert!(looked_at > 0, "the database is among what was looked at");
}

#[test]
fn without_keys_only_this_machine_is_served_unless_told_in_so_many_words() {
    let folder = toile_tests::spare_folder();
    let data = folder.path().to_str().expect("a plain path");
    let refused = run(&["serve", "--listen", "0.0.0.0:0", "--data", data], &[]);
    let told = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(!refused.status.success());
    assert!(told.contains("toile key add") && told.contains("--open-to-everyone"), "{told}");
    assert!(refused.stdout.is_empty());

    // Somewhere else than at home, with neither keys nor that word: nobody is let in. (A database put back from before its keys.)
    let shut = keyless(Doors { loopback: false, everyone: false, origins: Vec::new() });
    assert_eq!(shut.get("/api/v1/threads").status, 401);
    assert_eq!(shut.get("/health/live").status, 200);
    // With it: everybody, for everything but keys.
    let open = keyless(Doors { loopback: false, everyone: true, origins: Vec::new() });
    assert_eq!(open.post("/api/v1/estimates", &round_pad()).status, 200);
    assert_eq!(open.post("/api/v1/keys", &json!({"name": "mine", "role": "admin"})).status, 403);
    assert_eq!(open.get("/api/v1/audit").status, 403);
}

/// A request as a browser would send it from elsewhere: status and head of the answer.
fn asked(service: &Service, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> (u16, String) {
    let headers: String = headers.iter().map(|(name, value)| format!("{name}: {value}\r\n")).collect();
    let length = body.len();
    let request = format!("{method} {path} HTTP/1.1\r\n{headers}content-length: {length}\r\nconnection: close\r\n\r\n{body}");
    let (head, _) = raw_exchange(service.address(), &request);
    let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).expect("a status");
    (status, head)
}

#[test]
fn without_keys_no_page_of_another_origin_is_served() {
    let service = keyless(AT_HOME);
    let own = service.address().to_string();
    let piece = round_pad().to_string();
    let json = ("content-type", "application/json");
    let post = |host: &str, more: &[(&str, &str)]| {
        asked(&service, "POST", "/api/v1/estimates", &[&[("host", host), json][..], more].concat(), &piece).0
    };
    assert_eq!(post(&own, &[]), 200);
    assert_eq!(post("localhost:1", &[]), 200);
    assert_eq!(post("[::1]:1", &[]), 200);
    // A name that somebody else lets point here.
    assert_eq!(post("pages.example:8460", &[]), 403);
    assert_eq!(post("127.0.0.1.pages.example", &[]), 403);
    assert_eq!(asked(&service, "GET", "/api/v1/threads", &[("host", "pages.example")], "").0, 403);
    // Our own page says where it is from, and so do others.
    assert_eq!(post(&own, &[("origin", &format!("http://{own}"))]), 200);
    assert_eq!(post(&own, &[("origin", "https://pages.example")]), 403);
    assert_eq!(post(&own, &[("origin", "null")]), 403);
    // What a page may send without asking first is no body of ours.
    for simple in ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"] {
        let status = asked(&service, "POST", "/api/v1/estimates", &[("host", &own), ("content-type", simple)], &piece).0;
        assert_eq!(status, 415, "{simple}");
    }
    // With keys, another name is fine: whoever has no key gets nothing.
    let key = service.post("/api/v1/keys", &json!({"name": "a", "role": "estimator"})).json()["secret"].as_str().expect("a key").to_owned();
    assert_eq!(post("toile.shop.example", &[]), 401);
    assert_eq!(post("toile.shop.example", &[("authorization", &format!("bearer {key}"))]), 200);
}

#[test]
fn pages_of_other_origins_may_ask_where_they_are_allowed_and_nowhere_else() {
    let portal = "https://portal.example";
    let allowed = keyless(Doors { origins: vec![portal.into()], ..AT_HOME });
    let ahead = |service: &Service, origin: &str| {
        let own = service.address().to_string();
        let headers = [
            ("host", own.as_str()),
            ("origin", origin),
            ("access-control-request-method", "POST"),
            ("access-control-request-headers", "authorization,content-type"),
        ];
        asked(service, "OPTIONS", "/api/v1/estimates", &headers, "")
    };
    let (status, head) = ahead(&allowed, portal);
    assert_eq!(status, 200);
    assert!(head.contains("access-control-allow-origin: https://portal.example\r\n"), "{head}");
    assert!(head.contains("authorization") && head.contains("idempotency-key"), "{head}");
    assert!(!head.contains("access-control-allow-credentials"), "{head}");
    assert!(!ahead(&allowed, "https://pages.example").1.contains("access-control-allow-origin"));
    let closed = keyless(AT_HOME);
    let (status, head) = ahead(&closed, portal);
    assert_eq!(status, 405, "{head}");
    assert!(!head.contains("access-control"), "{head}");

    let answer = allowed.send(allowed.request("POST", "/api/v1/estimates").header("origin", portal).json(&round_pad()));
    assert_eq!((answer.status, answer.header("access-control-allow-origin")), (200, portal));
    assert!(answer.header("access-control-expose-headers").contains("etag"));
    // A refusal can be read by the page, too.
    let key = allowed.post("/api/v1/keys", &json!({"name": "a", "role": "admin"}));
    assert_eq!(key.status, 201);
    let answer = allowed.send(allowed.request("POST", "/api/v1/estimates").header("origin", portal).json(&round_pad()));
    assert_eq!((answer.status, answer.header("access-control-allow-origin")), (401, portal));

    for origin in ["*", "portal.example", "https://portal.example/app", "ftp://portal.example", "null"] {
        let refused = run(&["serve", "--listen", "127.0.0.1:0", "--allow-origin", origin], &[]);
        assert!(!refused.status.success() && String::from_utf8_lossy(&refused.stderr).contains("no origin"), "{origin}");
    }
}
