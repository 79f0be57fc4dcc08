//! What a hydrant has left, from one reading while it flows.

use axum::extract::State;
use longlay_hydraulics::caution::{ALWAYS, Caution};
use longlay_hydraulics::finding::{Finding, Floor};
use longlay_hydraulics::formula::{self, Formula};
use longlay_hydraulics::gauge_rules::{GaugeRule, NothingToSquare, RuleAnswer, flow_left};
use longlay_hydraulics::quantity::{PositiveFlow, Pressure};
use longlay_hydraulics::supply::{RATING_PRESSURE_PSI, SupplyCurve};
use longlay_records::hydrant::Hydrant;
use longlay_records::id::AssetId;
use longlay_store::RecordKind;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::advice::{BasisFormula, CautionNote, FindingNote};
use crate::app::AppState;
use crate::extract::Json;
use crate::faults::Faults;
use crate::lay::{curve, record_cautions};
use crate::problem::Problem;
use crate::streams::{self, StreamAsk, StreamTotals, together};

/// One reading while the hydrant flows.
///
/// Read at a pumper's intake, and not on the hydrant, friction in the hose to the pumper counts in the drop. The answer is then of hydrant and
/// hose together: it stays a safe estimate of more of the same through the same hose, and says less than the hydrant itself may have.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct GaugeReadingAsk {
    /// What the gauge read with nothing flowing.
    #[schema(minimum = 0, maximum = 1000)]
    static_psi: Option<f64>,
    /// What it reads while the flow runs.
    #[schema(minimum = 0, maximum = 1000)]
    residual_psi: Option<f64>,
    /// The flow that runs. Exactly one of this and `streams`.
    #[schema(minimum = 1, maximum = 50_000)]
    flow_gpm: Option<f64>,
    /// The streams that run. Exactly one of this and `flow_gpm`.
    #[serde(default, deserialize_with = "crate::object::maybe_many")]
    #[schema(min_items = 1, max_items = 20)]
    streams: Option<Vec<StreamAsk>>,
    /// Least pressure to leave. Default 20.
    #[schema(minimum = 0, maximum = 1000)]
    floor_psi: Option<f64>,
    /// The hydrant, for the cautions of its record. Its tests are not asked: the reading is newer.
    hydrant_id: Option<String>,
}

/// What is left, by the curve and by the rules of the pump panel. Nulls are no data, not no water. Gauges govern.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct GaugeReadingAnswer {
    /// The flow of the reading.
    flow_gpm: f64,
    /// What the streams flow, where streams were given.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    streams: Option<StreamTotals>,
    /// Pressure the flow took.
    drop_psi: f64,
    /// The same as a percentage of the static.
    drop_percent: f64,
    /// Least pressure left.
    floor_psi: f64,
    /// What is left beyond the flow of the reading, down to the floor, by the curve; null where there was no drop, which proves nothing beyond it.
    #[schema(required = true)]
    more_gpm: Option<f64>,
    /// The flow at the floor, by the curve: less than flows now where the floor is passed already. Null where there was no drop.
    #[schema(required = true)]
    total_gpm: Option<f64>,
    /// What each rule promises beside it.
    rules: Vec<RuleNote>,
    /// What is weak about the reading.
    findings: Vec<FindingNote>,
    /// What the people must know.
    cautions: Vec<CautionNote>,
    /// The formulas used.
    basis: Vec<BasisFormula>,
}

/// A rule of the pump panel, and what the curve says to it. Nulls where the rule has no answer, or the curve none to it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RuleNote {
    /// The rule.
    rule: RuleName,
    /// How many more volumes like the one flowing it promises.
    #[schema(required = true)]
    more_volumes: Option<u8>,
    /// The same as a flow.
    #[schema(required = true)]
    promised_gpm: Option<f64>,
    /// What adding that would leave, by the curve; under nothing where the main cannot give it.
    #[schema(required = true)]
    residual_if_added_psi: Option<f64>,
    /// Whether it promises more than the reading bears out.
    #[schema(required = true)]
    over_promises: Option<bool>,
    /// The same in words.
    message: String,
}

/// A rule of the pump panel.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum RuleName {
    /// By the drop as a percentage of the static.
    Percentage,
    /// By the drop against the first digit of the static.
    FirstDigit,
    /// The drop grows with the square of the number of like lines.
    SquaringTheLines,
}

/// What a hydrant has left, from one reading while it flows
///
/// By the supply curve through the reading, and beside it by the rules of the pump panel, saying where those promise too much. With the gauge at a
/// pumper's intake, friction in the hose to it counts in the drop: the answer is then of hydrant and hose. Nothing is stored.
#[utoipa::path(post, path = "/v1/gauge-readings", tag = "pump-panel",
    request_body(content = GaugeReadingAsk, description = "Static, residual and what flows"),
    responses((status = 200, description = "What is left", body = GaugeReadingAnswer)))]
pub(crate) async fn create_gauge_reading(
    State(state): State<AppState>,
    Json(ask): Json<GaugeReadingAsk>,
) -> Result<Json<GaugeReadingAnswer>, Problem> {
    let id = ask.hydrant_id.as_deref().and_then(|id| AssetId::new(id).ok());
    let hydrant = match &id {
        Some(id) => state.store.hydrant(id).await?,
        None => None,
    };
    let mut faults = Faults::of_body();
    let reading = ask.reading(hydrant.as_ref(), &mut faults);
    let answer = reading.map(|reading| GaugeReadingAnswer::new(reading, hydrant.as_ref()));
    faults.finish(answer).map(Json)
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(create_gauge_reading))
}

