//! Kinds of appliance.

use std::collections::BTreeSet;

use axum::extract::State;
use longlay_hydraulics::loss::ApplianceLoss;
use longlay_hydraulics::quantity::{ApplianceCoefficient, Flow, Pressure};
use longlay_records::equipment::{ApplianceType, Origin};
use longlay_records::equipment_test::Subject;
use longlay_records::id::AssetId;
use longlay_store::{LayRefs, RecordKind};
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
use crate::routes::figure::FigureInUse;
use crate::routes::library::{self, FigureRange, OriginName};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_appliances)).routes(routes!(
        put_appliance,
        get_appliance,
        delete_appliance
    ))
}

/// A kind of appliance to record: with `loss_coefficient`, or with `fixed_loss_psi` and `at_or_above_gpm`.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ApplianceBody {
    /// Its id again, as in the path: what was read can be put back as it is.
    id: Option<String>,
    /// What the department calls it.
    #[schema(min_length = 1, max_length = 120)]
    name: String,
    /// k of the flow-squared loss, psi per (100 gpm)².
    #[schema(minimum = 0, maximum = 1000)]
    loss_coefficient: Option<f64>,
    /// A loss that stands at and above a flow.
    #[schema(minimum = 0, maximum = 1000)]
    fixed_loss_psi: Option<f64>,
    /// The flow from which `fixed_loss_psi` stands.
    #[schema(minimum = 0, maximum = 50_000)]
    at_or_above_gpm: Option<f64>,
    /// Marked operating pressure.
    #[schema(minimum = 0, maximum = 1000)]
    max_operating_psi: Option<f64>,
    /// Where the loss comes from.
    #[schema(min_length = 1, max_length = 2000)]
    source: String,
    /// `department`, which it is in any case.
    origin: Option<OriginName>,
    /// The figure in use, as it was read: worked out anew, whatever is said here.
    #[schema(value_type = Option<Object>)]
    #[expect(dead_code, reason = "taken so that what was read can be put back, and not looked at")]
    in_use: Option<IgnoredAny>,
}

impl ApplianceBody {
    /// The kind of appliance under this id, or every fault.
    pub(crate) fn appliance(&self, id: AssetId) -> Result<ApplianceType, Problem> {
        let mut faults = Faults::of_body();
        let appliance = self.converted(id, &mut faults);
        faults.finish(appliance)
    }

    fn converted(&self, id: AssetId, faults: &mut Faults) -> Option<ApplianceType> {
        faults.same_id("/id", self.id.as_deref(), &id);
        library::own(self.origin, faults);
        let name = faults.text("/name", &self.name, MAX_NAME_CHARS);
        let loss = self.loss(faults);
        let max_operating = faults.optional("/max_operating_psi", self.max_operating_psi, Pressure::from_psi);
        let source = faults.text("/source", &self.source, MAX_NOTE_CHARS);
        Some(ApplianceType {
            id,
            name: name?,
            loss: loss?,
            loss_range: None,
            max_operating: max_operating?,
            source: source?,
            origin: Origin::Department,
        })
    }

    fn loss(&self, faults: &mut Faults) -> Option<ApplianceLoss> {
        let fixed_given = self.fixed_loss_psi.is_some() || self.at_or_above_gpm.is_some();
        match (self.loss_coefficient, fixed_given) {
            (Some(coefficient), false) => {
                let coefficient = ApplianceCoefficient::from_psi_per_100gpm2(coefficient);
                faults.good("/loss_coefficient", coefficient).map(ApplianceLoss::Squared)
            }
            (None, true) => {
                let fixed = faults.required("/fixed_loss_psi", self.fixed_loss_psi, Pressure::from_psi);
                let at_or_above = faults.required("/at_or_above_gpm", self.at_or_above_gpm, Flow::from_gpm);
                Some(ApplianceLoss::Step { fixed: fixed?, at_or_above: at_or_above? })
            }
            _ => faults.exactly_one_of("", &["loss_coefficient", "fixed_loss_psi"]),
        }
    }
}

/// A kind of appliance as recorded.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ApplianceRecord {
    /// Its id.
    id: String,
    /// What the department calls it.
    name: String,
    /// k of the flow-squared loss, psi per (100 gpm)².
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    loss_coefficient: Option<f64>,
    /// A loss that stands at and above a flow.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    fixed_loss_psi: Option<f64>,
    /// The flow from which `fixed_loss_psi` stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    at_or_above_gpm: Option<f64>,
    /// Losses met elsewhere, in the unit of the one that is given, for library rows.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    loss_range: Option<FigureRange>,
    /// Marked operating pressure.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    max_operating_psi: Option<f64>,
    /// Where the loss comes from: for library rows a key of the bibliography.
    source: String,
    /// The shipped library's, or the department's own.
    origin: OriginName,
}

