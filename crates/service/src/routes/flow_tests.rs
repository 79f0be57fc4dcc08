//! Flow tests: recorded once, voided with a reason.

use axum::extract::State;
use axum::response::{IntoResponse, Response};
use longlay_records::flow_test::FlowTest;
use longlay_records::id::AssetId;
use longlay_store::{Change, RecordKind, Recorded, StoreError};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use uuid::Uuid;

use crate::app::AppState;
use crate::extract::{Json, Path, Query};
use crate::idempotency::{PostHeaders, Posted, Reply};
use crate::page::{ListUrl, Page, PageQuery};
use crate::problem::{Problem, ProblemDocument};
use crate::routes::flow_test_body::{FlowTestBody, Recording};
use crate::routes::flow_test_record::{FlowTestRecord, gauged_at};
use crate::routes::kerb::{FlowTestDryRun, dry_run};
use crate::routes::voiding::{VoidBody, voided_once};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new()
        .routes(routes!(create_flow_test, list_flow_tests))
        .routes(routes!(get_flow_test))
        .routes(routes!(void_flow_test))
}

/// Whether to record at all.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct DryRun {
    /// Store nothing: say what would be recorded, and what to do before the hydrants are shut.
    #[serde(default)]
    #[param(required = false, default = false)]
    dry_run: bool,
}

/// Records a test. The gauge hydrant stands in the path, flow hydrants in the body.
pub(crate) async fn record(app: &AppState, test: &FlowTest, change: &Change) -> Result<Recorded, Problem> {
    app.store.add_flow_test(test, change).await.map_err(|error| refused(error, test))
}

/// Why a test is not taken: the gauge hydrant in the path is nothing there, a flow hydrant in the body is at fault.
pub(crate) fn refused(error: StoreError, test: &FlowTest) -> Problem {
    match &error {
        StoreError::UnknownReferences(missing)
            if missing.iter().any(|(_, id)| *id == test.gauge_hydrant_id.as_str()) =>
        {
            Problem::no_such(RecordKind::Hydrant, &test.gauge_hydrant_id)
        }
        _ => Problem::refused(error, |_, id| {
            let flowed = test.flow_hydrant_ids.iter().enumerate().filter(|(_, flowed)| flowed.as_str() == id);
            flowed.map(|(i, _)| format!("/flow_hydrant_ids/{i}")).collect()
        }),
    }
}

/// Record a flow test
///
/// The hydrant in the path carried the gauge. A test is never edited: void it and record another. While the hydrants still flow, `dry_run=true` says
/// whether the gauge has fallen far enough, what to open next and when to stop.
#[utoipa::path(
    post, path = "/v1/hydrants/{hydrant_id}/flow-tests", tag = "flow-tests",
    params(("hydrant_id" = String, Path, description = "The gauge hydrant's number"), DryRun, PostHeaders),
    request_body(content = FlowTestBody, description = "The readings"),
    responses(
        (status = 200, description = "With `dry_run=true`: what would be recorded, and what to do on the kerb", body = FlowTestDryRun),
        (status = 201, description = "Recorded", body = FlowTestRecord,
            headers(("Location" = String, description = "Address of the test"))),
    )
)]
pub(crate) async fn create_flow_test(
    State(app): State<AppState>,
    Path(hydrant_id): Path<AssetId>,
    Query(query): Query<DryRun>,
    writer: Writer,
    Posted { body, once }: Posted<FlowTestBody>,
) -> Result<Response, Problem> {
    if query.dry_run {
        let test = body.flow_test(Recording::new(&app, hydrant_id))?;
        return Ok(Json(dry_run(&app, test).await?).into_response());
    }
    if let Some(first) = once.answered(&app, &writer).await? {
        return Ok(first.into_response());
    }
    let test = body.flow_test(Recording::new(&app, hydrant_id))?;
    let location = format!("{}/v1/hydrants/{}/flow-tests/{}", app.public_url, test.gauge_hydrant_id, test.id);
    let others = gauged_at(&app, &test.gauge_hydrant_id).await?;
    let reply = Reply::created(location, &FlowTestRecord::among(test.clone(), &others)?)?;
    let recorded = record(&app, &test, &once.change(&app, &writer, &reply)).await?;
    Ok(reply.or_first(recorded).into_response())
}

