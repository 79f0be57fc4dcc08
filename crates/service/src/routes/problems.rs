//! What the problem types mean.

use axum::extract::State;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::{Json, Path};
use crate::problem::{Problem, Slug, type_url};

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_problem_types)).routes(routes!(get_problem_type))
}

/// A problem type.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ProblemType {
    /// The `type` of such problems.
    #[serde(rename = "type")]
    #[schema(format = "uri")]
    kind: String,
    /// The end of `type`.
    slug: &'static str,
    /// In a few words.
    title: &'static str,
    /// The HTTP status it goes out with.
    status: u16,
    /// What it means and what to do.
    meaning: &'static str,
}

/// Every problem type.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ProblemTypes {
    /// The types; the list is closed.
    items: Vec<ProblemType>,
}

fn described(app: &AppState, slug: Slug) -> ProblemType {
    ProblemType {
        kind: type_url(&app.public_url, slug),
        slug: slug.slug(),
        title: slug.title(),
        status: slug.status().as_u16(),
        meaning: slug.meaning(),
    }
}

/// List problem types
///
/// Every `type` that a problem document of this service can have.
#[utoipa::path(
    get, path = "/problems", tag = "problems",
    responses((status = 200, description = "The problem types", body = ProblemTypes))
)]
pub(crate) async fn list_problem_types(State(app): State<AppState>) -> Json<ProblemTypes> {
    Json(ProblemTypes { items: Slug::ALL.iter().map(|slug| described(&app, *slug)).collect() })
}

/// Explain a problem type
///
/// The page that a problem document's `type` leads to.
#[utoipa::path(
    get, path = "/problems/{slug}", tag = "problems",
    params(("slug" = String, Path, description = "The end of a problem's `type`")),
    responses((status = 200, description = "The problem type", body = ProblemType))
)]
pub(crate) async fn get_problem_type(
    State(app): State<AppState>,
    Path(slug): Path<String>,
) -> Result<Json<ProblemType>, Problem> {
    let found = Slug::ALL.iter().find(|known| known.slug() == slug);
    let slug = found.ok_or_else(|| Problem::new(Slug::NotFound, "there is no such problem type; see /problems"))?;
    Ok(Json(described(&app, *slug)))
}
