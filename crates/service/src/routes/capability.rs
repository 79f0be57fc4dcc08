//! What a hydrant can give.

use axum::extract::State;
use longlay_hydraulics::caution::{ALWAYS, Caution};
use longlay_hydraulics::finding::{Finding, FindingCode, Floor};
use longlay_hydraulics::formula;
use longlay_hydraulics::quantity::Pressure;
use longlay_records::hydrant::{Hydrant, Status};
use longlay_records::id::AssetId;
use longlay_records::supply::{NoSupply, Supply};
use longlay_store::{RecordKind, Supplied};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::advice::{BasisFormula, CautionNote, FindingNote, FlowBand, TestRef, Uncertainty};
use crate::app::AppState;
use crate::extract::{Json, Path, Query};
use crate::faults::Faults;
use crate::lay::record_cautions;
use crate::problem::{Problem, ProblemDocument, Slug};

/// At which pressure to rate.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct CapabilityQuery {
    /// Rate at this pressure instead of at 20 psi (or at half of a static under 40).
    #[param(minimum = 0, maximum = 1000)]
    floor_psi: Option<f64>,
}

/// What a hydrant can give, by the test that says so. Nulls are no data, not no water.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HydrantCapability {
    /// The hydrant.
    pub(crate) hydrant_id: String,
    /// Whether it may be counted on.
    pub(crate) in_service: bool,
    /// The test.
    #[schema(required = true)]
    pub(crate) flow_test: Option<TestRef>,
    /// Static pressure at this hydrant.
    #[schema(required = true)]
    pub(crate) static_psi: Option<f64>,
    /// Residual pressure at this hydrant while `flow_gpm` flowed.
    #[schema(required = true)]
    pub(crate) residual_psi: Option<f64>,
    /// The flow of the test.
    #[schema(required = true)]
    pub(crate) flow_gpm: Option<f64>,
    /// Flow at `rated_at_psi`; null without a test, or where the test showed no drop.
    #[schema(required = true)]
    pub(crate) rated_flow_gpm: Option<f64>,
    /// How far the rated flow may be off; around what was proved where the test showed no drop, and null without a test. Plan by its low end.
    #[schema(required = true)]
    pub(crate) rated_flow_band_gpm: Option<FlowBand>,
    /// Which reading makes that band, the one that matters most first: what to measure next.
    pub(crate) uncertainties: Vec<Uncertainty>,
    /// What a test without a drop proves: at least this, and no more is known.
    #[schema(required = true)]
    pub(crate) rated_flow_at_least_gpm: Option<f64>,
    /// The pressure it is rated at.
    #[schema(required = true)]
    pub(crate) rated_at_psi: Option<f64>,
    /// Its class at the rating pressure, whatever `floor_psi` was asked.
    #[schema(required = true)]
    pub(crate) class: Option<HydrantClass>,
    /// Pressure in the main from no flow to the rated (or proved) flow.
    pub(crate) curve: Vec<CurvePoint>,
    /// What is weak about the data.
    pub(crate) findings: Vec<FindingNote>,
    /// What the people must know.
    pub(crate) cautions: Vec<CautionNote>,
    /// The formulas used.
    pub(crate) basis: Vec<BasisFormula>,
}

/// A capacity class.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HydrantClass {
    /// `AA`, `A`, `B` or `C`.
    pub(crate) code: &'static str,
    /// Colour of tops and caps by the recommended practice. A hydrant's own colours may mean something else.
    marking: &'static str,
}

/// A point of a supply curve.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CurvePoint {
    /// Flow.
    flow_gpm: f64,
    /// Pressure in the main at that flow.
    pressure_psi: f64,
}

