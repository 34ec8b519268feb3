//! From the bytes of a body to a wire type, or to every fault in it.
//!
//! A good body is read by serde in one go. When serde refuses, or the model finds a number out of range, the body is
//! held against the schema that the OpenAPI document publishes for it, and every difference is reported with its
//! pointer: unknown names with the nearest known one, missing fields, wrong types, numbers out of range. So the
//! document and the check cannot differ.

use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

use super::doubled::{doubled_names, step};
use super::problem::{FieldError, Refusal};

/// Gives the published OpenAPI document; it is made when first needed, which a good body never does.
pub type Published = fn() -> &'static Value;

/// A wire type that can be read from a body.
pub trait Readable: DeserializeOwned {
    /// Name of its schema in the OpenAPI document.
    const SCHEMA: &'static str;
}

/// Reads a body.
///
/// # Errors
/// [`Refusal::Unreadable`] when it is not JSON, [`Refusal::NotAllowed`] with every fault otherwise.
pub fn read<T: Readable>(body: &[u8], document: Published) -> Result<T, Refusal> {
    serde_json::from_slice(body).map_err(|error| explain::<T>(body, &error, document))
}

/// Reads a body and holds it against its schema at once, ranges included: for wire types whose numbers no model
/// check looks at again.
///
/// # Errors
/// As [`read`].
pub fn read_in_range<T: Readable>(body: &[u8], document: Published) -> Result<T, Refusal> {
    let wire = read(body, document)?;
    let value: Value = serde_json::from_slice(body).map_err(|error| Refusal::Unreadable(error.to_string()))?;
    let faults = differences(&value, T::SCHEMA, document);
    if faults.is_empty() { Ok(wire) } else { Err(Refusal::NotAllowed(faults)) }
}

/// Every fault of a body that was refused: those against the schema, then those `found` elsewhere at other places.
pub fn explain_faults<T: Readable>(body: &[u8], found: Vec<FieldError>, document: Published) -> Refusal {
    let Ok(value) = serde_json::from_slice::<Value>(body) else { return Refusal::NotAllowed(found) };
    let mut faults = differences(&value, T::SCHEMA, document);
    for mut fault in found {
        // What is at fault outside the body has an empty pointer; the whole body is no news to who sent it.
        if let Some(given) = value.pointer(&fault.pointer).filter(|_| !fault.pointer.is_empty()) {
            fault.value = shortened(given);
        }
        if !faults.iter().any(|f| covers(&f.pointer, &fault.pointer) || covers(&fault.pointer, &f.pointer)) {
            faults.push(fault);
        }
    }
    Refusal::NotAllowed(faults)
}

/// Whether a fault at `outer` already speaks of the field at `inner`.
fn covers(outer: &str, inner: &str) -> bool {
    inner == outer || inner.strip_prefix(outer).is_some_and(|rest| rest.starts_with('/'))
}

fn explain<T: Readable>(body: &[u8], error: &serde_json::Error, document: Published) -> Refusal {
    let value = match serde_json::from_slice::<Value>(body) {
        Ok(value) => value,
        Err(error) if body.is_empty() => return Refusal::Unreadable(format!("The body is empty; a JSON object is expected ({error}).")),
        Err(error) => return Refusal::Unreadable(format!("The body is not JSON that can be read: {error}.")),
    };
    let mut faults = differences(&value, T::SCHEMA, document);
    // What the schema cannot see: of a field given twice the value holds only the last.
    faults.extend(doubled_names(body).into_iter().take(MOST_FAULTS).map(|pointer| FieldError {
        value: value.pointer(&pointer).map_or(Value::Null, shortened),
        message: "This field is given twice.".into(),
        allowed: "each field once".into(),
        pointer,
    }));
    if faults.is_empty() {
        faults.push(FieldError {
            pointer: String::new(),
            value: Value::Null,
            message: format!("{error}."),
            allowed: "each field once, as the reference says".into(),
        });
    }
    Refusal::NotAllowed(faults)
}

/// Longest list of faults that is sent back; a body with more is explained well enough by the first.
const MOST_FAULTS: usize = 200;

