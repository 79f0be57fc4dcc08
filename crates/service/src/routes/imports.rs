//! Files brought in. What whoever records in the field may put one by one stands apart from the equipment that is an admin's: who may ask follows
//! from the operation.

use axum::extract::{Request, State};
use axum::http::{HeaderMap, header};
use longlay_exchange::kind::Kind;
use longlay_exchange::read::{DateFormat, Reading, Source, Spoken};
use longlay_store::Terms;
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::{Path, PathParam, Query};
use crate::idempotency::{Once, PostHeaders, Reply};
use crate::imports::answer::ImportAnswer;
use crate::imports::arrived::Arrived;
use crate::imports::carry_out::{Outcome, carry_out};
use crate::imports::spool::{self, Spooled};
use crate::pools::off_thread;
use crate::problem::{Problem, ProblemDocument, Slug};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new()
        .routes(routes!(create_hydrant_import))
        .routes(routes!(create_flow_test_import))
        .routes(routes!(create_equipment_import))
        .routes(routes!(create_demand_point_import))
}

/// A kind of equipment that is brought in.
#[derive(Debug, Clone, Copy, ToSchema)]
#[schema(rename_all = "kebab-case")]
#[expect(dead_code, reason = "read by the description only")]
pub(crate) enum ImportKind {
    /// Kinds of hose.
    HoseTypes,
    /// Kinds of appliance.
    Appliances,
    /// Kinds of hydrant valve.
    HydrantValves,
    /// Pumpers.
    Pumpers,
    /// Standard lays.
    LayProfiles,
}

/// A kind of equipment in a path.
#[derive(Debug)]
pub(crate) struct Equipment(Kind);

impl PathParam for Equipment {
    fn read(text: &str) -> Result<Self, String> {
        let known = || Kind::ALL.map(Kind::slug).join(", ");
        let equipment =
            Kind::of_slug(text).filter(|kind| !matches!(kind, Kind::Hydrants | Kind::FlowTests | Kind::DemandPoints));
        equipment.map(Self).ok_or_else(|| format!("files are brought in of {}", known()))
    }
}

/// What comes first in a date with slashes.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum DateFormatName {
    /// The month.
    Mdy,
    /// The day.
    Dmy,
}

impl From<DateFormatName> for DateFormat {
    fn from(name: DateFormatName) -> Self {
        match name {
            DateFormatName::Mdy => Self::MonthFirst,
            DateFormatName::Dmy => Self::DayFirst,
        }
    }
}

/// How a file is read.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub(crate) struct ImportQuery {
    /// Only say what the file would do. Default false.
    #[param(nullable = false)]
    dry_run: Option<bool>,
    /// Pass over columns that are none of the kind's own. Default false: they are refused by name.
    #[param(nullable = false)]
    ignore_unknown_columns: Option<bool>,
    /// How dates like 5/14/2026 are meant. Without it they are refused; 2026-05-14 needs none.
    #[param(nullable = false, inline)]
    date_format: Option<DateFormatName>,
    /// Hydrants that are out of service may be put back in service. Default false: a row that would is refused, because crews are told that such a
    /// hydrant works.
    #[param(nullable = false)]
    return_to_service: Option<bool>,
}

/// The form of a body, by its media type.
fn source(kind: Kind, headers: &HeaderMap) -> Result<Source, Problem> {
    let media_type = headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    match media_type.split(';').next().unwrap_or_default().trim().to_ascii_lowercase().as_str() {
        "text/csv" => Ok(Source::Csv),
        "application/geo+json" if kind.has_places() => Ok(Source::GeoJson),
        _ if kind.has_places() => {
            let detail = "send `Content-Type: text/csv` or `application/geo+json`";
            Err(Problem::new(Slug::UnsupportedMediaType, detail))
        }
        _ => Err(Problem::new(Slug::UnsupportedMediaType, "send `Content-Type: text/csv`")),
    }
}

