//! The pump pressure that attack lines ask.

use axum::extract::State;
use longlay_hydraulics::attack_lines::{line_findings, pump_must_make_psi};
use longlay_hydraulics::caution::{ALWAYS, Caution};
use longlay_hydraulics::formula::{self, Formula};
use longlay_hydraulics::lay::{BranchPart, MAX_PARTS};
use longlay_hydraulics::quantity::{PositiveFlow, Rise};
use longlay_hydraulics::stream::{AttackLine, PumpPressure, StreamsInUse};
use longlay_store::{LayInputs, LayRefs};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::advice::{BasisFormula, CautionNote, FindingNote};
use crate::app::AppState;
use crate::extract::Json;
use crate::faults::Faults;
use crate::lay::{LayPart, branch, collect};
use crate::problem::Problem;
use crate::streams::{self, MAX_STREAMS, StreamAsk, StreamFlow, total};

/// The attack lines off one pump.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AttackLinesAsk {
    /// Each kind of line.
    #[serde(deserialize_with = "crate::object::many")]
    #[schema(min_items = 1, max_items = 20)]
    lines: Vec<AttackLineAsk>,
}

/// Like attack lines: pump, hose, appliances, nozzle.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AttackLineAsk {
    /// What the nozzle gives. Its `count` is the number of such lines, each with hose of its own.
    #[serde(deserialize_with = "crate::object::one")]
    stream: StreamAsk,
    /// What the stream's flow runs through, pump to nozzle: parts of kind `hose` or `appliance`. Empty for a nozzle on the pump itself.
    #[serde(deserialize_with = "crate::object::many")]
    #[schema(max_items = 100)]
    parts: Vec<LayPart>,
    /// How much higher the nozzle is than the pump; a fall is negative. Default level.
    #[schema(minimum = -5000, maximum = 5000)]
    rise_ft: Option<f64>,
}

/// The formulas behind pump pressures, besides those of the streams.
const BASIS: [&Formula; 5] = [
    &formula::ATTACK_LINE,
    &formula::HOSE_FRICTION,
    &formula::APPLIANCE_LOSS,
    &formula::ELEVATION,
    &formula::PUMP_FOR_LINES,
];

/// What the pump must make, and what each line asks. A planning answer: gauges at the pump govern.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AttackLinesAnswer {
    /// All lines together.
    total_flow_gpm: f64,
    /// What the pump must make: the most that any line asks.
    pump_discharge_psi: f64,
    /// Each line as it was asked for.
    lines: Vec<AttackLineAnswer>,
    /// What the people must know.
    cautions: Vec<CautionNote>,
    /// The formulas used.
    basis: Vec<BasisFormula>,
}

/// What like lines ask.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AttackLineAnswer {
    /// The stream of each: its flow is the line's.
    #[serde(flatten)]
    stream: StreamFlow,
    /// Friction in all hose of one line.
    hose_psi: f64,
    /// Loss in all appliances of one line.
    appliances_psi: f64,
    /// Taken by the rise; less than nothing for a fall.
    elevation_psi: f64,
    /// The pump pressure the line asks. Less than nothing where a fall alone gives the nozzle more than it needs.
    pump_psi: f64,
    /// What is to be gated off at its discharge, so that it has no more than it asks.
    gated_psi: f64,
    /// What is weak about its hose and appliances, and what the pump puts over their marking, by `part_index`.
    findings: Vec<FindingNote>,
}

/// The pump pressure that attack lines ask
///
/// Nozzle, hose, appliances and rise of each line; what the pump must make for all of them; and where that is over a marking. Nothing is stored.
#[utoipa::path(post, path = "/v1/attack-lines", tag = "pump-panel",
    request_body(content = AttackLinesAsk, description = "The lines off one pump"),
    responses((status = 200, description = "The pump pressures", body = AttackLinesAnswer)))]
