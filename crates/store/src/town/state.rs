//! A state of the town: what bears on each hydrant, and what follows from it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::NaiveDate;
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::hydrant::Hydrant;
use longlay_records::id::AssetId;
use longlay_records::retest::sketch::Sketch;
use longlay_records::supply::{Evidence, GaugedTest, NoSupply, Supply, supply};
use uuid::Uuid;

use super::ordered::{Keyed, Ordered};
use super::place::{Found, Gauged, Place};
use super::shelf::Shelf;
use super::shelved::Shelved;
use crate::error::{RecordKind, StoreError};
use crate::hydrant_query::HydrantQuery;
use crate::rows::Row;

/// All hydrants, flow tests and equipment as they stand after some write. It is never changed: whoever holds one reads one state for as long as he likes,
/// and the next write makes another, which shares with it what was not written.
///
/// Two are equal that hold the same, whatever their versions.
#[derive(Debug, Clone, Default)]
pub struct Town {
    pub(super) version: u64,
    pub(super) places: Ordered<Place>,
    pub(super) mains: Ordered<Main>,
    pub(crate) hose_types: Shelf<HoseType>,
    pub(crate) appliances: Shelf<ApplianceType>,
    pub(crate) hydrant_valves: Shelf<HydrantValveType>,
    pub(crate) pumpers: Shelf<Pumper>,
    pub(crate) lay_profiles: Shelf<LayProfile>,
}

/// The hydrants on a main, retired ones too.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Main {
    pub(super) id: String,
    pub(super) hydrants: BTreeSet<AssetId>,
}

impl Keyed for Main {
    fn key(&self) -> &str {
        &self.id
    }
}

/// A hydrant with its supply.
#[derive(Debug, Clone, PartialEq)]
pub struct Supplied {
    /// The hydrant.
    pub hydrant: Arc<Hydrant>,
    /// Its supply, or why there is none.
    pub supply: Result<Arc<Supply>, NoSupply>,
}

impl PartialEq for Town {
    fn eq(&self, other: &Self) -> bool {
        let Self { version: _, places, mains, hose_types, appliances, hydrant_valves, pumpers, lay_profiles } = self;
        *places == other.places
            && *mains == other.mains
            && *hose_types == other.hose_types
            && *appliances == other.appliances
            && *hydrant_valves == other.hydrant_valves
            && *pumpers == other.pumpers
            && *lay_profiles == other.lay_profiles
    }
}

impl Town {
    /// Its number: higher after every write, as long as the process runs. What was made of a state holds while this stands.
    pub const fn version(&self) -> u64 {
        self.version
    }

    /// A live hydrant with its supply on this day; none where it does not exist or is retired.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`] where a row that bears on it is damaged.
    pub fn supplied(&self, id: &AssetId, day: NaiveDate) -> Result<Option<Supplied>, StoreError> {
        self.live(id).map(|place| self.supplied_at(place, day)).transpose()
    }