/// Bring in hydrants
///
/// Brings in a whole spreadsheet or map file of hydrants, at most 64 MiB, or nothing of it. A row is the whole record: it makes the hydrant of its
/// number, or stands in its place; what a file leaves out is left empty. Every fault is told with its row and column, the first hundred of them.
/// `warnings` tells what may not be meant so: what becomes empty, what comes back, what stands far from the others.
#[utoipa::path(
    post, path = "/v1/imports/hydrants", tag = "exchange",
    params(ImportQuery, PostHeaders),
    request_body(
        description = "The file, UTF-8: CSV with a header, or a GeoJSON feature collection",
        content((String = "text/csv"), (serde_json::Value = "application/geo+json"))
    ),
    responses(
        (status = 200, description = "What it did, or would do", body = ImportAnswer),
        (status = 422, description = "The file has faults (`import-refused`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn create_hydrant_import(
    State(app): State<AppState>,
    Query(query): Query<ImportQuery>,
    writer: Writer,
    request: Request,
) -> Result<Reply, Problem> {
    bring_in(&app, Kind::Hydrants, query, &writer, request).await
}

/// Bring in flow tests
///
/// Brings in a whole spreadsheet or map file of flow tests, at most 64 MiB, or nothing of it. Tests are only ever added to: one that is recorded already,
/// by its id or by the same readings of the same hydrant and day, is passed over. Every fault is told with its row and column, the first hundred of
/// them.
#[utoipa::path(
    post, path = "/v1/imports/flow-tests", tag = "exchange",
    params(ImportQuery, PostHeaders),
    request_body(
        description = "The file, UTF-8: CSV with a header, or a GeoJSON feature collection",
        content((String = "text/csv"), (serde_json::Value = "application/geo+json"))
    ),
    responses(
        (status = 200, description = "What it did, or would do", body = ImportAnswer),
        (status = 422, description = "The file has faults (`import-refused`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn create_flow_test_import(
    State(app): State<AppState>,
    Query(query): Query<ImportQuery>,
    writer: Writer,
    request: Request,
) -> Result<Reply, Problem> {
    bring_in(&app, Kind::FlowTests, query, &writer, request).await
}

/// Bring in equipment
///
/// Brings in a whole spreadsheet of one kind of equipment, at most 64 MiB, or nothing of it. A row is the whole record: it makes the record of its
/// id, or stands in its place; what a file leaves out is left empty. Every fault is told with its row and column, the first hundred of them.
#[utoipa::path(
    post, path = "/v1/imports/{kind}", tag = "exchange",
    params(("kind" = ImportKind, Path, description = "What the rows are"), ImportQuery, PostHeaders),
    request_body(
        description = "The file: CSV in UTF-8 with a header",
        content((String = "text/csv"))
    ),
    responses(
        (status = 200, description = "What it did, or would do", body = ImportAnswer),
        (status = 422, description = "The file has faults (`import-refused`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn create_equipment_import(
    State(app): State<AppState>,
    Path(Equipment(kind)): Path<Equipment>,
    Query(query): Query<ImportQuery>,
    writer: Writer,
    request: Request,
) -> Result<Reply, Problem> {
    bring_in(&app, kind, query, &writer, request).await
}

/// Bring in demand points
///
/// Brings in a whole spreadsheet or map file of demand points, at most 64 MiB and 250,000 of them, or nothing of it; a large city's come in several files.
/// A row is the whole record: it makes the demand point of its id, or stands in its place; what a file leaves out is left empty. In a map a parcel or a
/// building may stand in place of a point: `warnings` says so of each. Every fault is told with its row and column, the first hundred of them.
#[utoipa::path(
    post, path = "/v1/imports/demand-points", tag = "exchange",
    params(ImportQuery, PostHeaders),
    request_body(
        description = "The file, UTF-8: CSV with a header, or a GeoJSON feature collection",
        content((String = "text/csv"), (serde_json::Value = "application/geo+json"))
    ),
    responses(
        (status = 200, description = "What it did, or would do", body = ImportAnswer),
        (status = 422, description = "The file has faults (`import-refused`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn create_demand_point_import(
    State(app): State<AppState>,
    Query(query): Query<ImportQuery>,
    writer: Writer,
    request: Request,
) -> Result<Reply, Problem> {
    bring_in(&app, Kind::DemandPoints, query, &writer, request).await
}

async fn bring_in(
    app: &AppState,
    kind: Kind,
    query: ImportQuery,
    writer: &Writer,
    request: Request,
) -> Result<Reply, Problem> {
    let (parts, body) = request.into_parts();
    let source = source(kind, &parts.headers)?;
    let spooled = spool::receive(body, spool::MAX_FILE_BYTES).await?;
    let once = Once::with_digest(&parts, spooled.sha256)?;
    if let Some(first) = once.answered(app, writer).await? {
        return Ok(first);
    }
    let dry_run = query.dry_run.unwrap_or(false);
    let terms = Terms { return_to_service: query.return_to_service.unwrap_or(false) };
    let arrived = read(app, kind, source, query, spooled).await?;
    // The store writes the body of the answer that it keeps, because only it knows what was done.
    let change = once.change(app, writer, &Reply::ok(&())?);
    match carry_out(&app.store, kind, &arrived, terms, (!dry_run).then_some(&change), &|_| {}).await? {
        Outcome::Done(answer) => Reply::ok(&answer),
        Outcome::Refused(faults) => Err(Problem::import_refused(&faults)),
        Outcome::Before(first) => Ok(Reply::again(first)),
    }
}

/// Reads a file off the threads that answer others.
async fn read(
    app: &AppState,
    kind: Kind,
    source: Source,
    query: ImportQuery,
    spooled: Spooled,
) -> Result<Arrived, Problem> {
    let reader = app.clone();
    let arrived = off_thread(move || {
        let now = reader.clock.now();
        let reading = Reading {
            source,
            spoken: Spoken::Query,
            ignore_unknown_columns: query.ignore_unknown_columns.unwrap_or(false),
            date_format: query.date_format.map(DateFormat::from),
            now,
            latest_day: reader.clock.latest_today(),
            new_id: &|| reader.ids.next(now),
        };
        Arrived::read(kind, spooled.file, spooled.sha256, &reading)
    });
    arrived.await?.map_err(|faults| Problem::import_refused(&faults))
}
