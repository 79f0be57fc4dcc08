//! On what a write depends, and whether a reader has it already: `If-Match`, `If-None-Match` and `ETag`.

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use longlay_store::Condition;
use serde::Serialize;
use utoipa::IntoParams;

use crate::entity_tag::{Tag, Tags};
use crate::extract::Json;
use crate::problem::{Problem, Slug};

/// What a put depends on, for the description.
#[derive(IntoParams)]
#[into_params(parameter_in = Header)]
#[expect(dead_code, reason = "read by the description only")]
pub(crate) struct PutHeaders {
    /// The `ETag` of the record that is to be replaced, or `*` for whatever record there is.
    #[param(rename = "If-Match", nullable = false)]
    if_match: Option<String>,
    /// `*`: only where there is no such record yet.
    #[param(rename = "If-None-Match", nullable = false)]
    if_none_match: Option<String>,
}

/// What a retirement depends on, for the description.
#[derive(IntoParams)]
#[into_params(parameter_in = Header)]
#[expect(dead_code, reason = "read by the description only")]
pub(crate) struct DeleteHeaders {
    /// The `ETag` of the record that is to be retired, or `*` for whatever record there is.
    #[param(rename = "If-Match", nullable = false)]
    if_match: Option<String>,
}

/// What a reader has already, for the description.
#[derive(IntoParams)]
#[into_params(parameter_in = Header)]
#[expect(dead_code, reason = "read by the description only")]
pub(crate) struct GetHeaders {
    /// The `ETag` of what the caller has already.
    #[param(rename = "If-None-Match", nullable = false)]
    if_none_match: Option<String>,
}

/// What a write depends on.
#[derive(Debug)]
pub(crate) struct Precondition(pub(crate) Condition);

impl<S: Sync> FromRequestParts<S> for Precondition {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _state: &S) -> Result<Self, Problem> {
        condition(&parts.headers).map(Self)
    }
}

fn condition(headers: &HeaderMap) -> Result<Condition, Problem> {
    let if_match = Tags::read(headers, &header::IF_MATCH)?;
    let if_none_match = Tags::read(headers, &header::IF_NONE_MATCH)?;
    match (if_match, if_none_match) {
        (None, None) => Ok(Condition::Unsaid),
        (Some(Tags::Any), None) => Ok(Condition::Present),
        (Some(Tags::List(tags)), None) => {
            let versions: Vec<u64> = tags.iter().filter_map(Tag::strong_version).collect();
            Ok(match versions.as_slice() {
                [only] => Condition::Version(*only),
                _ => Condition::OneOf(versions),
            })
        }
        (None, Some(Tags::Any)) => Ok(Condition::Absent),
        (None, Some(Tags::List(_))) => Err(Problem::new(
            Slug::InvalidHeader,
            "a write takes `If-None-Match: *` only: to change a record, send If-Match",
        )),
        (Some(_), Some(_)) => Err(Problem::new(
            Slug::InvalidHeader,
            "send If-Match to replace a record or If-None-Match to make one, not both",
        )),
    }
}

/// A record with its version, which goes out as its `ETag`.
pub(crate) struct Tagged<T> {
    /// The version.
    pub(crate) version: u64,
    /// The record.
    pub(crate) record: T,
}

impl<T: Serialize> IntoResponse for Tagged<T> {
    fn into_response(self) -> Response {
        tagged(self.version, Json(self.record).into_response())
    }
}

/// An answer with the tag of this version.
pub(crate) fn tagged(version: u64, mut response: Response) -> Response {
    if let Ok(tag) = HeaderValue::from_str(&format!("\"{version}\"")) {
        response.headers_mut().insert(header::ETAG, tag);
    }
    response
}

/// What a reader says he has.
#[derive(Debug)]
pub(crate) struct Known(Option<Tags>);

impl<S: Sync> FromRequestParts<S> for Known {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _state: &S) -> Result<Self, Problem> {
        Tags::read(&parts.headers, &header::IF_NONE_MATCH).map(Self)
    }
}

impl Known {
    /// The record, or 304 where the reader has it.
    pub(crate) fn or_send<T: Serialize>(&self, tagged_record: Tagged<T>) -> Response {
        let version = tagged_record.version;
        if self.0.as_ref().is_some_and(|tags| tags.name(version)) {
            return tagged(version, StatusCode::NOT_MODIFIED.into_response());
        }
        tagged_record.into_response()
    }
}

#[cfg(test)]
mod tests {
    use axum::http::HeaderName;

    use super::*;

    fn of(sent: &[(HeaderName, &'static str)]) -> Result<Condition, Problem> {
        let mut headers = HeaderMap::new();
        for (name, value) in sent {
            headers.append(name, HeaderValue::from_static(value));
        }
        condition(&headers)
    }

    #[test]
    fn each_header_is_its_condition() {
        let (matches, none) = (header::IF_MATCH, header::IF_NONE_MATCH);
        for (sent, expected) in [
            (vec![], Condition::Unsaid),
            (vec![(matches.clone(), "*")], Condition::Present),
            (vec![(matches.clone(), "\"4\"")], Condition::Version(4)),
            (vec![(matches.clone(), "\"4\", \"6\"")], Condition::OneOf(vec![4, 6])),
            (vec![(matches.clone(), "\"4\""), (matches.clone(), "\"6\"")], Condition::OneOf(vec![4, 6])),
            (vec![(none.clone(), "*")], Condition::Absent),
        ] {
            assert_eq!(of(&sent).unwrap(), expected, "{sent:?}");
        }
    }

    #[test]
    fn a_weak_or_a_foreign_tag_matches_nothing() {
        for tag in ["W/\"4\"", "\"four\""] {
            assert_eq!(of(&[(header::IF_MATCH, tag)]).unwrap(), Condition::OneOf(Vec::new()), "{tag}");
        }
    }

    #[test]
    fn what_contradicts_itself_is_refused() {
        assert!(of(&[(header::IF_MATCH, "*"), (header::IF_NONE_MATCH, "*")]).is_err());
        assert!(of(&[(header::IF_NONE_MATCH, "\"4\"")]).is_err());
        assert!(of(&[(header::IF_MATCH, "4")]).is_err());
    }
}
