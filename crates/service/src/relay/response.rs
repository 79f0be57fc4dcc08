//! The relay answer as it goes out over HTTP.

use longlay_hydraulics::lay::planning_gpm;
use longlay_hydraulics::relay::{self, HeldBy, Method, RelayProblem};
use serde::Serialize;
use utoipa::ToSchema;

use crate::advice::{BasisFormula, CautionNote, FindingNote, TestRef};

/// The answer: where each pumper stands, what its gauges read, what the whole would carry. A planning answer: gauges at the pumps govern.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RelayAnswer {
    /// Whether the relay carries the flow wanted.
    carried: bool,
    /// Why it does not.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    hindrance: Option<RelayHindrance>,
    /// The flow wanted.
    target_flow_gpm: f64,
    /// Pumpers needed, the one at the source and the attack pumper among them; absent where the flow is not carried.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pumpers_needed: Option<usize>,
    /// The pumpers, source first; where the flow is not carried, those that were placed.
    pumpers: Vec<RelayPumperAnswer>,
    /// What the whole does; absent where the flow is not carried.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    relay: Option<RelayWhole>,
    /// What everyone discharges, by the constant-pressure method.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    constant_discharge_psi: Option<f64>,
    /// The flow test behind the answer, for a stored hydrant.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(super) flow_test: Option<TestRef>,
    /// What is weak about the data and the plan.
    pub(super) findings: Vec<FindingNote>,
    /// What the people must know.
    pub(super) cautions: Vec<CautionNote>,
    /// The formulas used.
    basis: Vec<BasisFormula>,
}

/// Why the relay does not carry the flow wanted.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RelayHindrance {
    /// Stable code: `source_too_weak`, `lift_not_attainable`, `lift_unknown`, `pumper_too_small`, `reaches_nowhere`, `pumpers_run_out`,
    /// `discharge_over_ceiling`, `net_too_small`, `intake_under_floor`.
    code: &'static str,
    /// What it says, with its numbers.
    message: String,
    /// The pumper it is about, counted from 1 at the source; the attack pumper comes after the last.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pumper: Option<usize>,
}

/// What holds a pumper's discharge where it is.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum RelayHold {
    /// It adds all it has at this flow.
    NetPressure,
    /// The hose it feeds.
    HoseRating,
    /// The department's ceiling.
    MaxDischarge,
    /// No more is needed.
    Need,
}

/// One pumper at the flow wanted.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RelayPumperAnswer {
    /// Which: `pumper_1` stands at the source.
    station: String,
    /// Where it stands, from the source.
    at_ft: f64,
    /// Hose from it to the next, or to the scene.
    stretch_ft: f64,
    /// At its intake; under nothing at draft.
    intake_psi: f64,
    /// Whether its intake is at its floor or above. Absent at draft.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    intake_floor_met: Option<bool>,
    /// At its discharge.
    discharge_psi: f64,
    /// What holds that.
    held_by: RelayHold,
    /// What it adds.
    net_psi: f64,
    /// What it could still add at this flow.
    spare_psi: f64,
    /// The most it carries here.
    capacity_gpm: f64,
}

/// What the whole relay does.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RelayWhole {
    /// At the attack pumper's intake.
    scene_intake_psi: f64,
    /// How much more hose on level ground the last pumper would fill.
    hose_to_spare_ft: f64,
    /// The pumper with the least to spare; the first among equals.
    weakest: String,
    /// The most that arrives with the pumpers in these places, exact.
    most_flow_gpm: f64,
    /// The low end of its 90 % band.
    low_flow_gpm: f64,
    /// That low end rounded down for planning: to 10 gpm under 500, else to 25.
    planning_flow_gpm: f64,
    /// What binds then: `main_floor`, `pumper_intake`, `hose_rating`, `pumper_capacity`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    limited_by: Option<&'static str>,
    /// Where: `main`, `pumper_1_intake`, `pumper_1_discharge`, ...
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    limited_at: Option<String>,
}

impl RelayAnswer {
    pub(super) fn of(problem: &RelayProblem, answer: &relay::RelayAnswer) -> Self {
        let whole = answer.outcome.as_ref().ok();
        Self {
            carried: whole.is_some(),
            hindrance: answer.outcome.as_ref().err().map(RelayHindrance::from),
            target_flow_gpm: problem.flow.gpm(),
            pumpers_needed: whole.map(|whole| whole.pumpers_needed),
            pumpers: answer.pumpers.iter().map(RelayPumperAnswer::from).collect(),
            relay: whole.map(RelayWhole::from),
            constant_discharge_psi: match answer.method {
                Method::MaximumDistance => None,
                Method::ConstantPressure(psi) => Some(psi),
            },
            flow_test: None,
            findings: answer.findings.iter().map(FindingNote::from).collect(),
            cautions: answer.cautions.iter().copied().map(CautionNote::from).collect(),
            basis: answer.basis.iter().copied().map(BasisFormula::from).collect(),
        }
    }
}

impl From<&relay::NoRelay> for RelayHindrance {
    fn from(why: &relay::NoRelay) -> Self {
        Self { code: why.code(), message: why.to_string(), pumper: why.number() }
    }
}

impl From<HeldBy> for RelayHold {
    fn from(held: HeldBy) -> Self {
        match held {
            HeldBy::NetPressure => Self::NetPressure,
            HeldBy::HoseRating => Self::HoseRating,
            HeldBy::MaxDischarge => Self::MaxDischarge,
            HeldBy::Need => Self::Need,
        }
    }
}

impl From<&relay::RelayPumper> for RelayPumperAnswer {
    fn from(pumper: &relay::RelayPumper) -> Self {
        Self {
            station: format!("pumper_{}", pumper.number),
            at_ft: pumper.at_ft,
            stretch_ft: pumper.stretch_ft,
            intake_psi: pumper.intake_psi,
            intake_floor_met: pumper.intake_floor_psi.map(|_| pumper.floor_met()),
            discharge_psi: pumper.discharge_psi,
            held_by: pumper.held_by.into(),
            net_psi: pumper.net_psi,
            spare_psi: pumper.spare_psi(),
            capacity_gpm: pumper.capacity_gpm,
        }
    }
}

impl From<&relay::Carried> for RelayWhole {
    fn from(whole: &relay::Carried) -> Self {
        Self {
            scene_intake_psi: whole.scene_psi,
            hose_to_spare_ft: whole.hose_to_spare_ft,
            weakest: format!("pumper_{}", whole.weakest),
            most_flow_gpm: whole.most_gpm,
            low_flow_gpm: whole.low_gpm,
            planning_flow_gpm: planning_gpm(whole.low_gpm),
            limited_by: whole.most_limited_by.map(|limit| limit.limit.code()),
            limited_at: whole.most_limited_by.map(|limit| limit.station.to_string()),
        }
    }
}
