//! What a write touched, and the next state of the town that follows from it.

use std::collections::BTreeSet;
use std::sync::Arc;

use longlay_records::drill::{DrillUse, UsedKind};
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use super::ordered::Ordered;
use super::place::{Place, put};
use super::read::{self, ReadDrill, ReadEquipment, ReadTest};
use super::shelf::{Drilled, Tested, add_drill, take_drill};
use super::shelved::Shelved;
use super::state::{Main, Town};
use crate::error::{RecordKind, StoreError};

/// Records read with one statement.
pub(super) const AT_ONCE: usize = 2000;

/// What a write touched.
#[derive(Debug, Clone)]
pub(crate) enum Touched {
    /// Nothing that the town holds.
    Nothing,
    /// Streets or heights: the town does not hold them, and whoever does looks at their version.
    Ground,
    /// Hydrants.
    Hydrants(BTreeSet<AssetId>),
    /// Flow tests, by their stored ids.
    FlowTests(BTreeSet<String>),
    /// Equipment of one kind.
    Equipment(RecordKind, BTreeSet<AssetId>),
    /// A test of equipment, by its stored id.
    EquipmentTest(String),
    /// A drill, by its stored id.
    Drill(String),
}

impl Touched {
    /// One hydrant or piece of equipment.
    pub(crate) fn one(kind: RecordKind, id: &AssetId) -> Self {
        let ids = BTreeSet::from([id.clone()]);
        if kind == RecordKind::Hydrant { Self::Hydrants(ids) } else { Self::Equipment(kind, ids) }
    }
}

/// Makes the next state out of the one before.
pub(super) type Step = Box<dyn FnOnce(&mut Town) + Send>;

/// Reads what was touched, inside the transaction that touched it. None where that is nothing.
pub(super) async fn step(conn: &mut SqliteConnection, touched: &Touched) -> Result<Option<Step>, StoreError> {
    let step: Step = match touched {
        Touched::Nothing | Touched::Ground => return Ok(None),
        Touched::Hydrants(ids) => {
            let mut places = Vec::with_capacity(ids.len());
            for part in parts(ids) {
                places.extend(read::places(&mut *conn, &part).await?);
            }
            Box::new(move |town| town.put_hydrants(places))
        }
        Touched::FlowTests(ids) => {
            let mut tests = Vec::with_capacity(ids.len());
            for part in parts(ids) {
                tests.extend(read::tests(&mut *conn, &part).await?);
            }
            Box::new(move |town| town.put_tests(tests))
        }
        Touched::Equipment(kind, ids) => equipment(conn, *kind, ids).await?,
        Touched::EquipmentTest(id) => {
            let (kind, id) = read::subject(&mut *conn, id).await?;
            equipment(conn, kind, &BTreeSet::from([id])).await?
        }
        Touched::Drill(id) => {
            let drill = read::drill(conn, id.clone()).await?;
            Box::new(move |town| town.put_drill(drill))
        }
    };
    Ok(Some(step))
}

async fn equipment(conn: &mut SqliteConnection, kind: RecordKind, ids: &BTreeSet<AssetId>) -> Result<Step, StoreError> {
    match kind {
        RecordKind::HoseType => equipment_of::<HoseType>(conn, ids).await,
        RecordKind::Appliance => equipment_of::<ApplianceType>(conn, ids).await,
        RecordKind::HydrantValve => equipment_of::<HydrantValveType>(conn, ids).await,
        RecordKind::Pumper => equipment_of::<Pumper>(conn, ids).await,
        RecordKind::LayProfile => equipment_of::<LayProfile>(conn, ids).await,
        _ => Err(StoreError::Other(format!("a {kind} is no equipment"))),
    }
}

async fn equipment_of<T: Shelved>(conn: &mut SqliteConnection, ids: &BTreeSet<AssetId>) -> Result<Step, StoreError> {
    let mut found: Vec<ReadEquipment<T>> = Vec::with_capacity(ids.len());
    for id in ids {
        found.push(read::equipment(&mut *conn, id).await?);
    }
    Ok(Box::new(move |town| found.into_iter().for_each(|one| town.put_equipment(one))))
}

fn parts<T: Ord + Clone>(ids: &BTreeSet<T>) -> impl Iterator<Item = BTreeSet<T>> {
    let ids: Vec<T> = ids.iter().cloned().collect();
    let parts = ids.len().div_ceil(AT_ONCE);
    (0..parts).map(move |part| ids.iter().skip(part * AT_ONCE).take(AT_ONCE).cloned().collect())
}

impl Town {
    fn put_hydrants(&mut self, places: Vec<Place>) {
        let ids: BTreeSet<AssetId> = places.iter().map(|place| place.id().clone()).collect();
        // On the main that a hydrant leaves, and on the one that it comes to.
        let before = self.borne_on(&ids);
        for place in places {
            self.put_hydrant(place);
        }
        self.forget_supplies(before);
        self.forget_supplies(self.borne_on(&ids));
    }

