//! What is brought in, and what came of it.

use longlay_records::demand::DemandPoint;
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::flow_test::FlowTest;
use longlay_records::hydrant::Hydrant;
use longlay_records::id::AssetId;
use thiserror::Error;
use uuid::Uuid;

use super::notices::{Notice, Terms};
use crate::error::RecordKind;
use crate::replay::Answer;

/// A flow test on its way in.
#[derive(Debug, Clone, PartialEq)]
pub struct ArrivingTest {
    /// The test.
    pub test: FlowTest,
    /// Whether it came with its id. One that did not is known again by its readings.
    pub is_named: bool,
}

/// Records of one kind, in the order they came. No two may share an id.
#[derive(Debug, Clone, PartialEq)]
pub enum Batch {
    /// Hydrants.
    Hydrants(Vec<Hydrant>),
    /// Flow tests.
    FlowTests(Vec<ArrivingTest>),
    /// Kinds of hose.
    HoseTypes(Vec<HoseType>),
    /// Kinds of appliance.
    Appliances(Vec<ApplianceType>),
    /// Kinds of hydrant valve.
    HydrantValves(Vec<HydrantValveType>),
    /// Pumpers.
    Pumpers(Vec<Pumper>),
    /// Standard lays.
    LayProfiles(Vec<LayProfile>),
    /// Demand points.
    DemandPoints(Vec<DemandPoint>),
}

impl Batch {
    /// The kind of its records.
    pub const fn kind(&self) -> RecordKind {
        match self {
            Self::Hydrants(_) => RecordKind::Hydrant,
            Self::FlowTests(_) => RecordKind::FlowTest,
            Self::HoseTypes(_) => RecordKind::HoseType,
            Self::Appliances(_) => RecordKind::Appliance,
            Self::HydrantValves(_) => RecordKind::HydrantValve,
            Self::Pumpers(_) => RecordKind::Pumper,
            Self::LayProfiles(_) => RecordKind::LayProfile,
            Self::DemandPoints(_) => RecordKind::DemandPoint,
        }
    }
}

/// An import to be made.
#[derive(Debug, Clone, Copy)]
pub struct Import<'a> {
    /// The records.
    pub batch: &'a Batch,
    /// What was said to be meant.
    pub terms: Terms,
    /// SHA-256 of the file they came in, for the audit.
    pub sha256: [u8; 32],
    /// What a look at these records said before. It stands where nothing was written since, and else they are judged again.
    pub looked: Option<&'a Looked>,
}

/// What is to be done with a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Verdict {
    Create,
    Replace,
    Leave,
    Skip,
    Refuse(Vec<Refusal>),
}

/// What is to be done with each record of a batch, and what should be known of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Judged {
    pub(super) verdicts: Vec<Verdict>,
    /// Each with the index of its record.
    pub(super) notices: Vec<(usize, Notice)>,
}

/// What an import would do.
#[derive(Debug, Clone, PartialEq)]
pub struct Looked {
    /// In numbers.
    pub imported: Imported,
    /// For each record.
    pub(super) judged: Judged,
    /// The audit's last entry when it was looked at: every write makes one.
    pub(super) as_of_seq: u64,
}

/// What came of an import, or would come of it. Indices count the records of the batch from 0.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Imported {
    /// Records that are new, or were retired and came back.
    pub created: u64,
    /// Records that stand in place of another.
    pub replaced: u64,
    /// Records that stand already as they came.
    pub unchanged: u64,
    /// Tests that were recorded before.
    pub skipped: Vec<usize>,
    /// What may not be brought in. Where there is any, nothing was.
    pub refused: Vec<(usize, Refusal)>,
    /// What should be known of what it does.
    pub notices: Vec<(usize, Notice)>,
}

impl Imported {
    /// The sum of what is to be done.
    pub(super) fn of(judged: &Judged) -> Self {
        let mut imported = Self { notices: judged.notices.clone(), ..Self::default() };
        for (index, verdict) in judged.verdicts.iter().enumerate() {
            match verdict {
                Verdict::Create => imported.created += 1,
                Verdict::Replace => imported.replaced += 1,
                Verdict::Leave => imported.unchanged += 1,
                Verdict::Skip => imported.skipped.push(index),
                Verdict::Refuse(why) => imported.refused.extend(why.iter().map(|why| (index, why.clone()))),
            }
        }
        imported
    }
}

/// An import made now, or before.
#[derive(Debug, Clone, PartialEq)]
pub enum ImportRecorded {
    /// Now.
    Now(Imported),
    /// The same request was answered before: nothing was done.
    Before(Answer),
}

/// Why a record may not be brought in.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Refusal {
    /// It refers to a record that does not exist or is retired.
    #[error("there is no {0} {1}")]
    UnknownReference(RecordKind, String),
    /// It would stand in place of one that came with the program.
    #[error("the {0} {1} came with the program and cannot be changed; keep your own under another id")]
    ReadOnly(RecordKind, String),
    /// A test of its id is recorded with other content.
    #[error("the flow test {0} is recorded with other content, and a test is never edited")]
    TestDiffers(Uuid),
    /// The test is recorded and stands; the file says that it was voided.
    #[error("the flow test {0} is recorded and not voided; void it in the records, then bring the file in")]
    TestNotVoided(Uuid),
    /// It would put a hydrant back in service, and nobody said that this is meant.
    #[error("the hydrant {0} is out of service{reason} and would be put back in service", reason = because(.1.as_deref()))]
    ReturnsToService(AssetId, Option<String>),
}

/// Why it is out of service, as it is told behind that.
fn because(reason: Option<&str>) -> String {
    reason.map(|reason| format!(" ({reason})")).unwrap_or_default()
}
