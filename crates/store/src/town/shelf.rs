//! One kind of equipment as the town holds it: its live records, the tests of it, and what the drills say that used it.

use std::sync::Arc;

use longlay_records::drill::{DrillMiss, DrillUse};
use longlay_records::equipment_test::{EquipmentTest, Subject};
use longlay_records::id::AssetId;

use super::ordered::{Keyed, Ordered};
use crate::error::StoreError;

/// A record, or why its row is none. A damaged row harms no answer but those that it bears on.
pub(crate) type Read<T> = Result<Arc<T>, Box<StoreError>>;

/// A live record, and the version at which it stands.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Kept<T> {
    pub(crate) id: AssetId,
    pub(crate) version: u64,
    pub(crate) record: Read<T>,
}

impl<T> Keyed for Kept<T> {
    fn key(&self) -> &str {
        self.id.as_str()
    }
}

/// The tests of a piece of equipment, voided ones too. It may be retired itself.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tested {
    pub(crate) id: AssetId,
    pub(crate) tests: Read<TestsBySubject>,
}

/// Tests by ascending id: of a piece of equipment one list, of a valve one for each leg.
pub(crate) type TestsBySubject = Vec<(Subject, Arc<Vec<EquipmentTest>>)>;

impl Keyed for Tested {
    fn key(&self) -> &str {
        self.id.as_str()
    }
}

/// The drills that used a piece of equipment and stand, by ascending id.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Drilled {
    pub(crate) id: AssetId,
    pub(crate) drills: Vec<Arc<Drill>>,
}

impl Keyed for Drilled {
    fn key(&self) -> &str {
        self.id.as_str()
    }
}

/// What a drill says that was not voided, and whose equipment has the figures yet from which was predicted.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Drill {
    pub(crate) id: String,
    pub(crate) uses: Vec<DrillUse>,
    pub(crate) miss: Read<DrillMiss>,
}

/// One kind of equipment.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Shelf<T> {
    pub(crate) kept: Ordered<Kept<T>>,
    pub(crate) tested: Ordered<Tested>,
    pub(crate) drilled: Ordered<Drilled>,
}

impl<T> Default for Shelf<T> {
    fn default() -> Self {
        Self { kept: Ordered::default(), tested: Ordered::default(), drilled: Ordered::default() }
    }
}

/// Adds a drill to those of a piece of equipment.
pub(super) fn add_drill(drilled: &mut Ordered<Drilled>, id: &AssetId, drill: &Arc<Drill>) {
    let Some(there) = drilled.get_mut(id.as_str()) else {
        drilled.insert(Drilled { id: id.clone(), drills: vec![Arc::clone(drill)] });
        return;
    };
    match there.drills.binary_search_by(|one| one.id.cmp(&drill.id)) {
        Ok(place) => there.drills[place] = Arc::clone(drill),
        Err(place) => there.drills.insert(place, Arc::clone(drill)),
    }
}

/// Takes a drill from those of a piece of equipment.
pub(super) fn take_drill(drilled: &mut Ordered<Drilled>, id: &AssetId, drill: &str) {
    let Some(there) = drilled.get_mut(id.as_str()) else { return };
    there.drills.retain(|one| one.id != drill);
    if there.drills.is_empty() {
        drilled.remove(id.as_str());
    }
}
