//! The OpenAPI document: what is served is what is committed, is whole, and keeps its word.
//!
//! After a change of the API, write it anew with `UPDATE_OPENAPI=1 cargo test -p toile-tests openapi`.

use std::collections::BTreeSet;

use serde_json::{Map, Value};
use toile_tests::{Process, Service, limits, read_text, root, service, sources_under};

use crate::quotes::{draft, keep};

const COMMITTED: &str = "openapi/v1.json";

#[test]
fn the_document_served_is_the_one_committed() {
    let served = service().get("/api/v1/openapi.json");
    assert_eq!((served.status, served.header("content-type")), (200, "application/json"));
    let path = root().join(COMMITTED);
    if std::env::var_os("UPDATE_OPENAPI").is_some() {
        std::fs::write(&path, &served.body).expect("the document can be written");
    }
    let committed = read_text(&path);
    let differs = committed.lines().zip(served.text().lines()).position(|(a, b)| a != b);
    assert!(
        committed == served.text(),
        "{COMMITTED} is not what is served, from line {}; if the change is meant, run with UPDATE_OPENAPI=1 and say so in openapi/CHANGES.md",
        differs.map_or(committed.lines().count().min(served.text().lines().count()) + 1, |k| k + 1)
    );
}

#[test]
fn the_real_binary_serves_the_same_document() {
    // The build of the tests switches features of shared dependencies on; the document must not depend on them.
    let process = Process::on_free_port();
    let served = process.service().get("/api/v1/openapi.json");
    assert!(served.text() == read_text(&root().join(COMMITTED)), "the binary serves another document than {COMMITTED}");
}

#[test]
fn the_document_says_which_openapi_it_is() {
    let document = document();
    assert!(document["openapi"].as_str().is_some_and(|v| v.starts_with("3.1.")), "{}", document["openapi"]);
    assert!(document["info"]["description"].as_str().is_some_and(|text| text.len() > 200));
}

#[test]
fn every_operation_says_who_it_is_and_how_it_can_fail() {
    let document = document();
    let tags: BTreeSet<&str> = document["tags"].as_array().expect("tags").iter().filter_map(|t| t["name"].as_str()).collect();
    let mut ids = BTreeSet::new();
    for operation in operations(&document) {
        let o = &operation.value;
        let at = format!("{} {}", operation.method, operation.path);
        let id = o["operationId"].as_str().unwrap_or_else(|| panic!("{at} has no operationId"));
        assert!(ids.insert(id.to_owned()), "{id} is used twice");
        assert!(o["summary"].as_str().is_some_and(|s| s.len() > 5), "{at} has no summary");
        let own = o["tags"].as_array().unwrap_or_else(|| panic!("{at} has no tag"));
        assert!(
            !own.is_empty() && own.iter().all(|t| t.as_str().is_some_and(|t| tags.contains(t))),
            "{at} has a tag without a description"
        );
        let good = good_answer(o).unwrap_or_else(|| panic!("{at} has no good answer"));
        assert!(good["description"].as_str().is_some_and(|d| !d.is_empty()), "{at} does not say what it answers");
        assert!(good["content"].is_object(), "{at} does not say the form of its answer");
        if o["requestBody"].is_object() {
            for status in ["400", "413", "415", "422", "503"] {
                let problem = &o["responses"][status];
                assert!(problem["description"].as_str().is_some_and(|d| !d.is_empty()), "{at} does not declare {status}");
                let schema = &problem["content"]["application/problem+json"]["schema"];
                assert_eq!(schema["$ref"], "#/components/schemas/Problem", "{at}, {status}");
            }
            assert!(o["requestBody"]["required"] == true, "{at} does not say that it needs a body");
        }
    }
    assert!(ids.len() >= 14, "{ids:?}");
}

#[test]
fn every_example_is_answered_as_posted() {
    let document = document();
    let mut posted = 0;
    for operation in operations(&document).iter().filter(|o| o.value["requestBody"].is_object()) {
        let content = operation.value["requestBody"]["content"].as_object().expect("a body has a form");
        for (media_type, body) in content {
            // A workbook is no text that a document could show; `workbooks` posts some.
            if body["schema"]["$ref"] == "#/components/schemas/Workbook" {
                continue;
            }
            let example = &body["example"];
            let bytes = match example {
                Value::Null => panic!("{} has no example as {media_type}", operation.path),
                Value::String(text) if media_type != "application/json" => text.clone(),
                json => json.to_string(),
            };
            // The first key shuts the door to everybody else: it is made where nobody else asks.
            let first_key = operation.value["operationId"] == "key_create";
            let own = first_key.then(|| Service::start(limits()));
            let asked = own.as_ref().unwrap_or(service());
            let (path, tag) = in_place(operation);
            let mut request = asked.request(&operation.method.to_uppercase(), &path).header("content-type", media_type).body(bytes);
            if let Some(tag) = tag {
                request = request.header("if-match", tag);
            }
            let answer = asked.send(request);
            let success = if operation.value["responses"]["201"].is_object() { 201 } else { 200 };
            assert_eq!(answer.status, success, "{}: {}", operation.path, answer.text());
            assert!(!answer.body.is_empty(), "{} answers its example with nothing", operation.path);
            posted += 1;
        }
    }
    assert!(posted >= 7, "{posted} examples");
}

