//! Bodies and queries, with every refusal as a problem.

use axum::body::Bytes;
use axum::extract::rejection::{BytesRejection, FailedToBufferBody};
use axum::extract::{FromRequest, FromRequestParts, Path, Query, Request};
use axum::http::request::Parts;
use axum::http::{HeaderMap, header};
use serde::Deserialize;
use serde::de::DeserializeOwned;

use crate::api::problem::{FieldError, Refusal};
use crate::api::read::{Readable, explain_faults, read, read_in_range};
use crate::http::document;

/// A JSON body read as `T`; the bytes are kept to explain faults that are found later.
pub struct JsonBody<T> {
    pub value: T,
    bytes: Bytes,
}

impl<T: Readable> JsonBody<T> {
    /// Turns faults found by the model into a refusal that also names those against the schema.
    pub fn explain(bytes: &Bytes, faults: toile_model::Faults) -> Refusal {
        let Refusal::NotAllowed(found) = faults.into() else { return Refusal::Internal };
        explain_faults::<T>(bytes, found, document::as_json)
    }

    /// The value and the bytes it was read from.
    pub fn into_parts(self) -> (T, Bytes) {
        (self.value, self.bytes)
    }
}

impl<S: Send + Sync, T: Readable> FromRequest<S> for JsonBody<T> {
    type Rejection = Refusal;

    async fn from_request(request: Request, state: &S) -> Result<Self, Refusal> {
        let bytes = json_bytes(request, state).await?;
        Ok(Self { value: read(&bytes, document::as_json)?, bytes })
    }
}

/// A JSON body read as `T` and held against the ranges of its schema.
pub struct RangedJson<T>(pub T);

impl<S: Send + Sync, T: Readable> FromRequest<S> for RangedJson<T> {
    type Rejection = Refusal;

    async fn from_request(request: Request, state: &S) -> Result<Self, Refusal> {
        let bytes = json_bytes(request, state).await?;
        read_in_range(&bytes, document::as_json).map(Self)
    }
}

async fn json_bytes<S: Send + Sync>(request: Request, state: &S) -> Result<Bytes, Refusal> {
    expect_type(request.headers(), &["application/json"])?;
    Bytes::from_request(request, state).await.map_err(|rejection| match rejection {
        BytesRejection::FailedToBufferBody(FailedToBufferBody::LengthLimitError(_)) => {
            Refusal::TooLarge("The body is larger than this service allows; see --body-kib.".into())
        }
        other => Refusal::Unreadable(format!("The body did not arrive whole: {other}.")),
    })
}

/// Refuses a body whose media type is none of `allowed`.
pub fn expect_type(headers: &HeaderMap, allowed: &[&str]) -> Result<(), Refusal> {
    let given = headers.get(header::CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or_default();
    let essence = given.split(';').next().unwrap_or_default().trim();
    if allowed.iter().any(|a| a.eq_ignore_ascii_case(essence)) {
        return Ok(());
    }
    let given = if given.is_empty() { "none".to_owned() } else { format!("`{}`", given.chars().take(100).collect::<String>()) };
    Err(Refusal::UnsupportedMediaType(format!("The media type given is {given}; this call takes {}.", allowed.join(" or "))))
}

/// What may stand in the query of an address.
pub trait Askable: DeserializeOwned {
    /// Its fields in words, for a message.
    const ALLOWED: &'static str;

    /// Whether its numbers and texts are in the range that the document tells.
    fn is_in_range(&self) -> bool {
        true
    }
}

/// A query string read as `T`.
pub struct Asked<T>(pub T);

impl<S: Send + Sync, T: Askable> FromRequestParts<S> for Asked<T> {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Refusal> {
        let refuse = |why: &str| {
            let query = parts.uri.query().unwrap_or_default();
            Refusal::NotAllowed(vec![FieldError {
                pointer: String::new(),
                value: query.chars().take(100).collect::<String>().into(),
                message: format!("The query of the address cannot be used: {why}."),
                allowed: T::ALLOWED.into(),
            }])
        };
        match Query::<T>::try_from_uri(&parts.uri) {
            Ok(Query(value)) if value.is_in_range() => Ok(Self(value)),
            Ok(_) => Err(refuse("something in it is outside the allowed range")),
            Err(rejection) => {
                let why = rejection.body_text();
                Err(refuse(why.rsplit_once("query string: ").map_or(why.as_str(), |(_, cause)| cause)))
            }
        }
    }
}

/// What may be asked for with an estimate.
#[derive(Debug, Clone, Copy, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct EstimateQuery {
    /// Whether every number that went in is sent along with its source, and with each check what its spread comes from.
    #[serde(default)]
    #[param(required = false)]
    pub inputs: bool,
    /// Whether the working is sent along, step by step.
    #[serde(default)]
    #[param(required = false)]
    pub working: bool,
    /// Whether the signal while a finger comes down is sent along, for each kind of pad.
    #[serde(default)]
    #[param(required = false)]
    pub approach: bool,
    /// Whether every run is looked at closely: broken stitches, largest charge frequency, longest run.
    #[serde(default)]
    #[param(required = false)]
    pub runs: bool,
}