    /// Every live hydrant that answers the query with its supply on this day, by ascending id from behind `after`. An error stands for one
    /// hydrant, on which a damaged row bears.
    pub fn supplies<'a>(
        &'a self,
        query: &'a HydrantQuery,
        after: Option<&AssetId>,
        day: NaiveDate,
    ) -> impl Iterator<Item = Result<Supplied, StoreError>> + use<'a> {
        self.answering(query, after).map(move |place| self.supplied_at(place, day))
    }

    /// Every live hydrant, by ascending id. An error stands for one whose row is damaged.
    pub fn hydrants(&self) -> impl Iterator<Item = Result<&Arc<Hydrant>, StoreError>> {
        self.places.iter().map(Arc::as_ref).filter(|place| !place.retired).map(Place::hydrant)
    }

    /// A live hydrant with the tests that bear on it; none where it does not exist or is retired.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`] where a row that bears on it is damaged.
    pub fn evidence(&self, id: &AssetId) -> Result<Option<Evidence>, StoreError> {
        self.live(id).map(|place| self.evidence_at(place)).transpose()
    }

    /// The same of every live hydrant that answers the query, as [`Town::supplies`].
    pub fn evidences<'a>(
        &'a self,
        query: &'a HydrantQuery,
        after: Option<&AssetId>,
    ) -> impl Iterator<Item = Result<Evidence, StoreError>> + use<'a> {
        self.answering(query, after).map(|place| self.evidence_at(place))
    }

    /// Every live hydrant that answers the query with its own tests that were not voided, by ascending id.
    pub fn sketches<'a>(&'a self, query: &'a HydrantQuery) -> impl Iterator<Item = Result<Sketch, StoreError>> + 'a {
        self.answering(query, None).map(|place| {
            let mut own = Vec::with_capacity(place.gauged.len());
            for gauged in &place.gauged {
                let test = gauged.test()?;
                if test.voided.is_none() {
                    own.push(Arc::clone(test));
                }
            }
            Ok(Sketch::new(place.hydrant()?, own))
        })
    }

    /// A live piece of equipment.
    pub(crate) fn kept<T: Shelved>(&self, id: &AssetId) -> Result<Option<Arc<T>>, StoreError> {
        let kept = T::shelf(self).kept.get(id.as_str());
        kept.map(|kept| kept.record.clone().map_err(|damage| *damage)).transpose()
    }

    /// The version at which a live piece of equipment stands.
    pub(crate) fn equipment_version(&self, kind: RecordKind, id: &AssetId) -> Option<u64> {
        fn version<T: Shelved>(town: &Town, id: &AssetId) -> Option<u64> {
            T::shelf(town).kept.get(id.as_str()).map(|kept| kept.version)
        }
        match kind {
            RecordKind::HoseType => version::<HoseType>(self, id),
            RecordKind::Appliance => version::<ApplianceType>(self, id),
            RecordKind::HydrantValve => version::<HydrantValveType>(self, id),
            RecordKind::Pumper => version::<Pumper>(self, id),
            RecordKind::LayProfile => version::<LayProfile>(self, id),
            _ => None,
        }
    }

    fn live(&self, id: &AssetId) -> Option<&Place> {
        self.places.get(id.as_str()).map(Arc::as_ref).filter(|place| !place.retired)
    }

    fn answering<'a>(
        &'a self,
        query: &'a HydrantQuery,
        after: Option<&AssetId>,
    ) -> impl Iterator<Item = &'a Place> + use<'a> {
        let behind = self.places.behind(after.map(AssetId::as_str)).map(Arc::as_ref);
        behind.filter(|place| !place.retired && query.holds(place))
    }

    fn supplied_at(&self, place: &Place, day: NaiveDate) -> Result<Supplied, StoreError> {
        Ok(Supplied { hydrant: Arc::clone(place.hydrant()?), supply: self.supply_at(place, day)? })
    }

    fn supply_at(&self, place: &Place, day: NaiveDate) -> Result<Found, StoreError> {
        if let Some(found) = place.worked.of(day) {
            return Ok(found);
        }
        let found = supply(&self.evidence_at(place)?, day).map(Arc::new);
        place.worked.keep(day, &found);
        Ok(found)
    }

    fn evidence_at(&self, place: &Place) -> Result<Evidence, StoreError> {
        let hydrant = place.hydrant()?;
        let mut tests = BTreeMap::new();
        self.gather(&mut tests, &place.gauged)?;
        self.gather(&mut tests, &place.flowed)?;
        for member in self.on_main(place.main_id()) {
            if let Some(member) = self.places.get(member.as_str()) {
                self.gather(&mut tests, &member.gauged)?;
            }
        }
        Ok(Evidence { hydrant: Hydrant::clone(hydrant), tests: tests.into_values().collect() })
    }

    fn gather(&self, into: &mut BTreeMap<Uuid, GaugedTest>, tests: &[Gauged]) -> Result<(), StoreError> {
        for gauged in tests {
            let test = Arc::clone(gauged.test()?);
            let gauge = self.places.get(gauged.gauge_hydrant_id().as_str());
            let missing =
                || Row::of("flow_tests", &gauged.id().to_string()).corrupt("the test or its gauge hydrant is missing");
            let gauge = Arc::clone(gauge.ok_or_else(missing)?.hydrant()?);
            into.insert(gauged.id(), GaugedTest { test, gauge });
        }
        Ok(())
    }

    /// The hydrants on a main, retired ones too.
    pub(super) fn on_main(&self, main_id: Option<&str>) -> impl Iterator<Item = &AssetId> {
        main_id.and_then(|main| self.mains.get(main)).into_iter().flat_map(|main| &main.hydrants)
    }
}
