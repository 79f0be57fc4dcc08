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
    /// `ok`; what is not is a problem document.
    status: &'static str,
}

const OK: Json<Health> = Json(Health { status: "ok" });

/// Whether the service runs
///
/// Answers as long as the process does: restart it when this fails.
#[utoipa::path(
    get, path = "/health/live", tag = "health",
    responses((status = 200, description = "It runs", body = Health))
)]
pub(crate) async fn get_liveness() -> Json<Health> {
    OK
}

/// Whether the service can serve
///
/// The database can be read and, as far as that shows beforehand, written; and the service is not stopping. Where only the writing fails (the disk is
/// full, the folder read-only), reading still works, and `detail` says so.
#[utoipa::path(
    get, path = "/health/ready", tag = "health",
    responses(
        (status = 200, description = "It can serve", body = Health),
        (status = 503, description = "It cannot, or only read (`store-unavailable`, `overloaded`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn get_readiness(State(app): State<AppState>) -> Result<Json<Health>, Problem> {
    if !app.is_ready() {
        return Err(Problem::new(Slug::StoreUnavailable, "the service is stopping"));
    }
    app.store.ping().await?;
    app.store
        .can_write()
        .map_err(|error| Problem::new(Slug::StoreUnavailable, format!("{error}; reading still works")))?;
    Ok(OK)
}
