//! Who may do what: every operation of the document, asked with every kind of key and with none.

use std::time::{Duration, Instant};

use serde_json::Value;
use toile_tests::{Answer, Process, Service, run};

/// Roles from the least to the most.
const ROLES: [&str; 4] = ["reader", "estimator", "lab", "admin"];

/// Makes a key of this role, as a person would.
#[track_caller]
pub fn key_add(process: &Process, role: &str, more: &[&str]) -> String {
    let data = process.data().to_str().expect("a plain path");
    let name = format!("the {role}'s");
    let arguments = [&["key", "add", name.as_str(), "--role", role, "--data", data][..], more].concat();
    let made = run(&arguments, &[]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    String::from_utf8(made.stdout).expect("a key is plain text").trim().to_owned()
}

/// The prefix of a key, which is no secret.
pub fn prefix(key: &str) -> &str {
    key.rsplit_once('_').expect("a key has two parts").0
}

struct Operation {
    id: String,
    method: String,
    path: String,
    least: Option<String>,
    body: Option<(String, String)>,
}

#[test]
fn every_operation_lets_in_whom_the_document_names_and_nobody_else() {
    let process = Process::on_free_port();
    let operations = operations(&process.service().get("/api/v1/openapi.json").ok());
    assert!(operations.len() >= 28, "{}", operations.len());
    assert!(operations.iter().any(|o| o.least.is_none()) && operations.iter().any(|o| o.least.as_deref() == Some("admin")));

    let keys = ROLES.map(|role| key_add(&process, role, &[]));
    let revoked = key_add(&process, "admin", &[]);
    let told = run(&["key", "revoke", prefix(&revoked), "--data", process.data().to_str().expect("a plain path")], &[]);
    assert!(told.status.success(), "{}", String::from_utf8_lossy(&told.stderr));
    let expired = expired_key(&process);
    let wrong = format!("{}_{}", prefix(&keys[3]), "0".repeat(64));
    let stranger = format!("toile_{}_{}", "0".repeat(12), "0".repeat(64));

    let nobody = process.service();
    let bad = [revoked.as_str(), &expired, &wrong, &stranger, "", "admin"].map(|key| nobody.keyed(key));
    let good = keys.map(|key| nobody.keyed(&key));
    until(|| good.iter().all(|who| who.get("/api/v1/threads").status == 200) && bad[0].get("/api/v1/threads").status == 401);

    for operation in &operations {
        let Some(least) = &operation.least else {
            for who in bad.iter().chain(&good).chain([nobody]) {
                let answer = operation.ask(who);
                assert!(![401, 403, 429].contains(&answer.status), "{} needs no key, but answers {}", operation.id, answer.status);
            }
            continue;
        };
        let answer = operation.ask(nobody);
        assert_eq!((answer.status, answer.header("www-authenticate")), (401, "Bearer realm=\"toile\""), "{} without a key", operation.id);
        for (k, who) in bad.iter().enumerate() {
            let answer = operation.ask(who);
            let challenge = "Bearer realm=\"toile\", error=\"invalid_token\"";
            assert_eq!((answer.status, answer.header("www-authenticate")), (401, challenge), "{} with bad key {k}", operation.id);
            assert_eq!(answer.problem().kind, "/reference#no-key");
        }
        let enough = ROLES.iter().position(|role| role == least).unwrap_or_else(|| panic!("{least} is no role"));
        for (rank, who) in good.iter().enumerate() {
            let answer = operation.ask(who);
            if rank < enough {
                assert_eq!(answer.status, 403, "{} as {}: {}", operation.id, ROLES[rank], answer.text());
                assert_eq!(answer.problem().kind, "/reference#not-yours");
                assert!(answer.problem().detail.contains(least.as_str()), "{}", answer.text());
            } else {
                assert!(![401, 403].contains(&answer.status), "{} as {}: {}", operation.id, ROLES[rank], answer.text());
                assert!(answer.status < 500, "{} as {}: {}", operation.id, ROLES[rank], answer.text());
            }
        }
    }

    // What answers GET answers HEAD, and asks for the same key.
    assert_eq!(nobody.send(nobody.request("HEAD", "/api/v1/keys")).status, 401);
    assert_eq!(good[2].send(good[2].request("HEAD", "/api/v1/keys")).status, 403);
    // The page and its files need none.
    for path in ["/", "/style.css", "/js/main.js", "/demo.json", "/reference/"] {
        assert_eq!(nobody.get(path).status, 200, "{path}");
    }
}

/// A key that has come to its end: one made for a moment.
fn expired_key(process: &Process) -> String {
    let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).expect("a clock that is set");
    // A day has 86 400 seconds and the calendar is that of RFC 3339; 1.5 s are enough for the command to run.
    let end = moment(now + Duration::from_millis(1500));
    let key = key_add(process, "admin", &["--expires", &end]);
    let who = process.service().keyed(&key);
    until(|| {
        let answer = who.get("/api/v1/threads");
        answer.status == 401 && answer.problem().detail.contains("come to its end")
    });
    key
}

