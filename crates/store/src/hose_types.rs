//! Kinds of hose.

use chrono::{DateTime, Utc};
use longlay_records::equipment::HoseType;
use longlay_records::id::AssetId;

use crate::error::StoreError;
use crate::open::{Put, Store};

impl Store {
    /// Records a kind of hose, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_hose_type(&self, row: &HoseType, now: DateTime<Utc>) -> Result<Put, StoreError> {
        todo!()
    }

    /// The kind of hose with this id, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hose_type(&self, id: &AssetId) -> Result<Option<HoseType>, StoreError> {
        todo!()
    }

    /// By ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hose_types(&self, after: Option<&AssetId>, limit: u32) -> Result<Vec<HoseType>, StoreError> {
        todo!()
    }

    /// Retires it. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_hose_type(&self, id: &AssetId, now: DateTime<Utc>) -> Result<bool, StoreError> {
        todo!()
    }
}
