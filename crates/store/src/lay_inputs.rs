//! All that one lay calculation needs, read at once.

use std::collections::{BTreeMap, BTreeSet};

use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::id::AssetId;
use longlay_records::supply::Evidence;

use crate::error::StoreError;
use crate::open::Store;

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

/// What was found of it. What the lay profile, the valves and the pumpers refer to is in the maps too; an unknown or retired
/// id is simply absent.
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
}

impl Store {
    /// Loads all that one calculation needs, from one state of the database.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn lay_inputs(&self, refs: &LayRefs) -> Result<LayInputs, StoreError> {
        todo!()
    }
}
