//! Kinds of four-way hydrant valve.

use std::collections::BTreeSet;

use axum::extract::State;
use longlay_hydraulics::quantity::ApplianceCoefficient;
use longlay_records::equipment::{HoseLoad, HydrantValveType, Origin};
use longlay_records::equipment_test::{Leg, Subject};
use longlay_records::id::AssetId;
use longlay_store::{LayRefs, RecordKind, StoreError};
use serde::de::IgnoredAny;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::{Json, Path, Query};
use crate::faults::{Faults, MAX_NAME_CHARS, MAX_NOTE_CHARS};
use crate::lay::figures::Figures;
use crate::page::{ListUrl, Page, PageQuery};
use crate::precondition::{DeleteHeaders, Precondition, PutHeaders, Tagged};
use crate::problem::{Problem, ProblemDocument};
use crate::reply::{Retired, Stored};
use crate::routes::carried_hose::CarriedHose;
use crate::routes::figure::FigureInUse;
use crate::routes::library::{self, FigureRange, OriginName};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_hydrant_valves)).routes(routes!(
        put_hydrant_valve,
        get_hydrant_valve,
        delete_hydrant_valve
    ))
}

/// A kind of four-way hydrant valve to record.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct HydrantValveBody {
    /// Its id again, as in the path: what was read can be put back as it is.
    id: Option<String>,
    /// What the department calls it.
    #[schema(min_length = 1, max_length = 120)]
    name: String,
    /// Hydrant to supply line, unboosted, psi per (100 gpm)².
    #[schema(minimum = 0, maximum = 1000)]
    through_coefficient: f64,
    /// Hydrant to the pumper's intake, psi per (100 gpm)².
    #[schema(minimum = 0, maximum = 1000)]
    to_pump_coefficient: f64,
    /// Pumper's discharge to supply line, psi per (100 gpm)².
    #[schema(minimum = 0, maximum = 1000)]
    from_pump_coefficient: f64,
    /// The hose kept with it, from valve to pumper.
    #[serde(default, deserialize_with = "crate::object::maybe")]
    to_pump_hose: Option<CarriedHose>,
    /// The hose kept with it, from pumper to valve.
    #[serde(default, deserialize_with = "crate::object::maybe")]
    from_pump_hose: Option<CarriedHose>,
    /// Where the coefficients come from.
    #[schema(min_length = 1, max_length = 2000)]
    source: String,
    /// `department`, which it is in any case.
    origin: Option<OriginName>,
    /// The figure in use, as it was read: worked out anew, whatever is said here.
    #[schema(value_type = Option<Object>)]
    #[expect(dead_code, reason = "taken so that what was read can be put back, and not looked at")]
    in_use: Option<IgnoredAny>,
}

impl HydrantValveBody {
    /// The kind of valve under this id, or every fault.
    pub(crate) fn hydrant_valve(&self, id: AssetId) -> Result<HydrantValveType, Problem> {
        let mut faults = Faults::of_body();
        let valve = self.converted(id, &mut faults);
        faults.finish(valve)
    }

    fn converted(&self, id: AssetId, faults: &mut Faults) -> Option<HydrantValveType> {
        faults.same_id("/id", self.id.as_deref(), &id);
        library::own(self.origin, faults);
        let name = faults.text("/name", &self.name, MAX_NAME_CHARS);
        let mut leg = |pointer, value| faults.good(pointer, ApplianceCoefficient::from_psi_per_100gpm2(value));
        let through = leg("/through_coefficient", self.through_coefficient);
        let to_pump = leg("/to_pump_coefficient", self.to_pump_coefficient);
        let from_pump = leg("/from_pump_coefficient", self.from_pump_coefficient);
        let to_pump_hose = CarriedHose::optional_load(faults, "/to_pump_hose", self.to_pump_hose.as_ref());
        let from_pump_hose = CarriedHose::optional_load(faults, "/from_pump_hose", self.from_pump_hose.as_ref());
        let source = faults.text("/source", &self.source, MAX_NOTE_CHARS);
        Some(HydrantValveType {
            id,
            name: name?,
            through: through?,
            through_range: None,
            to_pump: to_pump?,
            from_pump: from_pump?,
            to_pump_hose: to_pump_hose?,
            from_pump_hose: from_pump_hose?,
            source: source?,
            origin: Origin::Department,
        })
    }
}

/// A kind of four-way hydrant valve as recorded.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HydrantValveRecord {
    /// Its id.
    id: String,
    /// What the department calls it.
    name: String,
    /// Hydrant to supply line, unboosted, psi per (100 gpm)².
    through_coefficient: f64,
    /// Values of it met elsewhere, for library rows.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    through_coefficient_range: Option<FigureRange>,
    /// Hydrant to the pumper's intake, psi per (100 gpm)².
    to_pump_coefficient: f64,
    /// Pumper's discharge to supply line, psi per (100 gpm)².
    from_pump_coefficient: f64,
    /// The hose kept with it, from valve to pumper.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    to_pump_hose: Option<CarriedHose>,
    /// The hose kept with it, from pumper to valve.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    from_pump_hose: Option<CarriedHose>,
    /// Where the coefficients come from: for library rows a key of the bibliography.
    source: String,
    /// The shipped library's, or the department's own.
    origin: OriginName,
}

/// A kind of four-way hydrant valve as recorded, with the figures that answers are worked with.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HydrantValveInUse {
    #[serde(flatten)]
    record: HydrantValveRecord,
    /// The figures in use.
    in_use: LegsInUse,
}

/// The figure in use of each leg.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LegsInUse {
    /// Hydrant to supply line, unboosted.
    through: FigureInUse,
    /// Hydrant to the pumper's intake.
    to_pump: FigureInUse,
    /// Pumper's discharge to supply line.
    from_pump: FigureInUse,
}

