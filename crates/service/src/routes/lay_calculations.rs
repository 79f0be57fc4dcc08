//! What arrives over a lay, asked with everything said.

use axum::extract::State;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::Json;
use crate::faults::Faults;
use crate::lay::{LayAnswer, LayCalculation, calculate};
use crate::problem::{Problem, ProblemDocument};

/// What arrives over a lay, alone and boosted: flow, limits, diagnosis, gauges and pressure budget.
///
/// The source is a stored hydrant or a flow test's three numbers; the lay a stored profile or its parts, hydrant to scene. Nothing is stored.
#[utoipa::path(post, path = "/v1/lay-calculations", tag = "lays", 
    request_body(content = LayCalculation, description = "The source, the lay and what is asked of them"),
    responses(
        (status = 200, description = "The answer", body = LayAnswer),
        (status = 409, description = "`no-flow-test`, `hydrant-out-of-service`", body = ProblemDocument,
            content_type = "application/problem+json")
    ))]
pub(crate) async fn create_lay_calculation(
    State(state): State<AppState>,
    Json(ask): Json<LayCalculation>,
) -> Result<Json<LayAnswer>, Problem> {
    calculate(&state, &ask, Faults::of_body()).await.map(Json)
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(create_lay_calculation))
}
