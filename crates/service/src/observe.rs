//! Every request seen from its head to the last byte of its answer: one line in the log, and the counts. Neither holds what a caller may have to keep
//! secret: no header, and nothing of the query.

use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Instant;

use axum::body::{Body, Bytes, HttpBody};
use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderName, HeaderValue, Method};
use axum::middleware::Next;
use axum::response::Response;
use http_body::{Frame, SizeHint};
use tracing::field::Empty;
use tracing::{Instrument, Span};

use crate::metrics::{Metrics, NO_ROUTE};
use crate::problem::shortened;

/// The header of a request's id.
pub(crate) const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");
/// Longest id that a caller may give a request.
pub(crate) const MAX_REQUEST_ID_BYTES: usize = 64;
/// As much of a path as is logged.
const LOGGED_PATH_CHARS: usize = 200;

/// Takes away an id that is too long, or would break a line or a quotation mark where it is written: the request gets one of ours.
pub(crate) fn refuse_odd_id(mut request: Request) -> Request {
    let mut given = request.headers().get_all(&REQUEST_ID).iter();
    let sound = given.next().is_none_or(is_sound) && given.next().is_none();
    if !sound {
        request.headers_mut().remove(&REQUEST_ID);
    }
    request
}

fn is_sound(id: &HeaderValue) -> bool {
    (1..=MAX_REQUEST_ID_BYTES).contains(&id.len()) && id.as_bytes().iter().all(u8::is_ascii_graphic)
}

/// Watches one request.
pub(crate) async fn observe(State(metrics): State<Arc<Metrics>>, request: Request, next: Next) -> Response {
    let route = request.extensions().get::<MatchedPath>().map_or(NO_ROUTE, MatchedPath::as_str).to_owned();
    let id = request.headers().get(&REQUEST_ID).and_then(|id| id.to_str().ok()).unwrap_or_default();
    let path = shortened(request.uri().path(), LOGGED_PATH_CHARS);
    // The guard fills in whose key it is.
    let span = tracing::info_span!(
        "request",
        method = %request.method(),
        %path,
        route,
        request_id = id,
        key = Empty,
        key_id = Empty
    );
    metrics.begin();
    let (began, method) = (Instant::now(), request.method().clone());
    let mut seen = Seen { metrics, span: span.clone(), began, method, route, status: None, bytes: 0 };
    let response = next.run(request).instrument(span).await;
    seen.status = Some(response.status().as_u16());
    response.map(|body| Body::new(Watched { body, seen }))
}

/// What is known of a request. It is told when the answer has left, or the caller has.
struct Seen {
    metrics: Arc<Metrics>,
    span: Span,
    began: Instant,
    method: Method,
    route: String,
    /// None until there is an answer.
    status: Option<u16>,
    bytes: u64,
}

impl Drop for Seen {
    fn drop(&mut self) {
        let took = self.began.elapsed();
        self.metrics.end(&self.method, &self.route, self.status, took);
        let duration_ms = (took.as_secs_f64() * 1e6).round() / 1e3;
        let _entered = self.span.enter();
        match self.status {
            Some(status) => tracing::info!(status, duration_ms, bytes = self.bytes, "answered"),
            None => tracing::info!(duration_ms, "the caller left before the answer"),
        }
    }
}

/// A body whose bytes are counted.
struct Watched {
    body: Body,
    seen: Seen,
}

impl HttpBody for Watched {
    type Data = Bytes;
    type Error = axum::Error;

    fn poll_frame(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, axum::Error>>> {
        let frame = Pin::new(&mut self.body).poll_frame(cx);
        if let Poll::Ready(Some(Ok(frame))) = &frame {
            self.seen.bytes += frame.data_ref().map_or(0, Bytes::len) as u64;
        }
        frame
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_is_kept_only_where_it_is_short_and_plain() {
        let long = "x".repeat(65);
        for (given, kept) in [
            (vec!["call-7"], true),
            (vec![&long[..64]], true),
            (vec![&long], false),
            (vec![""], false),
            (vec!["a b"], false),
            (vec!["caf\u{e9}"], false),
            (vec!["a", "b"], false),
        ] {
            let mut request = Request::new(Body::empty());
            for id in &given {
                request.headers_mut().append(REQUEST_ID, HeaderValue::from_bytes(id.as_bytes()).unwrap());
            }
            assert_eq!(refuse_odd_id(request).headers().contains_key(REQUEST_ID), kept, "{given:?}");
        }
    }
}