/// The path of an operation with something real in place of its parameters, and the tag of that thing where the operation
/// asks for one.
fn in_place(operation: &Operation) -> (String, Option<String>) {
    if !operation.path.contains("{id}") {
        return (operation.path.clone(), None);
    }
    let kept = match operation.path.split('/').nth(3) {
        Some("webhooks") => {
            let made = service().post("/api/v1/webhooks", &serde_json::json!({"url": "https://portal.example/", "events": ["quote.sent"]}));
            (made.ok()["webhook"].clone(), String::new())
        }
        Some("quotes") => keep(service(), &draft("EXAMPLE")),
        other => panic!("no example of something kept under {other:?}"),
    };
    let (thing, mut tag) = kept;
    let id = thing["id"].as_str().expect("an id").to_owned();
    if operation.path.ends_with("/revisions") {
        let send = service().request("POST", &format!("/api/v1/quotes/{id}/state")).header("if-match", &tag);
        let sent = service().send(send.json(&serde_json::json!({"state": "sent"})));
        sent.ok();
        tag = sent.header("etag").to_owned();
    }
    (operation.path.replace("{id}", &id), Some(tag).filter(|tag| !tag.is_empty()))
}

#[test]
fn an_id_that_cannot_be_is_an_unknown_one() {
    let long = "7".repeat(65);
    let document = document();
    let mut asked = 0;
    for operation in operations(&document).iter().filter(|o| o.path.contains('{')) {
        let parts: Vec<&str> = operation.path.split('/').collect();
        for place in parts.iter().enumerate().filter(|(_, part)| part.starts_with('{')).map(|(place, _)| place) {
            for odd in ["%FF", "%C3%28", "%00", "%20", &long] {
                let named = |(k, part): (usize, &&str)| match part.starts_with('{') {
                    true if k == place => odd.to_owned(),
                    true => "none".to_owned(),
                    false => (*part).to_owned(),
                };
                let path = parts.iter().enumerate().map(named).collect::<Vec<_>>().join("/");
                let mut request = service().request(&operation.method.to_uppercase(), &path).header("if-match", "*");
                if let Some((media_type, body)) = operation.value["requestBody"]["content"].as_object().and_then(|c| c.iter().next()) {
                    request = request.header("content-type", media_type).body(body["example"].to_string());
                }
                let answer = service().send(request);
                assert_eq!(answer.status, 404, "{} {path}: {}", operation.method, String::from_utf8_lossy(&answer.body));
                assert_eq!(answer.problem().kind, "/reference#not-found", "{} {path}", operation.method);
                asked += 1;
            }
        }
    }
    assert!(asked >= 80, "{asked}");
}

/// Two types of one name would silently share one schema, that of whichever comes last.
#[test]
fn no_two_types_of_the_document_have_one_name() {
    let mut seen = BTreeSet::new();
    for source in sources_under("server/src", "rs") {
        let mut told = false;
        for line in source.text.lines() {
            told |= line.trim_start().starts_with("#[derive(") && line.contains("ToSchema");
            let mut words = line.split_whitespace().skip_while(|word| word.starts_with("pub")).take(2);
            if let (true, Some("struct" | "enum"), Some(name)) = (told, words.next(), words.next()) {
                let name: String = name.chars().take_while(|c| c.is_alphanumeric()).collect();
                assert!(seen.insert(name.clone()), "{}: there is another {name}", source.path);
                told = false;
            }
        }
    }
    assert!(seen.len() > 80, "{}", seen.len());
}

#[test]
fn every_reference_leads_somewhere() {
    let document = document();
    let mut references = BTreeSet::new();
    walk(&document, &mut |object| references.extend(object.get("$ref").and_then(Value::as_str).map(str::to_owned)));
    assert!(references.len() > 20, "{references:?}");
    for reference in references {
        let pointer = reference.strip_prefix('#').unwrap_or_else(|| panic!("{reference} leads outside"));
        assert!(document.pointer(pointer).is_some(), "{reference} leads nowhere");
    }
}

