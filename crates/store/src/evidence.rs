//! What bears on a hydrant's supply: its own tests, those in which it flowed, and those gauged elsewhere on its main.

use longlay_records::id::AssetId;
use longlay_records::supply::Evidence;

use crate::error::StoreError;
use crate::hydrant_query::HydrantQuery;
use crate::open::Store;

impl Store {
    /// A hydrant with the tests that bear on it; none where it does not exist or is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn evidence(&self, id: &AssetId) -> Result<Option<Evidence>, StoreError> {
        self.town().await?.evidence(id)
    }

    /// The same for a page of [`Store::hydrants`], in its order, from one state of the database.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn evidence_page(
        &self,
        query: &HydrantQuery,
        after: Option<&AssetId>,
        limit: u32,
    ) -> Result<Vec<Evidence>, StoreError> {
        self.town().await?.evidences(query, after).take(limit as usize).collect()
    }
}
