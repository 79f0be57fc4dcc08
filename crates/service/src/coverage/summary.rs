//! What a run came to, in counts.

use longlay_coverage::cause::CauseCode;
use longlay_coverage::finding::{Finding, FindingKind};
use longlay_coverage::outcome::Outcome;
use longlay_coverage::run::Joined;
use longlay_coverage::summary::{Shortfall, Summary};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::coverage::inputs::Inputs;
use crate::coverage::work::Worked;

/// Most demand points of a worst list.
const WORST: usize = 20;

/// What a run came to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub(crate) struct CoverageSummary {
    /// How demand points and hydrants were joined.
    joined: JoinedName,
    /// All demand points that were looked at.
    all: AreaSummary,
    /// Those of each district; districts may overlap.
    districts: Vec<DistrictSummary>,
    /// The demand points that are most short, the worst first.
    worst: Vec<WorstPoint>,
    /// Demand points where some ground was not known: the rise is left out there and the band is wider.
    ground_unknown_count: u64,
    /// Live hydrants.
    hydrant_count: u64,
    /// Those of them on which no usable test bears: no data, which is not no water.
    untested_hydrant_count: u64,
    /// Those of them that are out of service.
    out_of_service_hydrant_count: u64,
    /// What was wrong with the data and was left out.
    findings: Vec<CoverageFinding>,
}

/// How demand points and hydrants were joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum JoinedName {
    /// Along the streets.
    AlongStreets,
    /// Straight, times the detour factor, because no streets were imported: railways, rivers and walls between are not seen.
    StraightLine,
}

/// What came out for the demand points of an area.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub(crate) struct AreaSummary {
    /// How many there are.
    demand_point_count: u64,
    /// How many of each cause.
    causes: CauseCounts,
    /// Share of those with a need that are covered with what the department has, one way or another; null where none has a need.
    #[schema(required = true)]
    covered_percent: Option<f64>,
    /// How much is missing where something is; null where nothing is.
    #[schema(required = true)]
    shortfall: Option<ShortfallSpread>,
}

/// A district.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub(crate) struct DistrictSummary {
    /// Which.
    district_id: String,
    /// How many demand points lie in it.
    demand_point_count: u64,
    /// How many of each cause.
    causes: CauseCounts,
    /// Share of those with a need that are covered, one way or another; null where none has a need.
    #[schema(required = true)]
    covered_percent: Option<f64>,
    /// How much is missing where something is; null where nothing is.
    #[schema(required = true)]
    shortfall: Option<ShortfallSpread>,
}

/// How many demand points have each cause.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub(crate) struct CauseCounts {
    /// One hydrant alone brings the need.
    covered: u64,
    /// One hydrant does with the pumper.
    covered_if_boosted: u64,
    /// Two hydrants together do.
    covered_if_combined: u64,
    /// A hydrant that is out of service would.
    out_of_service: u64,
    /// A main has it and the hose does not let it through.
    friction: u64,
    /// A hydrant past the hose carried would.
    beyond_hose: u64,
    /// A main has it, and the pumper does not bring it.
    pumper: u64,
    /// A hydrant within reach was not tested, and nothing known brings it.
    untested: u64,
    /// Every hydrant within reach is tested, and none has it.
    water: u64,
    /// No hydrant as far as is searched.
    no_hydrant: u64,
    /// The need is not known.
    no_need_given: u64,
    /// It lies on no street.
    not_on_streets: u64,
}

/// How shortfalls are spread over the demand points that are short.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub(crate) struct ShortfallSpread {
    /// How many are short.
    short_count: u64,
    /// One in ten is short by no more than this.
    tenth_gpm: f64,
    /// Half of them are short by no more than this.
    median_gpm: f64,
    /// Nine in ten are short by no more than this.
    ninth_tenth_gpm: f64,
    /// The most that one is short.
    most_gpm: f64,
}

/// A demand point that is short.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub(crate) struct WorstPoint {
    /// Which.
    demand_point_id: String,
    /// Why.
    cause: CauseName,
    /// What is missing.
    shortfall_gpm: f64,
}

/// Something wrong with the data.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub(crate) struct CoverageFinding {
    /// What.
    code: String,
    /// How often.
    count: u64,
    /// The first that has it: a street, a demand point or a hydrant.
    first_id: String,
}

