//! Voiding a test or a drill: it is kept, with the reason why it no longer counts.

use chrono::{DateTime, Utc};
use longlay_records::flow_test::Voided;
use longlay_store::{RecordKind, VoidOutcome};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::faults::{Faults, MAX_NOTE_CHARS};
use crate::idempotency::Reply;
use crate::problem::{Problem, Slug};

/// Why a test or a drill no longer counts.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct VoidBody {
    /// The reason.
    #[schema(min_length = 1, max_length = 2000)]
    reason: String,
}

impl VoidBody {
    pub(crate) fn voided(&self, at: DateTime<Utc>) -> Result<Voided, Problem> {
        let mut faults = Faults::of_body();
        let reason = faults.text("/reason", &self.reason, MAX_NOTE_CHARS);
        faults.finish(reason.map(|reason| Voided { reason, at }))
    }
}

/// Why and when a test or a drill was voided.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct VoidedRecord {
    /// The reason.
    reason: String,
    /// When.
    at: DateTime<Utc>,
}

impl From<Voided> for VoidedRecord {
    fn from(voided: Voided) -> Self {
        Self { reason: voided.reason, at: voided.at }
    }
}

/// What goes out once something was to be voided.
pub(crate) fn voided_once(outcome: VoidOutcome, reply: Reply, kind: RecordKind, id: Uuid) -> Result<Reply, Problem> {
    match outcome {
        VoidOutcome::Voided => Ok(reply),
        VoidOutcome::Before(first) => Ok(Reply::again(first)),
        VoidOutcome::AlreadyVoided => {
            Err(Problem::new(Slug::AlreadyVoided, format!("{kind} {id} was voided before; the first reason stands")))
        }
        VoidOutcome::NotFound => Err(Problem::no_such(kind, id)),
    }
}
