//! A hydrant's own flow tests over the years.

use axum::extract::State;
use chrono::NaiveDate;
use longlay_hydraulics::caution::ALWAYS;
use longlay_hydraulics::formula;
use longlay_records::history::{History, PastTest, history};
use longlay_records::hydrant::Hydrant;
use longlay_records::id::AssetId;
use longlay_store::RecordKind;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use uuid::Uuid;

use crate::advice::{BasisFormula, CautionNote, FindingNote, FlowBand};
use crate::app::AppState;
use crate::extract::{Json, Path};
use crate::lay::record_cautions;
use crate::problem::{Problem, ProblemDocument, Slug};

/// A hydrant's own tests that count, the oldest first, all rated at one pressure.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TestHistory {
    /// The hydrant.
    hydrant_id: String,
    /// The tests.
    tests: Vec<PastTestRecord>,
    /// The newest. Answers rest on it, unless its gauge hardly fell and an older test is worth more.
    latest: PastTestRecord,
    /// The one of the lowest rated flow; null where none showed a drop.
    #[schema(required = true)]
    lowest: Option<PastTestRecord>,
    /// What the rated flow gained, or lost, a year, by the line of least squares; null of fewer than three tests or within a year.
    #[schema(required = true)]
    trend_gpm_per_year: Option<f64>,
    /// What the tests say against each other: `capacity_fell`, `capacity_rose`. And what of the newest is to be looked at: `pressure_implausible`,
    /// `static_differs_from_other_tests`, `flow_differs_from_other_tests`.
    findings: Vec<FindingNote>,
    /// What the people must know.
    cautions: Vec<CautionNote>,
    /// The formulas used.
    basis: Vec<BasisFormula>,
}

/// What one test said.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PastTestRecord {
    /// The test.
    id: Uuid,
    /// Its day.
    tested_on: NaiveDate,
    /// Static pressure.
    static_psi: f64,
    /// Residual at its largest flow.
    residual_psi: f64,
    /// Its largest flow.
    flow_gpm: f64,
    /// Flow at `rated_at_psi`; null where it showed no drop.
    #[schema(required = true)]
    rated_flow_gpm: Option<f64>,
    /// The pressure all tests of the history are rated at.
    rated_at_psi: f64,
    /// How far the rated flow may be off; around the proved flow where it showed no drop.
    rated_flow_band_gpm: FlowBand,
    /// What is weak about it, and in what it is far from the hydrant's other tests.
    findings: Vec<FindingNote>,
}

impl From<&PastTest> for PastTestRecord {
    fn from(test: &PastTest) -> Self {
        Self {
            id: test.test_id,
            tested_on: test.tested_on,
            static_psi: test.static_psi,
            residual_psi: test.residual_psi,
            flow_gpm: test.flow_gpm,
            rated_flow_gpm: test.rated_flow_gpm,
            rated_at_psi: test.rated_at_psi,
            rated_flow_band_gpm: (&test.band).into(),
            findings: test.findings.iter().map(FindingNote::from).collect(),
        }
    }
}

impl TestHistory {
    /// None of a hydrant with no test of its own that counts.
    fn new(hydrant: &Hydrant, history: &History) -> Option<Self> {
        let basis = [formula::RATED_FLOW, formula::FLOW_BAND];
        Some(Self {
            hydrant_id: hydrant.id.to_string(),
            tests: history.tests.iter().map(PastTestRecord::from).collect(),
            latest: history.latest()?.into(),
            lowest: history.lowest().map(PastTestRecord::from),
            trend_gpm_per_year: history.trend_gpm_per_year,
            findings: history.findings.iter().map(FindingNote::from).collect(),
            cautions: ALWAYS.into_iter().chain(record_cautions(hydrant)).map(CautionNote::from).collect(),
            basis: basis.iter().map(BasisFormula::from).collect(),
        })
    }
}

/// What a hydrant's own tests say over the years.
///
/// Voided tests do not count, and tests gauged at other hydrants tell of other places. Refused with `no-flow-test` where none is left.
#[utoipa::path(get, path = "/v1/hydrants/{hydrant_id}/test-history", tag = "flow-tests",
    params(("hydrant_id" = String, Path, description = "The department's number of the hydrant")),
    responses(
        (status = 200, description = "Its history", body = TestHistory),
        (status = 409, description = "`no-flow-test`", body = ProblemDocument, content_type = "application/problem+json")
    ))]
pub(crate) async fn get_test_history(
    State(state): State<AppState>,
    Path(hydrant_id): Path<AssetId>,
) -> Result<Json<TestHistory>, Problem> {
    let evidence = state.store.evidence(&hydrant_id).await?;
    let evidence = evidence.ok_or_else(|| Problem::no_such(RecordKind::Hydrant, &hydrant_id))?;
    let found = TestHistory::new(&evidence.hydrant, &history(&evidence));
    found
        .map(Json)
        .ok_or_else(|| Problem::new(Slug::NoFlowTest, "this hydrant has no flow test of its own that counts"))
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(get_test_history))
}