/// Why a demand point is covered, or is not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum CauseName {
    /// One hydrant alone brings the need at the low end of its band.
    Covered,
    /// One hydrant does with the pumper.
    CoveredIfBoosted,
    /// Two hydrants together do, on their own pressure or with a second pumper.
    CoveredIfCombined,
    /// A hydrant that is out of service would.
    OutOfService,
    /// A main has it and the hose does not let it through: a second line or bigger hose.
    Friction,
    /// A hydrant past the hose carried would do it, if there were hose.
    BeyondHose,
    /// A main has it, and no hose brings it past the pumper: a bigger or a second pumper.
    Pumper,
    /// Nothing that is known brings it, and a hydrant within reach was not tested.
    Untested,
    /// Every hydrant within reach is tested, and none has it.
    Water,
    /// There is no hydrant as far as is searched.
    NoHydrant,
    /// It is not known what the place needs.
    NoNeedGiven,
    /// The place lies on no street.
    NotOnStreets,
}

impl From<CauseCode> for CauseName {
    fn from(code: CauseCode) -> Self {
        match code {
            CauseCode::Covered => Self::Covered,
            CauseCode::CoveredIfBoosted => Self::CoveredIfBoosted,
            CauseCode::CoveredIfCombined => Self::CoveredIfCombined,
            CauseCode::OutOfService => Self::OutOfService,
            CauseCode::Friction => Self::Friction,
            CauseCode::BeyondHose => Self::BeyondHose,
            CauseCode::Pumper => Self::Pumper,
            CauseCode::Untested => Self::Untested,
            CauseCode::Water => Self::Water,
            CauseCode::NoHydrant => Self::NoHydrant,
            CauseCode::NoNeedGiven => Self::NoNeedGiven,
            CauseCode::NotOnStreets => Self::NotOnStreets,
        }
    }
}

impl CauseCounts {
    const fn of(&mut self, code: CauseCode) -> &mut u64 {
        match code {
            CauseCode::Covered => &mut self.covered,
            CauseCode::CoveredIfBoosted => &mut self.covered_if_boosted,
            CauseCode::CoveredIfCombined => &mut self.covered_if_combined,
            CauseCode::OutOfService => &mut self.out_of_service,
            CauseCode::Friction => &mut self.friction,
            CauseCode::BeyondHose => &mut self.beyond_hose,
            CauseCode::Pumper => &mut self.pumper,
            CauseCode::Untested => &mut self.untested,
            CauseCode::Water => &mut self.water,
            CauseCode::NoHydrant => &mut self.no_hydrant,
            CauseCode::NoNeedGiven => &mut self.no_need_given,
            CauseCode::NotOnStreets => &mut self.not_on_streets,
        }
    }

    /// Each with its code, in the order of the causes.
    pub(crate) const fn each(&self) -> [(&'static str, u64); 12] {
        [
            ("covered", self.covered),
            ("covered_if_boosted", self.covered_if_boosted),
            ("covered_if_combined", self.covered_if_combined),
            ("out_of_service", self.out_of_service),
            ("friction", self.friction),
            ("beyond_hose", self.beyond_hose),
            ("pumper", self.pumper),
            ("untested", self.untested),
            ("water", self.water),
            ("no_hydrant", self.no_hydrant),
            ("no_need_given", self.no_need_given),
            ("not_on_streets", self.not_on_streets),
        ]
    }
}

impl CoverageSummary {
    /// All demand points by cause.
    pub(crate) const fn causes(&self) -> &CauseCounts {
        &self.all.causes
    }

    /// Share of the demand points with a need that are covered.
    pub(crate) const fn covered_percent(&self) -> Option<f64> {
        self.all.covered_percent
    }

    /// How demand points and hydrants were joined.
    pub(crate) const fn joined(&self) -> JoinedName {
        self.joined
    }

