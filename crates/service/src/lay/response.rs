//! The lay answer as it goes out over HTTP.

use longlay_hydraulics::lay;
use longlay_hydraulics::needed_flow::Delivered;
use longlay_hydraulics::spread::LEVEL;
use serde::Serialize;
use utoipa::ToSchema;

use crate::advice::{BasisFormula, CautionNote, FindingNote, FlowBand, Uncertainty};
use crate::lay::coefficients::CoefficientUsed;
use crate::lay::track_record::TrackRecord;
use crate::streams::StreamTotals;

/// The answer: flows, limits, diagnosis, working, findings and cautions. A planning answer: gauges at the pump govern.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LayAnswer {
    /// The most that arrives at the scene, by the figures as read. With a pumper, the boosted flow.
    deliverable_flow_gpm: f64,
    /// The low end of its band rounded down for planning: to 10 gpm under 500, else to 25.
    planning_flow_gpm: f64,
    /// How far the deliverable flow may be off. Plan by the low end.
    band_gpm: FlowBand,
    /// Which reading or coefficient makes that band, the one that matters most first: what to measure next.
    uncertainties: Vec<Uncertainty>,
    /// What binds.
    limited_by: LimitName,
    /// Every limit, flow ascending, those that never bind last. The first binds; the second would be met next.
    limits: Vec<LimitFlow>,
    /// What the main gives at its floor; where its test showed no drop, what the test proves and no more.
    main_limit_gpm: f64,
    /// How far that may be off.
    main_limit_band_gpm: FlowBand,
    /// Is it friction or is it water: of the hydrant alone, or of a lay with pumpers written in, as written.
    pub(crate) diagnosis: Diagnosis,
    /// The hydrant alone, every pumper taken out.
    pub(crate) unboosted: LineAnswer,
    /// With the pumper; never less than unboosted, unless pumpers are written into the lay.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) boosted: Option<LineAnswer>,
    /// Boosted less unboosted.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    boost_gain_gpm: Option<f64>,
    /// How far the gain may be off; a figure under nothing is a loss.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    boost_gain_band_gpm: Option<FlowBand>,
    /// The lay at the flow wanted.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    at_target: Option<AtTarget>,
    /// What the streams wanted flow, where streams are.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) streams: Option<StreamTotals>,
    /// Pressure taken by each part, main to scene, at the deliverable flow. Less than nothing for a fall or a pumper.
    pressure_budget: Vec<BudgetLine>,
    /// Pumper discharge at which the hydrant valve changes over while the unboosted flow runs.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    change_over_discharge_psi: Option<f64>,
    /// What the pumper's intake reads when the main is at its floor. Absent where it would be under nothing, so that the intake's own floor is met long
    /// before; and where the test showed no drop.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    intake_at_main_floor_psi: Option<f64>,
    /// What the gauges read at the deliverable flow.
    gauges: Vec<Gauge>,
    /// Scene intake with nothing flowing.
    scene_intake_no_flow_psi: f64,
    /// The longest lay that carries the flow wanted, all else as given; absent where none does.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    longest_lay_ft: Option<f64>,
    /// Filling the dry line; absent where a diameter is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    fill: Option<Fill>,
    /// The flow test behind the answer, for a stored hydrant.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) flow_test: Option<crate::advice::TestRef>,
    /// What drills with this equipment made of the service's predictions; absent where there is none. The answer is not corrected for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) track_record: Option<TrackRecord>,
    /// What is weak about the data.
    pub(crate) findings: Vec<FindingNote>,
    /// What the people must know.
    pub(crate) cautions: Vec<CautionNote>,
    /// Which figure was used for each part, and where it comes from.
    pub(crate) coefficients: Vec<CoefficientUsed>,
    /// The formulas used.
    pub(crate) basis: Vec<BasisFormula>,
}

impl LayAnswer {
    /// The heart of the answer, a few lines for a terminal.
    pub(crate) fn in_words(&self) -> String {
        let mut lines = vec![format!("  hydrant alone  {}", self.unboosted.in_words())];
        lines.extend(self.boosted.as_ref().map(|boosted| format!("  with a pumper  {}", boosted.in_words())));
        if let Some(pumper) = self.at_target.as_ref().and_then(|at| at.pumpers.first()) {
            lines.push(format!(
                "  at the target  pumper intake {:.0} psi, discharge {:.0} psi",
                pumper.intake_psi.floor(),
                pumper.discharge_psi.ceil()
            ));
        }
        lines.push(format!("  diagnosis      {}", self.diagnosis.message));
        lines.join("\n")
    }
}

impl LineAnswer {
    /// What to judge a needed flow by. No band is known: the low end is the figure.
    pub(crate) const fn delivered(&self, doubted: bool) -> Delivered {
        Delivered { nominal_gpm: self.deliverable_flow_gpm, low_gpm: self.band_gpm.low, doubted }
    }

