//! Kinds of four-way hydrant valve, with the hose kept with them.

use chrono::{DateTime, Utc};
use longlay_records::equipment::HydrantValveType;
use longlay_records::id::AssetId;

use crate::error::StoreError;
use crate::open::{Put, Store};

impl Store {
    /// Records a kind of hydrant valve, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_hydrant_valve(&self, row: &HydrantValveType, now: DateTime<Utc>) -> Result<Put, StoreError> {
        todo!()
    }

    /// The kind of hydrant valve with this id, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hydrant_valve(&self, id: &AssetId) -> Result<Option<HydrantValveType>, StoreError> {
        todo!()
    }

    /// By ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hydrant_valves(
        &self,
        after: Option<&AssetId>,
        limit: u32,
    ) -> Result<Vec<HydrantValveType>, StoreError> {
        todo!()
    }

    /// Retires it. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_hydrant_valve(&self, id: &AssetId, now: DateTime<Utc>) -> Result<bool, StoreError> {
        todo!()
    }
}
