//! Pumpers and the hose they carry.

use std::collections::BTreeSet;

use axum::extract::State;
use longlay_hydraulics::pumper::{PumpCurve, PumpCurveError, PumpPoint};
use longlay_hydraulics::quantity::{PositiveFlow, Pressure, Volume};
use longlay_records::equipment::{MAX_LIST, Pumper};
use longlay_records::equipment_test::Subject;
use longlay_records::id::AssetId;
use longlay_store::{LayRefs, RecordKind, StoreError};
use serde::de::IgnoredAny;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::{Json, Path, Query};
use crate::faults::{Faults, MAX_NAME_CHARS};
use crate::lay::figures::Figures;
use crate::page::{ListUrl, Page, PageQuery};
use crate::precondition::{DeleteHeaders, Precondition, PutHeaders, Tagged};
use crate::problem::Problem;
use crate::reply::{Retired, Stored};
use crate::routes::carried_hose::CarriedHose;
use crate::routes::figure::FigureInUse;
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_pumpers)).routes(routes!(put_pumper, get_pumper, delete_pumper))
}

/// One point of a pumper's test: at this flow it adds this much.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PumperPoint {
    /// The flow.
    #[schema(minimum = 1, maximum = 50_000)]
    flow_gpm: f64,
    /// Net pump pressure: discharge less intake.
    #[schema(minimum = 0, maximum = 1000)]
    net_psi: f64,
}

impl From<&PumpPoint> for PumperPoint {
    fn from(point: &PumpPoint) -> Self {
        Self { flow_gpm: point.flow.gpm(), net_psi: point.net.psi() }
    }
}

/// A pumper to record.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PumperBody {
    /// Its id again, as in the path: what was read can be put back as it is.
    id: Option<String>,
    /// What the department calls it.
    #[schema(min_length = 1, max_length = 120)]
    name: String,
    /// Rated flow.
    #[schema(minimum = 1, maximum = 50_000)]
    rated_flow_gpm: f64,
    /// Its intake is kept at or above this. Default 20.
    #[schema(minimum = 0, maximum = 1000)]
    intake_floor_psi: Option<f64>,
    /// The department's own ceiling on its discharge.
    #[schema(minimum = 0, maximum = 1000)]
    max_discharge_psi: Option<f64>,
    /// Its own test points, flow rising and net pressure not. Without any, those of its rating: 100 % at 150 psi, 70 % at 200,
    /// 50 % at 250.
    #[schema(max_items = 20)]
    #[serde(default, deserialize_with = "crate::object::maybe_many")]
    points: Option<Vec<PumperPoint>>,
    /// Its tank.
    #[schema(minimum = 0, maximum = 1_000_000)]
    tank_gal: Option<f64>,
    /// The supply hose it carries.
    #[schema(max_items = 20)]
    #[serde(deserialize_with = "crate::object::many")]
    hose: Vec<CarriedHose>,
    /// The figure in use, as it was read: worked out anew, whatever is said here.
    #[schema(value_type = Option<Object>)]
    #[expect(dead_code, reason = "taken so that what was read can be put back, and not looked at")]
    in_use: Option<IgnoredAny>,
}

impl PumperBody {
    /// The pumper under this id, or every fault.
    pub(crate) fn pumper(&self, id: AssetId) -> Result<Pumper, Problem> {
        let mut faults = Faults::of_body();
        let pumper = self.converted(id, &mut faults);
        faults.finish(pumper)
    }

    fn converted(&self, id: AssetId, faults: &mut Faults) -> Option<Pumper> {
        faults.same_id("/id", self.id.as_deref(), &id);
        let name = faults.text("/name", &self.name, MAX_NAME_CHARS);
        let rated_flow = faults.good("/rated_flow_gpm", PositiveFlow::from_gpm(self.rated_flow_gpm));
        let intake_floor = faults.optional("/intake_floor_psi", self.intake_floor_psi, Pressure::from_psi);
        let max_discharge = faults.optional("/max_discharge_psi", self.max_discharge_psi, Pressure::from_psi);
        let points = self.points(faults);
        let tank = faults.optional("/tank_gal", self.tank_gal, Volume::from_gal);
        let hose = faults.list("/hose", &self.hose, MAX_LIST, CarriedHose::load);
        Some(Pumper {
            id,
            name: name?,
            rated_flow: rated_flow?,
            intake_floor: intake_floor?,
            max_discharge: max_discharge?,
            points: points?,
            tank: tank?,
            hose: hose?,
        })
    }

    fn points(&self, faults: &mut Faults) -> Option<Vec<PumpPoint>> {
        let given = self.points.as_deref().unwrap_or_default();
        let points = faults.list("/points", given, MAX_LIST, PumperPoint::point)?;
        if points.is_empty() {
            return Some(points);
        }
        match PumpCurve::from_points(points.clone()) {
            Ok(_) => Some(points),
            Err(error @ PumpCurveError::FlowNotRising(i)) => {
                faults.add(&format!("/points/{i}/flow_gpm"), "not_rising", error.to_string())
            }
            Err(error @ PumpCurveError::NetRising(i)) => {
                faults.add(&format!("/points/{i}/net_psi"), "rising", error.to_string())
            }
            Err(error @ PumpCurveError::NoPoints) => faults.add("/points", "required", error.to_string()),
        }
    }
}

impl PumperPoint {
    fn point(faults: &mut Faults, at: &str, point: &Self) -> Option<PumpPoint> {
        let flow = faults.good(&format!("{at}/flow_gpm"), PositiveFlow::from_gpm(point.flow_gpm));
        let net = faults.good(&format!("{at}/net_psi"), Pressure::from_psi(point.net_psi));
        Some(PumpPoint { flow: flow?, net: net? })
    }
}

