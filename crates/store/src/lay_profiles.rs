//! Standard lays.

use chrono::{DateTime, Utc};
use longlay_records::equipment::LayProfile;
use longlay_records::id::AssetId;

use crate::error::StoreError;
use crate::open::{Put, Store};

impl Store {
    /// Records a standard lay, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_lay_profile(&self, row: &LayProfile, now: DateTime<Utc>) -> Result<Put, StoreError> {
        todo!()
    }

    /// The standard lay with this id, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn lay_profile(&self, id: &AssetId) -> Result<Option<LayProfile>, StoreError> {
        todo!()
    }

    /// By ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn lay_profiles(&self, after: Option<&AssetId>, limit: u32) -> Result<Vec<LayProfile>, StoreError> {
        todo!()
    }

    /// Retires it. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_lay_profile(&self, id: &AssetId, now: DateTime<Utc>) -> Result<bool, StoreError> {
        todo!()
    }
}
