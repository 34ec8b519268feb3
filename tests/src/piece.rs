//! Pieces as requests send them.

use serde_json::{Value, json};

use crate::tree::{read_text, root};

/// The demo piece that the page starts with.
pub fn demo() -> Value {
    serde_json::from_str(&read_text(&root().join("web/demo.json"))).expect("the demo is JSON")
}

/// A small good piece: one round pad in rows of silver thread on 3 mm of felt over a sheet, under 1.2 mm of felt.
pub fn round_pad() -> Value {
    json!({
        "stack": {
            "ground": "sheet",
            "base": [{"library": "wool-felt", "thickness_mm": 3}],
            "overlay": [{"library": "wool-felt", "thickness_mm": 1.2}]
        },
        "pads": [{
            "shape": {"kind": "round", "diameter_mm": 24},
            "thread": {"library": "silver-polyamide-40-tex"},
            "fill": {"row_spacing_mm": 0.8, "stitch_length_mm": 3},
            "run": {"length_mm": 180, "passes": 2}
        }],
        "controller": {"library": "patient-input"}
    })
}

/// The value with one place written anew; objects on the way are made, lists must have the place or end at it.
///
/// `with(round_pad(), "/touch/case", json!("worn"))`.
#[track_caller]
pub fn with(mut value: Value, pointer: &str, to: Value) -> Value {
    let mut at = &mut value;
    for token in pointer.split('/').skip(1) {
        let token = token.replace("~1", "/").replace("~0", "~");
        at = match at {
            Value::Array(list) => {
                let k: usize = token.parse().unwrap_or_else(|_| panic!("{token} in {pointer} counts no list"));
                if k == list.len() {
                    list.push(Value::Null);
                }
                &mut list[k]
            }
            other => {
                if !other.is_object() {
                    *other = json!({});
                }
                other.as_object_mut().expect("an object was just put here").entry(token).or_insert(Value::Null)
            }
        };
    }
    *at = to;
    value
}
