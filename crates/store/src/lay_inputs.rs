//! All that one lay calculation needs, read at once.

use std::collections::{BTreeMap, BTreeSet};

use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::equipment_test::{EquipmentTest, Subject};
use longlay_records::id::AssetId;
use longlay_records::supply::Evidence;

use crate::error::StoreError;
use crate::open::Store;
use crate::{appliances, equipment_tests, evidence, hose_types, hydrant_valves, lay_profiles, pumpers};

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
    /// The hydrant with what bears on its supply.
    pub evidence: Option<Evidence>,
    /// The standard lay.
    pub lay_profile: Option<LayProfile>,
    /// Kinds of hose.
    pub hose_types: BTreeMap<AssetId, HoseType>,
    /// Kinds of appliance.
    pub appliances: BTreeMap<AssetId, ApplianceType>,
    /// Kinds of hydrant valve.
    pub hydrant_valves: BTreeMap<AssetId, HydrantValveType>,
    /// Pumpers.
    pub pumpers: BTreeMap<AssetId, Pumper>,
    /// The department's own tests of all of these, voided ones too: they are weighed later.
    pub equipment_tests: BTreeMap<Subject, Vec<EquipmentTest>>,
}

impl Store {
    /// Loads all that one calculation needs, from one state of the database.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn lay_inputs(&self, refs: &LayRefs) -> Result<LayInputs, StoreError> {
        let mut tx = self.read().await?;
        let mut wanted = refs.clone();

        let lay_profile = lay_profiles::load(&mut tx, &refs.lay_profile_id.iter().cloned().collect()).await?;
        let lay_profile = lay_profile.into_values().next();
        if let Some(profile) = &lay_profile {
            wanted.hydrant_valve_ids.extend(profile.hydrant_valve_id.clone());
            wanted.hose_type_ids.insert(profile.hose_type_id.clone());
            wanted.appliance_ids.extend(profile.scene_appliance_ids.iter().cloned());
        }

        let hydrant_valves = hydrant_valves::load(&mut tx, &wanted.hydrant_valve_ids).await?;
        let kept_hose = hydrant_valves.values().flat_map(|valve| [&valve.to_pump_hose, &valve.from_pump_hose]);
        wanted.hose_type_ids.extend(kept_hose.flatten().map(|load| load.hose_type_id.clone()));

        let tests = equipment_tests::Wanted {
            tests: BTreeSet::new(),
            hose_types: wanted.hose_type_ids.clone(),
            appliances: wanted.appliance_ids.clone(),
            hydrant_valves: wanted.hydrant_valve_ids.clone(),
            pumpers: wanted.pumper_ids.clone(),
        };

        Ok(LayInputs {
            evidence: match &refs.hydrant_id {
                Some(id) => evidence::load(&mut tx, id).await?,
                None => None,
            },
            lay_profile,
            hose_types: hose_types::load(&mut tx, &wanted.hose_type_ids).await?,
            appliances: appliances::load(&mut tx, &wanted.appliance_ids).await?,
            hydrant_valves,
            pumpers: pumpers::load(&mut tx, &wanted.pumper_ids).await?,
            equipment_tests: equipment_tests::by_subject(equipment_tests::load(&mut tx, &tests).await?),
        })
    }
}
