//! Tests of the department's own equipment: recorded once, voided with a reason, and used from then on.

use axum::extract::State;
use longlay_records::equipment_test::{EquipmentTest, Subject};
use longlay_records::id::AssetId;
use longlay_store::{EquipmentTestQuery, RecordKind, StoreError};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use uuid::Uuid;

use crate::app::AppState;
use crate::extract::{Json, Path, Query};
use crate::faults::Faults;
use crate::idempotency::{PostHeaders, Posted, Reply};
use crate::page::{Limit, ListUrl, Page, Start};
use crate::problem::{Problem, ProblemDocument};
use crate::routes::equipment_test_body::{EquipmentTestBody, LegName, TestRecording};
use crate::routes::equipment_test_record::{EquipmentTestRecord, record_to_be, records};
use crate::routes::voiding::{VoidBody, voided_once};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new()
        .routes(routes!(create_equipment_test, list_equipment_tests))
        .routes(routes!(get_equipment_test))
        .routes(routes!(void_equipment_test))
}

/// Of what, and which page.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct EquipmentTestsQuery {
    /// Of this kind of hose. At most one of the four ids.
    hose_type_id: Option<String>,
    /// Of this kind of appliance.
    appliance_id: Option<String>,
    /// Of this kind of hydrant valve.
    hydrant_valve_id: Option<String>,
    /// Of this leg of the valve; without it of every one.
    #[param(inline)]
    leg: Option<LegName>,
    /// Of this pumper.
    pumper_id: Option<String>,
    /// Most items of a page; more than 1000 counts as 1000.
    #[param(value_type = Option<u32>, minimum = 1, maximum = 1000, default = 100)]
    limit: Option<Limit>,
    /// Where the page starts, out of `next` of the page before. Opaque.
    cursor: Option<String>,
}

impl EquipmentTestsQuery {
    fn query(&self) -> Result<EquipmentTestQuery, Problem> {
        let mut faults = Faults::of_query();
        let query = self.converted(&mut faults);
        faults.finish(query)
    }

    fn converted(&self, faults: &mut Faults) -> Option<EquipmentTestQuery> {
        if self.leg.is_some() && self.hydrant_valve_id.is_none() {
            faults.note("/leg", "not_with", "leg goes with hydrant_valve_id");
        }
        let hose = faults.optional_id("/hose_type_id", self.hose_type_id.as_deref());
        let appliance = faults.optional_id("/appliance_id", self.appliance_id.as_deref());
        let valve = faults.optional_id("/hydrant_valve_id", self.hydrant_valve_id.as_deref());
        let pumper = faults.optional_id("/pumper_id", self.pumper_id.as_deref());
        let of_valve = |id: AssetId| match self.leg {
            Some(leg) => EquipmentTestQuery::Of(Subject::ValveLeg(id, leg.into())),
            None => EquipmentTestQuery::OfValve(id),
        };
        match (hose?, appliance?, valve?, pumper?) {
            (None, None, None, None) => Some(EquipmentTestQuery::All),
            (Some(id), None, None, None) => Some(EquipmentTestQuery::Of(Subject::Hose(id))),
            (None, Some(id), None, None) => Some(EquipmentTestQuery::Of(Subject::Appliance(id))),
            (None, None, Some(id), None) => Some(of_valve(id)),
            (None, None, None, Some(id)) => Some(EquipmentTestQuery::Of(Subject::Pumper(id))),
            _ => faults.add("/hose_type_id", "at_most_one_of", "ask for the tests of one thing, or of all"),
        }
    }
}

/// The member of a body and the parameter of a query that name this kind of equipment.
const fn named_by(kind: RecordKind) -> &'static str {
    match kind {
        RecordKind::Appliance => "appliance_id",
        RecordKind::HydrantValve => "hydrant_valve_id",
        RecordKind::Pumper => "pumper_id",
        _ => "hose_type_id",
    }
}

/// What the store does not know of the query.
fn unknown(error: StoreError) -> Problem {
    let StoreError::UnknownReferences(missing) = &error else { return error.into() };
    let mut faults = Faults::of_query();
    for (kind, id) in missing {
        faults.note(&format!("/{}", named_by(*kind)), "unknown_reference", format!("there is no {kind} {id}"));
    }
    faults.finish::<()>(None).err().unwrap_or_else(|| error.into())
}

/// A single test with what follows from it.
async fn record(app: &AppState, test: EquipmentTest) -> Result<EquipmentTestRecord, Problem> {
    let id = test.id;
    records(app, vec![test]).await?.pop().ok_or_else(|| Problem::no_such(RecordKind::EquipmentTest, id))
}