/// A kind of appliance as recorded, with the figure that answers are worked with.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ApplianceInUse {
    #[serde(flatten)]
    record: ApplianceRecord,
    /// The figure in use.
    in_use: FigureInUse,
}

impl From<ApplianceType> for ApplianceRecord {
    fn from(row: ApplianceType) -> Self {
        let (squared, step) = match row.loss {
            ApplianceLoss::Squared(coefficient) => (Some(coefficient), None),
            ApplianceLoss::Step { fixed, at_or_above } => (None, Some((fixed, at_or_above))),
        };
        Self {
            id: row.id.to_string(),
            name: row.name,
            loss_coefficient: squared.map(ApplianceCoefficient::psi_per_100gpm2),
            fixed_loss_psi: step.map(|(fixed, _)| fixed.psi()),
            at_or_above_gpm: step.map(|(_, at_or_above)| at_or_above.gpm()),
            loss_range: row.loss_range.map(FigureRange::from),
            max_operating_psi: row.max_operating.map(Pressure::psi),
            source: row.source,
            origin: row.origin.into(),
        }
    }
}

/// List kinds of appliance
///
/// The shipped library's and the department's own, by ascending id, a page at a time.
#[utoipa::path(
    get, path = "/v1/appliances", tag = "appliances", params(PageQuery),
    responses((status = 200, description = "A page of kinds of appliance", body = Page<ApplianceRecord>))
)]
pub(crate) async fn list_appliances(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<PageQuery>,
) -> Result<Page<ApplianceRecord>, Problem> {
    let start = query.start::<AssetId>()?;
    let rows = app.store.appliances(start.after.as_ref(), start.probe()).await?;
    Ok(url.page(rows, start.limit, |row| row.id.to_string(), ApplianceRecord::from))
}

/// Record a kind of appliance
///
/// Creates it under the department's id, or replaces the whole of it. Library rows cannot be replaced.
#[utoipa::path(
    put, path = "/v1/appliances/{id}", tag = "appliances",
    params(("id" = String, Path, description = "The department's id"), PutHeaders),
    request_body(content = ApplianceBody, description = "The whole kind of appliance"),
    responses(
        (status = 201, description = "Recorded, and new", body = ApplianceRecord),
        (status = 200, description = "Replaced", body = ApplianceRecord),
        (status = 409, description = "It came with the program (`read-only-record`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn put_appliance(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
    Json(body): Json<ApplianceBody>,
) -> Result<Stored<ApplianceRecord>, Problem> {
    let appliance = body.appliance(id)?;
    let put = app.store.put_appliance(&appliance, &writer.change(app.clock.now()).on(condition)).await?;
    Ok(Stored(put, appliance.into()))
}

/// Look up a kind of appliance
///
/// As it was last recorded; a retired one is not found.
#[utoipa::path(
    get, path = "/v1/appliances/{id}", tag = "appliances",
    params(("id" = String, Path, description = "Its id")),
    responses((status = 200, description = "The kind of appliance", body = ApplianceInUse,
        headers(("ETag" = String, description = "The version of the record: send it as `If-Match` to change it"))))
)]
pub(crate) async fn get_appliance(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
) -> Result<Tagged<ApplianceInUse>, Problem> {
    let refs = LayRefs { appliance_ids: BTreeSet::from([id.clone()]), ..LayRefs::default() };
    let no_such = || Problem::no_such(RecordKind::Appliance, &id);
    let found =
        app.store.versioned_inputs(&refs, RecordKind::Appliance, &id, app.clock.today()).await?.ok_or_else(no_such)?;
    let inputs = found.read;
    let row = inputs.appliances.get(&id).ok_or_else(no_such)?;
    let figures = Figures::of(&inputs);
    let in_use = FigureInUse::new(figures.appliance(row), figures.tests(&Subject::Appliance(id)));
    Ok(Tagged { version: found.version, record: ApplianceInUse { record: ApplianceType::clone(row).into(), in_use } })
}

/// Retire a kind of appliance
///
/// Not while a lay profile refers to it.
#[utoipa::path(
    delete, path = "/v1/appliances/{id}", tag = "appliances",
    params(("id" = String, Path, description = "The department's id"), DeleteHeaders),
    responses(
        (status = 204, description = "Retired"),
        (status = 409, description = "It came with the program (`read-only-record`), or is in use (`record-in-use`)",
            body = ProblemDocument, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn delete_appliance(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
) -> Result<Retired, Problem> {
    let retired = app.store.retire_appliance(&id, &writer.change(app.clock.now()).on(condition)).await?;
    if retired { Ok(Retired) } else { Err(Problem::no_such(RecordKind::Appliance, &id)) }
}