#[test]
fn every_field_of_a_request_is_described_and_closed() {
    let document = document();
    let mut missing = Vec::new();
    let mut seen = BTreeSet::new();
    let operations = operations(&document);
    for operation in operations.iter().filter(|o| o.value["requestBody"].is_object()) {
        let schema = &operation.value["requestBody"]["content"]["application/json"]["schema"];
        check_described(&document, schema, &operation.path, &mut seen, &mut missing);
    }
    assert!(seen.len() > 15, "{seen:?}");
    assert!(missing.is_empty(), "{}", missing.join("\n"));
}

/// Finds fields without a description and objects that would take unknown fields.
fn check_described<'a>(document: &'a Value, schema: &'a Value, at: &str, seen: &mut BTreeSet<&'a str>, missing: &mut Vec<String>) {
    if let Some(reference) = schema["$ref"].as_str() {
        if seen.insert(reference) {
            check_described(document, target(document, schema), reference, seen, missing);
        }
        return;
    }
    for part in ["oneOf", "anyOf", "allOf"] {
        for choice in schema[part].as_array().into_iter().flatten() {
            check_described(document, choice, at, seen, missing);
        }
    }
    check_described_items(document, schema, at, seen, missing);
    let Some(properties) = schema["properties"].as_object() else { return };
    if schema["additionalProperties"] != false {
        missing.push(format!("{at} takes unknown fields"));
    }
    for (name, property) in properties {
        let told = |schema: &Value| schema["description"].as_str().is_some_and(|d| !d.is_empty());
        let inner = property["oneOf"].as_array().into_iter().flatten();
        // The word that tells shapes apart is described by the choice that it makes; the two of a spread by theirs.
        let by_context = name == "kind" || ["value", "plus_minus", "low", "high"].contains(&name.as_str());
        if !by_context
            && !told(property)
            && !told(target(document, property))
            && !inner.clone().any(|choice| told(choice) || told(target(document, choice)))
        {
            missing.push(format!("{at}: {name} is not described"));
        }
        check_described(document, property, &format!("{at}/{name}"), seen, missing);
    }
}

fn check_described_items<'a>(document: &'a Value, schema: &'a Value, at: &str, seen: &mut BTreeSet<&'a str>, missing: &mut Vec<String>) {
    if schema["items"].is_object() {
        check_described(document, &schema["items"], &format!("{at}/-"), seen, missing);
    }
}

fn target<'a>(document: &'a Value, schema: &'a Value) -> &'a Value {
    schema["$ref"].as_str().and_then(|r| document.pointer(r.trim_start_matches('#'))).unwrap_or(schema)
}

#[test]
fn every_address_is_asked_by_some_test() {
    let tests: Vec<_> = sources_under("tests/tests", "rs").into_iter().filter(|s| !s.path.ends_with("/openapi.rs")).collect();
    let document = document();
    let paths: Vec<&String> = document["paths"].as_object().expect("paths").keys().collect();
    assert!(paths.len() >= 14, "{paths:?}");
    for path in paths.iter().filter(|p| p.as_str() != "/api/v1/openapi.json") {
        let asked = tests.iter().any(|t| t.text.contains(&format!("\"{path}\"")) || t.text.contains(&format!("\"{path}?")));
        assert!(asked, "no test asks {path}");
    }
}

/// What an operation answers where all is well.
fn good_answer(operation: &Value) -> Option<&Value> {
    operation["responses"].as_object()?.iter().find(|(status, _)| status.starts_with('2')).map(|(_, answer)| answer)
}

struct Operation {
    path: String,
    method: String,
    value: Value,
}

fn document() -> Value {
    service().get("/api/v1/openapi.json").ok()
}

fn operations(document: &Value) -> Vec<Operation> {
    let paths = document["paths"].as_object().expect("paths");
    let of = |(path, methods): (&String, &Value)| {
        let methods: &Map<String, Value> = methods.as_object().expect("methods");
        methods
            .iter()
            .filter(|(name, _)| ["get", "post", "put", "patch", "delete"].contains(&name.as_str()))
            .map(|(method, value)| Operation { path: path.clone(), method: method.clone(), value: value.clone() })
            .collect::<Vec<_>>()
    };
    paths.iter().flat_map(of).collect()
}

fn walk(value: &Value, visit: &mut impl FnMut(&Map<String, Value>)) {
    match value {
        Value::Object(object) => {
            visit(object);
            object.values().for_each(|inner| walk(inner, visit));
        }
        Value::Array(list) => list.iter().for_each(|inner| walk(inner, visit)),
        _ => {}
    }
}