/// List a hydrant's flow tests
///
/// Those gauged at it, in the order of their recording; voided ones too, with their reason.
#[utoipa::path(
    get, path = "/v1/hydrants/{hydrant_id}/flow-tests", tag = "flow-tests",
    params(("hydrant_id" = String, Path, description = "The gauge hydrant's number"), PageQuery),
    responses((status = 200, description = "A page of flow tests", body = Page<FlowTestRecord>))
)]
pub(crate) async fn list_flow_tests(
    State(app): State<AppState>,
    Path(hydrant_id): Path<AssetId>,
    url: ListUrl,
    Query(query): Query<PageQuery>,
) -> Result<Page<FlowTestRecord>, Problem> {
    let start = query.start::<Uuid>()?;
    let hydrant = app.store.hydrant(&hydrant_id).await?;
    hydrant.ok_or_else(|| Problem::no_such(RecordKind::Hydrant, &hydrant_id))?;
    let tests = app.store.flow_tests(&hydrant_id, start.after, start.probe()).await?;
    let others = gauged_at(&app, &hydrant_id).await?;
    let tests = tests.into_iter().map(|test| FlowTestRecord::among(test, &others)).collect::<Result<_, _>>()?;
    Ok(url.page(tests, start.limit, |test: &FlowTestRecord| test.id.to_string(), |test| test))
}

/// Look up a flow test
///
/// Of a retired hydrant too: answers that rest on it name it.
#[utoipa::path(
    get, path = "/v1/hydrants/{hydrant_id}/flow-tests/{flow_test_id}", tag = "flow-tests",
    params(
        ("hydrant_id" = String, Path, description = "The gauge hydrant's number"),
        ("flow_test_id" = Uuid, Path, description = "The test's id"),
    ),
    responses((status = 200, description = "The flow test", body = FlowTestRecord))
)]
pub(crate) async fn get_flow_test(
    State(app): State<AppState>,
    Path((hydrant_id, id)): Path<(AssetId, Uuid)>,
) -> Result<Json<FlowTestRecord>, Problem> {
    let test = app.store.flow_test(&hydrant_id, id).await?;
    let test = test.ok_or_else(|| Problem::no_such(RecordKind::FlowTest, id))?;
    FlowTestRecord::among(test, &gauged_at(&app, &hydrant_id).await?).map(Json)
}

/// Void a flow test
///
/// It is kept, and no longer counts. This cannot be taken back.
#[utoipa::path(
    post, path = "/v1/hydrants/{hydrant_id}/flow-tests/{flow_test_id}/void", tag = "flow-tests",
    params(
        ("hydrant_id" = String, Path, description = "The gauge hydrant's number"),
        ("flow_test_id" = Uuid, Path, description = "The test's id"),
        PostHeaders,
    ),
    request_body(content = VoidBody, description = "The reason"),
    responses(
        (status = 200, description = "Voided", body = FlowTestRecord),
        (status = 409, description = "It was voided before (`already-voided`)", body = ProblemDocument,
            content_type = "application/problem+json"),
        (status = 507, description = "The disk is full (`storage-full`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn void_flow_test(
    State(app): State<AppState>,
    Path((hydrant_id, id)): Path<(AssetId, Uuid)>,
    writer: Writer,
    Posted { body, once }: Posted<VoidBody>,
) -> Result<Reply, Problem> {
    if let Some(first) = once.answered(&app, &writer).await? {
        return Ok(first);
    }
    let voided = body.voided(app.clock.now())?;
    let test = app.store.flow_test(&hydrant_id, id).await?;
    let test = test.ok_or_else(|| Problem::no_such(RecordKind::FlowTest, id))?;
    let reply = Reply::ok(&FlowTestRecord::among(FlowTest { voided: Some(voided.clone()), ..test }, &[])?)?;
    let change = once.change(&app, &writer, &reply);
    voided_once(app.store.void_flow_test(&hydrant_id, id, &voided, &change).await?, reply, RecordKind::FlowTest, id)
}
