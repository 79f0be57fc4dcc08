//! The causes as they go out, and how many demand points have each.

use longlay_coverage::cause::CauseCode;
use longlay_coverage::summary::Summary;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

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

/// What share of the demand points each cause has, percent.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub(crate) struct CausePercents {
    /// One hydrant alone brings the need.
    covered: f64,
    /// One hydrant does with the pumper.
    covered_if_boosted: f64,
    /// Two hydrants together do.
    covered_if_combined: f64,
    /// A hydrant that is out of service would.
    out_of_service: f64,
    /// A main has it and the hose does not let it through.
    friction: f64,
    /// A hydrant past the hose carried would.
    beyond_hose: f64,
    /// A main has it, and the pumper does not bring it.
    pumper: f64,
    /// A hydrant within reach was not tested, and nothing known brings it.
    untested: f64,
    /// Every hydrant within reach is tested, and none has it.
    water: f64,
    /// No hydrant as far as is searched.
    no_hydrant: f64,
    /// The need is not known.
    no_need_given: f64,
    /// It lies on no street.
    not_on_streets: f64,
}

impl CauseCounts {
    /// Of a summary.
    pub(crate) fn of(summary: &Summary) -> Self {
        let count = |code| summary.count(code) as u64;
        Self {
            covered: count(CauseCode::Covered),
            covered_if_boosted: count(CauseCode::CoveredIfBoosted),
            covered_if_combined: count(CauseCode::CoveredIfCombined),
            out_of_service: count(CauseCode::OutOfService),
            friction: count(CauseCode::Friction),
            beyond_hose: count(CauseCode::BeyondHose),
            pumper: count(CauseCode::Pumper),
            untested: count(CauseCode::Untested),
            water: count(CauseCode::Water),
            no_hydrant: count(CauseCode::NoHydrant),
            no_need_given: count(CauseCode::NoNeedGiven),
            not_on_streets: count(CauseCode::NotOnStreets),
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

impl CausePercents {
    /// Of a summary; none of no demand points.
    pub(crate) fn of(summary: &Summary) -> Option<Self> {
        let percent = |code| summary.share(code).map(|share| 100.0 * share);
        Some(Self {
            covered: percent(CauseCode::Covered)?,
            covered_if_boosted: percent(CauseCode::CoveredIfBoosted)?,
            covered_if_combined: percent(CauseCode::CoveredIfCombined)?,
            out_of_service: percent(CauseCode::OutOfService)?,
            friction: percent(CauseCode::Friction)?,
            beyond_hose: percent(CauseCode::BeyondHose)?,
            pumper: percent(CauseCode::Pumper)?,
            untested: percent(CauseCode::Untested)?,
            water: percent(CauseCode::Water)?,
            no_hydrant: percent(CauseCode::NoHydrant)?,
            no_need_given: percent(CauseCode::NoNeedGiven)?,
            not_on_streets: percent(CauseCode::NotOnStreets)?,
        })
    }
}
