//! All that one lay calculation needs.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::NaiveDate;
use longlay_records::drill::DrillMiss;
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::equipment_test::{EquipmentTest, Subject};
use longlay_records::id::AssetId;

use crate::change::Versioned;
use crate::error::{RecordKind, StoreError};
use crate::open::Store;
use crate::town::{Drill, Shelf, Shelved, Supplied, Town};

/// Most drills of a track record: the newest.
const MOST_OF_A_RECORD: usize = 1000;

/// What a calculation refers to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LayRefs {
    /// The hydrant.
    pub hydrant_id: Option<AssetId>,
    /// The standard lay.
    pub lay_profile_id: Option<AssetId>,
    /// Kinds of hose.
    pub hose_type_ids: BTreeSet<AssetId>,
    /// Kinds of appliance.
    pub appliance_ids: BTreeSet<AssetId>,
    /// Kinds of hydrant valve.
    pub hydrant_valve_ids: BTreeSet<AssetId>,
    /// Pumpers.
    pub pumper_ids: BTreeSet<AssetId>,
}

/// What was found of it. What the lay profile and the valves refer to is in the maps too; an unknown or retired id is simply
/// absent.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LayInputs {
    /// The hydrant with its supply.
    pub supplied: Option<Supplied>,
    /// The standard lay.
    pub lay_profile: Option<Arc<LayProfile>>,
    /// Kinds of hose.
    pub hose_types: BTreeMap<AssetId, Arc<HoseType>>,
    /// Kinds of appliance.
    pub appliances: BTreeMap<AssetId, Arc<ApplianceType>>,
    /// Kinds of hydrant valve.
    pub hydrant_valves: BTreeMap<AssetId, Arc<HydrantValveType>>,
    /// Pumpers.
    pub pumpers: BTreeMap<AssetId, Arc<Pumper>>,
    /// What the drills say that used equipment named here or by the lay profile, newest first.
    pub drill_misses: Vec<DrillMiss>,
    /// The department's own tests of all of these, voided ones too: they are weighed later.
    pub equipment_tests: BTreeMap<Subject, Arc<Vec<EquipmentTest>>>,
}

impl Store {
    /// All that one calculation needs on this day, from one state of the town.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn lay_inputs(&self, refs: &LayRefs, day: NaiveDate) -> Result<LayInputs, StoreError> {
        self.town().await?.lay_inputs(refs, day)
    }

    /// The same with the version of one piece of equipment among it; none where there is no such record.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn versioned_inputs(
        &self,
        refs: &LayRefs,
        kind: RecordKind,
        id: &AssetId,
        day: NaiveDate,
    ) -> Result<Option<Versioned<LayInputs>>, StoreError> {
        let town = self.town().await?;
        let Some(version) = town.equipment_version(kind, id) else { return Ok(None) };
        Ok(Some(Versioned { version, read: town.lay_inputs(refs, day)? }))
    }
}

impl Town {
    /// Every hose type, hydrant valve and pumper, for whoever asks what another lay would bring. Damaged rows bear on no lay that is not there yet.
    pub fn every_part(&self) -> LayRefs {
        fn ids<T>(shelf: &Shelf<T>) -> BTreeSet<AssetId> {
            shelf.kept.iter().filter(|kept| kept.record.is_ok()).map(|kept| kept.id.clone()).collect()
        }
        LayRefs {
            hose_type_ids: ids(&self.hose_types),
            hydrant_valve_ids: ids(&self.hydrant_valves),
            pumper_ids: ids(&self.pumpers),
            ..LayRefs::default()
        }
    }

    /// All that one calculation needs on this day.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`] where a row that bears on it is damaged.
    pub fn lay_inputs(&self, refs: &LayRefs, day: NaiveDate) -> Result<LayInputs, StoreError> {
        let mut inputs = LayInputs::default();
        if let Some(id) = &refs.hydrant_id {
            inputs.supplied = self.supplied(id, day)?;
        }
        if let Some(id) = &refs.lay_profile_id {
            inputs.lay_profile = self.kept(id)?;
        }
        let profile = inputs.lay_profile.clone();
        let profile = profile.as_deref();
        let mut into = Found { town: self, tests: &mut inputs.equipment_tests, drills: Vec::new() };
        let valve = profile.and_then(|profile| profile.hydrant_valve_id.as_ref());
        into.take(&mut inputs.hydrant_valves, refs.hydrant_valve_ids.iter().chain(valve))?;
        let at_scene = profile.into_iter().flat_map(|profile| &profile.scene_appliance_ids);
        into.take(&mut inputs.appliances, refs.appliance_ids.iter().chain(at_scene))?;
        into.take(
            &mut inputs.hose_types,
            refs.hose_type_ids.iter().chain(profile.map(|profile| &profile.hose_type_id)),
        )?;
        into.take(&mut inputs.pumpers, &refs.pumper_ids)?;
        let drills = std::mem::take(&mut into.drills);
        // Hose kept with a valve is part of the valve: drills are not held against it by itself.
        let with_valves = inputs.hydrant_valves.values().flat_map(|valve| [&valve.to_pump_hose, &valve.from_pump_hose]);
        into.take(&mut inputs.hose_types, with_valves.flatten().map(|load| &load.hose_type_id))?;
        inputs.drill_misses = newest(&drills)?;
        Ok(inputs)
    }
}

/// What equipment brings with it.
struct Found<'a> {
    town: &'a Town,
    tests: &'a mut BTreeMap<Subject, Arc<Vec<EquipmentTest>>>,
    /// Of each piece of equipment, by ascending id.
    drills: Vec<&'a [Arc<Drill>]>,
}

impl Found<'_> {
    fn take<'i, T: Shelved>(
        &mut self,
        into: &mut BTreeMap<AssetId, Arc<T>>,
        ids: impl IntoIterator<Item = &'i AssetId>,
    ) -> Result<(), StoreError> {
        let shelf = T::shelf(self.town);
        for id in ids {
            if into.contains_key(id) {
                continue;
            }
            if let Some(kept) = shelf.kept.get(id.as_str()) {
                into.insert(id.clone(), kept.record.clone().map_err(|damage| *damage)?);
            }
            if let Some(tested) = shelf.tested.get(id.as_str()) {
                let tests = tested.tests.as_ref().map_err(|damage| StoreError::clone(damage))?;
                self.tests.extend(tests.iter().cloned());
            }
            if let Some(drilled) = shelf.drilled.get(id.as_str()) {
                self.drills.push(&drilled.drills);
            }
        }
        Ok(())
    }
}

/// What they say, newest first, each once.
fn newest(drills: &[&[Arc<Drill>]]) -> Result<Vec<DrillMiss>, StoreError> {
    let mut drills: Vec<&Arc<Drill>> = drills.iter().copied().flatten().collect();
    drills.sort_unstable_by(|one, other| other.id.cmp(&one.id));
    drills.dedup_by(|one, other| one.id == other.id);
    let newest = drills.into_iter().take(MOST_OF_A_RECORD);
    newest.map(|drill| drill.miss.as_deref().copied().map_err(|damage| StoreError::clone(damage))).collect()
}