    fn in_words(&self) -> String {
        format!("plan on {:.0} gpm; then {}", self.planning_flow_gpm, self.limited_by.words())
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
    message: String,
    /// What helps, by code, first things first.
    remedies: Vec<&'static str>,
    /// Whether it would be another somewhere inside the bands.
    in_doubt: bool,
}

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

/// The lay at the flow wanted.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AtTarget {
    /// Whether it arrives.
    met: bool,
    /// Whether it arrives at the low end of the band too: what may be planned on.
    met_at_low_end: bool,
    /// How much is missing.
    shortfall_gpm: f64,
    /// What the pumpers must do; empty where it does not arrive.
    pumpers: Vec<PumperReading>,
    /// What the gauges read; empty where it does not arrive.
    gauges: Vec<Gauge>,
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

/// One pumper's gauges.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PumperReading {
    /// Which: `pumper_1` is nearest the hydrant.
    station: String,
    /// At its discharge.
    discharge_psi: f64,
    /// At its intake.
    intake_psi: f64,
    /// What it adds.
    net_psi: f64,
}

/// One gauge.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Gauge {
    /// Where: `main`, `hydrant`, `pumper_1_intake`, `pumper_1_discharge`, ..., `scene`.
    station: String,
    /// Hose laid from the hydrant to there.
    distance_ft: f64,
    /// Height above the hydrant's ground.
    elevation_ft: f64,
    /// What it reads.
    pressure_psi: f64,
}

/// One line of the pressure budget.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BudgetLine {
    /// What takes the pressure.
    part: &'static str,
    /// Its place in the lay, counted from 0, where it is written there.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    part_index: Option<usize>,
    /// How much.
    loss_psi: f64,
}

/// Filling the dry line.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Fill {
    /// Water that fills it.
    volume_gal: f64,
    /// Time to fill it.
    duration_s: f64,
    /// The flow it is filled at.
    at_gpm: f64,
    /// Time the tank lasts at the attack flow. Longer than `duration_s` is not the same as safe.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    tank_duration_s: Option<f64>,
}

impl From<lay::LayAnswer> for LayAnswer {
    fn from(answer: lay::LayAnswer) -> Self {
        let chosen = answer.answer();
        Self {
            deliverable_flow_gpm: chosen.deliverable_gpm,
            planning_flow_gpm: lay::planning_gpm(chosen.band.low),
            band_gpm: (&chosen.band).into(),
            uncertainties: Uncertainty::of(&chosen.band),
            limited_by: answer.limited_by().limit.into(),
            limits: chosen.limits.iter().map(LimitFlow::from).collect(),
            main_limit_gpm: answer.main_limit_gpm,
            main_limit_band_gpm: (&answer.main_band).into(),
            diagnosis: (&answer.diagnosis).into(),
            at_target: answer.at_target.as_ref().map(AtTarget::from),
            streams: None,
            pressure_budget: chosen.budget.iter().map(BudgetLine::from).collect(),
            change_over_discharge_psi: answer.change_over_psi,
            intake_at_main_floor_psi: answer.intake_at_main_floor_psi,
            gauges: chosen.gauges.iter().map(Gauge::from).collect(),
            scene_intake_no_flow_psi: chosen.scene_no_flow_psi,
            boost_gain_gpm: answer.gain_gpm,
            boost_gain_band_gpm: answer.gain_band.as_ref().map(FlowBand::from),
            longest_lay_ft: answer.longest_lay_ft,
            fill: answer.fill.map(Fill::from),
            flow_test: None,
            track_record: None,
            coefficients: Vec::new(),
            findings: answer.findings.iter().map(FindingNote::from).collect(),
            cautions: answer.cautions.iter().copied().map(CautionNote::from).collect(),
            basis: answer.basis.iter().copied().map(BasisFormula::from).collect(),
            unboosted: (&answer.unboosted).into(),
            boosted: answer.boosted.as_ref().map(LineAnswer::from),
        }
    }
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

impl From<&lay::LimitFlow> for LimitFlow {
    fn from(limit: &lay::LimitFlow) -> Self {
        Self { limit: limit.limit.into(), station: limit.station.to_string(), flow_gpm: limit.flow_gpm }
    }
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

impl From<&lay::AtTarget> for AtTarget {
    fn from(at: &lay::AtTarget) -> Self {
        Self {
            met: at.met,
            met_at_low_end: at.met_at_low_end,
            shortfall_gpm: at.shortfall_gpm,
            pumpers: at.pumpers.iter().map(PumperReading::from).collect(),
            gauges: at.gauges.iter().map(Gauge::from).collect(),
        }
    }
}

impl From<&lay::PumperReading> for PumperReading {
    fn from(reading: &lay::PumperReading) -> Self {
        Self {
            station: format!("pumper_{}", reading.number),
            discharge_psi: reading.discharge_psi,
            intake_psi: reading.intake_psi,
            net_psi: reading.net_psi,
        }
    }
}

impl From<&lay::Gauge> for Gauge {
    fn from(gauge: &lay::Gauge) -> Self {
        Self {
            station: gauge.station.to_string(),
            distance_ft: gauge.distance_ft,
            elevation_ft: gauge.elevation_ft,
            pressure_psi: gauge.pressure_psi,
        }
    }
}

impl From<&lay::BudgetLine> for BudgetLine {
    fn from(line: &lay::BudgetLine) -> Self {
        Self { part: line.part.kind.code(), part_index: line.part.index, loss_psi: line.loss_psi }
    }
}

impl From<lay::Fill> for Fill {
    fn from(fill: lay::Fill) -> Self {
        Self {
            volume_gal: fill.gallons,
            duration_s: fill.seconds,
            at_gpm: fill.at_gpm,
            tank_duration_s: fill.tank_seconds,
        }
    }
}
