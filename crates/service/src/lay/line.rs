//! One working of the lay as it goes out: what it delivers, what holds it, and what that means.

use longlay_hydraulics::lay;
use longlay_hydraulics::needed_flow::Delivered;
use longlay_hydraulics::spread::LEVEL;
use serde::Serialize;
use utoipa::ToSchema;

use crate::advice::FlowBand;
use crate::lay::readings::{BudgetLine, Gauge, PumperReading};

/// One working of the lay at the flow it delivers.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LineAnswer {
    /// The most that arrives.
    deliverable_flow_gpm: f64,
    /// The low end of its band rounded down for planning.
    planning_flow_gpm: f64,
    /// How far the deliverable flow may be off.
    band_gpm: FlowBand,
    /// How far the intake's reading may be off.
    intake: IntakeBand,
    /// What binds.
    limited_by: LimitName,
    /// Every limit, flow ascending, those that never bind last.
    limits: Vec<LimitFlow>,
    /// What stands between the crew and the water.
    diagnosis: Diagnosis,
    /// What the pumpers do.
    pumpers: Vec<PumperReading>,
    /// What the gauges read.
    gauges: Vec<Gauge>,
    /// Pressure taken by each part.
    pressure_budget: Vec<BudgetLine>,
    /// Scene intake with nothing flowing.
    scene_intake_no_flow_psi: f64,
}

impl LineAnswer {
    /// What to judge a needed flow by. No band is known: the low end is the figure.
    pub(crate) const fn delivered(&self, doubted: bool) -> Delivered {
        Delivered { nominal_gpm: self.deliverable_flow_gpm, low_gpm: self.band_gpm.low, doubted }
    }

    pub(super) fn in_words(&self) -> String {
        format!("plan on {:.0} gpm; then {}", self.planning_flow_gpm, self.limited_by.words())
    }
}

impl From<&lay::LineAnswer> for LineAnswer {
    fn from(line: &lay::LineAnswer) -> Self {
        Self {
            deliverable_flow_gpm: line.deliverable_gpm,
            planning_flow_gpm: lay::planning_gpm(line.band.low),
            band_gpm: (&line.band).into(),
            intake: (&line.intake).into(),
            limited_by: line.limited_by.limit.into(),
            limits: line.limits.iter().map(LimitFlow::from).collect(),
            diagnosis: (&line.diagnosis).into(),
            pumpers: line.pumpers.iter().map(PumperReading::from).collect(),
            gauges: line.gauges.iter().map(Gauge::from).collect(),
            pressure_budget: line.budget.iter().map(BudgetLine::from).collect(),
            scene_intake_no_flow_psi: line.scene_no_flow_psi,
        }
    }
}

/// How far an intake's reading may be off.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct IntakeBand {
    /// Where: `scene`, or `pumper_1_intake` with a pumper.
    station: String,
    /// The flow it is read at: the one wanted where it arrives, else the deliverable flow.
    at_gpm: f64,
    /// What it reads.
    pressure_psi: f64,
    /// Under this once in twenty; under nothing the intake collapses.
    low_psi: f64,
    /// Over this once in twenty.
    high_psi: f64,
    /// The share of cases between.
    level: f64,
}

impl From<&lay::IntakeBand> for IntakeBand {
    fn from(intake: &lay::IntakeBand) -> Self {
        Self {
            station: intake.station.to_string(),
            at_gpm: intake.at_gpm,
            pressure_psi: intake.pressure_psi,
            low_psi: intake.low_psi,
            high_psi: intake.high_psi,
            level: LEVEL,
        }
    }
}

/// A limit's name.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum LimitName {
    /// The main is at its floor.
    MainFloor,
    /// The scene intake is at its floor, fed by the hydrant alone.
    SceneIntake,
    /// The first pumper's intake is at its floor.
    PumperIntake,
    /// A pumper's discharge is at the ceiling of the hose it feeds.
    HoseRating,
    /// A pumper is giving all it can.
    PumperCapacity,
}

impl LimitName {
    const fn words(self) -> &'static str {
        match self {
            Self::MainFloor => "the main is at its floor",
            Self::SceneIntake => "the scene pumper's intake is at its floor",
            Self::PumperIntake => "the pumper's intake is at its floor",
            Self::HoseRating => "the discharge is at the pressure ceiling of the hose",
            Self::PumperCapacity => "the pumper is giving all it can",
        }
    }
}

impl From<lay::Limit> for LimitName {
    fn from(limit: lay::Limit) -> Self {
        match limit {
            lay::Limit::MainFloor => Self::MainFloor,
            lay::Limit::SceneIntake => Self::SceneIntake,
            lay::Limit::PumperIntake => Self::PumperIntake,
            lay::Limit::HoseRating => Self::HoseRating,
            lay::Limit::PumperCapacity => Self::PumperCapacity,
        }
    }
}

/// A limit and the flow at which it is met.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LimitFlow {
    /// The limit.
    limit: LimitName,
    /// Where: `main`, `scene`, `pumper_1_intake`, `pumper_1_discharge`, ...
    station: String,
    /// The largest flow at which it holds; null if it never binds.
    #[schema(required = true)]
    flow_gpm: Option<f64>,
}

impl From<&lay::LimitFlow> for LimitFlow {
    fn from(limit: &lay::LimitFlow) -> Self {
        Self { limit: limit.limit.into(), station: limit.station.to_string(), flow_gpm: limit.flow_gpm }
    }
}

/// What stands between the crew and the water.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum DiagnosisName {
    /// The flow wanted arrives.
    Met,
    /// Losses in the lay: a pumper, a second line or bigger hose helps.
    Friction,
    /// The main: another source helps.
    Water,
    /// The main may or may not have more: its test showed no drop.
    Unproved,
    /// The pumper's suction side.
    Suction,
    /// The hose's pressure marking.
    Hose,
    /// The pumper.
    Pumper,
}

/// A diagnosis.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct Diagnosis {
    /// Stable code.
    code: DiagnosisName,
    /// The flows that decided, in words.
    pub(super) message: String,
    /// What helps, by code, first things first.
    remedies: Vec<&'static str>,
    /// Whether it would be another somewhere inside the bands.
    in_doubt: bool,
}

impl From<&lay::Diagnosis> for Diagnosis {
    fn from(diagnosis: &lay::Diagnosis) -> Self {
        let code = match diagnosis.code {
            lay::DiagnosisCode::Met => DiagnosisName::Met,
            lay::DiagnosisCode::Friction => DiagnosisName::Friction,
            lay::DiagnosisCode::Water => DiagnosisName::Water,
            lay::DiagnosisCode::Unproved => DiagnosisName::Unproved,
            lay::DiagnosisCode::Suction => DiagnosisName::Suction,
            lay::DiagnosisCode::Hose => DiagnosisName::Hose,
            lay::DiagnosisCode::Pumper => DiagnosisName::Pumper,
        };
        let remedies = diagnosis.remedies.iter().map(|remedy| remedy.code()).collect();
        Self { code, message: diagnosis.message.clone(), remedies, in_doubt: diagnosis.in_doubt }
    }
}
