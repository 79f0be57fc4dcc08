//! Several lines to one scene.

use axum::extract::State;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::combined::{CombinedAsk, CombinedSupply, answer};
use crate::extract::Json;
use crate::problem::{Problem, ProblemDocument};

/// What two or more hydrants, or one hydrant with two lines, bring to one scene.
///
/// On one main every hydrant is counted as falling with all that is taken from it. Mains that are not known to be two are counted as one: what they would
/// bring if they were not is told beside it, as an upper end. Nothing is stored.
#[utoipa::path(post, path = "/v1/combined-supplies", tag = "lays",
    request_body(content = CombinedAsk, description = "The lines, and what is known of their mains"),
    responses(
        (status = 200, description = "The answer", body = CombinedSupply),
        (status = 409, description = "`no-flow-test`, `hydrant-out-of-service`", body = ProblemDocument,
            content_type = "application/problem+json")
    ))]
pub(crate) async fn create_combined_supply(
    State(state): State<AppState>,
    Json(ask): Json<CombinedAsk>,
) -> Result<Json<CombinedSupply>, Problem> {
    answer(&state, &ask).await.map(Json)
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(create_combined_supply))
}
