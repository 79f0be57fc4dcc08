//! Standard lays.

use axum::extract::State;
use axum::response::Response;
use longlay_hydraulics::loss::{LinesOutOfBounds, MAX_LINES};
use longlay_hydraulics::quantity::{Length, Pressure};
use longlay_records::equipment::{LayProfile, MAX_LIST};
use longlay_records::id::AssetId;
use longlay_store::{RecordKind, StoreError};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::{Json, Path, Query};
use crate::faults::{Faults, MAX_NAME_CHARS};
use crate::page::{ListUrl, Page, PageQuery};
use crate::precondition::{DeleteHeaders, GetHeaders, Known, Precondition, PutHeaders, Tagged};
use crate::problem::Problem;
use crate::reply::{Retired, Stored};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_lay_profiles)).routes(routes!(
        put_lay_profile,
        get_lay_profile,
        delete_lay_profile
    ))
}

/// A standard lay to record.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LayProfileBody {
    /// Its id again, as in the path: what was read can be put back as it is.
    id: Option<String>,
    /// What the department calls it.
    #[schema(min_length = 1, max_length = 120)]
    name: String,
    /// The valve left on the hydrant, if one is.
    hydrant_valve_id: Option<String>,
    /// The supply hose.
    hose_type_id: String,
    /// Equal lines side by side.
    #[schema(minimum = 1, maximum = 8)]
    lines: u8,
    /// Hose carried for it: the length of the lay where no other is given.
    #[schema(minimum = 1, maximum = 100_000)]
    carried_ft: f64,
    /// Appliances at the scene end, in order.
    #[schema(max_items = 20)]
    scene_appliance_ids: Option<Vec<String>>,
    /// Least pressure wanted at the scene intake. Default 20.
    #[schema(minimum = 0, maximum = 1000)]
    scene_floor_psi: Option<f64>,
    /// Least pressure left in the main. Default 20.
    #[schema(minimum = 0, maximum = 1000)]
    main_floor_psi: Option<f64>,
}

impl LayProfileBody {
    /// The lay under this id, or every fault.
    pub(crate) fn lay_profile(&self, id: AssetId) -> Result<LayProfile, Problem> {
        let mut faults = Faults::of_body();
        let profile = self.converted(id, &mut faults);
        faults.finish(profile)
    }

    fn converted(&self, id: AssetId, faults: &mut Faults) -> Option<LayProfile> {
        faults.same_id("/id", self.id.as_deref(), &id);
        let name = faults.text("/name", &self.name, MAX_NAME_CHARS);
        let hydrant_valve_id = faults.optional_id("/hydrant_valve_id", self.hydrant_valve_id.as_deref());
        let hose_type_id = faults.id("/hose_type_id", &self.hose_type_id);
        if !(1..=MAX_LINES).contains(&self.lines) {
            faults.note("/lines", "out_of_bounds", LinesOutOfBounds(self.lines).to_string());
        }
        let carried = faults.good("/carried_ft", Length::from_ft(self.carried_ft));
        let appliances = self.scene_appliance_ids.as_deref().unwrap_or_default();
        let appliance = |faults: &mut Faults, at: &str, id: &String| faults.id(at, id);
        let scene_appliance_ids = faults.list("/scene_appliance_ids", appliances, MAX_LIST, appliance);
        let scene_floor = faults.optional("/scene_floor_psi", self.scene_floor_psi, Pressure::from_psi);
        let main_floor = faults.optional("/main_floor_psi", self.main_floor_psi, Pressure::from_psi);
        Some(LayProfile {
            id,
            name: name?,
            hydrant_valve_id: hydrant_valve_id?,
            hose_type_id: hose_type_id?,
            lines: self.lines,
            carried: carried?,
            scene_appliance_ids: scene_appliance_ids?,
            scene_floor: scene_floor?,
            main_floor: main_floor?,
        })
    }
}

/// A standard lay as recorded.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LayProfileRecord {
    /// Its id.
    id: String,
    /// What the department calls it.
    name: String,
    /// The valve left on the hydrant, if one is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    hydrant_valve_id: Option<String>,
    /// The supply hose.
    hose_type_id: String,
    /// Equal lines side by side.
    lines: u8,
    /// Hose carried for it.
    carried_ft: f64,
    /// Appliances at the scene end, in order.
    scene_appliance_ids: Vec<String>,
    /// Least pressure wanted at the scene intake.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    scene_floor_psi: Option<f64>,
    /// Least pressure left in the main.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    main_floor_psi: Option<f64>,
}