    fn put_tests(&mut self, tests: Vec<ReadTest>) {
        let gauges: BTreeSet<AssetId> = tests.iter().map(|test| test.gauged.gauge_hydrant_id().clone()).collect();
        let flowed: BTreeSet<AssetId> = tests.iter().flat_map(|test| &test.flowed).cloned().collect();
        for test in tests {
            self.put_test(test);
        }
        self.forget_supplies(flowed);
        self.forget_supplies(self.borne_on(&gauges));
    }

    /// A hydrant's row, beside the tests that are known of it.
    pub(super) fn put_hydrant(&mut self, read: Place) {
        let (id, main_id) = (read.id().clone(), read.main_id().map(str::to_owned));
        let mut before = None;
        if let Some(place) = self.places.get_mut(id.as_str()) {
            before = place.main_id().map(str::to_owned);
            (place.retired, place.stored) = (read.retired, read.stored);
        } else {
            self.places.insert(read);
        }
        if before == main_id && before.is_some() {
            return;
        }
        if let Some(main) = before {
            let is_last = self.mains.get_mut(&main).is_some_and(|main| {
                main.hydrants.remove(&id);
                main.hydrants.is_empty()
            });
            if is_last {
                self.mains.remove(&main);
            }
        }
        let Some(main_id) = main_id else { return };
        match self.mains.get_mut(&main_id) {
            Some(main) => _ = main.hydrants.insert(id),
            None => self.mains.insert(Main { id: main_id, hydrants: BTreeSet::from([id]) }),
        }
    }

    /// A test, at its gauge and where it flowed.
    pub(super) fn put_test(&mut self, ReadTest { gauged, flowed }: ReadTest) {
        for id in flowed {
            if let Some(place) = self.places.get_mut(id.as_str()) {
                put(&mut place.flowed, gauged.clone());
            }
        }
        if let Some(place) = self.places.get_mut(gauged.gauge_hydrant_id().as_str()) {
            put(&mut place.gauged, gauged);
        }
    }

    /// The hydrants on whose supply these or the tests gauged at them bear: they themselves, those on the same mains, and those that flowed in such a test.
    fn borne_on(&self, hydrants: &BTreeSet<AssetId>) -> BTreeSet<AssetId> {
        let (mut borne_on, mut mains) = (hydrants.clone(), BTreeSet::new());
        for place in hydrants.iter().filter_map(|id| self.places.get(id.as_str())) {
            let tests = place.gauged.iter().filter_map(|gauged| gauged.test().ok());
            borne_on.extend(tests.flat_map(|test| &test.flow_hydrant_ids).cloned());
            mains.extend(place.main_id());
        }
        borne_on.extend(mains.into_iter().flat_map(|main| self.on_main(Some(main))).cloned());
        borne_on
    }

    fn forget_supplies(&mut self, of: BTreeSet<AssetId>) {
        for id in of {
            if let Some(place) = self.places.get_mut(id.as_str()) {
                place.worked.forget();
            }
        }
    }

    pub(super) fn put_equipment<T: Shelved>(&mut self, read: ReadEquipment<T>) {
        let ReadEquipment { id, kept, tests, drills } = read;
        let shelf = T::shelf_mut(self);
        match kept {
            Some(kept) => shelf.kept.insert(kept),
            None => shelf.kept.remove(id.as_str()),
        }
        if tests.as_ref().is_ok_and(|tests| tests.is_empty()) {
            shelf.tested.remove(id.as_str());
        } else {
            shelf.tested.insert(Tested { id: id.clone(), tests });
        }
        let before = shelf.drilled.get(id.as_str()).map(|drilled| drilled.drills.clone()).unwrap_or_default();
        for drill in before {
            self.take_drill(&drill.id, &drill.uses);
        }
        for drill in drills {
            self.add_drill(&Arc::new(drill));
        }
    }

    fn put_drill(&mut self, ReadDrill { id, uses, drill }: ReadDrill) {
        self.take_drill(&id, &uses);
        if let Some(drill) = drill {
            self.add_drill(&Arc::new(drill));
        }
    }

    fn add_drill(&mut self, drill: &Arc<super::shelf::Drill>) {
        for one in &drill.uses {
            if let Some(drilled) = self.drilled(one) {
                add_drill(drilled, &one.id, drill);
            }
        }
    }

    fn take_drill(&mut self, id: &str, uses: &[DrillUse]) {
        for one in uses {
            if let Some(drilled) = self.drilled(one) {
                take_drill(drilled, &one.id, id);
            }
        }
    }

    /// What the drills bear on is equipment: a hydrant's gauges differ by what lies behind it.
    fn drilled(&mut self, used: &DrillUse) -> Option<&mut Ordered<Drilled>> {
        match used.kind {
            UsedKind::Hydrant => None,
            UsedKind::HoseType => Some(&mut self.hose_types.drilled),
            UsedKind::Appliance => Some(&mut self.appliances.drilled),
            UsedKind::HydrantValve => Some(&mut self.hydrant_valves.drilled),
            UsedKind::Pumper => Some(&mut self.pumpers.drilled),
        }
    }
}
