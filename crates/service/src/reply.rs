//! Answers that went well: JSON, records stored, lists.

use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use longlay_store::Put;
use serde::Serialize;

use crate::extract::Json;
use crate::precondition::tagged;
use crate::problem::{Problem, Slug};

impl<T: Serialize> IntoResponse for Json<T> {
    fn into_response(self) -> Response {
        match serde_json::to_vec(&self.0) {
            Ok(body) => ([(header::CONTENT_TYPE, "application/json")], body).into_response(),
            Err(error) => {
                tracing::error!(%error, "an answer could not be written as JSON");
                Problem::new(Slug::Internal, Slug::Internal.meaning()).into_response()
            }
        }
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
