//! Whether the service runs, and whether it can serve.

use axum::extract::State;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::Json;
use crate::problem::{Problem, ProblemDocument, Slug};

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(get_liveness)).routes(routes!(get_readiness))
}

/// How the service is.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Health {
    /// `ok`, or `read_only` where nothing can be recorded for now. What cannot serve at all is a problem document.
    status: &'static str,
    /// Why nothing can be recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    detail: Option<String>,
}

const OK: Health = Health { status: "ok", detail: None };

/// Whether the service runs
///
/// Answers as long as the process does: restart it when this fails.
#[utoipa::path(
    get, path = "/health/live", tag = "health",
    responses((status = 200, description = "It runs", body = Health))
)]
pub(crate) async fn get_liveness() -> Json<Health> {
    Json(OK)
}

/// Whether the service can serve
///
/// The database can be read, and the service is not stopping. Where only the writing fails, as far as that shows beforehand (the disk is full, the
/// folder read-only), it still answers what is asked of it and so stays ready: `status` is `read_only`, and `detail` says why.
#[utoipa::path(
    get, path = "/health/ready", tag = "health",
    responses(
        (status = 200, description = "It can serve, or at least read", body = Health),
        (status = 503, description = "It cannot (`store-unavailable`, `overloaded`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn get_readiness(State(app): State<AppState>) -> Result<Json<Health>, Problem> {
    if !app.is_ready() {
        return Err(Problem::new(Slug::StoreUnavailable, "the service is stopping"));
    }
    app.store.ping().await?;
    // Taken out of its balancer for a full disk, the only service of a department would leave its dispatchers without an answer.
    Ok(Json(app.store.can_write().map_or_else(
        |error| Health { status: "read_only", detail: Some(format!("{error}; reading still works")) },
        |()| OK,
    )))
}
