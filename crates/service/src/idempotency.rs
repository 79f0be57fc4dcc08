//! Requests that may be sent again: with an `Idempotency-Key`, what they record is recorded once, and the first answer is given again.

use axum::body::Bytes;
use axum::extract::{FromRequest, Request};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use longlay_store::{Answer, Change, Recorded, Replay};
use serde::Serialize;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};
use utoipa::IntoParams;

use crate::app::AppState;
use crate::extract::{json_body, parse_json};
use crate::problem::{Problem, Slug};
use crate::writer::Writer;

const KEY: HeaderName = HeaderName::from_static("idempotency-key");
const REPLAYED: HeaderName = HeaderName::from_static("idempotency-replayed");
/// Longest key.
const MAX_KEY_CHARS: usize = 255;

/// What makes a request safe to send again, for the description.
#[derive(IntoParams)]
#[into_params(parameter_in = Header)]
#[expect(dead_code, reason = "read by the description only")]
pub(crate) struct PostHeaders {
    /// A new one for every request, such as a UUID. Sent again with it, the same request is not done again: it gets its first answer, for a day at least.
    #[param(rename = "Idempotency-Key", nullable = false, min_length = 1, max_length = 255)]
    idempotency_key: Option<String>,
}

/// What makes a request that is sent again the same request; nothing where no key came with it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Once(Option<Asked>);

#[derive(Debug, Clone)]
struct Asked {
    key: String,
    request: [u8; 32],
}

impl Once {
    /// For a request with this body.
    pub(crate) fn new(parts: &Parts, body: &[u8]) -> Result<Self, Problem> {
        Self::with_digest(parts, Sha256::digest(body).into())
    }

    /// For a request with a body of this SHA-256.
    pub(crate) fn with_digest(parts: &Parts, body: [u8; 32]) -> Result<Self, Problem> {
        let Some(key) = key(&parts.headers)? else { return Ok(Self(None)) };
        let target = parts.uri.path_and_query().map_or_else(|| parts.uri.path(), |target| target.as_str());
        // Neither a method nor a target holds a space, and the digest is of one length: no two requests run together into one text.
        let request = Sha256::new()
            .chain_update(parts.method.as_str())
            .chain_update(" ")
            .chain_update(target)
            .chain_update(" ")
            .chain_update(body)
            .finalize();
        Ok(Self(Some(Asked { key, request: request.into() })))
    }

    /// The answer this writer was given before. Asked before anything is looked at: what has changed since does not matter.
    pub(crate) async fn answered(&self, app: &AppState, writer: &Writer) -> Result<Option<Reply>, Problem> {
        let Some(Asked { key, request }) = &self.0 else { return Ok(None) };
        Ok(app.store.kept_answer(&writer.author, key, request).await?.map(Reply::again))
    }

    /// The change that a writer makes, with the answer to keep.
    pub(crate) fn change(&self, app: &AppState, writer: &Writer, reply: &Reply) -> Change {
        let keep = |Asked { key, request }: Asked| Replay { key, request, answer: reply.answer.clone() };
        writer.change(app.clock.now()).answered(self.0.clone().map(keep))
    }
}

fn key(headers: &HeaderMap) -> Result<Option<String>, Problem> {
    let mut values = headers.get_all(KEY).iter();
    let Some(value) = values.next() else { return Ok(None) };
    match value.to_str() {
        Ok(text)
            if values.next().is_none()
                && (1..=MAX_KEY_CHARS).contains(&text.len())
                && text.bytes().all(|byte| byte.is_ascii_graphic()) =>
        {
            Ok(Some(text.to_owned()))
        }
        _ => Err(Problem::new(
            Slug::InvalidHeader,
            format!("Idempotency-Key is sent once, and is 1 to {MAX_KEY_CHARS} visible ASCII characters"),
        )),
    }
}

/// A JSON body, and what makes its request the same when it is sent again.
#[derive(Debug)]
pub(crate) struct Posted<T> {
    /// The body.
    pub(crate) body: T,
    /// The request.
    pub(crate) once: Once,
}

