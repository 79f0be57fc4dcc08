//! What a run came to, in counts.

use longlay_coverage::cause::CauseCode;
use longlay_coverage::finding::{Finding, FindingKind};
use longlay_coverage::outcome::Outcome;
use longlay_coverage::run::Joined;
use longlay_coverage::summary::{Shortfall, Summary};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::coverage::causes::{CauseCounts, CauseName, CausePercents};
use crate::coverage::inputs::{Inputs, Point};

/// Most demand points of a worst list.
const WORST: usize = 20;
/// Most of a district's.
const WORST_OF_A_DISTRICT: usize = 5;

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
    /// What share of them each cause has; null where there are none.
    #[schema(required = true)]
    cause_percents: Option<CausePercents>,
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
    /// What share of them each cause has.
    #[schema(required = true)]
    cause_percents: Option<CausePercents>,
    /// The demand points in it that are most short, the worst first.
    #[serde(default)]
    #[schema(required = true)]
    worst: Vec<WorstPoint>,
    /// Share of those with a need that are covered, one way or another; null where none has a need.
    #[schema(required = true)]
    covered_percent: Option<f64>,
    /// How much is missing where something is; null where nothing is.
    #[schema(required = true)]
    shortfall: Option<ShortfallSpread>,
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
pub(crate) fn summary(inputs: &Inputs, outcomes: &[Outcome], joined: Joined, findings: &[Finding]) -> CoverageSummary {
    let count = |counted: usize| counted as u64;
    let districts = (0_u32..).zip(&inputs.district_ids).map(|(index, id)| {
        let inside = inputs.points.iter().zip(outcomes).filter(|(point, _)| point.districts.contains(&index));
        let (points, outcomes): (Vec<_>, Vec<_>) = inside.map(|(point, outcome)| (point, *outcome)).unzip();
        let AreaSummary { demand_point_count, causes, cause_percents, covered_percent, shortfall } =
            AreaSummary::from(&Summary::of(&outcomes));
        let worst = worst(&points, &outcomes, WORST_OF_A_DISTRICT);
        DistrictSummary {
            district_id: id.to_string(),
            demand_point_count,
            causes,
            cause_percents,
            worst,
            covered_percent,
            shortfall,
        }
    });
    CoverageSummary {
        joined: match joined {
            Joined::AlongStreets => JoinedName::AlongStreets,
            Joined::Straight => JoinedName::StraightLine,
        },
        all: AreaSummary::from(&Summary::of(outcomes)),
        districts: districts.filter(|district| district.demand_point_count > 0).collect(),
        worst: worst(&inputs.points.iter().collect::<Vec<_>>(), outcomes, WORST),
        ground_unknown_count: count(outcomes.iter().filter(|outcome| outcome.ground_unknown).count()),
        hydrant_count: count(inputs.hydrants.len()),
        untested_hydrant_count: count(inputs.hydrants.iter().filter(|hydrant| hydrant.source.is_none()).count()),
        out_of_service_hydrant_count: count(inputs.hydrants.iter().filter(|hydrant| !hydrant.in_service).count()),
        findings: findings.iter().map(|finding| told(inputs, finding)).collect(),
    }
}

impl From<&Summary> for AreaSummary {
    fn from(summary: &Summary) -> Self {
        let count = |of: fn(CauseCode) -> bool| -> u64 {
            CauseCode::ALL.into_iter().filter(|code| of(*code)).map(|code| summary.count(code) as u64).sum()
        };
        let (covered, gaps) = (count(CauseCode::is_covered), count(CauseCode::is_gap));
        Self {
            demand_point_count: summary.places as u64,
            causes: CauseCounts::of(summary),
            cause_percents: CausePercents::of(summary),
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

fn worst(points: &[&Point], outcomes: &[Outcome], most: usize) -> Vec<WorstPoint> {
    let told = |place: usize| {
        let (point, outcome) = (points.get(place)?, outcomes.get(place)?);
        let (demand_point_id, cause) = (point.id.to_string(), outcome.cause.code.into());
        Some(WorstPoint { demand_point_id, cause, shortfall_gpm: outcome.shortfall_gpm? })
    };
    longlay_coverage::summary::worst(outcomes, most).into_iter().filter_map(told).collect()
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

#[cfg(test)]
mod tests {
    use super::*;

    /// As it was kept before districts had shares and a worst list.
    #[test]
    fn a_summary_that_an_earlier_version_kept_is_read() {
        let causes = serde_json::to_value(CauseCounts::default()).unwrap();
        let area = serde_json::json!({
            "district_id": "north", "demand_point_count": 0, "causes": causes, "covered_percent": null, "shortfall": null,
        });
        let kept = serde_json::json!({
            "joined": "along_streets", "all": area, "districts": [area], "worst": [], "ground_unknown_count": 0,
            "hydrant_count": 0, "untested_hydrant_count": 0, "out_of_service_hydrant_count": 0, "findings": [],
        });
        let summary: CoverageSummary = serde_json::from_value(kept).unwrap();
        assert!(summary.districts[0].worst.is_empty() && summary.districts[0].cause_percents.is_none());
    }
}