impl From<LayProfile> for LayProfileRecord {
    fn from(row: LayProfile) -> Self {
        Self {
            id: row.id.to_string(),
            name: row.name,
            hydrant_valve_id: row.hydrant_valve_id.as_ref().map(ToString::to_string),
            hose_type_id: row.hose_type_id.to_string(),
            lines: row.lines,
            carried_ft: row.carried.ft(),
            scene_appliance_ids: row.scene_appliance_ids.iter().map(ToString::to_string).collect(),
            scene_floor_psi: row.scene_floor.map(Pressure::psi),
            main_floor_psi: row.main_floor.map(Pressure::psi),
        }
    }
}

/// What the store refused, pointing at the ids in the body.
fn refused(error: StoreError, profile: &LayProfile) -> Problem {
    Problem::refused(error, |kind, id| match kind {
        RecordKind::HydrantValve => vec!["/hydrant_valve_id".to_owned()],
        RecordKind::Appliance => {
            let missing = profile.scene_appliance_ids.iter().enumerate().filter(|(_, given)| given.as_str() == id);
            missing.map(|(i, _)| format!("/scene_appliance_ids/{i}")).collect()
        }
        _ => vec!["/hose_type_id".to_owned()],
    })
}

/// List lay profiles
///
/// By ascending id, a page at a time; retired ones are left out.
#[utoipa::path(
    get, path = "/v1/lay-profiles", tag = "lay-profiles", params(PageQuery),
    responses((status = 200, description = "A page of lay profiles", body = Page<LayProfileRecord>))
)]
pub(crate) async fn list_lay_profiles(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<PageQuery>,
) -> Result<Page<LayProfileRecord>, Problem> {
    let start = query.start::<AssetId>()?;
    let rows = app.store.lay_profiles(start.after.as_ref(), start.probe()).await?;
    Ok(url.page(rows, start.limit, |row| row.id.to_string(), LayProfileRecord::from))
}

/// Record a lay profile
///
/// Creates it under the department's id, or replaces the whole of it. A retired one comes back.
#[utoipa::path(
    put, path = "/v1/lay-profiles/{id}", tag = "lay-profiles",
    params(("id" = String, Path, description = "The department's id"), PutHeaders),
    request_body(content = LayProfileBody, description = "The whole lay profile"),
    responses(
        (status = 201, description = "Recorded, and new", body = LayProfileRecord),
        (status = 200, description = "Replaced", body = LayProfileRecord),
    )
)]
pub(crate) async fn put_lay_profile(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
    Json(body): Json<LayProfileBody>,
) -> Result<Stored<LayProfileRecord>, Problem> {
    let profile = body.lay_profile(id)?;
    let put = app
        .store
        .put_lay_profile(&profile, &writer.change(app.clock.now()).on(condition))
        .await
        .map_err(|error| refused(error, &profile))?;
    Ok(Stored(put, profile.into()))
}

/// Look up a lay profile
///
/// As it was last recorded; a retired one is not found.
#[utoipa::path(
    get, path = "/v1/lay-profiles/{id}", tag = "lay-profiles",
    params(("id" = String, Path, description = "Its id"), GetHeaders),
    responses((status = 200, description = "The lay profile", body = LayProfileRecord))
)]
pub(crate) async fn get_lay_profile(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    known: Known,
) -> Result<Response, Problem> {
    let found = app.store.versioned_lay_profile(&id).await?;
    let found = found.ok_or_else(|| Problem::no_such(RecordKind::LayProfile, &id))?;
    Ok(known.or_send(Tagged { version: found.version, record: LayProfileRecord::from(found.read) }))
}

/// Retire a lay profile
///
/// It is hidden from lists, and no calculation can name it.
#[utoipa::path(
    delete, path = "/v1/lay-profiles/{id}", tag = "lay-profiles",
    params(("id" = String, Path, description = "The department's id"), DeleteHeaders),
    responses((status = 204, description = "Retired"))
)]
pub(crate) async fn delete_lay_profile(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
) -> Result<Retired, Problem> {
    let retired = app.store.retire_lay_profile(&id, &writer.change(app.clock.now()).on(condition)).await?;
    if retired { Ok(Retired) } else { Err(Problem::no_such(RecordKind::LayProfile, &id)) }
}
