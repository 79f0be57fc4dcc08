//! Whole kinds of record as files.

use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::Response;
use longlay_exchange::kind::Kind;
use longlay_exchange::write::Format;
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::bulk;
use crate::export::{Export, is_written};
use crate::extract::{Path, PathParam, Query};
use crate::faults::Faults;
use crate::negotiate::{Accept, MediaType};
use crate::problem::{Problem, ProblemDocument, Slug};

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(export_records))
}

/// A kind of record that is written out.
#[derive(Debug, Clone, Copy, ToSchema)]
#[schema(rename_all = "kebab-case")]
#[expect(dead_code, reason = "it stands in the description; the path is read as the exchange names kinds")]
pub(crate) enum ExportKind {
    /// Hydrants.
    Hydrants,
    /// Flow tests.
    FlowTests,
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
    /// Demand points.
    DemandPoints,
}

/// A kind in a path.
#[derive(Debug)]
pub(crate) struct Exported(Kind);

impl PathParam for Exported {
    fn read(text: &str) -> Result<Self, String> {
        let names = || Kind::ALL.map(Kind::slug).join(", ");
        Kind::of_slug(text).map(Self).ok_or_else(|| format!("what is written out is one of {}", names()))
    }
}

/// The form of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub(crate) enum ExportFormat {
    /// `text/csv`, with a line of headings.
    Csv,
    /// `application/x-ndjson`, a record a line.
    Ndjson,
    /// `application/geo+json`, of hydrants, flow tests and demand points only.
    Geojson,
}

/// In what form.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct ExportQuery {
    /// The form of the file, whatever `Accept` says.
    format: Option<ExportFormat>,
}

/// A whole kind of record
///
/// Live records by ascending id, as they stood when the answer began: hydrants, the flow tests of live hydrants with those that were voided, demand points,
/// and the department's own equipment without the shipped library. A stream that fails is broken off, so that the client sees it is not whole.
#[utoipa::path(get, path = "/v1/exports/{kind}", tag = "exchange",
    params(("kind" = ExportKind, Path, description = "What to write out"), ExportQuery),
    responses(
        (status = 200, description = "The file", headers(("Content-Disposition" = String, description = "A name for the file")),
            content((String = "text/csv"), (String = "application/x-ndjson"), (serde_json::Value = "application/geo+json"))),
        (status = 406, description = "Not to be had in that form (`not-acceptable`)", body = ProblemDocument,
            content_type = "application/problem+json")
    ))]
pub(crate) async fn export_records(
    State(state): State<AppState>,
    accept: Accept,
    Path(Exported(kind)): Path<Exported>,
    Query(query): Query<ExportQuery>,
) -> Result<Response, Problem> {
    let media_type = match query.format {
        Some(format) => of_query(kind, format)?,
        None => accept.choose(offered(kind))?,
    };
    let format = match media_type {
        MediaType::JsonLines => Format::NdJson,
        MediaType::GeoJson => Format::GeoJson,
        // One JSON document is never offered.
        MediaType::Csv | MediaType::Json => Format::Csv,
    };
    let snapshot = state.store.snapshot().await?;
    let mut answer = bulk::answer(&state.store, Export::new(kind, snapshot, format), media_type).await?;
    let name = format!("attachment; filename=\"{}.{}\"", kind.slug(), format.name());
    let name = HeaderValue::try_from(name).map_err(|_| Problem::new(Slug::Internal, Slug::Internal.meaning()))?;
    answer.headers_mut().insert(header::CONTENT_DISPOSITION, name);
    Ok(answer)
}

/// The forms of a kind, the one for whoever does not say first.
const fn offered(kind: Kind) -> &'static [MediaType] {
    if kind.has_places() {
        &[MediaType::Csv, MediaType::JsonLines, MediaType::GeoJson]
    } else {
        &[MediaType::Csv, MediaType::JsonLines]
    }
}

fn of_query(kind: Kind, format: ExportFormat) -> Result<MediaType, Problem> {
    let mut faults = Faults::of_query();
    if format == ExportFormat::Geojson && !is_written(kind, Format::GeoJson) {
        faults.note("/format", "not_with", "only hydrants, flow tests and demand points have a place on a map");
    }
    faults.finish(Some(match format {
        ExportFormat::Csv => MediaType::Csv,
        ExportFormat::Ndjson => MediaType::JsonLines,
        ExportFormat::Geojson => MediaType::GeoJson,
    }))
}
