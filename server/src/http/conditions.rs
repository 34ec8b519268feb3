//! Conditions on the state of what is asked for: `ETag`, `If-Match`, `If-None-Match` (RFC 9110, 8.8.3 and 13.1).

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, header};

use crate::api::problem::Refusal;
use crate::usecase::quote::{Seen, Version};

/// The tag of a version: it names the row and its version, so that no two states share one.
pub fn tag_of(version: &Version) -> String {
    format!("\"{}.{}\"", version.id, version.version)
}

/// The header `If-Match`, as the document tells it.
#[derive(utoipa::IntoParams)]
#[into_params(parameter_in = Header)]
#[allow(dead_code, reason = "declared for the document; `IfMatch` reads it")]
pub struct MatchHeader {
    /// The ETag that was told last, or `*` for whatever state it is in.
    #[param(rename = "If-Match", min_length = 1, pattern = r#"^(\*|"[!#-~]+")$"#)]
    tag: String,
}

/// The states that a change is made to, of `If-Match`, which must be there.
pub struct IfMatch(pub Seen);

impl<S: Send + Sync> FromRequestParts<S> for IfMatch {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Refusal> {
        let tags = tags(&parts.headers, header::IF_MATCH);
        if tags.is_empty() {
            return Err(Refusal::MatchNeeded(
                "A change names the state it is made to: send the ETag that you were told last in the header If-Match.".into(),
            ));
        }
        if tags.iter().any(|tag| tag == "*") {
            return Ok(Self(Seen::Any));
        }
        // A tag that is none of ours, or a weak one, names no state that is there.
        Ok(Self(Seen::These(tags.iter().filter_map(|tag| version_in(tag)).collect())))
    }
}

/// Whether the asker holds this version already, by `If-None-Match`.
pub fn is_held(headers: &HeaderMap, version: &Version) -> bool {
    let tag = tag_of(version);
    tags(headers, header::IF_NONE_MATCH).iter().any(|held| held == "*" || held.trim_start_matches("W/") == tag)
}

fn tags(headers: &HeaderMap, name: header::HeaderName) -> Vec<String> {
    let lists = headers.get_all(name).iter().filter_map(|value| value.to_str().ok());
    lists.flat_map(|list| list.split(',')).map(|tag| tag.trim().to_owned()).filter(|tag| !tag.is_empty()).collect()
}

fn version_in(tag: &str) -> Option<Version> {
    let (id, version) = tag.strip_prefix('"')?.strip_suffix('"')?.rsplit_once('.')?;
    Some(Version { id: id.to_owned(), version: version.parse().ok()? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_leads_back_to_its_version_and_nothing_else_does() {
        let version = Version { id: "0190f5c2".into(), version: 3 };
        assert_eq!(version_in(&tag_of(&version)), Some(version));
        for tag in ["", "\"\"", "\"a\"", "W/\"a.1\"", "a.1", "\"a.x\""] {
            assert_eq!(version_in(tag), None, "{tag}");
        }
    }
}
