//! Pieces: what reads is estimated in finite numbers, what does not is told with the place of each fault.

use serde_json::Value;
use toile::api::answer::EstimateAnswer;
use toile::api::piece::Piece;
use toile::api::problem::{FieldError, Refusal};
use toile::api::read::{explain_faults, read};
use toile::http::document;
use toile::usecase::estimate::{Prepared, Wanted, estimate_complete, estimate_create};
use toile_model::electrostatics::Choice;
use toile_model::{Faults, LIBRARY};

/// Features of a piece of which everything is asked; of one with more only the estimate, which is made once.
const MOST_FEATURES: usize = 4;

/// Any bytes as the body that asks for an estimate. The closed forms answer, whatever method the piece asks for: the field takes too
/// long to be asked so often.
pub fn hold(body: &[u8]) {
    let wire = match read::<Piece>(body, document::as_json) {
        Ok(wire) => wire,
        Err(refusal) => return hold_refusal(refusal, serde_json::from_slice(body).ok().as_ref()),
    };
    let mut piece: toile_model::Piece = wire.into();
    piece.aim.choice = Choice::ClosedForm;
    let features = piece.pads.len() + piece.electrodes.len() + piece.light_rows.len() + piece.laid_wires.len();
    let created = estimate_create(piece, &LIBRARY);
    let (piece, estimate) = match created {
        Ok(created) => created,
        Err(faults) => return hold_faults(faults, body),
    };
    hold_numbers(&estimate);
    assert!(estimate.weakest < estimate.checks.len());
    if features > MOST_FEATURES {
        return;
    }
    let wanted = Wanted { working: true, approach: false, runs: true };
    let Prepared { piece, estimate, changes, working, approach, runs } = match estimate_complete(piece, estimate, &LIBRARY, wanted) {
        Ok(prepared) => prepared,
        Err(faults) => return hold_faults(faults, body),
    };
    hold_numbers(&(&changes, &working, &runs));
    let answer = EstimateAnswer::new(&piece, &estimate, &changes, true, working.as_deref(), approach.as_deref(), runs.as_deref());
    let answer = serde_json::to_value(&answer).expect("an answer is plain data");
    hold_answer(&answer);
}

/// Faults that the model found, told as the service tells them.
fn hold_faults(faults: Faults, body: &[u8]) {
    let Refusal::NotAllowed(found) = faults.into() else { panic!("faults of the piece are not allowed") };
    hold_refusal(explain_faults::<Piece>(body, found, document::as_json), serde_json::from_slice(body).ok().as_ref());
}

/// A refusal tells why the body cannot be read, or the place of every fault in it.
fn hold_refusal(refusal: Refusal, body: Option<&Value>) {
    match (refusal, body) {
        (Refusal::Unreadable(why), None) => assert!(why.len() > 20, "{why}"),
        (Refusal::NotAllowed(errors), Some(body)) => {
            assert!(!errors.is_empty());
            errors.iter().for_each(|error| hold_place(error, body));
        }
        (refusal, body) => panic!("{refusal:?} of {body:?}"),
    }
}

fn hold_place(error: &FieldError, body: &Value) {
    let FieldError { pointer, value, message, allowed } = error;
    assert!(!message.is_empty() && !allowed.is_empty(), "{error:?}");
    assert!(pointer.is_empty() || pointer.starts_with('/'), "{error:?}");
    // The whole body is at fault only where it is no object, or holds no feature.
    let holds_any =
        ["pads", "electrodes", "light_rows", "laid_wires"].iter().any(|list| body[list].as_array().is_some_and(|l| !l.is_empty()));
    assert!(!pointer.is_empty() || !holds_any, "{error:?}");
    assert!(value.to_string().len() < 4 * 1024, "{error:?}");
}

/// Every number that is shown for debugging is finite, and so is every number in it.
fn hold_numbers(shown: &dyn std::fmt::Debug) {
    let text = format!("{shown:?}");
    let mut quoted = false;
    let mut rest = text.as_str();
    // Words outside quotes; what people named does not count.
    while let Some(at) = rest.find(|c: char| c == '"' || c == '\\' || (!quoted && (c == 'N' || c == 'i'))) {
        let before = rest[..at].chars().next_back();
        let found = &rest[at..];
        let word = |word: &str| {
            let inside = |c: char| c.is_alphanumeric() || c == '_';
            found.strip_prefix(word).is_some_and(|behind| !behind.starts_with(inside)) && !before.is_some_and(inside)
        };
        assert!(quoted || !(word("NaN") || word("inf")), "{text}");
        // An escaped character is passed over with its stroke.
        let step = 1 + found.strip_prefix('\\').and_then(|behind| behind.chars().next()).map_or(0, char::len_utf8);
        quoted ^= found.starts_with('"');
        rest = &found[step..];
    }
}

