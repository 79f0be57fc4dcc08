//! What the operator's monitoring reads.

use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::metrics::MEDIA_TYPE;
use crate::problem::{Problem, Slug};

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(get_metrics))
}

/// Counts and times for Prometheus
///
/// Requests by method, route and status, how long they took, what was refused for want of a place, and the state of the store.
#[utoipa::path(
    get, path = "/metrics", tag = "health",
    responses((status = 200, description = "The counts since the start, as OpenMetrics text", body = String,
        content_type = "application/openmetrics-text"))
)]
pub(crate) async fn get_metrics(State(app): State<AppState>) -> Result<Response, Problem> {
    let text = app.metrics.text(&app.store).map_err(|error| {
        tracing::error!(%error, "the counts could not be written");
        Problem::new(Slug::Internal, Slug::Internal.meaning())
    })?;
    Ok(([(header::CONTENT_TYPE, MEDIA_TYPE)], text).into_response())
}
