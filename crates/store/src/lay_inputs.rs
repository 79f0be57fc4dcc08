//! All that one lay calculation needs, read at once.

use std::collections::{BTreeMap, BTreeSet};

use longlay_records::drill::DrillMiss;
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::equipment_test::{EquipmentTest, Subject};
use longlay_records::id::AssetId;
use longlay_records::supply::Evidence;
use sqlx::SqliteConnection;

use crate::change::Versioned;
use crate::error::{RecordKind, StoreError};
use crate::open::Store;
use crate::references::version;
use crate::{appliances, drill_rows, equipment_tests, evidence, hose_types, hydrant_valves, lay_profiles, pumpers};

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
    /// What the drills say that used equipment named here or by the lay profile, newest first.
    pub drill_misses: Vec<DrillMiss>,
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
        load_with_drills(&mut tx, refs).await
    }

    /// The same with the version of one record among it; none where there is no such record.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn versioned_inputs(
        &self,
        refs: &LayRefs,
        kind: RecordKind,
        id: &AssetId,
    ) -> Result<Option<Versioned<LayInputs>>, StoreError> {
        let mut tx = self.read().await?;
        let Some(version) = version(&mut tx, kind, id).await? else { return Ok(None) };
        Ok(Some(Versioned { version, read: load_with_drills(&mut tx, refs).await? }))
    }
}

impl Store {
    /// The same for several calculations, in their order, from one state of the database; without the drills.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn lay_inputs_of_each(&self, refs: &[LayRefs]) -> Result<Vec<LayInputs>, StoreError> {
        let mut tx = self.read().await?;
        let mut inputs = Vec::with_capacity(refs.len());
        for refs in refs {
            inputs.push(load(&mut tx, refs).await?);
        }
        Ok(inputs)
    }
}

async fn load_with_drills(conn: &mut SqliteConnection, refs: &LayRefs) -> Result<LayInputs, StoreError> {
    let mut inputs = load(&mut *conn, refs).await?;
    let named = named(refs, inputs.lay_profile.as_ref());
    inputs.drill_misses = drill_rows::misses(conn, &named).await?;
    Ok(inputs)
}

/// The same without the drills.
pub(crate) async fn load(conn: &mut SqliteConnection, refs: &LayRefs) -> Result<LayInputs, StoreError> {
    let lay_profile = lay_profiles::load(&mut *conn, &refs.lay_profile_id.iter().cloned().collect()).await?;
    let lay_profile = lay_profile.into_values().next();
    let mut wanted = named(refs, lay_profile.as_ref());

    let hydrant_valves = hydrant_valves::load(&mut *conn, &wanted.hydrant_valve_ids).await?;
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
            Some(id) => evidence::load(&mut *conn, id).await?,
            None => None,
        },
        lay_profile,
        hose_types: hose_types::load(&mut *conn, &wanted.hose_type_ids).await?,
        appliances: appliances::load(&mut *conn, &wanted.appliance_ids).await?,
        hydrant_valves,
        pumpers: pumpers::load(&mut *conn, &wanted.pumper_ids).await?,
        drill_misses: Vec::new(),
        equipment_tests: equipment_tests::by_subject(equipment_tests::load(&mut *conn, &tests).await?),
    })
}

/// What is referred to, with what the profile adds.
fn named(refs: &LayRefs, profile: Option<&LayProfile>) -> LayRefs {
    let mut named = refs.clone();
    if let Some(profile) = profile {
        named.hydrant_valve_ids.extend(profile.hydrant_valve_id.clone());
        named.hose_type_ids.insert(profile.hose_type_id.clone());
        named.appliance_ids.extend(profile.scene_appliance_ids.iter().cloned());
    }
    named
}