/// An answer as it goes out: a chance is a chance, an interval holds what it is about, and no number was lost on the way.
fn hold_answer(answer: &Value) {
    let document = document::as_json();
    hold_nulls(answer, &document["components"]["schemas"]["EstimateAnswer"], document, &mut String::new());
    for check in answer["checks"].as_array().expect("checks") {
        let number = |name: &str| check[name].as_f64().unwrap_or_else(|| panic!("{name} in {check}"));
        let ends: Vec<f64> = check["interval_95"].as_array().expect("an interval").iter().filter_map(Value::as_f64).collect();
        assert!((0.0..=1.0).contains(&number("chance")) && number("standard_uncertainty") >= 0.0, "{check}");
        assert!(ends.len() == 2 && ends[0] <= ends[1], "{check}");
        for share in check["shares"].as_array().into_iter().flatten() {
            assert!(share["share"].as_f64().is_some_and(|share| (-1e-6..=1.0 + 1e-6).contains(&share)), "{check}");
        }
    }
    for change in answer["changes"].as_array().expect("changes") {
        assert!(change["edits"].as_array().is_some_and(|edits| !edits.is_empty()), "{change}");
    }
}

/// A number that is not finite goes out as null: null stands only where the document says that it may.
fn hold_nulls(value: &Value, schema: &Value, document: &Value, place: &mut String) {
    let schema = followed(schema, document);
    if let Some(choices) = schema["oneOf"].as_array().or(schema["anyOf"].as_array()) {
        let may_be_null = choices.iter().any(|choice| may_be_null(followed(choice, document)));
        assert!(!value.is_null() || may_be_null, "null at {place}");
        let rest: Vec<&Value> = choices.iter().filter(|choice| !may_be_null_only(followed(choice, document))).collect();
        if let (false, [one]) = (value.is_null(), rest.as_slice()) {
            hold_nulls(value, one, document, place);
        }
        return;
    }
    assert!(!value.is_null() || may_be_null(schema), "null at {place}");
    let length = place.len();
    match value {
        Value::Array(items) => {
            for (k, item) in items.iter().enumerate() {
                place.push_str(&format!("/{k}"));
                hold_nulls(item, &schema["items"], document, place);
                place.truncate(length);
            }
        }
        Value::Object(fields) => {
            for (name, field) in fields {
                place.push_str(&format!("/{name}"));
                hold_nulls(field, &schema["properties"][name], document, place);
                place.truncate(length);
            }
        }
        _ => {}
    }
}

fn followed<'a>(mut schema: &'a Value, document: &'a Value) -> &'a Value {
    while let Some(name) = schema["$ref"].as_str() {
        schema = &document["components"]["schemas"][name.trim_start_matches("#/components/schemas/")];
    }
    schema
}

/// Whether null fits; a place without a type takes anything.
fn may_be_null(schema: &Value) -> bool {
    match &schema["type"] {
        Value::Array(types) => types.iter().any(|one| one == "null"),
        Value::String(one) => one == "null",
        _ => true,
    }
}

fn may_be_null_only(schema: &Value) -> bool {
    schema["type"] == "null"
}

#[cfg(test)]
mod tests {
    use std::panic::catch_unwind;

    use serde_json::json;

    use super::*;

    #[test]
    fn numbers_that_are_none_are_seen() {
        hold_numbers(&("a \"NaN\" inf", [1.5, -2.0], "infinite NaN_", Some(f64::MAX)));
        for number in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(catch_unwind(|| hold_numbers(&("quoted \" text", Some(vec![1.0, number])))).is_err(), "{number}");
        }
    }

    #[test]
    fn a_null_stands_only_where_it_may() {
        let document = json!({"components": {"schemas": {"Part": {"type": "object", "properties": {"ohm": {"type": "number"}}}}}});
        let schema = json!({"type": "object", "properties": {
            "may": {"oneOf": [{"type": "null"}, {"$ref": "#/components/schemas/Part"}]}, "all": {"type": "array", "items": {"type": ["number", "null"]}}
        }});
        let hold = |value: Value| hold_nulls(&value, &schema, &document, &mut String::new());
        hold(json!({"may": null, "all": [1, null]}));
        hold(json!({"may": {"ohm": 1}, "all": []}));
        assert!(catch_unwind(|| hold(json!({"may": {"ohm": null}, "all": []}))).is_err());
        assert!(catch_unwind(|| hold(json!({"may": null, "all": null}))).is_err());
    }
}