/// Record a test of equipment
///
/// Its figure stands in place of the one stored from now on, unless a newer test does. A test is never edited: void it and record another.
#[utoipa::path(
    post, path = "/v1/equipment-tests", tag = "equipment-tests", params(PostHeaders),
    request_body(content = EquipmentTestBody, description = "What was tested, and the readings"),
    responses((status = 201, description = "Recorded", body = EquipmentTestRecord,
        headers(("Location" = String, description = "Address of the test"))))
)]
pub(crate) async fn create_equipment_test(
    State(app): State<AppState>,
    writer: Writer,
    Posted { body, once }: Posted<EquipmentTestBody>,
) -> Result<Reply, Problem> {
    if let Some(first) = once.answered(&app, &writer).await? {
        return Ok(first);
    }
    let now = app.clock.now();
    let latest_day = app.clock.latest_today();
    let test = body.test(TestRecording { id: app.ids.next(now), recorded_at: now, latest_day })?;
    let location = format!("{}/v1/equipment-tests/{}", app.public_url, test.id);
    let reply = Reply::created(location, &record_to_be(&app, test.clone()).await?)?;
    let added = app.store.add_equipment_test(&test, &once.change(&app, &writer, &reply)).await;
    let added = added.map_err(|error| Problem::refused(error, |kind, _| vec![format!("/{}", named_by(kind))]))?;
    Ok(reply.or_first(added))
}

/// List tests of equipment
///
/// Of one thing or of all, in the order of their recording; voided ones too, with their reason.
#[utoipa::path(
    get, path = "/v1/equipment-tests", tag = "equipment-tests", params(EquipmentTestsQuery),
    responses((status = 200, description = "A page of tests", body = Page<EquipmentTestRecord>))
)]
pub(crate) async fn list_equipment_tests(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<EquipmentTestsQuery>,
) -> Result<Page<EquipmentTestRecord>, Problem> {
    let start = Start::<Uuid>::new(query.limit, query.cursor.as_deref())?;
    let tests = app.store.equipment_tests(&query.query()?, start.after, start.probe()).await.map_err(unknown)?;
    let tests = records(&app, tests).await?;
    Ok(url.page(tests, start.limit, |test| test.id().to_string(), |test| test))
}

/// Look up a test of equipment
///
/// Of retired equipment too: answers that rested on it name it.
#[utoipa::path(
    get, path = "/v1/equipment-tests/{equipment_test_id}", tag = "equipment-tests",
    params(("equipment_test_id" = Uuid, Path, description = "The test's id")),
    responses((status = 200, description = "The test", body = EquipmentTestRecord))
)]
pub(crate) async fn get_equipment_test(
    State(app): State<AppState>,
    Path(id): Path<Uuid>,
) -> Result<Json<EquipmentTestRecord>, Problem> {
    let test = app.store.equipment_test(id).await?;
    let test = test.ok_or_else(|| Problem::no_such(RecordKind::EquipmentTest, id))?;
    record(&app, test).await.map(Json)
}

/// Void a test of equipment
///
/// It is kept, and no longer counts: the test before it stands, or the figure stored. This cannot be taken back.
#[utoipa::path(
    post, path = "/v1/equipment-tests/{equipment_test_id}/void", tag = "equipment-tests",
    params(("equipment_test_id" = Uuid, Path, description = "The test's id"), PostHeaders),
    request_body(content = VoidBody, description = "The reason"),
    responses(
        (status = 200, description = "Voided", body = EquipmentTestRecord),
        (status = 409, description = "It was voided before (`already-voided`)", body = ProblemDocument,
            content_type = "application/problem+json"),
        (status = 507, description = "The disk is full (`storage-full`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn void_equipment_test(
    State(app): State<AppState>,
    Path(id): Path<Uuid>,
    writer: Writer,
    Posted { body, once }: Posted<VoidBody>,
) -> Result<Reply, Problem> {
    if let Some(first) = once.answered(&app, &writer).await? {
        return Ok(first);
    }
    let voided = body.voided(app.clock.now())?;
    let test = app.store.equipment_test(id).await?;
    let test = test.ok_or_else(|| Problem::no_such(RecordKind::EquipmentTest, id))?;
    let reply = Reply::ok(&record_to_be(&app, EquipmentTest { voided: Some(voided.clone()), ..test }).await?)?;
    let change = once.change(&app, &writer, &reply);
    voided_once(app.store.void_equipment_test(id, &voided, &change).await?, reply, RecordKind::EquipmentTest, id)
}