fn differences(value: &Value, schema: &str, document: Published) -> Vec<FieldError> {
    let mut walk = Walk { schemas: &document()["components"]["schemas"], faults: Vec::new() };
    walk.check(value, &walk.schemas[schema], &mut String::new());
    walk.faults
}

struct Walk<'a> {
    schemas: &'a Value,
    faults: Vec<FieldError>,
}

impl<'a> Walk<'a> {
    fn resolve(&self, mut schema: &'a Value) -> &'a Value {
        while let Some(name) = schema["$ref"].as_str() {
            schema = &self.schemas[name.trim_start_matches("#/components/schemas/")];
        }
        schema
    }

    fn refuse(&mut self, pointer: &str, value: &Value, message: impl Into<String>, allowed: impl Into<String>) {
        if self.faults.len() < MOST_FAULTS {
            self.faults.push(FieldError {
                pointer: pointer.to_owned(),
                value: shortened(value),
                message: message.into(),
                allowed: allowed.into(),
            });
        }
    }

    fn check(&mut self, value: &Value, schema: &'a Value, pointer: &mut String) {
        let schema = self.resolve(schema);
        if let Some(choices) = schema["oneOf"].as_array() {
            return self.check_choice(value, choices, pointer);
        }
        if let Some(words) = schema["enum"].as_array() {
            if !words.contains(value) {
                let words: Vec<_> = words.iter().filter_map(Value::as_str).collect();
                let message = nearest(value.as_str().unwrap_or_default(), &words).map_or_else(
                    || "This word is not known here.".to_owned(),
                    |near| format!("This word is not known here; did you mean `{near}`?"),
                );
                self.refuse(pointer, value, message, format!("one of {}", words.join(", ")));
            }
            return;
        }
        let types: Vec<&str> = match &schema["type"] {
            Value::String(one) => vec![one],
            Value::Array(many) => many.iter().filter_map(Value::as_str).collect(),
            _ => return,
        };
        let Some(kind) = types.iter().copied().find(|kind| is_of(value, kind)) else {
            let wanted: Vec<_> = types.iter().filter(|t| **t != "null").map(|t| in_words(t)).collect();
            return self.refuse(
                pointer,
                value,
                format!("This is {}, not {}.", name_of(value), wanted.join(" or ")),
                range(schema, wanted[0]),
            );
        };
        match kind {
            "number" | "integer" => self.check_number(value, schema, pointer),
            "string" => {
                let most = schema["maxLength"].as_u64().unwrap_or(u64::MAX);
                if value.as_str().is_some_and(|s| s.chars().count() as u64 > most) {
                    self.refuse(pointer, value, "The text is too long.", format!("at most {most} characters"));
                }
            }
            "array" => self.check_array(value, schema, pointer),
            "object" => self.check_object(value, schema, pointer),
            _ => {}
        }
    }

    fn check_number(&mut self, value: &Value, schema: &Value, pointer: &str) {
        let Some(x) = value.as_f64() else { return };
        let (low, high) = (schema["minimum"].as_f64(), schema["maximum"].as_f64());
        if low.is_some_and(|low| x < low) || high.is_some_and(|high| x > high) {
            self.refuse(pointer, value, "The number is outside the allowed range.", range(schema, "a number"));
        }
    }

    fn check_array(&mut self, value: &Value, schema: &'a Value, pointer: &mut String) {
        let items = value.as_array().map_or(&[][..], Vec::as_slice);
        let (least, most) = (schema["minItems"].as_u64().unwrap_or(0), schema["maxItems"].as_u64().unwrap_or(u64::MAX));
        if !(least..=most).contains(&(items.len() as u64)) {
            let allowed = if most == u64::MAX {
                format!("{least} or more")
            } else if least == most {
                format!("{least}")
            } else {
                format!("{least} to {most}")
            };
            self.refuse(pointer, &Value::from(items.len()), format!("The list has {} entries.", items.len()), format!("{allowed} entries"));
        }
        for (k, item) in items.iter().enumerate() {
            self.descend(&k.to_string(), pointer, |walk, pointer| walk.check(item, &schema["items"], pointer));
        }
    }

    fn check_object(&mut self, value: &Value, schema: &'a Value, pointer: &mut String) {
        let (Some(given), Some(known)) = (value.as_object(), schema["properties"].as_object()) else { return };
        let names: Vec<&str> = known.keys().map(String::as_str).collect();
        if let (Some(low), Some(high), true) = (value["low"].as_f64(), value["high"].as_f64(), known.contains_key("low"))
            && low > high
        {
            self.refuse(pointer, value, "This spread has its low limit above its high limit.", "low at most as large as high");
        }
        for (name, inner) in given {
            match known.get(name) {
                Some(property) => self.descend(name, pointer, |walk, pointer| walk.check(inner, property, pointer)),
                None => {
                    let message = nearest(name, &names).map_or_else(
                        || format!("The field `{}` is not known here.", shorten(name)),
                        |near| format!("The field `{}` is not known here; did you mean `{near}`?", shorten(name)),
                    );
                    self.descend(name, pointer, |walk, pointer| {
                        walk.refuse(pointer, inner, message, format!("one of {}", names.join(", ")));
                    });
                }
            }
        }
        for name in schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str) {
            if !given.contains_key(name) {
                let property = self.resolve(&known[name]);
                let allowed = range(property, "a value");
                self.descend(name, pointer, |walk, pointer| {
                    walk.refuse(pointer, &Value::Null, format!("The field `{name}` is missing."), allowed)
                });
            }
        }
    }