pub(crate) async fn create_attack_lines(
    State(state): State<AppState>,
    Json(ask): Json<AttackLinesAsk>,
) -> Result<Json<AttackLinesAnswer>, Problem> {
    let inputs = state.store.lay_inputs(&ask.refs(), state.clock.today()).await?;
    let mut faults = Faults::of_body();
    let answer = ask.answer(&inputs, &mut faults);
    faults.finish(answer).map(Json)
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(create_attack_lines))
}

/// A line as the hydraulics take it.
struct Line {
    streams: StreamsInUse,
    parts: Vec<BranchPart>,
    asked: PumpPressure,
}

impl AttackLinesAsk {
    fn refs(&self) -> LayRefs {
        let mut refs = LayRefs::default();
        self.lines.iter().flat_map(|line| &line.parts).for_each(|part| collect(part, &mut refs));
        refs
    }

    fn answer(&self, inputs: &LayInputs, faults: &mut Faults) -> Option<AttackLinesAnswer> {
        let convert = |faults: &mut Faults, at: &str, line: &AttackLineAsk| line.line(at, inputs, faults);
        let lines = faults.list("/lines", &self.lines, MAX_STREAMS, convert)?;
        let streams: Vec<_> = lines.iter().map(|line| line.streams).collect();
        let total = total("/lines", &streams, faults)?;
        Some(AttackLinesAnswer::new(&lines, total))
    }
}

impl AttackLineAsk {
    fn line(&self, at: &str, inputs: &LayInputs, faults: &mut Faults) -> Option<Line> {
        let streams = self.stream.streams(&format!("{at}/stream"), faults);
        let rise = faults.good(&format!("{at}/rise_ft"), Rise::from_ft(self.rise_ft.unwrap_or(0.0)));
        let parts_at = format!("{at}/parts");
        if self.parts.len() > MAX_PARTS {
            return faults.add(&parts_at, "out_of_bounds", format!("must hold at most {MAX_PARTS} items"));
        }
        let parts = branch(&parts_at, &self.parts, inputs, faults)?.parts;
        Some(Line::new(streams?, parts, rise?))
    }
}

impl Line {
    fn new(streams: StreamsInUse, parts: Vec<BranchPart>, rise: Rise) -> Self {
        let (mut hoses, mut appliances) = (Vec::new(), Vec::new());
        for part in &parts {
            match part {
                BranchPart::Hose(hose) => hoses.push(*hose),
                BranchPart::Appliance(appliance) => appliances.push(appliance.loss),
            }
        }
        let line = AttackLine { stream: streams.stream, hoses: &hoses, appliances: &appliances, rise };
        let asked = line.pump_pressure();
        Self { streams, parts, asked }
    }

    fn answer(&self, pump_psi: f64) -> AttackLineAnswer {
        let findings = line_findings(&self.parts, pump_psi, self.asked.elevation_psi);
        AttackLineAnswer {
            stream: StreamFlow::from(&self.streams),
            hose_psi: self.asked.hose_psi,
            appliances_psi: self.asked.appliances_psi,
            elevation_psi: self.asked.elevation_psi,
            pump_psi: self.asked.pump_psi,
            gated_psi: pump_psi - self.asked.pump_psi,
            findings: findings.iter().map(FindingNote::from).collect(),
        }
    }
}

impl AttackLinesAnswer {
    fn new(lines: &[Line], total: PositiveFlow) -> Self {
        let asked: Vec<_> = lines.iter().map(|line| line.asked).collect();
        let pump_discharge_psi = pump_must_make_psi(&asked);
        let gated = asked.iter().any(|line| line.pump_psi < pump_discharge_psi).then_some(Caution::GatedLine);
        Self {
            total_flow_gpm: total.gpm(),
            pump_discharge_psi,
            lines: lines.iter().map(|line| line.answer(pump_discharge_psi)).collect(),
            cautions: gated.into_iter().chain(ALWAYS).map(CautionNote::from).collect(),
            basis: streams::BASIS.into_iter().chain(BASIS).map(BasisFormula::from).collect(),
        }
    }
}
