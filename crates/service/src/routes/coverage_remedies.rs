//! What would close the gaps that a coverage run found.

use axum::extract::State;
use longlay_hydraulics::caution::ALWAYS;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use uuid::Uuid;

use crate::advice::CautionNote;
use crate::app::AppState;
use crate::coverage::remedies::{CoverageRemedies, HydrantToTest, Remedy, WithoutValve};
use crate::coverage::summary::AreaSummary;
use crate::extract::{Json, Path};
use crate::problem::{Problem, ProblemDocument, Slug};
use crate::routes::coverage_gaps::done;
use crate::routes::coverage_run_record::kept;

/// What would close the gaps that a run found.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CoverageRemediesRecord {
    /// The run.
    coverage_run_id: Uuid,
    /// Every demand point before any change.
    before: AreaSummary,
    /// The changes: each is made over those before it, and is the one that then closes most gaps for each change counted.
    remedies: Vec<Remedy>,
    /// Whether nothing more was found that closes a gap; else no more were asked for.
    is_all: bool,
    /// The hydrants that gaps are left for the want of a test of, most gaps first, the first hundred: of what they give nothing can be said, which is not nothing.
    to_test: Vec<HydrantToTest>,
    /// What hangs on a valve that the lay does not leave on the hydrant; null where it leaves one or no pumper boosts.
    #[schema(required = true)]
    without_valve: Option<WithoutValve>,
    /// What the people must know.
    cautions: Vec<CautionNote>,
}

/// What would close the gaps of a coverage run
///
/// Few changes that close most: more or bigger hose, a second line, a pumper or a second one, hydrants to put back or to test, a new hydrant, and work on a
/// main where nothing else helps. Each is over those before it, with every demand point before and after. A hydrant that was not tested is reckoned by the
/// weaker of the two nearest that have tests of their own, and says so: test before anything is built on it.
#[utoipa::path(
    get, path = "/v1/coverage-runs/{coverage_run_id}/remedies", tag = "coverage",
    params(("coverage_run_id" = Uuid, Path, description = "The run's id")),
    responses(
        (status = 200, description = "The changes, the first first", body = CoverageRemediesRecord),
        (status = 409, description = "The run has not come to its end (`coverage-run-not-done`), or was asked for no remedies (`no-remedies-asked`)",
            body = ProblemDocument, content_type = "application/problem+json")
    ))]
pub(crate) async fn get_coverage_remedies(
    State(app): State<AppState>,
    Path(id): Path<Uuid>,
) -> Result<Json<CoverageRemediesRecord>, Problem> {
    done(&app, id).await?;
    let Some(remedies) = app.store.coverage_remedies(id).await? else {
        return Err(Problem::new(Slug::NoRemediesAsked, Slug::NoRemediesAsked.meaning()));
    };
    let CoverageRemedies { before, remedies, is_all, to_test, without_valve } = kept(id, &remedies)?;
    let cautions = ALWAYS.into_iter().map(CautionNote::from).collect();
    Ok(Json(CoverageRemediesRecord { coverage_run_id: id, before, remedies, is_all, to_test, without_valve, cautions }))
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(get_coverage_remedies))
}
