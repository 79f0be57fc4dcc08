//! Kinds of hose.

use std::collections::BTreeSet;

use axum::extract::State;
use longlay_hydraulics::quantity::{Diameter, HoseCoefficient, Pressure};
use longlay_records::equipment::{HoseType, Origin};
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
    OpenApiRouter::new().routes(routes!(list_hose_types)).routes(routes!(
        put_hose_type,
        get_hose_type,
        delete_hose_type
    ))
}

/// A kind of hose to record.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct HoseTypeBody {
    /// Its id again, as in the path: what was read can be put back as it is.
    id: Option<String>,
    /// What the department calls it.
    #[schema(min_length = 1, max_length = 120)]
    name: String,
    /// Nominal inside diameter.
    #[schema(minimum = 0.5, maximum = 24)]
    diameter_in: f64,
    /// C of the friction formula, psi per (100 gpm)² per 100 ft.
    #[schema(minimum = 0.001, maximum = 5000)]
    loss_coefficient: f64,
    /// Marked operating pressure. Without it and `service_test_psi` no pressure limit is computed for this hose.
    #[schema(minimum = 0, maximum = 1000)]
    max_operating_psi: Option<f64>,
    /// Service-test pressure; a pumper may put 90 % of it on the hose.
    #[schema(minimum = 0, maximum = 1000)]
    service_test_psi: Option<f64>,
    /// Where the coefficient comes from.
    #[schema(min_length = 1, max_length = 2000)]
    source: String,
    /// `department`, which it is in any case.
    origin: Option<OriginName>,
    /// The figure in use, as it was read: worked out anew, whatever is said here.
    #[schema(value_type = Option<Object>)]
    #[expect(dead_code, reason = "taken so that what was read can be put back, and not looked at")]
    in_use: Option<IgnoredAny>,
}

impl HoseTypeBody {
    /// The kind of hose under this id, or every fault.
    pub(crate) fn hose_type(&self, id: AssetId) -> Result<HoseType, Problem> {
        let mut faults = Faults::of_body();
        let hose_type = self.converted(id, &mut faults);
        faults.finish(hose_type)
    }

    fn converted(&self, id: AssetId, faults: &mut Faults) -> Option<HoseType> {
        faults.same_id("/id", self.id.as_deref(), &id);
        library::own(self.origin, faults);
        let name = faults.text("/name", &self.name, MAX_NAME_CHARS);
        let diameter = faults.good("/diameter_in", Diameter::from_in(self.diameter_in));
        let coefficient = HoseCoefficient::from_psi_per_100gpm2_100ft(self.loss_coefficient);
        let coefficient = faults.good("/loss_coefficient", coefficient);
        let max_operating = faults.optional("/max_operating_psi", self.max_operating_psi, Pressure::from_psi);
        let service_test = faults.optional("/service_test_psi", self.service_test_psi, Pressure::from_psi);
        let source = faults.text("/source", &self.source, MAX_NOTE_CHARS);
        Some(HoseType {
            id,
            name: name?,
            diameter: diameter?,
            coefficient: coefficient?,
            coefficient_range: None,
            max_operating: max_operating?,
            service_test: service_test?,
            source: source?,
            origin: Origin::Department,
        })
    }
}

/// A kind of hose as recorded.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HoseTypeRecord {
    /// Its id.
    id: String,
    /// What the department calls it.
    name: String,
    /// Nominal inside diameter.
    diameter_in: f64,
    /// C of the friction formula, psi per (100 gpm)² per 100 ft.
    loss_coefficient: f64,
    /// Values of C met elsewhere, for library rows.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    loss_coefficient_range: Option<FigureRange>,
    /// Marked operating pressure.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    max_operating_psi: Option<f64>,
    /// Service-test pressure.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    service_test_psi: Option<f64>,
    /// Where the coefficient comes from: for library rows a key of the bibliography.
    source: String,
    /// The shipped library's, or the department's own.
    origin: OriginName,
}

/// A kind of hose as recorded, with the figure that answers are worked with.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HoseTypeInUse {
    #[serde(flatten)]
    record: HoseTypeRecord,
    /// The figure in use.
    in_use: FigureInUse,
}

