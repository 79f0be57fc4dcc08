//! The lay answer as it goes out over HTTP.

use longlay_hydraulics::lay;
use serde::Serialize;
use utoipa::ToSchema;

use crate::advice::{BasisFormula, CautionNote, FindingNote, FlowBand, Uncertainty};
use crate::lay::coefficients::CoefficientUsed;
use crate::lay::line::{Diagnosis, LimitFlow, LimitName, LineAnswer};
use crate::lay::readings::{BudgetLine, Gauge, PumperReading};
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
    /// The longest lay that carries the flow wanted by the figures as read, all else as given; absent where none does. It has no band: whether the flow
    /// may be planned on over the real length is decided by `planning_flow_gpm` there.
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
        lines
            .push("  caution        A planning answer. Gauges at the pump govern; local procedures decide.".to_owned());
        lines.join("\n")
    }
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
