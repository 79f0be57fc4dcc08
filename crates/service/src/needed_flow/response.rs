//! A needed flow as it goes out over HTTP.

use longlay_hydraulics::caution::ALWAYS;
use longlay_hydraulics::finding::FindingCode;
use longlay_hydraulics::formula;
use longlay_hydraulics::needed_flow::{self, DOUBTS_A_BOOST, DOUBTS_ANY, verdict};
use serde::Serialize;
use utoipa::ToSchema;

use crate::advice::{BasisFormula, CautionNote};
use crate::lay::{Diagnosis, LayAnswer};
use crate::needed_flow::build::Found;
use crate::needed_flow::request::{EditionName, MethodName, NeededFlowAsk};

/// What a building asks for by one method, and whether the lay brings it. A planning answer: local procedures decide.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct NeededFlowAnswer {
    /// The method asked for.
    method: MethodName,
    /// Its edition, where it has some.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    edition: Option<EditionName>,
    /// The needed flow; by NFPA 1142 the rate to deliver the supply at.
    needed_flow_gpm: f64,
    /// The least supply to bring, by NFPA 1142.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    supply_gal: Option<f64>,
    /// How long it has to run; null where the method does not say.
    #[schema(required = true)]
    duration_min: Option<f64>,
    /// The water that takes; null where the duration is not known.
    #[schema(required = true)]
    volume_gal: Option<f64>,
    /// How it came about, in order.
    working: Vec<WorkingStep>,
    /// Whether the lay brings it, where one was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    supply: Option<SupplyAnswer>,
    /// Where the method does not hold, what in it is doubtful, and what the people must know.
    cautions: Vec<CautionNote>,
    /// The formulas used.
    basis: Vec<BasisFormula>,
}

/// One intermediate value.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct WorkingStep {
    /// Its name.
    name: &'static str,
    /// What it came to.
    value: f64,
    /// Its unit.
    unit: &'static str,
}

/// Whether the lay brings the needed flow.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SupplyAnswer {
    /// In a word.
    verdict: VerdictName,
    /// Codes of the lay's findings that forbid to count on its figures, so that it is in doubt what they reach.
    doubted_by: Vec<&'static str>,
    /// The most that arrives. With a pumper, the boosted flow.
    deliverable_flow_gpm: f64,
    /// The most that the hydrant alone brings.
    unboosted_flow_gpm: f64,
    /// What is missing at the low end of what arrives.
    shortfall_gpm: f64,
    /// Is it friction or is it water, of the hydrant alone, or of a lay with pumpers written in, as written.
    diagnosis: Diagnosis,
    /// The whole answer for the lay, with the needed flow as the flow wanted.
    lay: LayAnswer,
}

/// Whether a needed flow arrives: by the low end, and never surer than the data.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum VerdictName {
    /// The hydrant alone brings it, at the low end too.
    Met,
    /// With the pumpers of the lay it arrives, at the low end too.
    MetIfBoosted,
    /// The figure reaches it, but its low end does not, or a finding forbids to count on it.
    InDoubt,
    /// It does not arrive.
    Short,
}

impl NeededFlowAnswer {
    /// What was found, and what the lay answered.
    pub(super) fn new(ask: &NeededFlowAsk, found: Found, lay: Option<LayAnswer>) -> Self {
        let timed = found.duration.map(|_| &formula::FLOW_DURATION);
        let judged = lay.as_ref().map(|_| &formula::NEEDED_FLOW_VERDICT);
        let of_method = found.cautions.into_iter().map(CautionNote::from);
        Self {
            method: ask.method,
            edition: ask.edition,
            needed_flow_gpm: found.gpm,
            supply_gal: found.supply_gal,
            duration_min: found.duration.map(|duration| duration.minutes),
            volume_gal: found.duration.map(|duration| duration.volume_gal),
            working: found.working.iter().map(WorkingStep::from).collect(),
            supply: lay.map(|lay| SupplyAnswer::new(found.gpm, lay)),
            cautions: of_method.chain(ALWAYS.map(CautionNote::from)).collect(),
            basis: [found.formula].into_iter().chain(timed).chain(judged).map(BasisFormula::from).collect(),
        }
    }
}

impl SupplyAnswer {
    fn new(need_gpm: f64, lay: LayAnswer) -> Self {
        let doubts = |codes: &[FindingCode]| -> Vec<_> {
            let found = |code: &&'static str| lay.findings.iter().any(|finding| finding.code == *code);
            codes.iter().map(|code| code.code()).filter(found).collect()
        };
        let (any, of_boost) = (doubts(&DOUBTS_ANY), doubts(&DOUBTS_A_BOOST));
        let alone = lay.unboosted.delivered(!any.is_empty());
        let boosted = lay.boosted.as_ref().map(|line| line.delivered(!any.is_empty() || !of_boost.is_empty()));
        let best = boosted.unwrap_or(alone);
        Self {
            verdict: verdict(need_gpm, alone, boosted).into(),
            doubted_by: any.into_iter().chain(of_boost).collect(),
            deliverable_flow_gpm: best.nominal_gpm,
            unboosted_flow_gpm: alone.nominal_gpm,
            shortfall_gpm: best.shortfall_gpm(need_gpm),
            diagnosis: lay.diagnosis.clone(),
            lay,
        }
    }
}

impl From<&needed_flow::Step> for WorkingStep {
    fn from(step: &needed_flow::Step) -> Self {
        Self { name: step.name, value: step.value, unit: step.unit }
    }
}

impl From<needed_flow::Verdict> for VerdictName {
    fn from(verdict: needed_flow::Verdict) -> Self {
        match verdict {
            needed_flow::Verdict::Met => Self::Met,
            needed_flow::Verdict::MetIfBoosted => Self::MetIfBoosted,
            needed_flow::Verdict::InDoubt => Self::InDoubt,
            needed_flow::Verdict::Short => Self::Short,
        }
    }
}
