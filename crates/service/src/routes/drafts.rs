//! A pumper at open water: what it lifts, and with which pressure left.

use axum::extract::State;
use longlay_hydraulics::caution::{ALWAYS, Caution};
use longlay_hydraulics::drafting::{Draft, DraftLimit, LiftVerdict, PRACTICAL_LIFT_FT, theoretical_lift_ft};
use longlay_hydraulics::formula::{self, Formula};
use longlay_hydraulics::lay::planning_gpm;
use longlay_hydraulics::pumper::Pumper;
use longlay_hydraulics::quantity::{PositiveFlow, Pressure};
use longlay_store::{LayInputs, LayRefs};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::advice::{BasisFormula, CautionNote, FindingNote};
use crate::app::AppState;
use crate::extract::Json;
use crate::faults::Faults;
use crate::lay::build::Builder;
use crate::lay::{LayPumper, refs};
use crate::problem::Problem;
use crate::relay::DraftPlace;
use crate::relay::build::{draft_at, draft_findings};

/// The cautions of every draft.
const EVERY_DRAFT: [Caution; 3] = [Caution::NonPotable, Caution::SupplyLost, Caution::BleedAir];
/// What a draft rests on.
const BASIS: [&Formula; 4] =
    [&formula::LIFT, &formula::RATING_BY_LIFT, &formula::DRAFT_CAPACITY, &formula::PUMP_RATING];

/// What is asked of a pumper at open water.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DraftQuestion {
    /// The pumper.
    #[serde(deserialize_with = "crate::object::one")]
    pumper: LayPumper,
    /// Height of the pump above the water.
    #[schema(minimum = 0, maximum = 40)]
    lift_ft: f64,
    /// Height of the ground above sea level. Sea level, with a finding, unless given.
    #[schema(minimum = 0, maximum = 15_000)]
    altitude_ft: Option<f64>,
    /// Loss of suction hose and strainer by your own test, psi per (100 gpm)². None counted, with a finding, unless given.
    #[schema(minimum = 0, maximum = 1000)]
    suction_loss_coefficient: Option<f64>,
    /// The flow wanted.
    #[schema(minimum = 1, maximum = 50_000)]
    target_flow_gpm: Option<f64>,
}

/// What the pumper gives. A planning answer: the gauges govern.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DraftAnswer {
    /// What it drafts, exact; null where no figure is known for the lift, which is no promise of anything.
    #[schema(required = true)]
    capacity_gpm: Option<f64>,
    /// The same rounded down for planning; nothing where no figure is known.
    planning_flow_gpm: f64,
    /// What stops more; absent where no figure is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    limited_by: Option<DraftLimitName>,
    /// The lift against what is lifted.
    lift: DraftLift,
    /// The share of its rating that the pumper has here; null where none is known.
    #[schema(required = true)]
    rating_share: Option<f64>,
    /// The pump at that flow; absent where nothing is drafted.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    at_capacity: Option<DraftReading>,
    /// The pump at the flow wanted.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    at_target: Option<DraftAtTarget>,
    /// What is weak about it.
    findings: Vec<FindingNote>,
    /// What the people must know.
    cautions: Vec<CautionNote>,
    /// The formulas used.
    basis: Vec<BasisFormula>,
}

/// What stops more water from being drafted.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum DraftLimitName {
    /// The lift is over what a pump attains.
    Lift,
    /// Lift and suction loss together take what vacuum the pump holds.
    Suction,
    /// The share of its rating that a pump has at the lift.
    RatingShare,
}

/// Whether water comes up a lift.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum DraftVerdict {
    /// Within what can be depended on.
    Dependable,
    /// Over that, and within what a pump in good order attains.
    Attainable,
    /// Over what a pump attains.
    NotAttainable,
}

/// The lift against what is lifted.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DraftLift {
    /// Whether water comes up.
    verdict: DraftVerdict,
    /// The lift asked.
    lift_ft: f64,
    /// What can be depended on here.
    dependable_ft: f64,
    /// What a pump in good order attains here: the lesser of two thirds of the theoretical and the practical.
    attainable_ft: f64,
    /// The most that is lifted in practice anywhere.
    practical_ft: f64,
    /// What a perfect vacuum would lift here.
    theoretical_ft: f64,
}

/// The pump at a flow.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DraftReading {
    /// The flow.
    flow_gpm: f64,
    /// What the pump has at that flow, lift and suction included.
    net_psi: f64,
    /// What lift and suction take of it.
    suction_psi: f64,
    /// What is left at its discharge, under its own ceiling.
    discharge_psi: f64,
}

