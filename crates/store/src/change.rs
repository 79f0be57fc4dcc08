//! Who changes something, when, and on what condition: the last argument of every method that writes.

use chrono::{DateTime, Utc};
use longlay_records::author::Author;

use crate::replay::Replay;

/// A change to be made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// When.
    pub at: DateTime<Utc>,
    /// By whom.
    pub author: Author,
    /// The request it came with, if it came with one.
    pub request_id: Option<String>,
    /// What must stand for it to be made. Tests and drills are only ever added to: for them it says nothing.
    pub condition: Condition,
    /// The answer to keep with it, and to give again to the same request.
    pub replay: Option<Replay>,
}

impl Change {
    /// A change on no condition, which came with no request.
    pub const fn by(author: Author, at: DateTime<Utc>) -> Self {
        Self { at, author, request_id: None, condition: Condition::Any, replay: None }
    }

    /// The same change, on a condition.
    #[must_use]
    pub fn on(self, condition: Condition) -> Self {
        Self { condition, ..self }
    }

    /// The same change, with the answer to keep.
    #[must_use]
    pub fn answered(self, replay: Option<Replay>) -> Self {
        Self { replay, ..self }
    }
}

/// What must stand under an id for a record to be written there or retired. Looked at inside the write's own transaction.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Condition {
    /// Anything or nothing.
    Any,
    /// Nothing was said: nothing is overwritten unseen, but what is not there yet may be made.
    Unsaid,
    /// No live record.
    Absent,
    /// A live record, at whatever version.
    Present,
    /// A live record at this version.
    Version(u64),
    /// A live record at one of these versions. None of them is a condition that never holds.
    OneOf(Vec<u64>),
}

/// Why a condition does not hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unmet {
    /// It must be said which version is meant.
    Needed,
    /// Something else stands there.
    Failed,
}

impl Condition {
    /// Whether it holds for a live record at this version, or for none.
    pub(crate) fn holds(&self, live: Option<u64>) -> Result<(), Unmet> {
        let holds = match (self, live) {
            (Self::Unsaid, Some(_)) => return Err(Unmet::Needed),
            (Self::Any, _) | (Self::Unsaid | Self::Absent, None) | (Self::Present, Some(_)) => true,
            (Self::Version(wanted), Some(version)) => *wanted == version,
            (Self::OneOf(wanted), Some(version)) => wanted.contains(&version),
            (Self::Absent, Some(_)) | (Self::Present | Self::Version(_) | Self::OneOf(_), None) => false,
        };
        if holds { Ok(()) } else { Err(Unmet::Failed) }
    }
}

/// What a put did, with the version at which the record now stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Put {
    /// No live record had the id.
    Created(u64),
    /// The record was replaced.
    Replaced(u64),
}

impl Put {
    /// The version at which the record now stands.
    pub const fn version(self) -> u64 {
        match self {
            Self::Created(version) | Self::Replaced(version) => version,
        }
    }
}

/// Something read, with the version at which its record stands: both out of one state of the database.
#[derive(Debug, Clone, PartialEq)]
pub struct Versioned<T> {
    /// The version.
    pub version: u64,
    /// What was read.
    pub read: T,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_condition_holds_for_what_it_names_and_for_nothing_else() {
        let (ok, needed, failed) = (Ok(()), Err(Unmet::Needed), Err(Unmet::Failed));
        for (condition, none, at_2) in [
            (Condition::Any, ok, ok),
            (Condition::Unsaid, ok, needed),
            (Condition::Absent, ok, failed),
            (Condition::Present, failed, ok),
            (Condition::Version(2), failed, ok),
            (Condition::Version(1), failed, failed),
            (Condition::OneOf(vec![1, 2]), failed, ok),
            (Condition::OneOf(vec![1, 3]), failed, failed),
            (Condition::OneOf(Vec::new()), failed, failed),
        ] {
            assert_eq!((condition.holds(None), condition.holds(Some(2))), (none, at_2), "{condition:?}");
        }
    }
}