impl Askable for EstimateQuery {
    const ALLOWED: &'static str = "inputs, working, approach and runs, each true or false";
}

/// Which sheet of a workbook is meant.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct SheetQuery {
    /// Name of the sheet of a workbook; without it, the first whose header is understood.
    #[serde(default)]
    #[param(required = false)]
    pub sheet: Option<String>,
}

impl Askable for SheetQuery {
    const ALLOWED: &'static str = "sheet, the name of a sheet of the workbook";
}

/// Which pad a picture shows.
#[derive(Debug, Clone, Copy, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct PadQuery {
    /// The pad, counted from 0; the first one where nothing is given.
    #[serde(default)]
    #[param(required = false, minimum = 0, maximum = 255)]
    pub pad: usize,
}

impl Askable for PadQuery {
    const ALLOWED: &'static str = "pad, a whole number counted from 0";
}

/// Which part of a long list is asked for.
#[derive(Debug, Clone, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct PageQuery {
    /// Most entries in the answer.
    #[serde(default = "usual_page")]
    #[param(required = false, minimum = 1, maximum = 200, default = 50)]
    pub most: u32,
    /// Those made before this one: `next` of the answer before.
    #[param(required = false, max_length = 64)]
    pub before: Option<String>,
}

const fn usual_page() -> u32 {
    50
}

impl Askable for PageQuery {
    const ALLOWED: &'static str = "before (an id), most (1 to 200)";

    fn is_in_range(&self) -> bool {
        is_page(self.most, self.before.as_deref())
    }
}

/// Whether so many entries, from before this one, can be asked for.
pub fn is_page(most: u32, before: Option<&str>) -> bool {
    (1..=200).contains(&most) && before.is_none_or(is_sound_id)
}

impl PageQuery {
    /// Of entries that are one more than asked for where more follow: those asked for, and where the next ones begin.
    pub fn cut<T>(&self, mut entries: Vec<T>, id: impl Fn(&T) -> &String) -> (Vec<T>, Option<String>) {
        let more = entries.len() > self.most as usize;
        entries.truncate(self.most as usize);
        let next = entries.last().filter(|_| more).map(|last| id(last).clone());
        (entries, next)
    }
}

/// The id in an address. What cannot be one is nobody's, and no database is asked about it.
pub struct Id(pub String);

/// Longest id that is looked for, characters.
const LONGEST_ID: usize = 64;

impl<S: Send + Sync> FromRequestParts<S> for Id {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Refusal> {
        match Path::<String>::from_request_parts(parts, state).await {
            Ok(Path(id)) if is_sound_id(&id) => Ok(Self(id)),
            _ => Err(nobody()),
        }
    }
}

/// The two ids in an address: of a thing, and of a part of it.
pub struct Ids(pub String, pub String);

impl<S: Send + Sync> FromRequestParts<S> for Ids {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Refusal> {
        match Path::<(String, String)>::from_request_parts(parts, state).await {
            Ok(Path((id, part))) if is_sound_id(&id) && is_sound_id(&part) => Ok(Self(id, part)),
            _ => Err(nobody()),
        }
    }
}

fn is_sound_id(id: &str) -> bool {
    id.len() <= LONGEST_ID && id.bytes().all(|byte| byte.is_ascii_graphic())
}

fn nobody() -> Refusal {
    Refusal::NotFound("Nothing has the id that the address names.".into())
}
