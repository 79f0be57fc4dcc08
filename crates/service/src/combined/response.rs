//! The answer of several lines as it goes out over HTTP.

use std::sync::Arc;

use longlay_hydraulics::finding::{Finding, FindingCode};
use longlay_hydraulics::lay::combined::{
    CombinedAnswer, CombinedAtTarget, HydrantMain, LineReading, LineSupply, Mains,
};
use longlay_hydraulics::lay::planning_gpm;
use longlay_records::hydrant::Hydrant;
use longlay_records::supply::Supply;
use serde::Serialize;
use utoipa::ToSchema;

use crate::advice::{BasisFormula, CautionNote, FindingNote, FlowBand, TestRef, Uncertainty};
use crate::lay::{Diagnosis, Gauge, LimitName, PumperReading, record_cautions};

/// What the records say of a line's hydrant.
pub(super) struct RecordedLine {
    pub(super) hydrant: Option<Hydrant>,
    pub(super) supply: Option<Arc<Supply>>,
    /// The source is given as numbers, without a loss for the hydrant's body.
    pub(super) no_body_loss: bool,
}

/// What all lines bring together. A planning answer: gauges at the pump govern.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CombinedSupply {
    /// The most that arrives over all lines, by the figures as read.
    total_flow_gpm: f64,
    /// The low end of its band rounded down for planning.
    planning_flow_gpm: f64,
    /// How far the total may be off. Plan by the low end.
    band_gpm: FlowBand,
    /// Which reading or coefficient makes that band, the one that matters most first.
    uncertainties: Vec<Uncertainty>,
    /// The total if every hydrant stood on a main of its own, where the mains are not known: an upper end, not to be planned on.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    upper_flow_gpm: Option<f64>,
    /// The most that arrives over the best line by itself.
    best_single_flow_gpm: f64,
    /// What all bring over the best by itself.
    gain_gpm: f64,
    /// How the mains were counted.
    mains: MainsCounted,
    /// What the mains give at their floors, all together, for the lines that are open.
    main_limit_gpm: f64,
    /// How far that may be off.
    main_limit_band_gpm: FlowBand,
    /// Is it friction or is it water.
    diagnosis: Diagnosis,
    /// Line by line.
    lines: Vec<CombinedLineAnswer>,
    /// The main at each hydrant with all lines flowing.
    hydrants: Vec<HydrantReading>,
    /// The supply at the flow wanted.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    at_target: Option<CombinedTarget>,
    /// What is weak about the whole; what is weak about a line stands with it.
    findings: Vec<FindingNote>,
    /// What the people must know.
    cautions: Vec<CautionNote>,
    /// The formulas used.
    basis: Vec<BasisFormula>,
}

/// How the mains were counted, and who says so.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct MainsCounted {
    /// As one main, or each hydrant on its own.
    counted: MainsRule,
    /// Who says so.
    from: MainsFrom,
}

/// How mains are counted.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum MainsRule {
    /// As one.
    Shared,
    /// Each hydrant on its own.
    Separate,
}

/// Who says how the mains stand.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum MainsFrom {
    /// The question.
    Given,
    /// The hydrants' records.
    Record,
    /// Nobody: counted as one.
    NotKnown,
}

/// One line's part.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CombinedLineAnswer {
    /// The line that first leaves the same hydrant, counted from 0.
    hydrant_of_line: usize,
    /// Whether it is open; false where all lines bring less with it than without: leave it shut.
    open: bool,
    /// What it carries with all lines flowing.
    flow_gpm: f64,
    /// What it would carry as the only one.
    alone_flow_gpm: f64,
    /// What all bring with it over what they bring without it.
    adds_gpm: f64,
    /// What holds it.
    limited_by: LimitName,
    /// Where.
    limited_at: String,
    /// What its pumpers do.
    pumpers: Vec<PumperReading>,
    /// What its gauges read.
    gauges: Vec<Gauge>,
    /// The flow test behind it, for a stored hydrant.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    flow_test: Option<TestRef>,
    /// What is weak about its data.
    findings: Vec<FindingNote>,
}

/// The main at a hydrant.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HydrantReading {
    /// The line that first leaves it, counted from 0.
    hydrant_of_line: usize,
    /// Its number, for a stored one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    hydrant_id: Option<String>,
    /// What it gives.
    hydrant_flow_gpm: f64,
    /// What all hydrants draw that are counted as on its main.
    main_flow_gpm: f64,
    /// What is left in the main there.
    residual_psi: f64,
}

