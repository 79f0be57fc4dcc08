//! The grid of heights of the ground: brought in as a whole, and told of as a whole.

use std::io::BufReader;

use axum::extract::{Request, State};
use axum::http::header;
use chrono::{DateTime, Utc};
use longlay_exchange::raster::{self, HeightUnit};
use longlay_store::{Bbox, GridSummary};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::{Json, Query};
use crate::faults::Faults;
use crate::idempotency::{Once, PostHeaders, Reply};
use crate::imports::answer::hex;
use crate::imports::spool::{self, MAX_FILE_BYTES};
use crate::pools::off_thread;
use crate::problem::{Problem, ProblemDocument, Slug};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(get_elevation_grid)).routes(routes!(create_elevation_grid_import))
}

/// Unit of the heights of a file.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum HeightUnitName {
    /// Feet.
    Ft,
    /// Metres.
    M,
}

impl From<HeightUnitName> for HeightUnit {
    fn from(name: HeightUnitName) -> Self {
        match name {
            HeightUnitName::Ft => Self::Feet,
            HeightUnitName::M => Self::Metres,
        }
    }
}

/// How the file is read.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub(crate) struct GridImportQuery {
    /// Unit of its heights, which the file does not say and nobody guesses.
    #[param(inline, required = true, nullable = false)]
    unit: Option<HeightUnitName>,
    /// Only say what the file would do. Default false.
    #[param(nullable = false)]
    dry_run: Option<bool>,
}

/// What a grid of heights is as a whole.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct GridRecord {
    /// Heights from west to east.
    columns: u64,
    /// Heights from south to north.
    rows: u64,
    /// How many heights are known. Where one is not, nothing is known of the ground around it.
    known: u64,
    /// From one height to the next, degrees.
    step: f64,
    /// From the south-western height to the north-eastern: west, south, east, north in degrees.
    #[schema(min_items = 4, max_items = 4)]
    bbox: [f64; 4],
    /// When it came in.
    imported_at: DateTime<Utc>,
    /// SHA-256 of the file it came in.
    #[schema(min_length = 64, max_length = 64)]
    sha256: String,
}

impl From<&GridSummary> for GridRecord {
    fn from(grid: &GridSummary) -> Self {
        let Bbox { west, south, east, north } = grid.bbox;
        Self {
            columns: grid.columns,
            rows: grid.rows,
            known: grid.known,
            step: grid.step_deg,
            bbox: [west, south, east, north],
            imported_at: grid.imported_at,
            sha256: hex(&grid.sha256),
        }
    }
}

/// What an import of heights did, or would do.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct GridImportAnswer {
    /// Whether it was only a look at what the file would do.
    dry_run: bool,
    /// The grid of the file: the only one from now on.
    grid: GridRecord,
    /// Whether it is kept.
    committed: bool,
}

/// What the grid of heights is
///
/// Where it lies, how close its heights stand, and when it came in. There is none before a file was brought in (404).
#[utoipa::path(
    get, path = "/v1/elevation-grid", tag = "ground",
    responses(
        (status = 200, description = "The grid", body = GridRecord),
        (status = 404, description = "None was brought in yet (`not-found`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn get_elevation_grid(State(app): State<AppState>) -> Result<Json<GridRecord>, Problem> {
    let grid = app.store.elevation_grid_summary().await?;
    let none = || Problem::new(Slug::NotFound, "no heights were brought in yet: POST /v1/imports/elevation-grid");
    grid.as_ref().map(GridRecord::from).map(Json).ok_or_else(none)
}

/// Bring in heights of the ground
///
/// Brings in a plain-text grid of heights in place of the one there is: `ncols`, `nrows`, `xllcorner` or `xllcenter`, `yllcorner` or `yllcenter`, `cellsize`
/// and `NODATA_value`, then the heights from the north to the south; degrees of WGS 84, at most 64 MiB and 4,000,000 heights. Coverage takes the ground from
/// it, by proportion between four heights, for hydrants and demand points that have none of their own; outside it and beside what is not known, none.
#[utoipa::path(
    post, path = "/v1/imports/elevation-grid", tag = "exchange",
    params(GridImportQuery, PostHeaders),
    request_body(description = "The file, UTF-8", content((String = "text/plain"))),
    responses(
        (status = 200, description = "What it did, or would do", body = GridImportAnswer),
        (status = 422, description = "The file has faults (`import-refused`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn create_elevation_grid_import(
    State(app): State<AppState>,
    Query(query): Query<GridImportQuery>,
    writer: Writer,
    request: Request,
) -> Result<Reply, Problem> {
    let (parts, body) = request.into_parts();
    let media_type = parts.headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    if !media_type.split(';').next().unwrap_or_default().trim().eq_ignore_ascii_case("text/plain") {
        return Err(Problem::new(Slug::UnsupportedMediaType, "send `Content-Type: text/plain`"));
    }
    let mut faults = Faults::of_query();
    let unit = faults.given("/unit", query.unit);
    let unit: HeightUnit = faults.finish(unit)?.into();
    let spooled = spool::receive(body, MAX_FILE_BYTES).await?;
    let once = Once::with_digest(&parts, spooled.sha256)?;
    if let Some(first) = once.answered(&app, &writer).await? {
        return Ok(first);
    }
    let grid = off_thread(move || raster::read(BufReader::new(spooled.file), unit)).await?;
    let grid = grid.map_err(|faults| Problem::import_refused(&faults))?;
    let summary = GridSummary::of(&grid, spooled.sha256, app.clock.now());
    let dry_run = query.dry_run.unwrap_or(false);
    let reply = Reply::ok(&GridImportAnswer { dry_run, grid: (&summary).into(), committed: !dry_run })?;
    if dry_run {
        return Ok(reply);
    }
    let change = once.change(&app, &writer, &reply);
    let recorded = app.store.replace_elevation_grid(&grid, &summary, &change).await?;
    app.ground.get_ready(&app.store);
    Ok(reply.or_first(recorded))
}