/// The pump at the flow wanted.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DraftAtTarget {
    /// Whether it is drafted.
    met: bool,
    /// How much is missing; all of it where no figure is known.
    shortfall_gpm: f64,
    /// The pump then; absent where the flow is not drafted.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    reading: Option<DraftReading>,
}

impl DraftQuestion {
    const fn place(&self) -> DraftPlace {
        DraftPlace {
            lift_ft: self.lift_ft,
            altitude_ft: self.altitude_ft,
            suction_loss_coefficient: self.suction_loss_coefficient,
        }
    }

    fn answer(&self, inputs: &LayInputs) -> Result<DraftAnswer, Problem> {
        let mut faults = Faults::of_body();
        let draft = draft_at("", &self.place(), &mut faults);
        let pumper = Builder { inputs, faults: &mut faults }.pumper("/pumper", &self.pumper);
        let target = faults.optional("/target_flow_gpm", self.target_flow_gpm, PositiveFlow::from_gpm);
        let all = draft.zip(pumper).zip(target);
        let ((draft, pumper), target) = faults.finish(all)?;
        Ok(self.shaped(&draft, &pumper, target.map(PositiveFlow::gpm)))
    }

    fn shaped(&self, draft: &Draft, pumper: &Pumper, target: Option<f64>) -> DraftAnswer {
        let capacity = draft.capacity(&pumper.curve);
        let gpm = capacity.map_or(0.0, |(gpm, _)| gpm);
        DraftAnswer {
            capacity_gpm: capacity.map(|(gpm, _)| gpm),
            planning_flow_gpm: planning_gpm(gpm),
            limited_by: capacity.map(|(_, limit)| limit.into()),
            lift: draft.into(),
            rating_share: draft.rating_share(),
            at_capacity: reading(draft, pumper, gpm),
            at_target: target.map(|target| DraftAtTarget {
                met: target <= gpm,
                shortfall_gpm: (target - gpm).max(0.0),
                reading: reading(draft, pumper, target),
            }),
            findings: draft_findings(&self.place(), draft).iter().map(FindingNote::from).collect(),
            cautions: EVERY_DRAFT.into_iter().chain(ALWAYS).map(CautionNote::from).collect(),
            basis: BASIS.into_iter().map(BasisFormula::from).collect(),
        }
    }
}

fn reading(draft: &Draft, pumper: &Pumper, flow_gpm: f64) -> Option<DraftReading> {
    let left = draft.discharge_psi(&pumper.curve, flow_gpm).filter(|_| flow_gpm > 0.0)?;
    let net_psi = draft.curve(&pumper.curve)?.net_psi(flow_gpm);
    let discharge_psi = pumper.max_discharge.map_or(left, |most: Pressure| most.psi().min(left));
    Some(DraftReading { flow_gpm, net_psi, suction_psi: draft.suction_psi(flow_gpm), discharge_psi })
}

impl From<DraftLimit> for DraftLimitName {
    fn from(limit: DraftLimit) -> Self {
        match limit {
            DraftLimit::Lift => Self::Lift,
            DraftLimit::Suction => Self::Suction,
            DraftLimit::RatingShare => Self::RatingShare,
        }
    }
}

impl From<&Draft> for DraftLift {
    fn from(draft: &Draft) -> Self {
        Self {
            verdict: match draft.verdict() {
                LiftVerdict::Dependable => DraftVerdict::Dependable,
                LiftVerdict::Attainable => DraftVerdict::Attainable,
                LiftVerdict::NotAttainable => DraftVerdict::NotAttainable,
            },
            lift_ft: draft.lift.ft(),
            dependable_ft: draft.dependable_lift_ft().max(0.0),
            attainable_ft: draft.attainable_lift_ft(),
            practical_ft: PRACTICAL_LIFT_FT,
            theoretical_ft: theoretical_lift_ft(draft.altitude),
        }
    }
}

/// What a pumper gives at open water: flow, what limits it, whether the lift can be depended on, and the pressure left.
///
/// The pumper is a stored one or a rated flow. Where no figure is known for a lift, none is promised. Nothing is stored.
#[utoipa::path(post, path = "/v1/drafts", tag = "other-sources",
    request_body(content = DraftQuestion, description = "The pumper, its lift and the flow wanted"),
    responses((status = 200, description = "The answer", body = DraftAnswer)))]
pub(crate) async fn create_draft(
    State(state): State<AppState>,
    Json(ask): Json<DraftQuestion>,
) -> Result<Json<DraftAnswer>, Problem> {
    let mut named = LayRefs::default();
    refs::add(&mut named.pumper_ids, ask.pumper.pumper_id.as_deref());
    let inputs = state.store.lay_inputs(&named, state.clock.today()).await?;
    ask.answer(&inputs).map(Json)
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(create_draft))
}
