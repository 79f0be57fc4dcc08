//! A hydrant as the town holds it: what its row says, the tests gauged at it and those in which it flowed, and its supply once it was asked for.

use std::sync::{Arc, Mutex, PoisonError};

use chrono::NaiveDate;
use longlay_records::flow_test::FlowTest;
use longlay_records::hydrant::Hydrant;
use longlay_records::id::AssetId;
use longlay_records::supply::{NoSupply, Supply};
use uuid::Uuid;

use super::ordered::Keyed;
use crate::error::StoreError;

/// A record, or why its row is none. A damaged row harms no answer but those that it bears on.
pub(crate) type Read<T> = Result<Arc<T>, Box<StoreError>>;

/// A hydrant that stands, or stood until it was retired: its tests bear on others still.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Place {
    pub(crate) id: AssetId,
    pub(crate) main_id: Option<String>,
    pub(crate) retired: bool,
    pub(crate) hydrant: Read<Hydrant>,
    /// By ascending id.
    pub(crate) gauged: Vec<Gauged>,
    /// By ascending id.
    pub(crate) flowed: Vec<Gauged>,
    pub(super) worked: Worked,
}

impl Keyed for Place {
    fn key(&self) -> &str {
        self.id.as_str()
    }
}

/// A flow test, and where it was gauged.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Gauged {
    pub(crate) id: Uuid,
    pub(crate) gauge_hydrant_id: AssetId,
    pub(crate) test: Read<FlowTest>,
}

/// Puts a test among others, in the place of the one with its id.
pub(super) fn put(tests: &mut Vec<Gauged>, test: Gauged) {
    match tests.binary_search_by_key(&test.id, |one| one.id) {
        Ok(place) => tests[place] = test,
        Err(place) => tests.insert(place, test),
    }
}

/// A supply, or why there is none.
pub(super) type Found = Result<Arc<Supply>, NoSupply>;

/// The supply of a day, once it was worked out. It says nothing of what the place is: two places that differ in no more are the same.
#[derive(Debug, Default)]
pub(super) struct Worked(Mutex<Option<(NaiveDate, Found)>>);

impl Worked {
    pub(super) fn of(&self, day: NaiveDate) -> Option<Found> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.as_ref().filter(|(worked, _)| *worked == day).map(|(_, found)| found.clone())
    }

    pub(super) fn keep(&self, day: NaiveDate, found: &Found) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some((day, found.clone()));
    }

    pub(super) fn forget(&mut self) {
        *self.0.get_mut().unwrap_or_else(PoisonError::into_inner) = None;
    }
}

/// A place is copied to be changed, and what was worked out for it may not hold then.
impl Clone for Worked {
    fn clone(&self) -> Self {
        Self::default()
    }
}

impl PartialEq for Worked {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}