    /// What was wrong with the data, a line each.
    pub(crate) fn told_findings(&self) -> impl Iterator<Item = String> {
        self.findings.iter().map(|finding| {
            let CoverageFinding { code, count, first_id } = finding;
            format!("{code}: {count}, first at {first_id}")
        })
    }
}

/// What a run came to.
pub(crate) fn summary(worked: &Worked) -> CoverageSummary {
    let Worked { inputs, outcomes, joined, findings, remedies: _ } = worked;
    let count = |counted: usize| counted as u64;
    let districts = (0_u32..).zip(&inputs.district_ids).map(|(index, id)| {
        let inside = inputs.points.iter().zip(outcomes).filter(|(point, _)| point.districts.contains(&index));
        let AreaSummary { demand_point_count, causes, covered_percent, shortfall } =
            area(inside.map(|(_, outcome)| outcome));
        DistrictSummary { district_id: id.to_string(), demand_point_count, causes, covered_percent, shortfall }
    });
    CoverageSummary {
        joined: match joined {
            Joined::AlongStreets => JoinedName::AlongStreets,
            Joined::Straight => JoinedName::StraightLine,
        },
        all: area(outcomes.iter()),
        districts: districts.filter(|district| district.demand_point_count > 0).collect(),
        worst: worst(inputs, outcomes),
        ground_unknown_count: count(outcomes.iter().filter(|outcome| outcome.ground_unknown).count()),
        hydrant_count: count(inputs.hydrants.len()),
        untested_hydrant_count: count(inputs.hydrants.iter().filter(|hydrant| hydrant.source.is_none()).count()),
        out_of_service_hydrant_count: count(inputs.hydrants.iter().filter(|hydrant| !hydrant.in_service).count()),
        findings: findings.iter().map(|finding| told(inputs, finding)).collect(),
    }
}

fn area<'a>(outcomes: impl Iterator<Item = &'a Outcome>) -> AreaSummary {
    AreaSummary::from(&Summary::of(outcomes))
}

impl From<&Summary> for AreaSummary {
    fn from(summary: &Summary) -> Self {
        let count = |of: fn(CauseCode) -> bool| -> u64 {
            CauseCode::ALL.into_iter().filter(|code| of(*code)).map(|code| summary.count(code) as u64).sum()
        };
        let (covered, gaps) = (count(CauseCode::is_covered), count(CauseCode::is_gap));
        let mut causes = CauseCounts::default();
        for code in CauseCode::ALL {
            *causes.of(code) = summary.count(code) as u64;
        }
        Self {
            demand_point_count: summary.places as u64,
            causes,
            covered_percent: percent(covered, covered + gaps),
            shortfall: summary.shortfall.as_ref().map(ShortfallSpread::from),
        }
    }
}

/// A share; none of nothing.
#[expect(clippy::cast_precision_loss, reason = "counts of places are far under 2^52")]
fn percent(part: u64, whole: u64) -> Option<f64> {
    (whole > 0).then(|| 100.0 * part as f64 / whole as f64)
}

impl From<&Shortfall> for ShortfallSpread {
    fn from(shortfall: &Shortfall) -> Self {
        // A tenth, a quarter, the half, three quarters, nine tenths.
        let [tenth_gpm, _, median_gpm, _, ninth_tenth_gpm] = shortfall.quantiles_gpm;
        Self {
            short_count: shortfall.places as u64,
            tenth_gpm,
            median_gpm,
            ninth_tenth_gpm,
            most_gpm: shortfall.most_gpm,
        }
    }
}

fn worst(inputs: &Inputs, outcomes: &[Outcome]) -> Vec<WorstPoint> {
    let told = |place: usize| {
        let (point, outcome) = (inputs.points.get(place)?, outcomes.get(place)?);
        let (demand_point_id, cause) = (point.id.to_string(), outcome.cause.code.into());
        Some(WorstPoint { demand_point_id, cause, shortfall_gpm: outcome.shortfall_gpm? })
    };
    longlay_coverage::summary::worst(outcomes, WORST).into_iter().filter_map(told).collect()
}

fn told(inputs: &Inputs, finding: &Finding) -> CoverageFinding {
    let first = match finding.kind {
        FindingKind::PointNotFinite | FindingKind::ZeroLength | FindingKind::Duplicate | FindingKind::CutAtBarrier => {
            inputs.street_ids.get(finding.first).cloned()
        }
        FindingKind::PlaceNotFinite | FindingKind::NeedNotUsable | FindingKind::PlaceGroundNotUsable => {
            inputs.points.get(finding.first).map(|point| point.id.to_string())
        }
        FindingKind::HydrantNotFinite | FindingKind::HydrantGroundNotUsable | FindingKind::HydrantNotOnStreets => {
            inputs.hydrant_ids.get(finding.first).map(ToString::to_string)
        }
    };
    CoverageFinding {
        code: finding.kind.code().to_owned(),
        count: finding.count as u64,
        first_id: first.unwrap_or_default(),
    }
}