impl LegsInUse {
    fn new(kind: &HydrantValveType, figures: Figures<'_>) -> Self {
        let leg = |leg| {
            let tests = figures.tests(&Subject::ValveLeg(kind.id.clone(), leg));
            FigureInUse::new(figures.leg(kind, leg), tests)
        };
        Self { through: leg(Leg::Through), to_pump: leg(Leg::ToPump), from_pump: leg(Leg::FromPump) }
    }
}

impl From<HydrantValveType> for HydrantValveRecord {
    fn from(row: HydrantValveType) -> Self {
        Self {
            id: row.id.to_string(),
            name: row.name,
            through_coefficient: row.through.psi_per_100gpm2(),
            through_coefficient_range: row.through_range.map(FigureRange::from),
            to_pump_coefficient: row.to_pump.psi_per_100gpm2(),
            from_pump_coefficient: row.from_pump.psi_per_100gpm2(),
            to_pump_hose: row.to_pump_hose.as_ref().map(CarriedHose::from),
            from_pump_hose: row.from_pump_hose.as_ref().map(CarriedHose::from),
            source: row.source,
            origin: row.origin.into(),
        }
    }
}

/// What the store refused, pointing at the ids in the body.
fn refused(error: StoreError, valve: &HydrantValveType) -> Problem {
    Problem::refused(error, |_, id| {
        let hoses = [("to_pump_hose", &valve.to_pump_hose), ("from_pump_hose", &valve.from_pump_hose)];
        let missing = |load: &Option<_>| load.as_ref().is_some_and(|load: &HoseLoad| load.hose_type_id.as_str() == id);
        let of_missing = hoses.into_iter().filter(|(_, load)| missing(load));
        of_missing.map(|(name, _)| format!("/{name}/hose_type_id")).collect()
    })
}

/// List kinds of hydrant valve
///
/// The shipped library's and the department's own, by ascending id, a page at a time.
#[utoipa::path(
    get, path = "/v1/hydrant-valves", tag = "hydrant-valves", params(PageQuery),
    responses((status = 200, description = "A page of kinds of hydrant valve", body = Page<HydrantValveRecord>))
)]
pub(crate) async fn list_hydrant_valves(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<PageQuery>,
) -> Result<Page<HydrantValveRecord>, Problem> {
    let start = query.start::<AssetId>()?;
    let rows = app.store.hydrant_valves(start.after.as_ref(), start.probe()).await?;
    Ok(url.page(rows, start.limit, |row| row.id.to_string(), HydrantValveRecord::from))
}

/// Record a kind of hydrant valve
///
/// Creates it under the department's id, or replaces the whole of it. Library rows cannot be replaced.
#[utoipa::path(
    put, path = "/v1/hydrant-valves/{id}", tag = "hydrant-valves",
    params(("id" = String, Path, description = "The department's id"), PutHeaders),
    request_body(content = HydrantValveBody, description = "The whole kind of hydrant valve"),
    responses(
        (status = 201, description = "Recorded, and new", body = HydrantValveRecord),
        (status = 200, description = "Replaced", body = HydrantValveRecord),
        (status = 409, description = "It came with the program (`read-only-record`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn put_hydrant_valve(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
    Json(body): Json<HydrantValveBody>,
) -> Result<Stored<HydrantValveRecord>, Problem> {
    let valve = body.hydrant_valve(id)?;
    let put = app
        .store
        .put_hydrant_valve(&valve, &writer.change(app.clock.now()).on(condition))
        .await
        .map_err(|error| refused(error, &valve))?;
    Ok(Stored(put, valve.into()))
}

/// Look up a kind of hydrant valve
///
/// As it was last recorded; a retired one is not found.
#[utoipa::path(
    get, path = "/v1/hydrant-valves/{id}", tag = "hydrant-valves",
    params(("id" = String, Path, description = "Its id")),
    responses((status = 200, description = "The kind of hydrant valve", body = HydrantValveInUse,
        headers(("ETag" = String, description = "The version of the record: send it as `If-Match` to change it"))))
)]
pub(crate) async fn get_hydrant_valve(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
) -> Result<Tagged<HydrantValveInUse>, Problem> {
    let refs = LayRefs { hydrant_valve_ids: BTreeSet::from([id.clone()]), ..LayRefs::default() };
    let no_such = || Problem::no_such(RecordKind::HydrantValve, &id);
    let found = app
        .store
        .versioned_inputs(&refs, RecordKind::HydrantValve, &id, app.clock.today())
        .await?
        .ok_or_else(no_such)?;
    let inputs = found.read;
    let row = inputs.hydrant_valves.get(&id).ok_or_else(no_such)?;
    Ok(Tagged {
        version: found.version,
        record: HydrantValveInUse {
            record: HydrantValveType::clone(row).into(),
            in_use: LegsInUse::new(row, Figures::of(&inputs)),
        },
    })
}

/// Retire a kind of hydrant valve
///
/// Not while a lay profile refers to it.
#[utoipa::path(
    delete, path = "/v1/hydrant-valves/{id}", tag = "hydrant-valves",
    params(("id" = String, Path, description = "The department's id"), DeleteHeaders),
    responses(
        (status = 204, description = "Retired"),
        (status = 409, description = "It came with the program (`read-only-record`), or is in use (`record-in-use`)",
            body = ProblemDocument, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn delete_hydrant_valve(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
) -> Result<Retired, Problem> {
    let retired = app.store.retire_hydrant_valve(&id, &writer.change(app.clock.now()).on(condition)).await?;
    if retired { Ok(Retired) } else { Err(Problem::no_such(RecordKind::HydrantValve, &id)) }
}
