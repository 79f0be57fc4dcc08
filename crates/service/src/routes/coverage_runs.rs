//! Coverage runs: asked for at once, worked off in their turn, looked at, called off, deleted.

use axum::extract::State;
use axum::http::StatusCode;
use longlay_store::{CoverageRun, LayInputs, RecordKind, RunAdded, RunDeleted, RunState};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use uuid::Uuid;

use crate::app::AppState;
use crate::coverage::settings::CoverageRunBody;
use crate::coverage::template::template;
use crate::extract::{Json, Path, Query};
use crate::faults::Faults;
use crate::idempotency::{PostHeaders, Posted, Reply};
use crate::page::{ListUrl, Page, PageQuery};
use crate::problem::{Problem, ProblemDocument, Slug};
use crate::reply::Retired;
use crate::routes::coverage_run_record::CoverageRunRecord;
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new()
        .routes(routes!(create_coverage_run, list_coverage_runs))
        .routes(routes!(get_coverage_run, delete_coverage_run))
        .routes(routes!(cancel_coverage_run))
}

/// Ask for a coverage run
///
/// From every demand point, along the streets: which hydrants serve it with the hose carried, what would arrive at best, and where that is not enough, why not.
/// The answer comes at once; look at the run's address until its `status` is `done`. A run is worked of the records as they stand when its turn comes, and
/// keeps a fingerprint of them.
#[utoipa::path(
    post, path = "/v1/coverage-runs", tag = "coverage", params(PostHeaders),
    request_body(content = CoverageRunBody, description = "The lay, the pumper and how hose is counted"),
    responses(
        (status = 202, description = "It waits for its turn", body = CoverageRunRecord,
            headers(("Location" = String, description = "Address of the run"))),
        (status = 409, description = "As many are kept as may be (`too-many-coverage-runs`)", body = ProblemDocument,
            content_type = "application/problem+json")
    )
)]
pub(crate) async fn create_coverage_run(
    State(app): State<AppState>,
    writer: Writer,
    Posted { body, once }: Posted<CoverageRunBody>,
) -> Result<Reply, Problem> {
    if let Some(first) = once.answered(&app, &writer).await? {
        return Ok(first);
    }
    let inputs = app.store.lay_inputs(&body.refs(), app.clock.today()).await?;
    let settings = settings(&app, &body, &inputs).await?;
    let now = app.clock.now();
    let run = CoverageRun {
        id: app.ids.next(now),
        requested_at: now,
        author: writer.author.name.clone(),
        settings: json(&settings)?,
        state: RunState::Queued,
        started_at: None,
        ended_at: None,
        fingerprint: None,
        summary: None,
    };
    let location = format!("{}/v1/coverage-runs/{}", app.public_url, run.id);
    let reply = Reply::new(StatusCode::ACCEPTED, Some(location), &CoverageRunRecord::new(run.clone(), None)?)?;
    match app.store.add_coverage_run(&run, &once.change(&app, &writer, &reply)).await? {
        RunAdded::TooMany => Err(Problem::new(Slug::TooManyCoverageRuns, Slug::TooManyCoverageRuns.meaning())),
        RunAdded::Recorded(recorded) => {
            let reply = reply.or_first(recorded);
            if !reply.is_again() {
                app.coverage.start(&app, run.id, settings);
            }
            Ok(reply)
        }
    }
}

async fn settings(
    app: &AppState,
    body: &CoverageRunBody,
    inputs: &LayInputs,
) -> Result<crate::coverage::settings::CoverageSettings, Problem> {
    let mut faults = Faults::of_body();
    let district = match body.district_id.as_deref().map(|id| faults.id("/district_id", id)) {
        Some(Some(id)) => app.store.versioned_district(&id).await?.is_some(),
        _ => true,
    };
    let settings = body.settings(inputs, district, &mut faults);
    let settings = faults.finish(settings)?;
    // What keeps the lay from being reckoned with is told now, and not when its turn comes.
    template(&body.lay_profile_id, body.boost_pumper_id.as_deref(), inputs, Faults::of_body())?;
    Ok(settings)
}

fn json(value: &impl serde::Serialize) -> Result<String, Problem> {
    serde_json::to_string(value).map_err(|_| Problem::new(Slug::Internal, Slug::Internal.meaning()))
}

/// List coverage runs
///
/// The newest first.
#[utoipa::path(
    get, path = "/v1/coverage-runs", tag = "coverage", params(PageQuery),
    responses((status = 200, description = "A page of runs", body = Page<CoverageRunRecord>))
)]
pub(crate) async fn list_coverage_runs(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<PageQuery>,
) -> Result<Page<CoverageRunRecord>, Problem> {
    let start = query.start::<Uuid>()?;
    let runs = app.store.coverage_runs(start.after, start.probe()).await?;
    let mut records = Vec::with_capacity(runs.len());
    for run in runs {
        records.push((run.id, CoverageRunRecord::new(run.clone(), app.coverage.come(run.id))?));
    }
    Ok(url.page(records, start.limit, |(id, _)| id.to_string(), |(_, record)| record))
}

/// Look at a coverage run
///
/// How far it has come, and once it is done, what it came to.
#[utoipa::path(
    get, path = "/v1/coverage-runs/{coverage_run_id}", tag = "coverage",
    params(("coverage_run_id" = Uuid, Path, description = "Its id")),
    responses((status = 200, description = "The run", body = CoverageRunRecord))
)]
pub(crate) async fn get_coverage_run(
    State(app): State<AppState>,
    Path(id): Path<Uuid>,
) -> Result<Json<CoverageRunRecord>, Problem> {
    record(&app, id).await.map(Json)
}

async fn record(app: &AppState, id: Uuid) -> Result<CoverageRunRecord, Problem> {
    // Looked at first: a run that ends in between is told as it ended.
    let come = app.coverage.come(id);
    let run = app.store.coverage_run(id).await?.ok_or_else(|| Problem::no_such(RecordKind::CoverageRun, id))?;
    CoverageRunRecord::new(run, come)
}

/// Call a coverage run off
///
/// Nothing of it is kept but that it was asked for. One that has ended stays as it ended.
#[utoipa::path(
    post, path = "/v1/coverage-runs/{coverage_run_id}/cancel", tag = "coverage",
    params(("coverage_run_id" = Uuid, Path, description = "Its id")),
    responses((status = 200, description = "It has ended", body = CoverageRunRecord))
)]
pub(crate) async fn cancel_coverage_run(
    State(app): State<AppState>,
    Path(id): Path<Uuid>,
) -> Result<Json<CoverageRunRecord>, Problem> {
    record(&app, id).await?;
    app.coverage.call_off(id).await;
    record(&app, id).await.map(Json)
}

/// Delete a coverage run
///
/// With its outcomes; called off first where it has not ended. The records that it was worked of are not touched.
#[utoipa::path(
    delete, path = "/v1/coverage-runs/{coverage_run_id}", tag = "coverage",
    params(("coverage_run_id" = Uuid, Path, description = "Its id")),
    responses((status = 204, description = "Deleted"))
)]
pub(crate) async fn delete_coverage_run(
    State(app): State<AppState>,
    Path(id): Path<Uuid>,
    writer: Writer,
) -> Result<Retired, Problem> {
    app.coverage.call_off(id).await;
    match app.store.delete_coverage_run(id, &writer.change(app.clock.now())).await? {
        RunDeleted::Deleted => Ok(Retired),
        RunDeleted::NotFound => Err(Problem::no_such(RecordKind::CoverageRun, id)),
    }
}
