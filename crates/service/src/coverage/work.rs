//! A run worked off: pure computation, off every request's thread.

use longlay_coverage::finding::TooMany;
use longlay_coverage::outcome::Outcome;
use longlay_coverage::remedies::{Question, Remedies};
use longlay_coverage::run::{NoRun, Served};
use longlay_coverage::threads::{Cancelled, Progress};
use longlay_hydraulics::lay::LayError;
use longlay_hydraulics::lay::many::ManyLays;
use longlay_store::StoreError;
use thiserror::Error;

use crate::coverage::department::Department;
use crate::coverage::inputs::{Gathered, Inputs};
use crate::coverage::remedies::CoverageRemedies;
use crate::coverage::summary::{CoverageSummary, summary};

/// What came out.
pub(crate) struct Worked {
    pub(crate) inputs: Inputs,
    pub(crate) outcomes: Vec<Outcome>,
    /// What it came to.
    pub(crate) summary: CoverageSummary,
    /// What would close gaps; none where that was not asked.
    pub(crate) remedies: Option<CoverageRemedies>,
}

/// Why a run came to nothing.
#[derive(Debug, Clone, Error)]
pub(crate) enum Undone {
    #[error("called off")]
    Cancelled,
    #[error("{0}")]
    Lay(#[from] LayError),
    #[error("{0}")]
    Store(#[from] StoreError),
    #[error("{0}")]
    TooMany(#[from] TooMany),
    #[error("{0}")]
    Run(NoRun),
}

impl From<NoRun> for Undone {
    fn from(none: NoRun) -> Self {
        match none {
            NoRun::Cancelled(Cancelled) => Self::Cancelled,
            NoRun::TooMany(many) => Self::TooMany(many),
            other => Self::Run(other),
        }
    }
}

/// Works a run off.
pub(crate) fn worked(gathered: Gathered, threads: usize, progress: &Progress) -> Result<Worked, Undone> {
    let inputs = gathered.prepared()?;
    let many = ManyLays::new(inputs.lay.clone())?;
    let served =
        Served::new(&inputs.streets, &inputs.places, &inputs.hydrants, inputs.settings.rule(), threads, progress)?;
    let outcomes = served.judge(&many, &inputs.hydrants, threads, progress)?;
    let findings: Vec<_> = inputs.streets.findings().iter().chain(served.findings()).copied().collect();
    let joined = served.joined();
    let valve = match inputs.department.as_ref().and_then(Department::with_valve) {
        Some((id, many)) => Some((id, served.judge(&many, &inputs.hydrants, threads, &progress.within())?)),
        None => None,
    };
    let remedies = match &inputs.department {
        Some(department) => {
            let question = question(&inputs, department, &many, threads);
            let found = Remedies::find(&question, served, &outcomes, progress)?;
            Some(CoverageRemedies::new(&inputs, department, &found, valve))
        }
        None => None,
    };
    let summary = summary(&inputs, &outcomes, joined, &findings);
    Ok(Worked { inputs, outcomes, summary, remedies })
}

fn question<'a>(inputs: &'a Inputs, department: &'a Department, many: &'a ManyLays, threads: usize) -> Question<'a> {
    Question {
        streets: &inputs.streets,
        places: &inputs.places,
        hydrants: &inputs.hydrants,
        many,
        lays: department,
        most: usize::from(inputs.settings.remedies),
        threads,
    }
}