/// A reading as the hydraulics take it.
struct Reading {
    curve: SupplyCurve,
    floor: Pressure,
    streams: Option<StreamTotals>,
}

impl GaugeReadingAsk {
    fn reading(&self, hydrant: Option<&Hydrant>, faults: &mut Faults) -> Option<Reading> {
        if let (Some(id), None) = (&self.hydrant_id, hydrant) {
            faults.note("/hydrant_id", "unknown_reference", format!("there is no {} {id}", RecordKind::Hydrant));
        }
        let flowing = self.flowing(faults);
        let flow = flowing.as_ref().map(|(flow, _)| *flow);
        let curve = curve("", [self.static_psi, self.residual_psi], flow, faults);
        let floor = self.floor_psi.unwrap_or(RATING_PRESSURE_PSI);
        let floor = faults.good("/floor_psi", Pressure::from_psi(floor));
        Some(Reading { curve: curve?, floor: floor?, streams: flowing?.1 })
    }

    /// The flow of the reading, with the streams that make it up.
    fn flowing(&self, faults: &mut Faults) -> Option<(PositiveFlow, Option<StreamTotals>)> {
        match (self.flow_gpm, &self.streams) {
            (Some(gpm), None) => faults.good("/flow_gpm", PositiveFlow::from_gpm(gpm)).map(|flow| (flow, None)),
            (None, Some(asked)) => together("/streams", asked, faults).map(|(flow, streams)| (flow, Some(streams))),
            _ => faults.exactly_one_of("", &["flow_gpm", "streams"]),
        }
    }
}

impl GaugeReadingAnswer {
    fn new(reading: Reading, hydrant: Option<&Hydrant>) -> Self {
        let Reading { curve, floor, streams } = reading;
        let left = flow_left(&curve, floor);
        let under = (curve.residual_psi() < floor.psi()).then_some(Caution::UnderFloor);
        let of_record = hydrant.into_iter().flat_map(record_cautions);
        let cautions = under.into_iter().chain(of_record).chain([Caution::MainFloor]).chain(ALWAYS);
        let basis = BASIS.into_iter().chain(streams::BASIS.into_iter().filter(|_| streams.is_some()));
        Self {
            flow_gpm: curve.tested_gpm(),
            drop_psi: curve.drop_psi(),
            drop_percent: curve.drop_percent(),
            floor_psi: floor.psi(),
            more_gpm: left.map(|left| left.more_gpm),
            total_gpm: left.map(|left| left.total_gpm),
            rules: GaugeRule::ALL.into_iter().map(|rule| RuleNote::new(rule, rule.apply(&curve, floor))).collect(),
            findings: curve
                .findings()
                .iter()
                .chain(&Finding::floor_lowered(Floor::Main, floor))
                .map(FindingNote::from)
                .collect(),
            cautions: cautions.map(CautionNote::from).collect(),
            basis: basis.map(BasisFormula::from).collect(),
            streams,
        }
    }
}

/// The formulas behind the answer, besides those of the streams.
const BASIS: [&Formula; 2] = [&formula::SUPPLY_CURVE, &formula::GAUGE_RULES];

impl RuleNote {
    fn new(rule: GaugeRule, said: Result<RuleAnswer, NothingToSquare>) -> Self {
        let rule = match rule {
            GaugeRule::Percentage => RuleName::Percentage,
            GaugeRule::FirstDigit => RuleName::FirstDigit,
            GaugeRule::SquaringTheLines => RuleName::SquaringTheLines,
        };
        let answer = said.as_ref().ok();
        Self {
            rule,
            more_volumes: answer.map(|answer| answer.more_volumes),
            promised_gpm: answer.map(|answer| answer.promised_gpm),
            residual_if_added_psi: answer.and_then(|answer| answer.residual_if_added_psi),
            over_promises: answer.map(|answer| answer.over_promises),
            message: said.as_ref().map_or_else(ToString::to_string, in_words),
        }
    }
}

/// What a rule promises and what the curve says to it; what the curve gives is rounded down.
fn in_words(answer: &RuleAnswer) -> String {
    let (promised, allowed) = (answer.promised_gpm, answer.allowed_gpm.floor());
    match answer.residual_if_added_psi {
        _ if answer.more_volumes == 0 => "It promises no more like volume.".to_owned(),
        None if answer.over_promises => format!(
            "It promises {promised:.0} gpm more, and the reading bears out {allowed:.0} of it: flow more and read again."
        ),
        Some(psi) if answer.over_promises && psi < 0.0 => format!(
            "It promises too much: the main cannot give {promised:.0} gpm more, and {allowed:.0} gpm are left above the floor."
        ),
        Some(psi) if answer.over_promises => format!(
            "It promises too much: {promised:.0} gpm more would leave {:.0} psi, and {allowed:.0} gpm are left above the floor.",
            psi.floor()
        ),
        _ => format!("It promises {promised:.0} gpm more, and the curve gives {allowed:.0} above the floor."),
    }
}