/// A time since 1970 as RFC 3339 writes it (days to date by the era method: 400 years have 146 097 days).
fn moment(since_1970: Duration) -> String {
    let (days, seconds) = ((since_1970.as_secs() / 86_400) as i64, since_1970.as_secs() % 86_400);
    // Years begin in March here, so that the leap day is the last of its year.
    let day_of_era = (days + 719_468).rem_euclid(146_097);
    let era = (days + 719_468).div_euclid(146_097);
    let year_of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month + 2) / 5 + 1;
    let (year, month) = (era * 400 + year_of_era + i64::from(month >= 10), if month < 10 { month + 3 } else { month - 9 });
    let (h, m, s, ms) = (seconds / 3600, seconds / 60 % 60, seconds % 60, since_1970.subsec_millis());
    format!("{year:04}-{month:02}-{day:02}T{h:02}:{m:02}:{s:02}.{ms:03}Z")
}

#[test]
fn moments_are_those_of_the_standard() {
    // RFC 3339, 5.8, first example: 482 196 050.52 s after 1970 (as `date -d` of coreutils tells).
    assert_eq!(moment(Duration::from_millis(482_196_050_520)), "1985-04-12T23:20:50.520Z");
}

/// Waits for what takes a moment to come about, and fails when it does not.
#[track_caller]
pub fn until(come: impl Fn() -> bool) {
    let patience = Instant::now() + Duration::from_secs(20);
    while !come() {
        assert!(Instant::now() < patience, "it has not come about");
        std::thread::sleep(Duration::from_millis(50));
    }
}

impl Operation {
    fn ask(&self, who: &Service) -> Answer {
        let request = who.request(&self.method.to_uppercase(), &self.path);
        let request = match &self.body {
            Some((media_type, body)) => request.header("content-type", media_type).body(body.clone()),
            None => request,
        };
        who.send(request)
    }
}

fn operations(document: &Value) -> Vec<Operation> {
    let mut operations = Vec::new();
    for (path, methods) in document["paths"].as_object().expect("paths") {
        for (method, operation) in methods.as_object().expect("methods") {
            if !["get", "post", "put", "patch", "delete"].contains(&method.as_str()) {
                continue;
            }
            let free = operation["security"] == serde_json::json!([]);
            let keyed = operation["security"] == serde_json::json!([{"key": []}]);
            assert!(free || keyed, "{method} {path} does not say whether it needs a key");
            let least = operation["x-least-role"].as_str().map(str::to_owned);
            assert_eq!(least.is_some(), keyed, "{method} {path} tells no least role, or one that nobody needs");
            let body =
                operation["requestBody"]["content"].as_object().and_then(|content| content.iter().next()).map(|(media_type, body)| {
                    let text = match &body["example"] {
                        Value::String(text) if media_type != "application/json" => text.clone(),
                        json => json.to_string(),
                    };
                    (media_type.clone(), text)
                });
            // Nothing has this id: a caller who is let in is told so.
            let path = path.split('{').enumerate().map(|(k, part)| match part.split_once('}') {
                Some((_, rest)) if k > 0 => format!("no-such-thing{rest}"),
                _ => part.to_owned(),
            });
            operations.push(Operation {
                id: operation["operationId"].as_str().expect("an id").to_owned(),
                method: method.clone(),
                path: path.collect(),
                least,
                body,
            });
        }
    }
    operations
}
