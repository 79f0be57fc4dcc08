//! Kinds of appliance.

use chrono::{DateTime, Utc};
use longlay_records::equipment::ApplianceType;
use longlay_records::id::AssetId;

use crate::error::StoreError;
use crate::open::{Put, Store};

impl Store {
    /// Records a kind of appliance, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_appliance(&self, row: &ApplianceType, now: DateTime<Utc>) -> Result<Put, StoreError> {
        todo!()
    }

    /// The kind of appliance with this id, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn appliance(&self, id: &AssetId) -> Result<Option<ApplianceType>, StoreError> {
        todo!()
    }

    /// By ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn appliances(&self, after: Option<&AssetId>, limit: u32) -> Result<Vec<ApplianceType>, StoreError> {
        todo!()
    }

    /// Retires it. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_appliance(&self, id: &AssetId, now: DateTime<Utc>) -> Result<bool, StoreError> {
        todo!()
    }
}
