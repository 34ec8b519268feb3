//! An answer of the service, whole, for looking at from all sides.

use reqwest::header::HeaderMap;
use serde_json::Value;

/// Status, headers and body.
#[derive(Debug, Clone)]
pub struct Answer {
    /// HTTP status.
    pub status: u16,
    /// Headers.
    pub headers: HeaderMap,
    /// Body, unpacked where it came compressed.
    pub body: Vec<u8>,
}

impl Answer {
    /// Takes in a response to its end.
    pub fn of(response: reqwest::blocking::Response) -> Self {
        let (status, headers) = (response.status().as_u16(), response.headers().clone());
        Self { status, headers, body: response.bytes().expect("the answer arrives whole").to_vec() }
    }

    /// A header's value; empty where there is none.
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |v| v.to_str().expect("headers are plain text"))
    }

    /// The body as text.
    pub fn text(&self) -> &str {
        std::str::from_utf8(&self.body).expect("the body is UTF-8")
    }

    /// The body as JSON.
    #[track_caller]
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|error| panic!("not JSON ({error}): {}", String::from_utf8_lossy(&self.body)))
    }

    /// The body as JSON, of an answer that must be a success.
    #[track_caller]
    pub fn ok(&self) -> Value {
        assert_eq!(self.status, 200, "{}", String::from_utf8_lossy(&self.body));
        self.json()
    }

    /// The problem that the body describes, held against RFC 9457 and the contract.
    ///
    /// Every member is there with its type, the status repeats that of the answer, every fault has all its members,
    /// and nothing is said about a fault of ours: a bad request is never a 500.
    #[track_caller]
    pub fn problem(&self) -> Problem {
        assert_eq!(self.header("content-type"), "application/problem+json", "{}", String::from_utf8_lossy(&self.body));
        let body = self.json();
        let text = |value: &Value, name: &str| {
            let text = value[name].as_str().unwrap_or_else(|| panic!("{name} is missing in {value}"));
            assert!(!text.is_empty() || name == "pointer", "{name} is empty in {value}");
            text.to_owned()
        };
        assert_eq!(body["status"], self.status, "{body}");
        assert!((400..500).contains(&self.status) || self.status == 503, "a bad request must not be our fault: {body}");
        let (kind, title, detail) = (text(&body, "type"), text(&body, "title"), text(&body, "detail"));
        let errors = body["errors"].as_array().unwrap_or_else(|| panic!("errors is missing in {body}"));
        let faults = errors
            .iter()
            .map(|e| {
                assert!(e.as_object().is_some_and(|o| o.contains_key("value")), "value is missing in {e}");
                Fault { pointer: text(e, "pointer"), value: e["value"].clone(), message: text(e, "message"), allowed: text(e, "allowed") }
            })
            .collect();
        Problem { kind, title, detail, faults }
    }
}

/// A problem in the terms of RFC 9457.
#[derive(Debug, Clone)]
pub struct Problem {
    /// Stable name of the kind.
    pub kind: String,
    /// The kind in words.
    pub title: String,
    /// This occurrence in words.
    pub detail: String,
    /// Every fault found.
    pub faults: Vec<Fault>,
}

/// One fault of a request.
#[derive(Debug, Clone)]
pub struct Fault {
    /// JSON pointer of the field.
    pub pointer: String,
    /// What was given.
    pub value: Value,
    /// Why it is refused.
    pub message: String,
    /// What is allowed.
    pub allowed: String,
}

impl Problem {
    /// The pointers of all faults, in order.
    pub fn pointers(&self) -> Vec<&str> {
        self.faults.iter().map(|f| f.pointer.as_str()).collect()
    }

    /// Everything said, in one text.
    pub fn words(&self) -> String {
        let faults = self.faults.iter().map(|f| format!("{} {} {}", f.pointer, f.message, f.allowed));
        std::iter::once(format!("{} {}", self.title, self.detail)).chain(faults).collect::<Vec<_>>().join("\n")
    }
}