impl From<HoseType> for HoseTypeRecord {
    fn from(row: HoseType) -> Self {
        Self {
            id: row.id.to_string(),
            name: row.name,
            diameter_in: row.diameter.inches(),
            loss_coefficient: row.coefficient.psi_per_100gpm2_100ft(),
            loss_coefficient_range: row.coefficient_range.map(FigureRange::from),
            max_operating_psi: row.max_operating.map(Pressure::psi),
            service_test_psi: row.service_test.map(Pressure::psi),
            source: row.source,
            origin: row.origin.into(),
        }
    }
}

/// List kinds of hose
///
/// The shipped library's and the department's own, by ascending id, a page at a time.
#[utoipa::path(
    get, path = "/v1/hose-types", tag = "hose-types", params(PageQuery),
    responses((status = 200, description = "A page of kinds of hose", body = Page<HoseTypeRecord>))
)]
pub(crate) async fn list_hose_types(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<PageQuery>,
) -> Result<Page<HoseTypeRecord>, Problem> {
    let start = query.start::<AssetId>()?;
    let rows = app.store.hose_types(start.after.as_ref(), start.probe()).await?;
    Ok(url.page(rows, start.limit, |row| row.id.to_string(), HoseTypeRecord::from))
}

/// Record a kind of hose
///
/// Creates it under the department's id, or replaces the whole of it. Library rows cannot be replaced.
#[utoipa::path(
    put, path = "/v1/hose-types/{id}", tag = "hose-types",
    params(("id" = String, Path, description = "The department's id"), PutHeaders),
    request_body(content = HoseTypeBody, description = "The whole kind of hose"),
    responses(
        (status = 201, description = "Recorded, and new", body = HoseTypeRecord),
        (status = 200, description = "Replaced", body = HoseTypeRecord),
        (status = 409, description = "It came with the program (`read-only-record`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn put_hose_type(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
    Json(body): Json<HoseTypeBody>,
) -> Result<Stored<HoseTypeRecord>, Problem> {
    let hose_type = body.hose_type(id)?;
    let put = app.store.put_hose_type(&hose_type, &writer.change(app.clock.now()).on(condition)).await?;
    Ok(Stored(put, hose_type.into()))
}

/// Look up a kind of hose
///
/// As it was last recorded; a retired one is not found.
#[utoipa::path(
    get, path = "/v1/hose-types/{id}", tag = "hose-types",
    params(("id" = String, Path, description = "Its id")),
    responses((status = 200, description = "The kind of hose", body = HoseTypeInUse,
        headers(("ETag" = String, description = "The version of the record: send it as `If-Match` to change it"))))
)]
pub(crate) async fn get_hose_type(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
) -> Result<Tagged<HoseTypeInUse>, Problem> {
    let refs = LayRefs { hose_type_ids: BTreeSet::from([id.clone()]), ..LayRefs::default() };
    let no_such = || Problem::no_such(RecordKind::HoseType, &id);
    let found =
        app.store.versioned_inputs(&refs, RecordKind::HoseType, &id, app.clock.today()).await?.ok_or_else(no_such)?;
    let inputs = found.read;
    let row = inputs.hose_types.get(&id).ok_or_else(no_such)?;
    let figures = Figures::of(&inputs);
    let in_use = FigureInUse::new(figures.hose(row), figures.tests(&Subject::Hose(id)));
    Ok(Tagged { version: found.version, record: HoseTypeInUse { record: HoseType::clone(row).into(), in_use } })
}

/// Retire a kind of hose
///
/// Not while a lay profile, a pumper or a hydrant valve refers to it.
#[utoipa::path(
    delete, path = "/v1/hose-types/{id}", tag = "hose-types",
    params(("id" = String, Path, description = "The department's id"), DeleteHeaders),
    responses(
        (status = 204, description = "Retired"),
        (status = 409, description = "It came with the program (`read-only-record`), or is in use (`record-in-use`)",
            body = ProblemDocument, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn delete_hose_type(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
) -> Result<Retired, Problem> {
    let retired = app.store.retire_hose_type(&id, &writer.change(app.clock.now()).on(condition)).await?;
    if retired { Ok(Retired) } else { Err(Problem::no_such(RecordKind::HoseType, &id)) }
}