impl<S: Send + Sync, T: DeserializeOwned> FromRequest<S> for Posted<T> {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &S) -> Result<Self, Problem> {
        let (parts, body) = request.into_parts();
        let bytes: Bytes = json_body(Request::from_parts(parts.clone(), body), state).await?;
        Ok(Self { once: Once::new(&parts, &bytes)?, body: parse_json(&bytes)? })
    }
}

/// An answer written out before what it tells of is recorded, so that the two are kept together.
#[derive(Debug)]
pub(crate) struct Reply {
    answer: Answer,
    again: bool,
}

impl Reply {
    /// A new record and its address: 201.
    pub(crate) fn created<T: Serialize>(location: String, record: &T) -> Result<Self, Problem> {
        Self::new(StatusCode::CREATED, Some(location), record)
    }

    /// A record as it now stands: 200.
    pub(crate) fn ok<T: Serialize>(record: &T) -> Result<Self, Problem> {
        Self::new(StatusCode::OK, None, record)
    }

    /// Any other answer of success.
    pub(crate) fn new<T: Serialize>(status: StatusCode, location: Option<String>, record: &T) -> Result<Self, Problem> {
        let body = serde_json::to_vec(record).map_err(|error| {
            tracing::error!(%error, "an answer could not be written as JSON");
            Problem::new(Slug::Internal, Slug::Internal.meaning())
        })?;
        Ok(Self { answer: Answer { status: status.as_u16(), location, body }, again: false })
    }

    /// An answer given before.
    pub(crate) const fn again(answer: Answer) -> Self {
        Self { answer, again: true }
    }

    /// Whether it was given before.
    pub(crate) const fn is_again(&self) -> bool {
        self.again
    }

    /// This one, unless the store answered the same request before.
    pub(crate) fn or_first(self, recorded: Recorded) -> Self {
        match recorded {
            Recorded::Now => self,
            Recorded::Before(first) => Self::again(first),
        }
    }
}

impl IntoResponse for Reply {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.answer.status).unwrap_or(StatusCode::OK);
        let mut response = (status, [(header::CONTENT_TYPE, "application/json")], self.answer.body).into_response();
        let location = self.answer.location.and_then(|location| HeaderValue::from_str(&location).ok());
        if let Some(location) = location {
            response.headers_mut().insert(header::LOCATION, location);
        }
        if self.again {
            response.headers_mut().insert(REPLAYED, HeaderValue::from_static("true"));
        }
        response
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(method: &str, uri: &str, key: &str, body: &str) -> [u8; 32] {
        let request = Request::builder().method(method).uri(uri).header(KEY, key).body(()).unwrap();
        Once::new(&request.into_parts().0, body.as_bytes()).unwrap().0.unwrap().request
    }

    #[test]
    fn a_request_is_the_same_in_all_that_was_asked() {
        let first = asked("POST", "/v1/drills?a=1", "k", "{}");
        assert_eq!(first, asked("POST", "/v1/drills?a=1", "another", "{}"));
        for other in [
            asked("PUT", "/v1/drills?a=1", "k", "{}"),
            asked("POST", "/v1/drill?a=1", "k", "{}"),
            asked("POST", "/v1/drills?a=2", "k", "{}"),
            asked("POST", "/v1/drills", "k", "{}"),
            asked("POST", "/v1/drills?a=1", "k", "{} "),
        ] {
            assert_ne!(first, other);
        }
    }

    #[test]
    fn a_key_is_visible_and_not_too_long() {
        let read = |text: &str| {
            let mut headers = HeaderMap::new();
            headers.insert(KEY, HeaderValue::from_bytes(text.as_bytes()).unwrap());
            key(&headers)
        };
        for good in ["k", "~!\"", &"k".repeat(255)] {
            assert_eq!(read(good), Ok(Some(good.to_owned())));
        }
        for bad in ["", "a b", "k\u{e9}", &"k".repeat(256)] {
            assert!(read(bad).is_err(), "{bad}");
        }
        assert_eq!(key(&HeaderMap::new()), Ok(None));
        let mut twice = HeaderMap::new();
        twice.append(KEY, HeaderValue::from_static("a"));
        twice.append(KEY, HeaderValue::from_static("a"));
        assert!(key(&twice).is_err());
    }
}
