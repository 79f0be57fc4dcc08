//! Hydrants and their outlets.

use chrono::{DateTime, NaiveDate, Utc};
use longlay_records::hydrant::Hydrant;
use longlay_records::id::AssetId;

use crate::error::StoreError;
use crate::open::{Put, Store};

/// A box of ground, WGS 84 degrees, edges included. West greater than east crosses the antimeridian.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bbox {
    /// Western edge.
    pub west: f64,
    /// Southern edge.
    pub south: f64,
    /// Eastern edge.
    pub east: f64,
    /// Northern edge.
    pub north: f64,
}

/// Which hydrants to list; the default is all that are not retired.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct HydrantQuery {
    /// Standing in this box.
    pub bbox: Option<Bbox>,
    /// In service, or out of it.
    pub in_service: Option<bool>,
    /// Whose newest unvoided own test is older than this day, or who have none.
    pub tested_before: Option<NaiveDate>,
}

impl Store {
    /// Records a hydrant, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_hydrant(&self, hydrant: &Hydrant, now: DateTime<Utc>) -> Result<Put, StoreError> {
        todo!()
    }

    /// The hydrant with this id, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hydrant(&self, id: &AssetId) -> Result<Option<Hydrant>, StoreError> {
        todo!()
    }

    /// Retires a hydrant; its tests are kept. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_hydrant(&self, id: &AssetId, now: DateTime<Utc>) -> Result<bool, StoreError> {
        todo!()
    }

    /// Hydrants by ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hydrants(
        &self,
        query: &HydrantQuery,
        after: Option<&AssetId>,
        limit: u32,
    ) -> Result<Vec<Hydrant>, StoreError> {
        todo!()
    }
}
