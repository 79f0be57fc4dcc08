//! Bodies, paths and queries, whose refusals are problem documents.

use std::time::Duration;

use axum::body::Bytes;
use axum::extract::{FromRequest, FromRequestParts, RawPathParams, Request};
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::IntoResponse;
use longlay_records::id::AssetId;
use serde::de::{DeserializeOwned, IgnoredAny};
use serde_path_to_error::Segment;
use tokio::time::timeout;
use uuid::Uuid;

use crate::object::Object;
use crate::problem::{FieldError, Problem, Slug};
use crate::wording::plain;

/// What some editors put before UTF-8. It is invisible, and no JSON.
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// Longest time for a body to arrive: shorter than an answer may take, so that the client that stalls is told, and not that the service is slow.
const BODY_WITHIN: Duration = Duration::from_secs(8);

/// A JSON body. Not JSON: 400. JSON of another shape: 422, pointing at the first fault.
#[derive(Debug)]
pub(crate) struct Json<T>(pub(crate) T);

impl<S: Send + Sync, T: DeserializeOwned> FromRequest<S> for Json<T> {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &S) -> Result<Self, Problem> {
        parse_json(&json_body(request, state).await?).map(Self)
    }
}

/// The bytes of a body that is said to be JSON.
pub(crate) async fn json_body<S: Send + Sync>(request: Request, state: &S) -> Result<Bytes, Problem> {
    if !is_json(request.headers()) {
        return Err(Problem::new(Slug::UnsupportedMediaType, "send `Content-Type: application/json`"));
    }
    let arrived = timeout(BODY_WITHIN, Bytes::from_request(request, state)).await;
    let arrived = arrived.map_err(|_| Problem::new(Slug::RequestTimeout, Slug::RequestTimeout.meaning()))?;
    arrived.map_err(|rejection| match rejection.into_response().status() {
        StatusCode::PAYLOAD_TOO_LARGE => Problem::new(Slug::BodyTooLarge, Slug::BodyTooLarge.meaning()),
        _ => Problem::new(Slug::InvalidJson, "the body did not arrive whole"),
    })
}

fn is_json(headers: &HeaderMap) -> bool {
    let media_type = headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let essence = media_type.split(';').next().unwrap_or_default().trim().to_ascii_lowercase();
    essence == "application/json" || (essence.starts_with("application/") && essence.ends_with("+json"))
}

/// Reads it.
pub(crate) fn parse_json<T: DeserializeOwned>(body: &[u8]) -> Result<T, Problem> {
    let not_json = |error: String| Problem::new(Slug::InvalidJson, error);
    if body.starts_with(BYTE_ORDER_MARK) {
        return Err(not_json("the body starts with a byte order mark (BOM): send UTF-8 without one".to_owned()));
    }
    let text = std::str::from_utf8(body).map_err(|error| not_json(error.to_string()))?;
    // Read once for form alone, so that what fails afterwards is a fault of shape, wherever in the body it stands.
    serde_json::from_str::<IgnoredAny>(text).map_err(|error| not_json(error.to_string()))?;
    let read = serde_path_to_error::deserialize(&mut serde_json::Deserializer::from_str(text));
    read.map(|Object(value)| value).map_err(|error| {
        let fault = FieldError::at(pointer(error.path()), "invalid_shape", plain(&error.inner().to_string()));
        Problem::with_errors(Slug::InvalidBodyShape, vec![fault])
    })
}

fn pointer(path: &serde_path_to_error::Path) -> String {
    let token = |segment: &Segment| match segment {
        Segment::Seq { index } => Some(format!("/{index}")),
        Segment::Map { key } => Some(format!("/{}", key.replace('~', "~0").replace('/', "~1"))),
        // The variant of a tagged enum is no step into the document.
        Segment::Enum { .. } | Segment::Unknown => None,
    };
    path.iter().filter_map(token).collect()
}

/// One or two parameters of the path. Text that cannot be one names nothing: 404.
#[derive(Debug)]
pub(crate) struct Path<T>(pub(crate) T);

/// What can stand in a path.
pub(crate) trait PathParam: Sized {
    /// Reads it; an error says what it should have been.
    fn read(text: &str) -> Result<Self, String>;
}

impl PathParam for AssetId {
    fn read(text: &str) -> Result<Self, String> {
        Self::new(text).map_err(|error| error.to_string())
    }
}

impl PathParam for Uuid {
    fn read(text: &str) -> Result<Self, String> {
        Self::try_parse(text).map_err(|error| format!("this id must be a UUID: {error}"))
    }
}

impl PathParam for String {
    fn read(text: &str) -> Result<Self, String> {
        Ok(text.to_owned())
    }
}

