//! Streets: brought in as a whole, and told of as a whole.

use axum::extract::{Request, State};
use axum::http::header;
use longlay_exchange::read::{Reading, Source, Spoken};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::{Json, Query};
use crate::idempotency::{Once, PostHeaders, Reply};
use crate::imports::spool::{self, MAX_GROUND_FILE_BYTES};
use crate::imports::streets::{ArrivedStreets, StreetImportAnswer, StreetOutcome, StreetSummary, carry_out};
use crate::pools::off_thread;
use crate::problem::{Problem, ProblemDocument, Slug};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(get_street_summary)).routes(routes!(create_street_import))
}

/// How the file is taken.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub(crate) struct StreetImportQuery {
    /// Only say what the file would do. Default false.
    #[param(nullable = false)]
    dry_run: Option<bool>,
}

/// What the streets are together
///
/// How many there are, where they lie, what hose does not cross, and when they came in. There are none before a file was brought in (404).
#[utoipa::path(
    get, path = "/v1/streets/summary", tag = "ground",
    responses(
        (status = 200, description = "The network", body = StreetSummary),
        (status = 404, description = "No streets were brought in yet (`not-found`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn get_street_summary(State(app): State<AppState>) -> Result<Json<StreetSummary>, Problem> {
    let network = app.store.street_network().await?;
    let none = || Problem::new(Slug::NotFound, "no streets were brought in yet: POST /v1/imports/streets");
    network.as_ref().map(StreetSummary::from).map(Json).ok_or_else(none)
}

/// Bring in streets
///
/// Brings in a map file of streets, at most 1 GiB, 1,000,000 streets and 8,000,000 places, in place of all the streets there are: a network means something
/// only as a whole. Streets meet only where they share a vertex at the same level; lines that merely cross do not. The names of properties are told in
/// columns.md; all others are passed over. Every fault is told with its feature, the first hundred of them, and then nothing is changed.
#[utoipa::path(
    post, path = "/v1/imports/streets", tag = "exchange",
    params(StreetImportQuery, PostHeaders),
    request_body(
        description = "The file, UTF-8: a GeoJSON feature collection of LineStrings and MultiLineStrings",
        content((serde_json::Value = "application/geo+json"))
    ),
    responses(
        (status = 200, description = "What it did, or would do", body = StreetImportAnswer),
        (status = 422, description = "The file has faults (`import-refused`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn create_street_import(
    State(app): State<AppState>,
    Query(query): Query<StreetImportQuery>,
    writer: Writer,
    request: Request,
) -> Result<Reply, Problem> {
    let (parts, body) = request.into_parts();
    let media_type = parts.headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    if !media_type.split(';').next().unwrap_or_default().trim().eq_ignore_ascii_case("application/geo+json") {
        return Err(Problem::new(Slug::UnsupportedMediaType, "send `Content-Type: application/geo+json`"));
    }
    let spooled = spool::receive(body, MAX_GROUND_FILE_BYTES).await?;
    let once = Once::with_digest(&parts, spooled.sha256)?;
    if let Some(first) = once.answered(&app, &writer).await? {
        return Ok(first);
    }
    let (now, latest_day, ids) = (app.clock.now(), app.clock.latest_today(), app.clone());
    let arrived = off_thread(move || {
        let reading = Reading {
            source: Source::GeoJson,
            spoken: Spoken::Query,
            ignore_unknown_columns: true,
            date_format: None,
            now,
            latest_day,
            new_id: &|| ids.ids.next(now),
        };
        ArrivedStreets::read(spooled.file, spooled.sha256, &reading)
    });
    let arrived = arrived.await?.map_err(|faults| Problem::import_refused(&faults))?;
    // The store writes the body of the answer that it keeps, because only it knows what went.
    let change = once.change(&app, &writer, &Reply::ok(&())?);
    let is_meant = !query.dry_run.unwrap_or(false);
    match carry_out(&app.store, &arrived, now, is_meant.then_some(&change)).await? {
        StreetOutcome::Done(answer) => {
            app.ground.get_ready(&app.store);
            Reply::ok(&answer)
        }
        StreetOutcome::Before(first) => Ok(Reply::again(first)),
    }
}