/// A pumper as recorded.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PumperRecord {
    /// Its id.
    id: String,
    /// What the department calls it.
    name: String,
    /// Rated flow.
    rated_flow_gpm: f64,
    /// Its intake is kept at or above this.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    intake_floor_psi: Option<f64>,
    /// The department's own ceiling on its discharge.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    max_discharge_psi: Option<f64>,
    /// Its own test points; empty where those of its rating are used.
    points: Vec<PumperPoint>,
    /// Its tank.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    tank_gal: Option<f64>,
    /// The supply hose it carries.
    hose: Vec<CarriedHose>,
}

/// A pumper as recorded, with the curve that answers are worked with.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PumperInUse {
    #[serde(flatten)]
    record: PumperRecord,
    /// The curve in use.
    in_use: FigureInUse,
}

/// Points that no write lets in.
fn no_curve(id: &AssetId) -> Problem {
    StoreError::Corrupt(format!("pumper {id}: its points are no curve")).into()
}

impl From<Pumper> for PumperRecord {
    fn from(row: Pumper) -> Self {
        Self {
            id: row.id.to_string(),
            name: row.name,
            rated_flow_gpm: row.rated_flow.gpm(),
            intake_floor_psi: row.intake_floor.map(Pressure::psi),
            max_discharge_psi: row.max_discharge.map(Pressure::psi),
            points: row.points.iter().map(PumperPoint::from).collect(),
            tank_gal: row.tank.map(Volume::gal),
            hose: row.hose.iter().map(CarriedHose::from).collect(),
        }
    }
}

/// What the store refused, pointing at the ids in the body.
fn refused(error: StoreError, pumper: &Pumper) -> Problem {
    Problem::refused(error, |_, id| {
        let missing = pumper.hose.iter().enumerate().filter(|(_, load)| load.hose_type_id.as_str() == id);
        missing.map(|(i, _)| format!("/hose/{i}/hose_type_id")).collect()
    })
}

/// List pumpers
///
/// By ascending id, a page at a time; retired ones are left out.
#[utoipa::path(
    get, path = "/v1/pumpers", tag = "pumpers", params(PageQuery),
    responses((status = 200, description = "A page of pumpers", body = Page<PumperRecord>))
)]
pub(crate) async fn list_pumpers(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<PageQuery>,
) -> Result<Page<PumperRecord>, Problem> {
    let start = query.start::<AssetId>()?;
    let rows = app.store.pumpers(start.after.as_ref(), start.probe()).await?;
    Ok(url.page(rows, start.limit, |row| row.id.to_string(), PumperRecord::from))
}

/// Record a pumper
///
/// Creates it under the department's id, or replaces the whole of it. A retired one comes back.
#[utoipa::path(
    put, path = "/v1/pumpers/{id}", tag = "pumpers",
    params(("id" = String, Path, description = "The department's id"), PutHeaders),
    request_body(content = PumperBody, description = "The whole pumper"),
    responses(
        (status = 201, description = "Recorded, and new", body = PumperRecord),
        (status = 200, description = "Replaced", body = PumperRecord),
    )
)]
pub(crate) async fn put_pumper(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
    Json(body): Json<PumperBody>,
) -> Result<Stored<PumperRecord>, Problem> {
    let pumper = body.pumper(id)?;
    let put = app
        .store
        .put_pumper(&pumper, &writer.change(app.clock.now()).on(condition))
        .await
        .map_err(|error| refused(error, &pumper))?;
    Ok(Stored(put, pumper.into()))
}

/// Look up a pumper
///
/// As it was last recorded; a retired one is not found.
#[utoipa::path(
    get, path = "/v1/pumpers/{id}", tag = "pumpers",
    params(("id" = String, Path, description = "Its id")),
    responses((status = 200, description = "The pumper", body = PumperInUse,
        headers(("ETag" = String, description = "The version of the record: send it as `If-Match` to change it"))))
)]
pub(crate) async fn get_pumper(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
) -> Result<Tagged<PumperInUse>, Problem> {
    let refs = LayRefs { pumper_ids: BTreeSet::from([id.clone()]), ..LayRefs::default() };
    let no_such = || Problem::no_such(RecordKind::Pumper, &id);
    let found =
        app.store.versioned_inputs(&refs, RecordKind::Pumper, &id, app.clock.today()).await?.ok_or_else(no_such)?;
    let inputs = found.read;
    let row = inputs.pumpers.get(&id).ok_or_else(no_such)?;
    let figures = Figures::of(&inputs);
    let curve = figures.pumper(row).ok_or_else(|| no_curve(&id))?;
    let in_use = FigureInUse::new(curve, figures.tests(&Subject::Pumper(id)));
    Ok(Tagged { version: found.version, record: PumperInUse { record: Pumper::clone(row).into(), in_use } })
}

/// Retire a pumper
///
/// It is hidden from lists, and no lay can name it.
#[utoipa::path(
    delete, path = "/v1/pumpers/{id}", tag = "pumpers",
    params(("id" = String, Path, description = "The department's id"), DeleteHeaders),
    responses((status = 204, description = "Retired"))
)]
pub(crate) async fn delete_pumper(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
) -> Result<Retired, Problem> {
    let retired = app.store.retire_pumper(&id, &writer.change(app.clock.now()).on(condition)).await?;
    if retired { Ok(Retired) } else { Err(Problem::no_such(RecordKind::Pumper, &id)) }
}