    /// A choice between shapes of a value: told apart by their `kind`, or by the fields they have.
    fn check_choice(&mut self, value: &Value, choices: &'a [Value], pointer: &mut String) {
        let resolved: Vec<&'a Value> = choices.iter().map(|c| self.resolve(c)).collect();
        if value.is_null() && resolved.iter().any(|c| c["type"] == "null") {
            return;
        }
        let kind_of = |schema: &'a Value| schema["properties"]["kind"]["enum"][0].as_str();
        let kinds: Vec<&str> = resolved.iter().filter_map(|c| kind_of(c)).collect();
        if !kinds.is_empty() {
            let Some(object) = value.as_object() else {
                return self.refuse(
                    pointer,
                    value,
                    format!("This is {}, not an object with a `kind`.", name_of(value)),
                    format!("kind: one of {}", kinds.join(", ")),
                );
            };
            let given = object.get("kind");
            let chosen = given.and_then(Value::as_str).and_then(|kind| resolved.iter().find(|c| kind_of(c) == Some(kind)));
            match chosen {
                Some(schema) => self.check(value, schema, pointer),
                None => {
                    let message = match given {
                        None => "The field `kind` is missing.".to_owned(),
                        Some(word) => nearest(word.as_str().unwrap_or_default(), &kinds).map_or_else(
                            || "This kind is not known here.".to_owned(),
                            |near| format!("This kind is not known here; did you mean `{near}`?"),
                        ),
                    };
                    self.descend("kind", pointer, |walk, pointer| {
                        walk.refuse(pointer, given.unwrap_or(&Value::Null), message, format!("one of {}", kinds.join(", ")));
                    });
                }
            }
            return;
        }
        // A number with or without a spread, or something that may be null: the first choice of the value's own type,
        // among objects the one that shares most fields.
        let fits = |schema: &&&'a Value| match schema["type"].as_str() {
            Some(kind) => is_of(value, kind),
            None => !value.is_null(),
        };
        let shared = |schema: &'a Value| fields_shared(value.as_object(), schema["properties"].as_object());
        match resolved.iter().filter(fits).max_by_key(|schema| shared(schema)) {
            Some(schema) => self.check(value, schema, pointer),
            None => {
                let wanted: Vec<_> = resolved.iter().filter_map(|c| c["type"].as_str()).filter(|t| *t != "null").map(in_words).collect();
                let mut wanted_once = wanted.clone();
                wanted_once.dedup();
                // Words or one number that may be left out; or a number that may carry a spread.
                let allowed = match resolved.iter().find(|c| c["enum"].is_array() || c["minimum"].is_number()) {
                    Some(c) if resolved.iter().any(|c| c["type"] == "object") => {
                        format!("{}, or an object with value and plus_minus, or with low and high", range(c, "a number"))
                    }
                    Some(c) => range(c, "a value"),
                    None => wanted_once.join(" or "),
                };
                self.refuse(pointer, value, format!("This is {}, not {}.", name_of(value), wanted_once.join(" or ")), allowed);
            }
        }
    }

    fn descend(&mut self, token: &str, pointer: &mut String, inside: impl FnOnce(&mut Self, &mut String)) {
        let length = pointer.len();
        step(pointer, token);
        inside(self, pointer);
        pointer.truncate(length);
    }
}

