//! The OpenAPI document, built from the router that serves. It takes no state and starts nothing.

use std::sync::OnceLock;

use serde_json::{Map, Value, json};
use utoipa::OpenApi;

use toile_model::LIBRARY;

use crate::api::examples::{EXAMPLES, FEATURES};
use crate::api::problem::{FieldError, Problem};
use crate::api::rates::ShopSettings;
use crate::api::webhooks::{JobEvent, PingEvent, QuoteEvent};
use crate::http::access::least_role;
use crate::http::v1::webhooks::name_of;
use crate::keys::Role;
use crate::usecase::batch::batch_columns;
use crate::usecase::webhook::EventKind;

/// What the document says about the service as a whole.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "Toile",
        version = "1",
        description = "Tells whether a stitched electronic idea can work: touch pads, runs, light rows, electrodes and laid \
            wires on cloth. \
            A piece goes in; a verdict comes out, with every requirement, its 95 % interval, its source and the cautions that apply.\n\n\
            Numbers are in the unit that their suffix says; layers are listed upwards. A number of a piece may carry its spread: \
            `{\"value\": 3.0, \"plus_minus\": 0.2}` (normal, 95 %) or `{\"low\": 2.8, \"high\": 3.2}` (uniform). \
            Errors are RFC 9457 problems with one entry for every fault.",
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0")
    ),
    components(schemas(Problem, FieldError, ShopSettings, QuoteEvent, JobEvent, PingEvent)),
    tags(
        (name = "pieces", description = "Whole pieces: one as JSON, many as a spreadsheet"),
        (name = "jobs", description = "Large spreadsheets, worked off in the background by one machine or many"),
        (name = "quotes", description = "Saved estimates with price, terms and revision"),
        (name = "library", description = "Threads, fabrics and controllers, with source and status"),
        (name = "parts", description = "Single parts of the physics, for scripts and for checking"),
        (name = "keys", description = "Who may do what, and who did what"),
        (name = "webhooks", description = "Who is told what happens, and what became of it"),
        (name = "service", description = "State of the service")
    )
)]
pub struct Heading;

/// The document as a JSON value, examples in place.
///
/// Kept as JSON rather than as the builder's types: those do not read back everything they write.
pub fn as_json() -> &'static Value {
    static JSON: OnceLock<Value> = OnceLock::new();
    JSON.get_or_init(|| {
        let mut document = serde_json::to_value(super::router::routes().1).expect("the document is plain data");
        for &(id, media_type, body) in EXAMPLES {
            let example = if media_type == "application/json" {
                serde_json::from_str(body).expect("every JSON example is JSON")
            } else {
                Value::String(body.to_owned())
            };
            operation(&mut document, id)["requestBody"]["content"][media_type]["example"] = example;
        }
        for &(schema, body) in FEATURES {
            let example: Value = serde_json::from_str(body).expect("every example is JSON");
            document["components"]["schemas"][schema]["examples"] = Value::Array(vec![example]);
        }
        let description = &mut operation(&mut document, "batch_answer")["description"];
        *description = format!("{}\n\n{}", description.as_str().unwrap_or_default(), batch_columns()).into();
        name_entries(&mut document["components"]["schemas"]);
        close_kinds(&mut document["components"]["schemas"]);
        tell_keys(&mut document);
        document["webhooks"] = webhooks();
        document
    })
}

/// Says of every shape told apart by its `kind` that it takes no other fields: the reader refuses them, but the
/// schema macro does not carry that over to the variants of a tagged choice.
fn close_kinds(schemas: &mut Value) {
    let choices = schemas.as_object_mut().into_iter().flatten().filter_map(|(_, schema)| schema.get_mut("oneOf")?.as_array_mut()).flatten();
    for variant in choices.filter(|v| v["properties"]["kind"].is_object()) {
        variant["additionalProperties"] = Value::Bool(false);
    }
}

/// Says of every operation whether it needs a key, of which role at least, and how it refuses one.
fn tell_keys(document: &mut Value) {
    document["components"]["securitySchemes"]["key"] = json!({
        "type": "http",
        "scheme": "bearer",
        "description": "A key made with `toile key add` or `POST /api/v1/keys`, sent as `Authorization: Bearer KEY`. A service without any key \
            answers this machine only, and needs none. Each role may do all that those before it may: reader, estimator, lab, admin."
    });
    let problem = |description: &str, header: &str, told: &str, schema: Value| {
        json!({
            "description": description,
            "headers": { header: { "description": told, "schema": schema } },
            "content": { "application/problem+json": { "schema": { "$ref": "#/components/schemas/Problem" } } }
        })
    };
    let seconds = || json!({ "type": "integer", "minimum": 1 });
    let refusals = [
        (
            "401",
            problem(
                "No key, or none that is good: unknown, expired or revoked.",
                "WWW-Authenticate",
                "What kind of key is wanted.",
                json!({ "type": "string" }),
            ),
        ),
        (
            "429",
            problem(
                "More requests than the key allows; try again after the time in `Retry-After`.",
                "Retry-After",
                "Seconds to wait.",
                seconds(),
            ),
        ),
        ("503", problem("Too much to do; try again after the time in `Retry-After`.", "Retry-After", "Seconds to wait.", seconds())),
    ];
    for operation in operations_mut(document) {
        let least = operation["operationId"].as_str().map_or(Some(Role::Admin), least_role);
        let Some(least) = least else {
            operation["security"] = json!([]);
            continue;
        };
        operation["security"] = json!([{ "key": [] }]);
        operation["x-least-role"] = least.name().into();
        let responses = &mut operation["responses"];
        for (status, refusal) in &refusals {
            responses[status] = refusal.clone();
        }
        responses["403"] = json!({
            "description": format!("The key has not the role {least} or more, or the request comes from where none may come from."),
            "content": { "application/problem+json": { "schema": { "$ref": "#/components/schemas/Problem" } } }
        });
        sort_by_status(responses);
    }
}

