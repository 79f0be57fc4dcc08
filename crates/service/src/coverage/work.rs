//! A run worked off: pure computation, off every request's thread.

use longlay_coverage::finding::{Finding, TooMany};
use longlay_coverage::outcome::Outcome;
use longlay_coverage::run::{Joined, NoRun, Served};
use longlay_coverage::threads::{Cancelled, Progress};
use longlay_hydraulics::lay::LayError;
use longlay_hydraulics::lay::many::ManyLays;
use longlay_store::StoreError;
use thiserror::Error;

use crate::coverage::inputs::{Gathered, Inputs};

/// What came out.
pub(crate) struct Worked {
    pub(crate) inputs: Inputs,
    pub(crate) outcomes: Vec<Outcome>,
    pub(crate) joined: Joined,
    /// What was wrong with the streets, and then with places and hydrants.
    pub(crate) findings: Vec<Finding>,
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
    let findings = inputs.streets.findings().iter().chain(served.findings()).copied().collect();
    let joined = served.joined();
    drop(served);
    Ok(Worked { inputs, outcomes, joined, findings })
}
