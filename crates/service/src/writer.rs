//! Who writes, and with which request, as the audit keeps it.

use std::convert::Infallible;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use chrono::{DateTime, Utc};
use longlay_records::author::Author;
use longlay_store::Change;

use crate::problem::shortened;

/// Longest id of a request that is kept, characters: callers may choose their own.
const MAX_ID_CHARS: usize = 200;

/// Who sent a request, and the request's id.
#[derive(Debug, Clone)]
pub(crate) struct Writer {
    /// Who.
    pub(crate) author: Author,
    request_id: Option<String>,
}

impl Writer {
    /// A part of the program that writes by itself.
    pub(crate) const fn program(author: Author) -> Self {
        Self { author, request_id: None }
    }

    /// A change on no condition.
    pub(crate) fn change(&self, at: DateTime<Utc>) -> Change {
        Change { request_id: self.request_id.clone(), ..Change::by(self.author.clone(), at) }
    }
}

impl<S: Sync> FromRequestParts<S> for Writer {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _state: &S) -> Result<Self, Infallible> {
        // Where keys are asked for, whoever came without one does not come this far.
        let author = parts.extensions.get().cloned().unwrap_or_else(Author::keyless);
        let id = parts.headers.get("x-request-id").and_then(|id| id.to_str().ok());
        Ok(Self { author, request_id: id.map(|id| shortened(id, MAX_ID_CHARS).into_owned()) })
    }
}
