//! Drills: recorded once, voided with a reason.

use axum::extract::State;
use longlay_records::drill::{Drill, DrillUse, UsedKind};
use longlay_records::id::AssetId;
use longlay_store::RecordKind;
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use uuid::Uuid;

use crate::app::AppState;
use crate::extract::{Json, Path, Query};
use crate::faults::Faults;
use crate::idempotency::{PostHeaders, Posted, Reply};
use crate::lay::refs;
use crate::page::{Limit, ListUrl, Page, Start};
use crate::problem::{Problem, ProblemDocument};
use crate::routes::drill_body::DrillBody;
use crate::routes::drill_record::DrillRecord;
use crate::routes::voiding::{VoidBody, voided_once};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new()
        .routes(routes!(create_drill, list_drills))
        .routes(routes!(get_drill))
        .routes(routes!(void_drill))
}

/// Which drills to list: those that used all of what is named.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct DrillListQuery {
    /// At this hydrant.
    hydrant_id: Option<String>,
    /// With this kind of hose.
    hose_type_id: Option<String>,
    /// With this kind of appliance.
    appliance_id: Option<String>,
    /// With this kind of hydrant valve.
    hydrant_valve_id: Option<String>,
    /// With this pumper.
    pumper_id: Option<String>,
    /// Most items of a page; more than 1000 counts as 1000.
    #[param(value_type = Option<u32>, minimum = 1, maximum = 1000, default = 100)]
    limit: Option<Limit>,
    /// Where the page starts, out of `next` of the page before. Opaque.
    cursor: Option<String>,
}

impl DrillListQuery {
    fn uses(&self) -> Result<Vec<DrillUse>, Problem> {
        let named = [
            (UsedKind::Hydrant, "/hydrant_id", &self.hydrant_id),
            (UsedKind::HoseType, "/hose_type_id", &self.hose_type_id),
            (UsedKind::Appliance, "/appliance_id", &self.appliance_id),
            (UsedKind::HydrantValve, "/hydrant_valve_id", &self.hydrant_valve_id),
            (UsedKind::Pumper, "/pumper_id", &self.pumper_id),
        ];
        let mut faults = Faults::of_query();
        let mut uses = Vec::new();
        for (kind, pointer, text) in named {
            let id: Option<AssetId> = text.as_deref().and_then(|text| faults.id(pointer, text));
            uses.extend(id.map(|id| DrillUse { kind, id }));
        }
        faults.finish(Some(uses))
    }
}

/// Record a drill
///
/// A lay that was really laid, with the flow measured and what the gauges read. The answer says what was predicted, and by how much it missed. A drill is
/// never edited: void it and record another.
#[utoipa::path(
    post, path = "/v1/drills", tag = "drills", params(PostHeaders),
    request_body(content = DrillBody, description = "The lay, the flow and the readings"),
    responses(
        (status = 201, description = "Recorded", body = DrillRecord,
            headers(("Location" = String, description = "Address of the drill"))),
        (status = 409, description = "`no-flow-test`, `hydrant-out-of-service`", body = ProblemDocument,
            content_type = "application/problem+json")
    )
)]
pub(crate) async fn create_drill(
    State(app): State<AppState>,
    writer: Writer,
    Posted { body, once }: Posted<DrillBody>,
) -> Result<Reply, Problem> {
    if let Some(first) = once.answered(&app, &writer).await? {
        return Ok(first);
    }
    let inputs = app.store.lay_inputs(&refs(&body.lay), app.clock.today()).await?;
    let drill = body.drill(&app, &inputs)?;
    let location = format!("{}/v1/drills/{}", app.public_url, drill.id);
    let reply = Reply::created(location, &DrillRecord::new(drill.clone())?)?;
    let recorded = app.store.add_drill(&drill, &once.change(&app, &writer, &reply)).await;
    let recorded = recorded.map_err(|error| Problem::refused(error, |_, _| vec!["/lay".to_owned()]))?;
    Ok(reply.or_first(recorded))
}

/// List drills
///
/// In the order of their recording; voided ones too, with their reason.
#[utoipa::path(
    get, path = "/v1/drills", tag = "drills",
    params(DrillListQuery),
    responses((status = 200, description = "A page of drills", body = Page<DrillRecord>))
)]
pub(crate) async fn list_drills(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<DrillListQuery>,
) -> Result<Page<DrillRecord>, Problem> {
    let start = Start::<Uuid>::new(query.limit, query.cursor.as_deref())?;
    let drills = app.store.drills(&query.uses()?, start.after, start.probe()).await?;
    let mut records = Vec::with_capacity(drills.len());
    for drill in drills {
        records.push((drill.id, DrillRecord::new(drill)?));
    }
    Ok(url.page(records, start.limit, |(id, _)| id.to_string(), |(_, record)| record))
}

/// Look up a drill
///
/// With what was predicted when it was recorded, whatever the figures are now.
#[utoipa::path(
    get, path = "/v1/drills/{drill_id}", tag = "drills",
    params(("drill_id" = Uuid, Path, description = "The drill's id")),
    responses((status = 200, description = "The drill", body = DrillRecord))
)]
pub(crate) async fn get_drill(State(app): State<AppState>, Path(id): Path<Uuid>) -> Result<Json<DrillRecord>, Problem> {
    let drill = app.store.drill(id).await?;
    let drill = drill.ok_or_else(|| Problem::no_such(RecordKind::Drill, id))?;
    DrillRecord::new(drill).map(Json)
}

/// Void a drill
///
/// It is kept, and no longer counts. This cannot be taken back.
#[utoipa::path(
    post, path = "/v1/drills/{drill_id}/void", tag = "drills",
    params(("drill_id" = Uuid, Path, description = "The drill's id"), PostHeaders),
    request_body(content = VoidBody, description = "The reason"),
    responses(
        (status = 200, description = "Voided", body = DrillRecord),
        (status = 409, description = "It was voided before (`already-voided`)", body = ProblemDocument,
            content_type = "application/problem+json"),
        (status = 507, description = "The disk is full (`storage-full`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn void_drill(
    State(app): State<AppState>,
    Path(id): Path<Uuid>,
    writer: Writer,
    Posted { body, once }: Posted<VoidBody>,
) -> Result<Reply, Problem> {
    if let Some(first) = once.answered(&app, &writer).await? {
        return Ok(first);
    }
    let voided = body.voided(app.clock.now())?;
    let drill = app.store.drill(id).await?;
    let drill = drill.ok_or_else(|| Problem::no_such(RecordKind::Drill, id))?;
    let reply = Reply::ok(&DrillRecord::new(Drill { voided: Some(voided.clone()), ..drill })?)?;
    let change = once.change(&app, &writer, &reply);
    voided_once(app.store.void_drill(id, &voided, &change).await?, reply, RecordKind::Drill, id)
}
