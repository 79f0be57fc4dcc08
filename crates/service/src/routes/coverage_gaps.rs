//! What came out of a coverage run, point by point: as pages of a map, or as one table.

use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use longlay_coverage::cause::CauseCode;
use longlay_records::id::AssetId;
use longlay_store::{CoverageRun, OutcomeQuery, RecordKind, RunState, Store, StoreError};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use uuid::Uuid;

use crate::app::AppState;
use crate::bulk::{self, Pieces};
use crate::extract::{Path, Query};
use crate::faults::Faults;
use crate::negotiate::{Accept, MediaType};
use crate::page::{Limit, ListUrl, Start};
use crate::problem::{Problem, ProblemDocument, Slug};
use crate::routes::capability_table::row;
use crate::routes::coverage_outcome_record::{CoverageFeature, HEADINGS, cells};

/// The forms, the one for whoever does not say first.
const FORMS: [MediaType; 2] = [MediaType::GeoJson, MediaType::Csv];
/// Rows of one piece of a table.
const ROWS_AT_ONCE: u32 = 1000;

/// Which demand points of a run, and in what form.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct CoverageGapsQuery {
    /// Only these causes, with commas between. Default every one that is a gap: a place with a need that is not met with what the department has.
    #[param(value_type = Option<Vec<crate::coverage::causes::CauseName>>, style = Form, explode = false)]
    cause: Option<String>,
    /// Only in this district.
    district_id: Option<String>,
    /// Most features of a page; more than 1000 counts as 1000. Of GeoJSON only: a table is not paged.
    #[param(value_type = Option<u32>, minimum = 1, maximum = 1000, default = 100)]
    limit: Option<Limit>,
    /// Where the page starts, out of `next` of the page before. Opaque. Of GeoJSON only.
    cursor: Option<String>,
    /// The form of the answer, whatever `Accept` says.
    format: Option<CoverageGapsFormat>,
}

/// A form of the outcomes.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub(crate) enum CoverageGapsFormat {
    /// `application/geo+json`, a page at a time.
    Geojson,
    /// `text/csv`, all in one stream.
    Csv,
}

/// A page of demand points on a map. Following `next` until it is null gives each once.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CoverageFeatures {
    /// Always `FeatureCollection`.
    #[serde(rename = "type")]
    kind: CollectionKind,
    /// The demand points, by ascending id.
    features: Vec<CoverageFeature>,
    /// Address of the next page, also in the `Link` header; null on the last.
    #[schema(format = "uri", required = true)]
    next: Option<String>,
}

/// What a collection is.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
enum CollectionKind {
    /// Features together.
    FeatureCollection,
}

/// What came out of a coverage run
///
/// The demand points with a gap, or those of the causes asked for, with what arrives at best and the hydrant that the cause is about. GeoJSON comes a page at
/// a time, `text/csv` in one stream; a stream that fails is broken off, so that the client sees it is not whole.
#[utoipa::path(get, path = "/v1/coverage-runs/{coverage_run_id}/gaps", tag = "coverage",
    params(("coverage_run_id" = Uuid, Path, description = "The run's id"), CoverageGapsQuery),
    responses(
        (status = 200, description = "A page, or all in lines", content((CoverageFeatures = "application/geo+json"), (String = "text/csv"))),
        (status = 406, description = "Not to be had in that form (`not-acceptable`)", body = ProblemDocument,
            content_type = "application/problem+json"),
        (status = 409, description = "The run has not come to its end (`coverage-run-not-done`)", body = ProblemDocument,
            content_type = "application/problem+json")
    ))]
pub(crate) async fn list_coverage_gaps(
    State(app): State<AppState>,
    url: ListUrl,
    accept: Accept,
    Path(id): Path<Uuid>,
    Query(query): Query<CoverageGapsQuery>,
) -> Result<Response, Problem> {
    let form = match query.format {
        Some(CoverageGapsFormat::Geojson) => MediaType::GeoJson,
        Some(CoverageGapsFormat::Csv) => MediaType::Csv,
        None => accept.choose(&FORMS)?,
    };
    let filter = query.filter(form)?;
    done(&app, id).await?;
    if form == MediaType::Csv {
        let table = Table { store: app.store.clone(), run_id: id, filter, after: None, begun: false };
        return bulk::answer(&app.store, table, form).await;
    }
    let start: Start<AssetId> = Start::new(query.limit, query.cursor.as_deref())?;
    let found = app.store.coverage_outcomes(id, &filter, start.after.as_ref(), start.probe()).await?;
    let (features, next) =
        url.page(found, start.limit, |outcome| outcome.demand_point_id.to_string(), CoverageFeature::from).into_parts();
    let link = next.as_ref().and_then(|next| HeaderValue::from_str(&format!("<{next}>; rel=\"next\"")).ok());
    let page = CoverageFeatures { kind: CollectionKind::FeatureCollection, features, next };
    let mut response = crate::extract::Json(page).into_response();
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(form.content_type()));
    if let Some(link) = link {
        response.headers_mut().insert(header::LINK, link);
    }
    Ok(response)
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_coverage_gaps))
}

/// A run that came to its end.
pub(crate) async fn done(app: &AppState, id: Uuid) -> Result<CoverageRun, Problem> {
    let run = app.store.coverage_run(id).await?.ok_or_else(|| Problem::no_such(RecordKind::CoverageRun, id))?;
    if run.state == RunState::Done {
        return Ok(run);
    }
    let why = if run.state.is_ended() { "ended before it came to anything" } else { "has not ended yet" };
    Err(Problem::new(Slug::CoverageRunNotDone, format!("coverage run {id} {why}")))
}

impl CoverageGapsQuery {
    fn filter(&self, form: MediaType) -> Result<OutcomeQuery, Problem> {
        let mut faults = Faults::of_query();
        let mut causes = Vec::new();
        for text in self.cause.iter().flat_map(|causes| causes.split(',')) {
            if let Some(cause) = CauseCode::ALL.into_iter().find(|cause| cause.code() == text) {
                causes.push(cause);
            } else {
                let known = CauseCode::ALL.map(CauseCode::code).join(", ");
                faults.note("/cause", "unknown_value", format!("each is one of {known}"));
            }
        }
        if self.cause.is_none() {
            causes.extend(CauseCode::ALL.into_iter().filter(|cause| cause.is_gap()));
        }
        let district_id = faults.optional_id("/district_id", self.district_id.as_deref()).flatten();
        for (pointer, given) in [("/limit", self.limit.is_some()), ("/cursor", self.cursor.is_some())] {
            if given && form == MediaType::Csv {
                faults.note(pointer, "not_with", "a table comes all at once: only GeoJSON is paged");
            }
        }
        faults.finish(Some(OutcomeQuery { causes, district_id }))
    }
}

/// All of them in a table.
struct Table {
    store: Store,
    run_id: Uuid,
    filter: OutcomeQuery,
    after: Option<AssetId>,
    begun: bool,
}

impl Pieces for Table {
    async fn next(&mut self) -> Result<Option<Vec<u8>>, StoreError> {
        if !self.begun {
            self.begun = true;
            return Ok(Some(row(&HEADINGS).into_bytes()));
        }
        let found = self.store.coverage_outcomes(self.run_id, &self.filter, self.after.as_ref(), ROWS_AT_ONCE).await?;
        let Some(last) = found.last() else { return Ok(None) };
        self.after = Some(last.demand_point_id.clone());
        Ok(Some(found.iter().map(|outcome| row(&cells(outcome))).collect::<String>().into_bytes()))
    }
}
