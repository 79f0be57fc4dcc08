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

/// A hydrant that stands, or stood until it was retired: its tests bear on others still. There may be a hundred thousand of them: what its records say
/// themselves is not kept a second time.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Place {
    pub(super) stored: Stored,
    pub(crate) retired: bool,
    /// By ascending id.
    pub(crate) gauged: Vec<Gauged>,
    /// By ascending id.
    pub(super) flowed: Vec<Gauged>,
    pub(super) worked: Worked,
}

/// A hydrant, or what is left of one whose row is damaged.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Stored {
    Sound(Arc<Hydrant>),
    Damaged(Arc<DamagedHydrant>),
}

#[derive(Debug, PartialEq)]
pub(super) struct DamagedHydrant {
    pub(super) id: AssetId,
    pub(super) main_id: Option<String>,
    pub(super) damage: StoreError,
}

impl Keyed for Place {
    fn key(&self) -> &str {
        self.id().as_str()
    }
}

impl Place {
    /// Without its tests.
    pub(super) const fn new(stored: Stored, retired: bool) -> Self {
        Self { stored, retired, gauged: Vec::new(), flowed: Vec::new(), worked: Worked(Mutex::new(None)) }
    }

    pub(super) fn id(&self) -> &AssetId {
        match &self.stored {
            Stored::Sound(hydrant) => &hydrant.id,
            Stored::Damaged(left) => &left.id,
        }
    }

    pub(super) fn main_id(&self) -> Option<&str> {
        match &self.stored {
            Stored::Sound(hydrant) => hydrant.main_id.as_deref(),
            Stored::Damaged(left) => left.main_id.as_deref(),
        }
    }

    pub(crate) fn hydrant(&self) -> Result<&Arc<Hydrant>, StoreError> {
        match &self.stored {
            Stored::Sound(hydrant) => Ok(hydrant),
            Stored::Damaged(left) => Err(left.damage.clone()),
        }
    }
}

/// A flow test, or what is left of one whose rows are damaged.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Gauged {
    Sound(Arc<FlowTest>),
    Damaged(Arc<DamagedTest>),
}

#[derive(Debug, PartialEq)]
pub(crate) struct DamagedTest {
    pub(super) id: Uuid,
    pub(super) gauge_hydrant_id: AssetId,
    pub(super) damage: StoreError,
}

impl Gauged {
    pub(super) fn id(&self) -> Uuid {
        match self {
            Self::Sound(test) => test.id,
            Self::Damaged(left) => left.id,
        }
    }

    pub(super) fn gauge_hydrant_id(&self) -> &AssetId {
        match self {
            Self::Sound(test) => &test.gauge_hydrant_id,
            Self::Damaged(left) => &left.gauge_hydrant_id,
        }
    }

    pub(crate) fn test(&self) -> Result<&Arc<FlowTest>, StoreError> {
        match self {
            Self::Sound(test) => Ok(test),
            Self::Damaged(left) => Err(left.damage.clone()),
        }
    }
}

/// Puts a test among others, in the place of the one with its id.
pub(super) fn put(tests: &mut Vec<Gauged>, test: Gauged) {
    match tests.binary_search_by_key(&test.id(), Gauged::id) {
        Ok(place) => tests[place] = test,
        Err(place) => {
            // Most have one, and few get another: room for four would be most of what they take.
            tests.reserve_exact(1);
            tests.insert(place, test);
        }
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