/// What a hydrant can give.
///
/// Refused with `no-flow-test` where no usable test bears on it. A hydrant out of service is answered, with its caution.
#[utoipa::path(get, path = "/v1/hydrants/{hydrant_id}/capability", tag = "hydrants",
    params(("hydrant_id" = String, Path, description = "The department's number of the hydrant"), CapabilityQuery),
    responses(
        (status = 200, description = "Its capability", body = HydrantCapability),
        (status = 409, description = "`no-flow-test`", body = ProblemDocument, content_type = "application/problem+json")
    ))]
pub(crate) async fn get_hydrant_capability(
    State(state): State<AppState>,
    Path(hydrant_id): Path<AssetId>,
    Query(query): Query<CapabilityQuery>,
) -> Result<Json<HydrantCapability>, Problem> {
    let floor = floor(query.floor_psi)?;
    let found = state.store.town().await?.supplied(&hydrant_id, state.clock.today())?;
    let Supplied { hydrant, supply } = found.ok_or_else(|| Problem::no_such(RecordKind::Hydrant, &hydrant_id))?;
    let supply = supply.map_err(|none| Problem::new(Slug::NoFlowTest, none.to_string()))?;
    Ok(Json(HydrantCapability::new(&hydrant, Ok(&supply), floor)))
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(get_hydrant_capability))
}

pub(crate) fn floor(psi: Option<f64>) -> Result<Option<Pressure>, Problem> {
    let mut faults = Faults::of_query();
    let floor = faults.optional("/floor_psi", psi, Pressure::from_psi);
    faults.finish(floor)
}

impl HydrantCapability {
    pub(crate) fn new(hydrant: &Hydrant, found: Result<&Supply, NoSupply>, floor: Option<Pressure>) -> Self {
        let supply = found.ok();
        let rating = supply.map(|supply| supply.capability(floor));
        let curve = supply.map(|supply| supply.curve);
        let untested = [Finding::plain(FindingCode::Untested)];
        let findings = supply.map_or(&untested[..], |supply| &supply.findings);
        let lowered = floor.and_then(|floor| Finding::floor_lowered(Floor::Main, floor));
        let cautions = ALWAYS.into_iter().chain([Caution::MainFloor]).chain(record_cautions(hydrant));
        let fitted = curve.is_some_and(|curve| curve.fitted_exponent().is_some());
        let through = if fitted { formula::FITTED_SUPPLY_CURVE } else { formula::SUPPLY_CURVE };
        let basis = [through, formula::RATED_FLOW, formula::CAPACITY_CLASS, formula::FLOW_BAND];
        Self {
            hydrant_id: hydrant.id.to_string(),
            in_service: hydrant.status == Status::InService,
            flow_test: supply.map(TestRef::from),
            static_psi: curve.map(|curve| curve.static_psi()),
            residual_psi: curve.map(|curve| curve.residual_psi()),
            flow_gpm: curve.map(|curve| curve.tested_gpm()),
            rated_flow_gpm: rating.as_ref().and_then(|rating| rating.rated_flow_gpm),
            rated_flow_band_gpm: rating.as_ref().map(|rating| FlowBand::from(&rating.rated_flow_band)),
            uncertainties: rating.as_ref().map_or_else(Vec::new, |rating| Uncertainty::of(&rating.rated_flow_band)),
            rated_flow_at_least_gpm: rating.as_ref().and_then(|rating| rating.at_least_gpm),
            rated_at_psi: rating.as_ref().map(|rating| rating.rated_at_psi),
            class: rating
                .as_ref()
                .and_then(|rating| rating.class)
                .map(|class| HydrantClass { code: class.code(), marking: class.marking() }),
            curve: rating.map_or_else(Vec::new, |rating| {
                rating.curve.iter().map(|&(flow_gpm, pressure_psi)| CurvePoint { flow_gpm, pressure_psi }).collect()
            }),
            findings: findings.iter().chain(&lowered).map(FindingNote::from).collect(),
            cautions: cautions.map(CautionNote::from).collect(),
            basis: basis.iter().map(BasisFormula::from).collect(),
        }
    }
}