fn sort_by_status(responses: &mut Value) {
    if let Some(responses) = responses.as_object_mut() {
        responses.sort_keys();
    }
}

const METHODS: [&str; 5] = ["get", "post", "put", "patch", "delete"];

/// Every operation with its path and method.
pub fn operations(document: &Value) -> impl Iterator<Item = (&str, &str, &Value)> {
    let paths = document["paths"].as_object().into_iter().flatten();
    paths.flat_map(|(path, methods)| {
        let methods = methods.as_object().into_iter().flatten().filter(|(name, _)| METHODS.contains(&name.as_str()));
        methods.map(move |(method, operation)| (path.as_str(), method.as_str(), operation))
    })
}

fn operations_mut(document: &mut Value) -> impl Iterator<Item = &mut Value> {
    let paths = document["paths"].as_object_mut().into_iter().flatten();
    paths
        .flat_map(|(_, methods)| methods.as_object_mut().into_iter().flatten())
        .filter(|(name, _)| METHODS.contains(&name.as_str()))
        .map(|(_, operation)| operation)
}

/// What is posted to a webhook, event by event.
fn webhooks() -> Value {
    let told = |name: &str, what: &str, schema: &str| {
        let header = |header: &str, what: &str| json!({"name": header, "in": "header", "required": true, "description": what, "schema": {"type": "string"}});
        let event = json!({"post": {
            "operationId": format!("{}_told", name.replace('.', "_")),
            "security": [],
            "summary": what,
            "tags": ["webhooks"],
            "parameters": [
                header("webhook-id", "Id of the event, the same at every try: keep those taken, and take each once."),
                header("webhook-timestamp", "When it is sent, seconds since 1970. Refuse what is more than five minutes off."),
                header("webhook-signature", "Signatures with blanks between them, each `v1,` and base64 of HMAC-SHA-256 over id, dot, \
                    timestamp, dot and body. One good one is enough; two come while a secret is changed."),
            ],
            "requestBody": {"required": true, "content": {"application/json": {"schema": {"$ref": format!("#/components/schemas/{schema}")}}}},
            "responses": {
                "2XX": {"description": "The event is taken."},
                "410": {"description": "No more events are wanted: the webhook is paused."},
                "default": {"description": "The event is not taken; it is sent again later."}
            }
        }});
        (name.to_owned(), event)
    };
    let named = EventKind::ALL.into_iter().map(|kind| match name_of(kind) {
        None => told(kind.name(), "Somebody tried this webhook out", "PingEvent"),
        Some(name) => told(kind.name(), name.what(), if kind.name().starts_with("quote.") { "QuoteEvent" } else { "JobEvent" }),
    });
    named.collect::<Map<_, _>>().into()
}

/// The document as the repository and `/api/v1/openapi.json` hold it.
pub fn as_text() -> &'static str {
    static TEXT: OnceLock<String> = OnceLock::new();
    TEXT.get_or_init(|| serde_json::to_string_pretty(as_json()).expect("the document is plain data") + "\n")
}

/// The operation with this id.
fn operation<'a>(document: &'a mut Value, id: &str) -> &'a mut Value {
    operations_mut(document).find(|operation| operation["operationId"] == id).expect("the id is one of the router's")
}

/// Says which entries of the library there are: the reader then refuses others with the nearest name, together with
/// every other fault of the body.
fn name_entries(schemas: &mut Value) {
    let metals = || LIBRARY.metals.iter().map(|m| m.id).collect();
    let ids: [(&str, &str, Vec<&str>); 6] = [
        ("Thread", "library", LIBRARY.threads.iter().map(|t| t.id).collect()),
        ("Layer", "library", LIBRARY.fabrics.iter().map(|f| f.id).collect()),
        ("Controller", "library", LIBRARY.controllers.iter().map(|c| c.id).collect()),
        ("ThreadQuestion", "library", LIBRARY.threads.iter().map(|t| t.id).collect()),
        ("ConductorNumbers", "metal", metals()),
        ("WireConductor", "metal", metals()),
    ];
    for (schema, field, ids) in ids {
        let mut known: Vec<Value> = ids.into_iter().map(Value::from).collect();
        known.push(Value::Null);
        schemas[schema]["properties"][field]["enum"] = known.into();
    }
}