impl<S: Send + Sync, T: PathParam> FromRequestParts<S> for Path<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        let params = raw_path(parts, state).await?;
        Ok(Self(path_param(&params, 0)?))
    }
}

impl<S: Send + Sync, A: PathParam, B: PathParam> FromRequestParts<S> for Path<(A, B)> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        let params = raw_path(parts, state).await?;
        Ok(Self((path_param(&params, 0)?, path_param(&params, 1)?)))
    }
}

async fn raw_path<S: Send + Sync>(parts: &mut Parts, state: &S) -> Result<RawPathParams, Problem> {
    RawPathParams::from_request_parts(parts, state)
        .await
        .map_err(|rejection| Problem::new(Slug::NotFound, rejection.to_string()))
}

fn path_param<T: PathParam>(params: &RawPathParams, nth: usize) -> Result<T, Problem> {
    let text = params.iter().nth(nth).map(|(_, value)| value).unwrap_or_default();
    T::read(text).map_err(|error| Problem::new(Slug::NotFound, error))
}

/// The query. Anything wrong with it: 400, naming the parameter. Unknown and doubled parameters are refused before, by
/// [`crate::app`], for every operation.
#[derive(Debug)]
pub(crate) struct Query<T>(pub(crate) T);

impl<S: Send + Sync, T: DeserializeOwned> FromRequestParts<S> for Query<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _state: &S) -> Result<Self, Problem> {
        parse_query(parts.uri.query().unwrap_or_default()).map(Self)
    }
}

fn parse_query<T: DeserializeOwned>(query: &str) -> Result<T, Problem> {
    let pairs = serde_urlencoded::Deserializer::new(form_urlencoded::parse(query.as_bytes()));
    serde_path_to_error::deserialize(pairs).map_err(|error| {
        let detail = format!("{}: {}", error.path(), plain(&error.inner().to_string()));
        let fault = FieldError::in_query(error.path().to_string(), "invalid_form", detail);
        Problem::with_errors(Slug::InvalidQuery, vec![fault])
    })
}

#[cfg(test)]
mod tests {
    use axum::body::Body;
    use serde::Deserialize;

    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Lay {
        parts: Vec<Part>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Part {
        #[expect(dead_code, reason = "read by serde only")]
        length_ft: f64,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Ask {
        length_ft: Option<f64>,
        in_service: Option<bool>,
    }

    fn pointed_at(body: &str) -> String {
        let problem = parse_json::<Lay>(body.as_bytes()).map(|lay| lay.parts.len()).unwrap_err();
        format!("{problem:?}")
    }

    #[test]
    fn a_fault_of_shape_points_at_its_place() {
        assert!(pointed_at(r#"{"parts":[{"length_ft":1},{"length_ft":"far"}]}"#).contains(r#""/parts/1/length_ft""#));
        assert!(pointed_at(r#"{"parts":[{"length_ft":1,"a/b~":2}]}"#).contains(r#""/parts/0/a~1b~0""#));
        assert!(pointed_at(r#"{"parts":[{}]}"#).contains(r#""/parts/0""#));
        assert!(pointed_at(r#"{"parts":[{"length_ft":1e999}]}"#).contains("InvalidBodyShape"));
    }

    #[test]
    fn a_body_cut_short_is_no_json_whatever_comes_first() {
        assert!(pointed_at(r#"{"wrong":1, "parts":["#).contains("InvalidJson"));
        assert!(pointed_at(r#"{"parts":[]} x"#).contains("InvalidJson"));
        assert!(
            matches!(parse_json::<Lay>(b"{\"parts\":[\"\xff\"]}"), Err(problem) if format!("{problem:?}").contains("InvalidJson"))
        );
    }

    #[tokio::test(start_paused = true)]
    async fn a_body_that_stalls_is_the_client_s_fault() {
        let stalled = Body::from_stream(futures_util::stream::pending::<Result<Bytes, std::io::Error>>());
        let request = Request::builder().header(header::CONTENT_TYPE, "application/json").body(stalled).unwrap();
        let problem = Json::<Ask>::from_request(request, &()).await.unwrap_err();
        assert_eq!(problem, Problem::new(Slug::RequestTimeout, Slug::RequestTimeout.meaning()));
    }

    #[test]
    fn a_query_fault_names_its_parameter() {
        let ask: Ask = parse_query("length_ft=100&in_service=true").unwrap();
        assert_eq!((ask.length_ft, ask.in_service), (Some(100.0), Some(true)));
        for (query, name) in
            [("length_ft=far", "length_ft"), ("in_service=yes", "in_service"), ("length_ft=", "length_ft")]
        {
            let problem = format!("{:?}", parse_query::<Ask>(query).unwrap_err());
            assert!(problem.contains(&format!("parameter: Some({name:?})")), "{problem}");
        }
    }
}