fn fields_shared(given: Option<&Map<String, Value>>, known: Option<&Map<String, Value>>) -> usize {
    match (given, known) {
        (Some(given), Some(known)) => given.keys().filter(|k| known.contains_key(*k)).count(),
        _ => 0,
    }
}

fn is_of(value: &Value, kind: &str) -> bool {
    match kind {
        "null" => value.is_null(),
        "number" => value.is_number(),
        "integer" => value.is_u64() || value.is_i64(),
        "string" => value.is_string(),
        "boolean" => value.is_boolean(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        _ => false,
    }
}

fn name_of(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "true or false",
        Value::Number(n) if n.is_f64() => "a number with a fraction",
        Value::Number(_) => "a number",
        Value::String(_) => "a text",
        Value::Array(_) => "a list",
        Value::Object(_) => "an object",
    }
}

fn in_words(kind: &str) -> &'static str {
    match kind {
        "number" => "a number",
        "integer" => "a whole number",
        "string" => "a text",
        "boolean" => "true or false",
        "array" => "a list",
        "object" => "an object",
        _ => "a value",
    }
}

/// The allowed range of a schema in words.
fn range(schema: &Value, otherwise: &'static str) -> String {
    let number = |key: &str| schema[key].as_f64().map(|x| x.to_string());
    if let Some(words) = schema["enum"].as_array() {
        let words: Vec<_> = words.iter().filter_map(Value::as_str).collect();
        return format!("one of {}", words.join(", "));
    }
    let unit = unit_of(schema);
    match (number("minimum"), number("maximum")) {
        (Some(low), Some(high)) => format!("{low} to {high}{unit}"),
        (Some(low), None) => format!("{low}{unit} or more"),
        _ => schema["oneOf"]
            .as_array()
            .and_then(|choices| choices.first())
            .filter(|c| c["minimum"].is_number())
            .map_or_else(|| schema["type"].as_str().map_or(otherwise, in_words).to_owned(), |choice| range(choice, otherwise)),
    }
}

/// The unit that a quantity's description ends its first sentence with.
fn unit_of(schema: &Value) -> String {
    let text = schema["description"].as_str().unwrap_or_default();
    text.split_once(", in ").and_then(|(_, rest)| rest.split_once('.')).map_or_else(String::new, |(unit, _)| format!(" {unit}"))
}

/// The known name nearest to a given one, if it is near enough to be a slip.
fn nearest<'a>(given: &str, known: &[&'a str]) -> Option<&'a str> {
    if given.len() > 100 {
        return None;
    }
    known
        .iter()
        .map(|name| {
            // A name cut short or grown is a slip as much as a mistyped one.
            let part = given.len() > 4 && (name.contains(given) || given.contains(name));
            (if part { 0.9 } else { strsim::jaro_winkler(&given.to_lowercase(), name) }, *name)
        })
        .filter(|(score, _)| *score > 0.75)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}

/// A value short enough to send back.
fn shortened(value: &Value) -> Value {
    match value {
        Value::String(s) => Value::String(shorten(s)),
        Value::Array(list) => Value::String(format!("a list of {}", list.len())),
        Value::Object(fields) if fields.len() > 4 => Value::String(format!("an object of {} fields", fields.len())),
        Value::Object(fields) => Value::Object(fields.iter().map(|(k, v)| (shorten(k), shortened(v))).collect()),
        other => other.clone(),
    }
}

fn shorten(text: &str) -> String {
    const MOST: usize = 100;
    if text.chars().count() <= MOST { text.to_owned() } else { text.chars().take(MOST).chain("…".chars()).collect() }
}
