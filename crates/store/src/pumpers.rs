//! Pumpers, their test points and the hose they carry.

use chrono::{DateTime, Utc};
use longlay_records::equipment::Pumper;
use longlay_records::id::AssetId;

use crate::error::StoreError;
use crate::open::{Put, Store};

impl Store {
    /// Records a pumper, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_pumper(&self, row: &Pumper, now: DateTime<Utc>) -> Result<Put, StoreError> {
        todo!()
    }

    /// The pumper with this id, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn pumper(&self, id: &AssetId) -> Result<Option<Pumper>, StoreError> {
        todo!()
    }

    /// By ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn pumpers(&self, after: Option<&AssetId>, limit: u32) -> Result<Vec<Pumper>, StoreError> {
        todo!()
    }

    /// Retires it. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_pumper(&self, id: &AssetId, now: DateTime<Utc>) -> Result<bool, StoreError> {
        todo!()
    }
}
