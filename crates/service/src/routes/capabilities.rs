//! What every hydrant can give: a page at a time, or all in one stream of lines.

use axum::extract::State;
use axum::response::{IntoResponse, Response};
use chrono::NaiveDate;
use longlay_hydraulics::quantity::Pressure;
use longlay_records::id::AssetId;
use longlay_records::supply::{Evidence, supply};
use longlay_store::{HydrantQuery, Snapshot, StoreError};
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
const HYDRANTS_AT_ONCE: u32 = 250;

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
        let found = state.store.evidence_page(&filter, start.after.as_ref(), start.probe()).await?;
        let page = url.page(found, start.limit, |evidence| evidence.hydrant.id.to_string(), |one| rating.of(&one));
        return Ok(page.into_response());
    }
    refuse_paging(&query)?;
    let snapshot = state.store.snapshot().await?;
    bulk::answer(&state.store, Capabilities::new(snapshot, filter, rating, form), form).await
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
    fn of(self, evidence: &Evidence) -> HydrantCapability {
        let found = supply(evidence, self.today);
        HydrantCapability::new(&evidence.hydrant, found.as_ref().map_err(|none| *none), self.floor)
    }
}

/// Every hydrant in lines. While a batch is written out, the next is read.
struct Capabilities {
    snapshot: Snapshot,
    filter: HydrantQuery,
    rating: Rating,
    form: MediaType,
    begun: bool,
    read: Vec<Evidence>,
}

impl Capabilities {
    fn new(snapshot: Snapshot, filter: HydrantQuery, rating: Rating, form: MediaType) -> Self {
        Self { snapshot, filter, rating, form, begun: false, read: Vec::new() }
    }
}

impl Pieces for Capabilities {
    async fn next(&mut self) -> Result<Option<Vec<u8>>, StoreError> {
        let (filter, form, rating) = (&self.filter, self.form, self.rating);
        if !self.begun {
            self.begun = true;
            self.read = self.snapshot.evidence_page(filter, None, HYDRANTS_AT_ONCE).await?;
            if form == MediaType::Csv {
                return Ok(Some(row(&HEADINGS).into_bytes()));
            }
        }
        let batch = std::mem::take(&mut self.read);
        let Some(last) = batch.last().map(|evidence| evidence.hydrant.id.clone()) else { return Ok(None) };
        let written = task::spawn_blocking(move || written(&batch, rating, form));
        let (read, written) = tokio::join!(self.snapshot.evidence_page(filter, Some(&last), HYDRANTS_AT_ONCE), written);
        self.read = read?;
        written.map_err(|error| StoreError::Other(error.to_string()))?.map(Some)
    }
}

fn written(batch: &[Evidence], rating: Rating, form: MediaType) -> Result<Vec<u8>, StoreError> {
    let mut bytes = Vec::new();
    for evidence in batch {
        let item = rating.of(evidence);
        if form == MediaType::Csv {
            bytes.extend_from_slice(row(&cells(evidence, &item)).as_bytes());
        } else {
            serde_json::to_writer(&mut bytes, &item).map_err(|error| StoreError::Other(error.to_string()))?;
            bytes.push(b'\n');
        }
    }
    Ok(bytes)
}
