//! Asks each request for its key, before anything of it is read, and says whose it is.

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderMap, Method};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use longlay_records::author::Author;
use serde_json::Value;

use crate::credentials;
use crate::keyring::Keyring;
use crate::problem::{Problem, Slug};
use crate::scopes::{Access, access};

/// Who may pass, by path and method.
#[derive(Debug)]
pub(crate) struct Guard {
    keys: Keyring,
    doors: BTreeMap<String, Vec<(Method, Access)>>,
}

impl Guard {
    /// Over every operation of the description.
    pub(crate) fn new(document: &Value, keys: Keyring) -> Self {
        let mut doors = BTreeMap::<_, Vec<_>>::new();
        for (path, item) in document["paths"].as_object().into_iter().flatten() {
            for (method, operation) in item.as_object().into_iter().flatten() {
                if let Ok(method) = Method::from_bytes(method.to_uppercase().as_bytes()) {
                    let id = operation["operationId"].as_str().unwrap_or_default();
                    doors.entry(path.clone()).or_default().push((method, access(id)));
                }
            }
        }
        Self { keys, doors }
    }

    /// A route that is not described is an admin's, as [`access`] has it of an operation that is not in its table.
    fn access(&self, method: &Method, path: &str) -> Access {
        let method = if method == Method::HEAD { &Method::GET } else { method };
        let door = self.doors.get(path).and_then(|doors| doors.iter().find(|(own, _)| own == method));
        door.map_or_else(|| access(""), |(_, access)| *access)
    }

    /// Whoever asks, or why they may not. Nobody in particular where no key is asked for.
    fn admit(&self, method: &Method, path: &str, headers: &mut HeaderMap) -> Result<Option<Author>, Problem> {
        let shown = credentials::take(headers);
        let access = self.access(method, path);
        if access == Access::Public {
            return Ok(None);
        }
        let Some(shown) = shown else {
            return Err(Problem::new(Slug::KeyRequired, Slug::KeyRequired.meaning()));
        };
        let Some(key) = self.keys.holder(&shown) else {
            return Err(Problem::new(
                Slug::KeyRequired,
                "there is no such key, or it was revoked; ask whoever gave it to you for another",
            ));
        };
        if let Access::AnyOf(scopes) = access
            && !key.may(scopes)
        {
            let needed: Vec<_> = access.scopes().iter().map(ToString::to_string).collect();
            let own: Vec<_> = key.scopes.iter().map(ToString::to_string).collect();
            let detail = format!("needs one of: {}; the key {} has: {}", needed.join(", "), key.name, own.join(", "));
            return Err(Problem::new(Slug::ScopeMissing, detail));
        }
        Ok(Some(Author { name: key.name.to_string(), key_id: Some(key.id) }))
    }
}

/// The layer: whoever is let in stands in the request's extensions as its [`Author`] and in the log.
pub(crate) async fn ask_for_key(
    State(guard): State<Arc<Guard>>,
    path: MatchedPath,
    mut request: Request,
    next: Next,
) -> Response {
    let method = request.method().clone();
    match guard.admit(&method, path.as_str(), request.headers_mut()) {
        Ok(author) => {
            if let Some(author) = author {
                let span = tracing::Span::current();
                span.record("key", &author.name);
                span.record("key_id", author.key_id.map(tracing::field::display));
                request.extensions_mut().insert(author);
            }
            next.run(request).await
        }
        Err(problem) => problem.into_response(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_route_that_is_not_described_is_not_open() {
        let guard = Guard::new(&crate::app::openapi(), Keyring::default());
        let public = |method, path| guard.access(&method, path) == Access::Public;
        assert!(public(Method::GET, "/health/live") && public(Method::HEAD, "/health/live"));
        assert!(!public(Method::POST, "/health/live") && !public(Method::GET, "/debug") && !public(Method::GET, ""));
        assert!(guard.admit(&Method::GET, "/debug", &mut HeaderMap::new()).is_err());
    }
}
