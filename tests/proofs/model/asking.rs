//! Asks the service's router, as a socket would.

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::Request;
use serde_json::Value;
use tower::ServiceExt;

use super::PUBLIC_URL;
use crate::server::Reply;

const MAX_ANSWER_BYTES: usize = 16 * 1024 * 1024;

/// A request as drawn.
#[derive(Debug, Clone)]
pub(super) struct Asked {
    pub(super) method: &'static str,
    pub(super) path: String,
    pub(super) headers: Vec<(&'static str, String)>,
    pub(super) body: Option<String>,
}

impl Asked {
    /// Without a body.
    pub(super) fn plain(method: &'static str, path: impl Into<String>) -> Self {
        Self { method, path: path.into(), headers: Vec::new(), body: None }
    }

    /// With a JSON body.
    pub(super) fn json(method: &'static str, path: impl Into<String>, body: &Value) -> Self {
        let headers = vec![("content-type", "application/json".to_owned())];
        Self { method, path: path.into(), headers, body: Some(body.to_string()) }
    }

    /// With one header more, if there is one.
    pub(super) fn with(mut self, header: Option<(&'static str, String)>) -> Self {
        self.headers.extend(header);
        self
    }
}

/// The service.
pub(super) struct Asking(Router);

impl Asking {
    /// Of this router.
    pub(super) const fn of(router: Router) -> Self {
        Self(router)
    }

    /// Sends a request.
    pub(super) async fn send(&self, asked: &Asked) -> Reply {
        let mut request = Request::builder().method(asked.method).uri(&asked.path);
        for (name, value) in &asked.headers {
            request = request.header(*name, value);
        }
        let body = asked.body.clone().map_or_else(Body::empty, Body::from);
        let response = self.0.clone().oneshot(request.body(body).expect("a request")).await.expect("an answer");
        let (status, headers) = (response.status().as_u16(), response.headers().clone());
        let bytes = to_bytes(response.into_body(), MAX_ANSWER_BYTES).await.expect("a body").to_vec();
        Reply { status, headers, bytes }
    }

    /// Every item of a list, by pages of this size.
    pub(super) async fn all(&self, path: &str, limit: u64) -> Vec<Value> {
        let mut items = Vec::new();
        let mut path = format!("{path}?limit={limit}");
        loop {
            let page = self.send(&Asked::plain("GET", path.as_str())).await.good().json();
            let own = page["items"].as_array().expect("items");
            assert!(own.len() <= usize::try_from(limit).expect("a limit"), "a page of {} for {limit}", own.len());
            items.extend(own.iter().cloned());
            match page["next"].as_str() {
                Some(next) => next.strip_prefix(PUBLIC_URL).expect("an address of its own").clone_into(&mut path),
                None => return items,
            }
        }
    }
}
