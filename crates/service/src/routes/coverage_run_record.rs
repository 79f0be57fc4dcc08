//! A coverage run as it goes out.

use chrono::{DateTime, Utc};
use longlay_hydraulics::caution::ALWAYS;
use longlay_store::{CoverageRun, RunState, StoreError};
use serde::Serialize;
use serde::de::DeserializeOwned;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::advice::CautionNote;
use crate::coverage::fingerprint::Fingerprint;
use crate::coverage::runner::Come;
use crate::coverage::settings::CoverageSettings;
use crate::coverage::summary::CoverageSummary;
use crate::problem::Problem;

/// A coverage run.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CoverageRunRecord {
    /// Its id.
    id: Uuid,
    /// When it was asked for.
    requested_at: DateTime<Utc>,
    /// Who asked: the name of the key.
    requested_by: String,
    /// What was asked, with every default filled in.
    settings: CoverageSettings,
    /// How it stands.
    status: RunStatus,
    /// How far it has come; null once it has ended.
    #[schema(required = true)]
    progress: Option<RunProgress>,
    /// When its turn came; null before.
    #[schema(required = true)]
    started_at: Option<DateTime<Utc>>,
    /// When it ended; null before.
    #[schema(required = true)]
    ended_at: Option<DateTime<Utc>>,
    /// Why it failed; null where it did not.
    #[schema(required = true)]
    failure: Option<String>,
    /// Of what data it was worked; null where it did not come to its end.
    #[schema(required = true)]
    fingerprint: Option<Fingerprint>,
    /// What it came to; null where it did not come to its end.
    #[schema(required = true)]
    summary: Option<CoverageSummary>,
    /// What the people must know.
    cautions: Vec<CautionNote>,
}

/// How a run stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum RunStatus {
    /// It waits for its turn: runs are worked off one after another.
    Queued,
    /// It is being worked off.
    Running,
    /// It came to its end.
    Done,
    /// It was called off. Nothing of it is kept.
    Cancelled,
    /// It could not be worked off. Nothing of it is kept.
    Failed,
}

/// How far a run has come.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub(crate) struct RunProgress {
    /// What it is at: `streets`, `snap`, `reach`, `judge`, `remedies`, `keep`, in this order.
    phase: &'static str,
    /// Items of that done.
    done_count: u64,
    /// Of how many; 0 where that is not known.
    total_count: u64,
}

impl From<Come> for RunProgress {
    fn from(come: Come) -> Self {
        Self { phase: come.phase, done_count: come.done as u64, total_count: come.total as u64 }
    }
}

impl CoverageRunRecord {
    /// A run as kept, with how far it has come if it is still worked on.
    pub(crate) fn new(run: CoverageRun, come: Option<Come>) -> Result<Self, Problem> {
        let (status, failure) = match run.state {
            RunState::Queued => (RunStatus::Queued, None),
            RunState::Running => (RunStatus::Running, None),
            RunState::Done => (RunStatus::Done, None),
            RunState::Cancelled => (RunStatus::Cancelled, None),
            RunState::Failed(failure) => (RunStatus::Failed, Some(failure)),
        };
        let has_ended = !matches!(status, RunStatus::Queued | RunStatus::Running);
        Ok(Self {
            id: run.id,
            requested_at: run.requested_at,
            requested_by: run.author,
            settings: kept(run.id, &run.settings)?,
            status,
            progress: come.filter(|_| !has_ended).map(RunProgress::from),
            started_at: run.started_at,
            ended_at: run.ended_at,
            failure,
            fingerprint: run.fingerprint.map(|text| kept(run.id, &text)).transpose()?,
            summary: run.summary.map(|text| kept(run.id, &text)).transpose()?,
            cautions: ALWAYS.into_iter().map(CautionNote::from).collect(),
        })
    }
}

/// JSON as the service kept it.
pub(crate) fn kept<T: DeserializeOwned>(id: Uuid, text: &str) -> Result<T, Problem> {
    serde_json::from_str(text).map_err(|error| StoreError::Corrupt(format!("coverage_runs {id}: {error}")).into())
}
