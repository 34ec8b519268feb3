//! Where a request belongs among the calls of other services: the header `traceparent` (W3C Trace Context, level 1).

use std::fmt;

use axum::http::{HeaderMap, HeaderName, HeaderValue};
use uuid::Uuid;

/// The header, of requests and of answers.
pub const TRACEPARENT: HeaderName = HeaderName::from_static("traceparent");

/// A trace, taken over from the caller or begun here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trace {
    id: String,
    /// This request within the trace.
    part: String,
    flags: String,
}

impl Trace {
    /// The caller's trace where the header is sound, a new one otherwise.
    pub fn of(headers: &HeaderMap) -> Self {
        let given = headers.get(TRACEPARENT).and_then(|value| value.to_str().ok()).and_then(parts);
        let fresh = || Uuid::now_v7().simple().to_string();
        // The second half of such an id is drawn at random.
        let part = fresh().split_off(16);
        match given {
            Some((id, flags)) => Self { id: id.into(), part, flags: flags.into() },
            None => Self { id: fresh(), part, flags: "00".into() },
        }
    }

    /// The id that all calls of a trace share.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// This request as the caller may note it.
    pub fn header(&self) -> Option<HeaderValue> {
        HeaderValue::from_str(&self.to_string()).ok()
    }
}

impl fmt::Display for Trace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "00-{}-{}-{}", self.id, self.part, self.flags)
    }
}

/// Trace id and flags of a header: `version-id-parent-flags`. A later version may say more behind a further dash.
fn parts(header: &str) -> Option<(&str, &str)> {
    let mut fields = header.splitn(5, '-');
    let (version, id, parent, flags) = (fields.next()?, fields.next()?, fields.next()?, fields.next()?);
    let hex = |text: &str, length| text.len() == length && text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
    let some = |text: &str| text.bytes().any(|b| b != b'0');
    let sound = hex(version, 2) && version != "ff" && hex(id, 32) && some(id) && hex(parent, 16) && some(parent) && hex(flags, 2);
    let ends = version != "00" || fields.next().is_none();
    (sound && ends).then_some((id, flags))
}

#[cfg(test)]
mod tests {
    use super::*;

    const ID: &str = "4bf92f3577b34da6a3ce929d0e0e4736";

    fn of(header: &str) -> Trace {
        Trace::of(&HeaderMap::from_iter([(TRACEPARENT, HeaderValue::from_str(header).unwrap())]))
    }

    /// The header of the standard's own example (W3C Trace Context, 3.2.1).
    #[test]
    fn a_sound_header_is_taken_over_with_a_part_of_our_own() {
        let trace = of("00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01");
        assert_eq!(trace.id(), ID);
        let told = trace.to_string();
        assert!(told.starts_with("00-4bf92f3577b34da6a3ce929d0e0e4736-") && told.ends_with("-01") && told.len() == 55, "{told}");
        assert!(!told.contains("00f067aa0ba902b7"), "{told}");
        assert_eq!(of("cc-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01-what-the-future-holds").id(), ID);
    }

    #[test]
    fn anything_else_begins_a_new_trace() {
        for header in [
            "",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01-more",
            "ff-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
            "00-4BF92F3577B34DA6A3CE929D0E0E4736-00f067aa0ba902b7-01",
            "00-00000000000000000000000000000000-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-0000000000000000-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-1",
        ] {
            let trace = of(header);
            assert!(trace.id() != ID && trace.id().len() == 32 && trace.to_string().len() == 55, "{header}: {trace}");
            assert!(parts(&trace.to_string()).is_some(), "{trace}");
        }
    }
}
