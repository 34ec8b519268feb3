//! Names that stand twice in one object of a JSON text: a reader into values keeps the last one and says nothing.

use std::collections::HashSet;
use std::fmt;

use serde::Deserializer;
use serde::de::{DeserializeSeed, MapAccess, SeqAccess, Visitor};

/// The place of every name that stands twice in its object, as a JSON pointer; none where the text is no JSON.
pub fn doubled_names(body: &[u8]) -> Vec<String> {
    let mut found = Vec::new();
    let mut reader = serde_json::Deserializer::from_slice(body);
    match (Look { pointer: &mut String::new(), found: &mut found }).deserialize(&mut reader) {
        Ok(()) => found,
        Err(_) => Vec::new(),
    }
}

/// A pointer with one more step, which may be any text (RFC 6901, 3).
pub fn step(pointer: &mut String, token: &str) {
    pointer.push('/');
    pointer.push_str(&token.replace('~', "~0").replace('/', "~1"));
}

struct Look<'a> {
    pointer: &'a mut String,
    found: &'a mut Vec<String>,
}

impl Look<'_> {
    /// Looks at what stands one step further in.
    fn inside<T>(&mut self, token: &str, look: impl FnOnce(Look<'_>) -> T) -> T {
        let length = self.pointer.len();
        step(self.pointer, token);
        let looked = look(Look { pointer: self.pointer, found: self.found });
        self.pointer.truncate(length);
        looked
    }
}

impl<'de> DeserializeSeed<'de> for Look<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, reader: D) -> Result<(), D::Error> {
        reader.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Look<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("any JSON")
    }

    fn visit_map<A: MapAccess<'de>>(mut self, mut fields: A) -> Result<(), A::Error> {
        let mut seen = HashSet::new();
        while let Some(name) = fields.next_key::<String>()? {
            self.inside(&name, |look| {
                if !seen.insert(name.clone()) && !look.found.contains(look.pointer) {
                    look.found.push(look.pointer.clone());
                }
                fields.next_value_seed(look)
            })?;
        }
        Ok(())
    }

    fn visit_seq<A: SeqAccess<'de>>(mut self, mut items: A) -> Result<(), A::Error> {
        let mut k = 0;
        while self.inside(&k.to_string(), |look| items.next_element_seed(look))?.is_some() {
            k += 1;
        }
        Ok(())
    }

    fn visit_bool<E>(self, _: bool) -> Result<(), E> {
        Ok(())
    }

    fn visit_i64<E>(self, _: i64) -> Result<(), E> {
        Ok(())
    }

    fn visit_u64<E>(self, _: u64) -> Result<(), E> {
        Ok(())
    }

    fn visit_f64<E>(self, _: f64) -> Result<(), E> {
        Ok(())
    }

    fn visit_str<E>(self, _: &str) -> Result<(), E> {
        Ok(())
    }

    fn visit_unit<E>(self) -> Result<(), E> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::doubled_names;

    #[test]
    fn every_name_given_twice_is_found_once_and_no_other() {
        let doubled = |text: &str| doubled_names(text.as_bytes());
        assert!(doubled(r#"{"a": 1, "b": {"a": [null, true, -1, 2.5, "a"]}}"#).is_empty());
        assert_eq!(
            doubled(r#"{"a": 1, "b": [{}, {"c/d": 1, "c/d": 2, "c/d": {"x": 1, "x": 1}}], "a": 2}"#),
            ["/b/1/c~1d", "/b/1/c~1d/x", "/a"]
        );
        assert!(doubled(r#"{"a": 1, "a": 2"#).is_empty());
    }
}
