//! What every hydrant can give: a page at a time, or all in one stream of lines.

use std::sync::Arc;

use axum::extract::State;
use axum::response::{IntoResponse, Response};
use chrono::NaiveDate;
use longlay_hydraulics::quantity::Pressure;
use longlay_records::id::AssetId;
use longlay_store::{HydrantQuery, StoreError, Supplied, Town};
use serde::Deserialize;
use tokio::task;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::bulk::{self, Pieces};
use crate::extract::Query;
use crate::faults::Faults;
use crate::negotiate::{Accept, MediaType};
use crate::page::{Limit, ListUrl, Page, Start};
use crate::problem::{Problem, ProblemDocument};
use crate::routes::capability::{HydrantCapability, floor};
use crate::routes::capability_table::{HEADINGS, cells, row};

/// The forms, the one for whoever does not say first.
const FORMS: [MediaType; 3] = [MediaType::Json, MediaType::JsonLines, MediaType::Csv];
/// Hydrants of one piece of a stream: some hundred kilobytes of JSON.
const HYDRANTS_AT_ONCE: usize = 250;

/// Which capabilities, and in what form.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct CapabilitiesQuery {
    /// Rate at this pressure instead of at 20 psi (or at half of a static under 40).
    #[param(minimum = 0, maximum = 1000)]
    floor_psi: Option<f64>,
    /// Only hydrants in service, or only those out of it.
    in_service: Option<bool>,
    /// Most items of a page; more than 1000 counts as 1000. Of JSON only: lines are not paged.
    #[param(value_type = Option<u32>, minimum = 1, maximum = 1000, default = 100)]
    limit: Option<Limit>,
    /// Where the page starts, out of `next` of the page before. Opaque. Of JSON only.
    cursor: Option<String>,
    /// The form of the answer, whatever `Accept` says.
    format: Option<CapabilitiesFormat>,
}

/// A form of the list of capabilities.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum CapabilitiesFormat {
    /// `application/json`, a page at a time.
    Json,
    /// `application/x-ndjson`: every hydrant, an item a line.
    Ndjson,
    /// `text/csv`: every hydrant, a row each.
    Csv,
}

/// What every hydrant can give
///
/// By ascending number. Untested ones have nulls, or empty cells, and the finding `untested`. JSON comes a page at a time. As `application/x-ndjson` or
/// `text/csv` all of them come in one stream, as they stood when it began; a stream that fails is broken off, so that the client sees it is not whole.
#[utoipa::path(get, path = "/v1/capabilities", tag = "hydrants", params(CapabilitiesQuery),
    responses(
        (status = 200, description = "A page, or all in lines", content(
            (Page<HydrantCapability> = "application/json"),
            (HydrantCapability = "application/x-ndjson"),
            (String = "text/csv"),
        )),
        (status = 406, description = "Not to be had in that form (`not-acceptable`)", body = ProblemDocument,
            content_type = "application/problem+json")
    ))]
pub(crate) async fn list_capabilities(
    State(state): State<AppState>,
    url: ListUrl,
    accept: Accept,
    Query(query): Query<CapabilitiesQuery>,
) -> Result<Response, Problem> {
    let form = match query.format {
        Some(CapabilitiesFormat::Json) => MediaType::Json,
        Some(CapabilitiesFormat::Ndjson) => MediaType::JsonLines,
        Some(CapabilitiesFormat::Csv) => MediaType::Csv,
        None => accept.choose(&FORMS)?,
    };
    let rating = Rating { today: state.clock.today(), floor: floor(query.floor_psi)? };
    let filter = HydrantQuery { in_service: query.in_service, ..HydrantQuery::default() };
    if form == MediaType::Json {
        let start: Start<AssetId> = Start::new(query.limit, query.cursor.as_deref())?;
        let town = state.store.town().await?;
        let found = town.supplies(&filter, start.after.as_ref(), rating.today).take(start.probe() as usize);
        let found = found.collect::<Result<Vec<_>, _>>()?;
        let page = url.page(found, start.limit, |one| one.hydrant.id.to_string(), |one| rating.of(&one));
        return Ok(page.into_response());
    }
    refuse_paging(&query)?;
    let town = state.store.town().await?;
    bulk::answer(&state.store, Capabilities { town, filter, rating, form, at: At::Start }, form).await
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_capabilities))
}

fn refuse_paging(query: &CapabilitiesQuery) -> Result<(), Problem> {
    let mut faults = Faults::of_query();
    for (pointer, given) in [("/limit", query.limit.is_some()), ("/cursor", query.cursor.is_some())] {
        if given {
            faults.note(pointer, "not_with", "lines come all at once: only JSON is paged");
        }
    }
    faults.finish(Some(()))
}

/// By what to rate.
#[derive(Debug, Clone, Copy)]
struct Rating {
    today: NaiveDate,
    floor: Option<Pressure>,
}

impl Rating {
    fn of(self, Supplied { hydrant, supply }: &Supplied) -> HydrantCapability {
        HydrantCapability::new(hydrant, supply.as_deref().map_err(|none| *none), self.floor)
    }
}

/// Every hydrant in lines, as the town stood when the first was asked for.
struct Capabilities {
    town: Arc<Town>,
    filter: HydrantQuery,
    rating: Rating,
    form: MediaType,
    at: At,
}

/// How far it is written.
enum At {
    Start,
    Behind(Option<AssetId>),
}

impl Pieces for Capabilities {
    async fn next(&mut self) -> Result<Option<Vec<u8>>, StoreError> {
        let after = match std::mem::replace(&mut self.at, At::Behind(None)) {
            At::Start if self.form == MediaType::Csv => return Ok(Some(row(&HEADINGS).into_bytes())),
            At::Start => None,
            At::Behind(after) => after,
        };
        let (town, filter, rating, form) = (Arc::clone(&self.town), self.filter.clone(), self.rating, self.form);
        let written = task::spawn_blocking(move || written(&town, &filter, after.as_ref(), rating, form)).await;
        let piece = written.map_err(|error| StoreError::Other(error.to_string()))??;
        Ok(piece.map(|(bytes, last)| {
            self.at = At::Behind(Some(last));
            bytes
        }))
    }
}

/// The next lines, and the last hydrant of them; none where there is none left.
fn written(
    town: &Town,
    filter: &HydrantQuery,
    after: Option<&AssetId>,
    rating: Rating,
    form: MediaType,
) -> Result<Option<(Vec<u8>, AssetId)>, StoreError> {
    let (mut bytes, mut last) = (Vec::new(), None);
    for supplied in town.supplies(filter, after, rating.today).take(HYDRANTS_AT_ONCE) {
        let supplied = supplied?;
        let item = rating.of(&supplied);
        if form == MediaType::Csv {
            bytes.extend_from_slice(row(&cells(&supplied.hydrant, &item)).as_bytes());
        } else {
            serde_json::to_writer(&mut bytes, &item).map_err(|error| StoreError::Other(error.to_string()))?;
            bytes.push(b'\n');
        }
        last = Some(supplied.hydrant);
    }
    Ok(last.map(|last| (bytes, last.id.clone())))
}
