//! Answers that went well: JSON, records stored, lists.

use axum::body::Bytes;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use longlay_store::Put;
use serde::Serialize;

use crate::extract::Json;
use crate::precondition::tagged;
use crate::problem::{Problem, Slug};

impl<T: Serialize> IntoResponse for Json<T> {
    fn into_response(self) -> Response {
        Written::of(&self.0).into_response()
    }
}

/// Room for most answers: one that grows is copied each time that it doubles.
const ROOM_BYTES: usize = 24 * 1024;

/// JSON that is written out already.
pub(crate) struct Written(pub(crate) Bytes);

impl Written {
    /// Writes an answer out.
    pub(crate) fn of(answer: &impl Serialize) -> Result<Self, Problem> {
        let mut body = Vec::with_capacity(ROOM_BYTES);
        serde_json::to_writer(&mut body, answer).map_err(|error| {
            tracing::error!(%error, "an answer could not be written as JSON");
            Problem::new(Slug::Internal, Slug::Internal.meaning())
        })?;
        Ok(Self(body.into()))
    }
}

impl IntoResponse for Written {
    fn into_response(self) -> Response {
        ([(header::CONTENT_TYPE, "application/json")], self.0).into_response()
    }
}

/// A record as it now stands, with its tag: 201 where it is new, 200 where it replaced one.
pub(crate) struct Stored<T>(pub(crate) Put, pub(crate) T);

impl<T: Serialize> IntoResponse for Stored<T> {
    fn into_response(self) -> Response {
        let status = match self.0 {
            Put::Created(_) => StatusCode::CREATED,
            Put::Replaced(_) => StatusCode::OK,
        };
        tagged(self.0.version(), (status, Json(self.1)).into_response())
    }
}

/// Done, and nothing to show: 204.
pub(crate) struct Retired;

impl IntoResponse for Retired {
    fn into_response(self) -> Response {
        StatusCode::NO_CONTENT.into_response()
    }
}