/// The supply at the flow wanted.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CombinedTarget {
    /// Whether it arrives.
    met: bool,
    /// Whether it arrives at the low end of the band too.
    met_at_low_end: bool,
    /// How much is missing.
    shortfall_gpm: f64,
    /// The lines then; empty where it does not arrive.
    lines: Vec<LineAtTarget>,
}

/// One line at the flow wanted.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LineAtTarget {
    /// What it carries.
    flow_gpm: f64,
    /// What its pumpers do.
    pumpers: Vec<PumperReading>,
    /// What its gauges read.
    gauges: Vec<Gauge>,
}

impl CombinedSupply {
    pub(super) fn new(answer: &CombinedAnswer, recorded: &[RecordedLine], (mains, from): (Mains, MainsFrom)) -> Self {
        let of_records = recorded.iter().filter_map(|line| line.hydrant.as_ref()).flat_map(record_cautions);
        let mut cautions: Vec<_> = of_records.chain(answer.cautions.iter().copied()).collect();
        let mut seen = Vec::new();
        cautions.retain(|caution| {
            !seen.contains(caution) && {
                seen.push(*caution);
                true
            }
        });
        let counted = if mains == Mains::Separate { MainsRule::Separate } else { MainsRule::Shared };
        Self {
            total_flow_gpm: answer.total_gpm,
            planning_flow_gpm: planning_gpm(answer.total_band.low),
            band_gpm: (&answer.total_band).into(),
            uncertainties: Uncertainty::of(&answer.total_band),
            upper_flow_gpm: answer.upper_gpm,
            best_single_flow_gpm: answer.best_single_gpm,
            gain_gpm: answer.gain_gpm,
            mains: MainsCounted { counted, from },
            main_limit_gpm: answer.main_limit_gpm,
            main_limit_band_gpm: (&answer.main_band).into(),
            diagnosis: (&answer.diagnosis).into(),
            lines: answer.lines.iter().zip(recorded).map(|(line, of)| CombinedLineAnswer::new(line, of)).collect(),
            hydrants: answer.mains.iter().map(|main| HydrantReading::new(main, recorded)).collect(),
            at_target: answer.at_target.as_ref().map(CombinedTarget::from),
            findings: answer.findings.iter().map(FindingNote::from).collect(),
            cautions: cautions.into_iter().map(CautionNote::from).collect(),
            basis: answer.basis.iter().copied().map(BasisFormula::from).collect(),
        }
    }
}

impl CombinedLineAnswer {
    fn new(line: &LineSupply, recorded: &RecordedLine) -> Self {
        let known: Vec<_> = line.findings.iter().map(|finding| finding.code).collect();
        let of_record = recorded.supply.iter().flat_map(|supply| &supply.findings);
        let left_out = recorded.no_body_loss.then_some(Finding::plain(FindingCode::NoBodyLoss));
        let more = of_record.filter(|finding| !known.contains(&finding.code)).chain(&left_out);
        Self {
            hydrant_of_line: line.hydrant,
            open: line.open,
            flow_gpm: line.reading.flow_gpm,
            alone_flow_gpm: line.alone_gpm,
            adds_gpm: line.adds_gpm,
            limited_by: line.limited_by.limit.into(),
            limited_at: line.limited_by.station.to_string(),
            pumpers: line.reading.pumpers.iter().map(PumperReading::from).collect(),
            gauges: line.reading.gauges.iter().map(Gauge::from).collect(),
            flow_test: recorded.supply.as_deref().map(TestRef::from),
            findings: line.findings.iter().chain(more).map(FindingNote::from).collect(),
        }
    }
}

impl HydrantReading {
    fn new(main: &HydrantMain, recorded: &[RecordedLine]) -> Self {
        let hydrant = recorded.get(main.hydrant).and_then(|line| line.hydrant.as_ref());
        Self {
            hydrant_of_line: main.hydrant,
            hydrant_id: hydrant.map(|hydrant| hydrant.id.to_string()),
            hydrant_flow_gpm: main.hydrant_gpm,
            main_flow_gpm: main.main_gpm,
            residual_psi: main.residual_psi,
        }
    }
}

impl From<&CombinedAtTarget> for CombinedTarget {
    fn from(at: &CombinedAtTarget) -> Self {
        Self {
            met: at.met,
            met_at_low_end: at.met_at_low_end,
            shortfall_gpm: at.shortfall_gpm,
            lines: at.lines.iter().map(LineAtTarget::from).collect(),
        }
    }
}

impl From<&LineReading> for LineAtTarget {
    fn from(line: &LineReading) -> Self {
        Self {
            flow_gpm: line.flow_gpm,
            pumpers: line.pumpers.iter().map(PumperReading::from).collect(),
            gauges: line.gauges.iter().map(Gauge::from).collect(),
        }
    }
}
