//! Demand points.

use axum::extract::State;
use axum::response::Response;
use longlay_records::demand::DemandPoint;
use longlay_records::hydrant::Elevation;
use longlay_records::id::AssetId;
use longlay_store::RecordKind;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::hydrants::Point;
use super::need::NeedBody;
use crate::app::AppState;
use crate::extract::{Json, Path, Query};
use crate::faults::{Faults, MAX_NAME_CHARS};
use crate::page::{ListUrl, Page, PageQuery};
use crate::precondition::{DeleteHeaders, GetHeaders, Known, Precondition, PutHeaders, Tagged};
use crate::problem::Problem;
use crate::reply::{Retired, Stored};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_demand_points)).routes(routes!(
        put_demand_point,
        get_demand_point,
        delete_demand_point
    ))
}

/// A demand point to record.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DemandPointBody {
    /// Its id again, as in the path: what was read can be put back as it is.
    demand_point_id: Option<String>,
    /// Where it is.
    #[serde(deserialize_with = "crate::object::one")]
    location: Point,
    /// Height of the ground there, above the department's datum.
    #[schema(minimum = -1500, maximum = 30_000)]
    elevation_ft: Option<f64>,
    /// What it is called.
    #[schema(min_length = 1, max_length = 120)]
    name: Option<String>,
    /// Its address.
    #[schema(min_length = 1, max_length = 120)]
    address: Option<String>,
    /// What it asks for. Left out where nobody knows: that is told as such, and never taken for nothing.
    #[serde(default, deserialize_with = "crate::object::maybe")]
    need: Option<NeedBody>,
}

impl DemandPointBody {
    /// The demand point under this id, or every fault.
    pub(crate) fn demand_point(&self, id: AssetId) -> Result<DemandPoint, Problem> {
        let mut faults = Faults::of_body();
        let point = self.converted(id, &mut faults);
        faults.finish(point)
    }

    fn converted(&self, id: AssetId, faults: &mut Faults) -> Option<DemandPoint> {
        faults.same_id("/demand_point_id", self.demand_point_id.as_deref(), &id);
        let location = self.location.location("/location", faults);
        let ground = faults.optional("/elevation_ft", self.elevation_ft, Elevation::from_ft);
        let name = faults.optional_text("/name", self.name.as_deref(), MAX_NAME_CHARS);
        let address = faults.optional_text("/address", self.address.as_deref(), MAX_NAME_CHARS);
        let need = match &self.need {
            None => None,
            Some(need) => Some(need.need(faults)?),
        };
        Some(DemandPoint { id, location: location?, ground: ground?, name: name?, address: address?, need })
    }
}

/// A demand point as recorded.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DemandPointRecord {
    /// Its id.
    demand_point_id: String,
    /// Where it is.
    location: Point,
    /// Height of the ground there, above the department's datum.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    elevation_ft: Option<f64>,
    /// What it is called.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    name: Option<String>,
    /// Its address.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    address: Option<String>,
    /// What it asks for; left out where nobody knows.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    need: Option<NeedBody>,
}

impl From<DemandPoint> for DemandPointRecord {
    fn from(point: DemandPoint) -> Self {
        Self {
            demand_point_id: point.id.to_string(),
            location: point.location.into(),
            elevation_ft: point.ground.map(Elevation::ft),
            name: point.name,
            address: point.address,
            need: point.need.as_ref().map(NeedBody::from),
        }
    }
}

/// List demand points
///
/// By ascending id, a page at a time; retired ones are left out.
#[utoipa::path(
    get, path = "/v1/demand-points", tag = "ground", params(PageQuery),
    responses((status = 200, description = "A page of demand points", body = Page<DemandPointRecord>))
)]
pub(crate) async fn list_demand_points(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<PageQuery>,
) -> Result<Page<DemandPointRecord>, Problem> {
    let start = query.start::<AssetId>()?;
    let rows = app.store.demand_points(start.after.as_ref(), start.probe()).await?;
    Ok(url.page(rows, start.limit, |row| row.id.to_string(), DemandPointRecord::from))
}

/// Record a demand point
///
/// Creates it under the department's id, or replaces the whole of it. A retired one comes back.
#[utoipa::path(
    put, path = "/v1/demand-points/{demand_point_id}", tag = "ground",
    params(("demand_point_id" = String, Path, description = "The department's id"), PutHeaders),
    request_body(content = DemandPointBody, description = "The whole demand point"),
    responses(
        (status = 201, description = "Recorded, and new", body = DemandPointRecord),
        (status = 200, description = "Replaced", body = DemandPointRecord),
    )
)]
pub(crate) async fn put_demand_point(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
    Json(body): Json<DemandPointBody>,
) -> Result<Stored<DemandPointRecord>, Problem> {
    let point = body.demand_point(id)?;
    let put = app.store.put_demand_point(&point, &writer.change(app.clock.now()).on(condition)).await?;
    Ok(Stored(put, point.into()))
}

/// Look up a demand point
///
/// As it was last recorded; a retired one is not found.
#[utoipa::path(
    get, path = "/v1/demand-points/{demand_point_id}", tag = "ground",
    params(("demand_point_id" = String, Path, description = "The department's id"), GetHeaders),
    responses((status = 200, description = "The demand point", body = DemandPointRecord))
)]
pub(crate) async fn get_demand_point(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    known: Known,
) -> Result<Response, Problem> {
    let found = app.store.versioned_demand_point(&id).await?;
    let found = found.ok_or_else(|| Problem::no_such(RecordKind::DemandPoint, &id))?;
    Ok(known.or_send(Tagged { version: found.version, record: DemandPointRecord::from(found.read) }))
}

/// Retire a demand point
///
/// It is hidden from lists, and no coverage counts it.
#[utoipa::path(
    delete, path = "/v1/demand-points/{demand_point_id}", tag = "ground",
    params(("demand_point_id" = String, Path, description = "The department's id"), DeleteHeaders),
    responses((status = 204, description = "Retired"))
)]
pub(crate) async fn delete_demand_point(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
) -> Result<Retired, Problem> {
    let retired = app.store.retire_demand_point(&id, &writer.change(app.clock.now()).on(condition)).await?;
    if retired { Ok(Retired) } else { Err(Problem::no_such(RecordKind::DemandPoint, &id)) }
}
