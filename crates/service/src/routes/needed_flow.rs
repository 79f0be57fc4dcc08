//! How much water a building asks for.

use axum::extract::State;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::Json;
use crate::needed_flow::{NeededFlowAnswer, NeededFlowAsk, answer};
use crate::problem::{Problem, ProblemDocument};

/// How much water a building asks for, and whether a lay brings it.
///
/// By the method and edition asked for; nothing is chosen for the caller. With `lay`, the same answer as of `POST /v1/lay-calculations` for the needed
/// flow, and what is to be said of it. Nothing is stored.
#[utoipa::path(post, path = "/v1/needed-flow", tag = "needed-flow",
    request_body(content = NeededFlowAsk, description = "The building, the method and perhaps the lay"),
    responses(
        (status = 200, description = "The needed flow", body = NeededFlowAnswer),
        (status = 409, description = "Of the lay: `no-flow-test`, `hydrant-out-of-service`", body = ProblemDocument,
            content_type = "application/problem+json")
    ))]
pub(crate) async fn create_needed_flow(
    State(state): State<AppState>,
    Json(ask): Json<NeededFlowAsk>,
) -> Result<Json<NeededFlowAnswer>, Problem> {
    answer(&state, &ask).await.map(Json)
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(create_needed_flow))
}
