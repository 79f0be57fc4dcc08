//! A relay from another source: where its pumpers stand and what they carry.

use axum::extract::State;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::Json;
use crate::problem::{Problem, ProblemDocument};
use crate::relay::{RelayAnswer, RelayQuestion, calculate};

/// Where the pumpers of a relay stand, what their gauges read, and what the relay carries at most.
///
/// From a stored hydrant, a flow test's three numbers or open water, over level or uneven ground, by the maximum-distance or the constant-pressure
/// method. A relay that does not carry the flow is an answer too, with its reason. Nothing is stored.
#[utoipa::path(post, path = "/v1/relays", tag = "other-sources",
    request_body(content = RelayQuestion, description = "The water, the hose, the ground, the pumpers and the flow wanted"),
    responses(
        (status = 200, description = "The answer", body = RelayAnswer),
        (status = 409, description = "`no-flow-test`, `hydrant-out-of-service`", body = ProblemDocument,
            content_type = "application/problem+json")
    ))]
pub(crate) async fn create_relay(
    State(state): State<AppState>,
    Json(ask): Json<RelayQuestion>,
) -> Result<Json<RelayAnswer>, Problem> {
    calculate(&state, &ask).await.map(Json)
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(create_relay))
}
